"""Processes that compute designs on the cores of this machine.

Goes in: how many. Comes out: a `concurrent.futures` executor whose workers
start from nothing (the same on every system), let Ctrl-C to the one who waits
for them, and end by themselves when that one is gone.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.connection import wait

ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}


def available_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def process_pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Executor of so many processes, one thread each; what has not begun when the context ends is not begun."""
    pool = ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), initializer=_start)
    with _settings(), _deaf_to_ctrl_c():
        for _ in range(workers):
            pool.submit(os.getpid)  # each starts one process, which takes over settings and signals of this one
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _start() -> None:
    """First thing in a worker: watch the process that it works for, which may be killed without a word."""
    parent = multiprocessing.parent_process()
    assert parent is not None  # this runs in workers only
    threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


@contextmanager
def _settings() -> Iterator[None]:
    """One thread for each numerical library of the processes begun in this context."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(ONE_THREAD)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Processes begun in this context never hear Ctrl-C; only the main thread may ask for that."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
