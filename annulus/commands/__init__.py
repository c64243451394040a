"""One module a command: `add` gives it its options, `run` does the work. Heavy rooms are entered in `run`."""
