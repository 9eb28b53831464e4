"""Spreads tasks over the cores; each gives the answer that it would give in this process.

Processes are forked, so that they know all that was read without being sent it; where that
cannot be done safely, the tasks are done here, one after the other.
"""

from __future__ import annotations

import ctypes
import gc
import multiprocessing
import os
import signal
import sys
import threading
import warnings
from collections import deque
from collections.abc import Callable, Hashable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

Answer = TypeVar("Answer")

#: Fewer tasks than this are done before processes would have begun.
MIN_TASKS = 24
#: More processes than this would wait for the one that writes.
MOST_WORKERS = 8

# A process always has the next group at hand while it is at one.
_AHEAD = 2
_PR_SET_PDEATHSIG = 1  # linux/prctl.h


def worker_count() -> int:
    """The number that ``JOURNAL_WORKERS`` names, else of the cores that this process may use."""
    setting = os.environ.get("JOURNAL_WORKERS", "")
    if setting.isascii() and setting.isdigit():
        return int(setting)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def map_in_order(
    tasks: Sequence[Callable[[], Answer]],
    together: Callable[[int], Hashable] | None = None,
    workers: int | None = None,
) -> Iterator[Answer]:
    """Do all tasks; gives their answers in their order, otherwise as ``map_as_completed``."""
    waiting: dict[int, Answer] = {}
    next_number = 0
    for number, answer in map_as_completed(tasks, together, workers):
        waiting[number] = answer
        while next_number in waiting:
            yield waiting.pop(next_number)
            next_number += 1


def map_as_completed(
    tasks: Sequence[Callable[[], Answer]],
    together: Callable[[int], Hashable] | None = None,
    workers: int | None = None,
) -> Iterator[tuple[int, Answer]]:
    """Do all tasks; gives the number of each, from 0, with its answer, as soon as it is done.

    Takes:  tasks     each gives an answer that can be pickled; they are begun in their order
            together  gives the group of a task by its number; one process does a whole group
            workers   how many processes; as many as there are cores when None
    Fails:  whatever the first task that fails raises, whichever is done first, once all before
            it are given; tasks of a process that died are done here
    """
    count = min(worker_count() if workers is None else workers, MOST_WORKERS, len(tasks))
    # Forking beside other threads may copy a lock that nobody will open; other systems
    # than Linux have such threads of their own.
    if (
        count < 2
        or (len(tasks) < MIN_TASKS and workers is None)
        or sys.platform != "linux"
        or threading.active_count() > 1
    ):
        for number, task in enumerate(tasks):
            yield number, task()
        return
    groups: dict[Hashable, list[int]] = {}
    for number in range(len(tasks)):
        groups.setdefault(number if together is None else together(number), []).append(number)
    yield from _map_forked(tasks, deque(groups.values()), count)


def _map_forked(
    tasks: Sequence[Callable[[], Answer]], groups: deque[list[int]], count: int
) -> Iterator[tuple[int, Answer]]:
    """Do the tasks, a group of numbers at a time, in ``count`` processes."""
    todo: dict[Future[list[Answer]], list[int]] = {}
    failed: dict[Future[list[Answer]], list[int]] = {}
    _forked_with.append(tasks)
    gc.freeze()  # what is there already is not looked through in each process
    pool = ProcessPoolExecutor(
        min(count, len(groups)),
        multiprocessing.get_context("fork"),
        initializer=_start_worker,
        initargs=(os.getpid(),),
    )
    try:
        while groups or todo:
            while groups and len(todo) < _AHEAD * count:
                with warnings.catch_warnings():
                    # Libraries of arrays keep threads that hold no lock of ours.
                    warnings.simplefilter("ignore", DeprecationWarning)
                    todo[pool.submit(_do_group, groups[0])] = groups[0]
                groups.popleft()
            for future in wait(todo, return_when=FIRST_COMPLETED).done:
                failure = future.exception()
                if isinstance(failure, BrokenProcessPool):
                    raise failure
                numbers = todo.pop(future)
                if failure is None:
                    yield from zip(numbers, future.result(), strict=True)
                else:
                    # Those before it are under way; one of them may fail too, and is told then.
                    failed[future] = numbers
                    groups.clear()
        if failed:
            min(failed, key=lambda future: failed[future]).result()
    except BrokenProcessPool:
        # A process was killed, or ran out of memory: what it and the others had is done here.
        left = (*failed.values(), *todo.values(), *groups)
        for number in sorted([n for group in left for n in group]):
            yield number, tasks[number]()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        gc.unfreeze()
        _forked_with.pop()


# The tasks that processes are forked with: they need not be sent.
_forked_with: list[Sequence[Callable[[], Any]]] = []


def _start_worker(parent: int) -> None:
    """Let a worker end with the process that started it, and leave Ctrl-C to that process."""
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if os.getppid() != parent:
        os._exit(1)


def _do_group(numbers: Sequence[int]) -> list[Any]:
    """Do the tasks of these numbers in a worker process; gives their answers."""
    return [_forked_with[-1][number]() for number in numbers]
