"""What a command says while it works: one line on the terminal, and a word when the compiler runs."""

from __future__ import annotations

import sys
import threading
import time

PATIENCE = 2.5  # [s] after which a step that is usually quick gets a word of explanation
COMPILES = {  # first words of steps that compile on their first run, and what is compiled
    "cutting": "the solver for this machine, once: some 20 s",
    "tracing": "what traces stripes, once: some 5 s",
}


def stop_by_hand(*_: object) -> None:
    """Handler of Ctrl-C."""
    Progress.stopped = True
    raise KeyboardInterrupt


class Progress:
    """One line on the terminal that says what is going on, silent where there is no terminal.

    A first step that outlasts `PATIENCE` is the compiler at work: that is said
    anywhere, and how long it took.
    """

    stopped = False  # by hand, also where the exception got lost in a callback of compiled code

    def __init__(self) -> None:
        self.is_terminal = sys.stderr.isatty()
        self.timer: threading.Timer | None = None
        self.begun = 0.0
        self.compiling = False
        self.may_compile = dict(COMPILES)

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self._settle()
        if self.is_terminal:
            print("\r\033[K", end="", file=sys.stderr, flush=True)

    def __call__(self, words: str) -> None:
        """Say what begins now; KeyboardInterrupt if the run was stopped by hand and has not noticed."""
        self._settle()
        if Progress.stopped:
            raise KeyboardInterrupt
        self.begun = time.perf_counter()
        step = words.split()[0]
        if step in self.may_compile:
            self.timer = threading.Timer(PATIENCE, self._explain, [self.may_compile.pop(step)])
            self.timer.daemon = True
            self.timer.start()
        if self.is_terminal:
            print(f"\r\033[K{words}", end="", file=sys.stderr, flush=True)

    def heard_stop(self) -> None:
        """Whoever caught the stop goes on to tidy up."""
        Progress.stopped = False

    def _explain(self, what: str) -> None:
        self.compiling = True
        start = "\r\033[K" if self.is_terminal else ""
        print(f"{start}annulus: compiling {what}", file=sys.stderr, flush=True)

    def _settle(self) -> None:
        """End the step before: stop its timer, and tell how long compiling took."""
        if self.timer is not None:
            self.timer.cancel()
            self.timer = None
        if self.compiling:
            self.compiling = False
            took = time.perf_counter() - self.begun
            print(f"annulus: compiled in {took:.0f} s; kept for later runs", file=sys.stderr, flush=True)
