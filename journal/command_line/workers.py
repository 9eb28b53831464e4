"""Work spread over the cores: each task's answer is what it would be in this process.

Processes are forked, so that they know all that was read without being sent it; where that
cannot be done safely, the tasks are done here, one after the other.
"""

from __future__ import annotations

import gc
import os
import pickle
import select
import signal
import socket
import struct
import sys
import threading
import warnings
from collections import deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import chain
from typing import Any, TypeVar

from journal.command_line.packed import packed

Answer = TypeVar("Answer")

#: Fewer tasks than this are done before processes would have begun.
FEWEST = 24
#: More processes than this would wait for the one that writes.
MOST_WORKERS = 8

_FRAME = struct.Struct("<?IQ")  # whether it failed, number of the task, bytes that follow
_BLOCK = 1 << 20


def cores() -> int:
    """Cores that this process may use; ``JOURNAL_WORKERS`` says otherwise."""
    asked = os.environ.get("JOURNAL_WORKERS", "")
    if asked.isascii() and asked.isdigit():
        return int(asked)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def spread(
    tasks: Sequence[Callable[[], Answer]],
    together: Callable[[int], Hashable] | None = None,
    workers: int | None = None,
) -> Iterator[Answer]:
    """The answers of all tasks, in their order; else as ``as_done``."""
    found: dict[int, tuple[bool, Any]] = {}
    wanted = 0
    for number, failed, answer in _outcomes(tasks, together, workers):
        found[number] = (failed, answer)
        while wanted in found:
            yield _answer(*found.pop(wanted))
            wanted += 1


def as_done(
    tasks: Sequence[Callable[[], Answer]],
    together: Callable[[int], Hashable] | None = None,
    workers: int | None = None,
) -> Iterator[tuple[int, Answer]]:
    """The answers of all tasks, as each is done.

    Takes:  tasks     each gives an answer that can be pickled; they are begun in their order
            together  by a task's number, what it shares with others: those are done in one
                      process, which can remember
            workers   how many processes; as many as there are cores when None
    Gives:  the number of a task, from 0, and its answer
    Fails:  whatever a task raises; tasks of a process that died are done here
    """
    for number, failed, answer in _outcomes(tasks, together, workers):
        yield number, _answer(failed, answer)


def _answer(failed: bool, answer: Any) -> Any:
    if failed:
        raise answer
    return answer


# The number of a task, whether it failed, and its answer or what it raised.
Outcome = tuple[int, bool, Any]


def _outcomes(
    tasks: Sequence[Callable[[], Any]],
    together: Callable[[int], Hashable] | None,
    workers: int | None,
) -> Iterator[Outcome]:
    count = min(cores() if workers is None else workers, MOST_WORKERS, len(tasks))
    # Forking beside other threads may copy a lock that nobody will open; other systems
    # than Linux have such threads of their own.
    if (
        count < 2
        or (len(tasks) < FEWEST and workers is None)
        or sys.platform != "linux"
        or threading.active_count() > 1
    ):
        for number, task in enumerate(tasks):
            yield number, False, task()
        return
    yield from _forked(tasks, _groups(len(tasks), together), count)


def _groups(number: int, together: Callable[[int], Hashable] | None) -> deque[list[int]]:
    """The tasks' numbers, those together that share something."""
    groups: dict[Hashable, list[int]] = {}
    for task in range(number):
        groups.setdefault(task if together is None else together(task), []).append(task)
    return deque(groups.values())


def _forked(
    tasks: Sequence[Callable[[], Any]], groups: deque[list[int]], count: int
) -> Iterator[Outcome]:
    hands: dict[socket.socket, _Hand] = {}  # by our end
    try:
        gc.freeze()  # what is there already is not looked through in each process
        for _ in range(min(count, len(groups))):
            reader, writer = socket.socketpair()
            with warnings.catch_warnings():
                # Libraries of arrays keep threads that hold no lock of ours.
                warnings.simplefilter("ignore", DeprecationWarning)
                process = os.fork()
            if process == 0:
                _work(tasks, writer)
            writer.close()
            hands[reader] = _Hand(process)
        gc.unfreeze()
        for reader, hand in hands.items():
            for _ in range(_AHEAD):
                hand.give(reader, groups)
        for reader, failed, number, raw in _coming(hands):
            hand = hands[reader]
            hand.todo.remove(number)
            if len(hand.todo) <= hand.last:
                hand.give(reader, groups)
            yield number, failed, pickle.loads(raw)
        # Of processes that died: killed, or out of memory.
        left = [*(number for hand in hands.values() for number in hand.todo), *chain(*groups)]
        for number in sorted(left):
            yield number, False, tasks[number]()
    finally:
        for reader, hand in hands.items():
            reader.close()
            with suppress(ProcessLookupError):
                os.kill(hand.process, signal.SIGKILL)
            with suppress(ChildProcessError):
                os.waitpid(hand.process, 0)


# A process always has the next group at hand while it is at one.
_AHEAD = 2


class _Hand:
    """A process: what it was given to do, and has not answered yet."""

    def __init__(self, process: int) -> None:
        self.process = process
        self.todo: set[int] = set()
        self.last = 0  # tasks of the group that it was given last

    def give(self, reader: socket.socket, groups: deque[list[int]]) -> None:
        """Give it the next group; nothing more comes where there is none."""
        with suppress(OSError):  # it died: its tasks are done elsewhere
            if not groups:
                reader.shutdown(socket.SHUT_WR)
                return
            group = groups.popleft()
            self.todo.update(group)
            self.last = len(group)
            reader.sendall(struct.pack(f"<{1 + len(group)}I", len(group), *group))


def _coming(
    readers: Iterable[socket.socket],
) -> Iterator[tuple[socket.socket, bool, int, bytes]]:
    """Answers as they arrive, until every process has closed its end."""
    waiting = {reader: bytearray() for reader in readers}
    while waiting:
        for reader in select.select(list(waiting), [], [])[0]:
            try:
                block = reader.recv(_BLOCK)
            except ConnectionError:  # killed with something of ours unread
                block = b""
            buffer = waiting[reader]
            buffer += block
            if not block:
                del waiting[reader]
            while len(buffer) >= _FRAME.size:
                failed, number, length = _FRAME.unpack_from(buffer)
                end = _FRAME.size + length
                if len(buffer) < end:
                    break
                yield reader, failed, number, bytes(buffer[_FRAME.size : end])
                del buffer[:end]


def _work(tasks: Sequence[Callable[[], Any]], writer: socket.socket) -> None:
    """Do what this process is given, and end it, whatever happens."""
    try:
        # Nothing else that is open is this process's: a lock would be held beyond its owner.
        os.closerange(3, writer.fileno())
        os.closerange(writer.fileno() + 1, os.sysconf("SC_OPEN_MAX"))
        for number in _given(writer):
            try:
                failed, answer = False, packed(tasks[number]())
            except Exception as error:  # noqa: BLE001  # raised again where it is awaited
                failed, answer = True, pickle.dumps(error)
            writer.sendall(_FRAME.pack(failed, number, len(answer)) + answer)
        os._exit(0)
    finally:  # the other end is gone, or the keyboard said stop
        os._exit(1)


def _given(writer: socket.socket) -> Iterator[int]:
    """The numbers of the tasks that this process is given, until no more come."""
    with writer.makefile("rb") as lines:
        while head := lines.read(4):
            (count,) = struct.unpack("<I", head)
            yield from struct.unpack(f"<{count}I", lines.read(4 * count))
