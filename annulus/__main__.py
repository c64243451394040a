"""`python -m annulus`, and the installed command, run the command line."""

import signal
import sys


def run() -> int:
    """Run the command line; Ctrl-C is heard from the first import on, and where compiled code swallows it."""
    try:
        from annulus.cli import main
        from annulus.commands.progress import stop_by_hand

        signal.signal(signal.SIGINT, stop_by_hand)
        return main()
    except KeyboardInterrupt:
        return 130  # as `annulus.cli.main` when it is stopped by hand


if __name__ == "__main__":
    sys.exit(run())
