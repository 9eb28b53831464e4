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
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from contextlib import suppress
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
    """The answers of all tasks, in their order.

    Takes:  tasks     each gives an answer that can be pickled
            together  by a task's number, what it shares with others: those are done in one
                      process, which can remember
            workers   how many processes; as many as there are cores when None
    Gives:  the answers as they come
    Fails:  whatever a task raises; tasks of a process that died are done here
    """
    count = min(cores() if workers is None else workers, MOST_WORKERS, len(tasks))
    # Forking beside other threads may copy a lock that nobody will open; other systems
    # than Linux have such threads of their own.
    if (
        count < 2
        or (len(tasks) < FEWEST and workers is None)
        or sys.platform != "linux"
        or threading.active_count() > 1
    ):
        for task in tasks:
            yield task()
        return
    yield from _forked(tasks, _shared_out(len(tasks), together, count))


def _shared_out(
    number: int, together: Callable[[int], Hashable] | None, count: int
) -> list[list[int]]:
    """The tasks' numbers by process: groups in order, each to who has least so far."""
    groups: dict[Hashable, list[int]] = {}
    for task in range(number):
        groups.setdefault(task if together is None else together(task), []).append(task)
    shares: list[list[int]] = [[] for _ in range(count)]
    for own in groups.values():
        min(shares, key=len).extend(own)
    return [sorted(share) for share in shares if share]


def _forked(tasks: Sequence[Callable[[], Answer]], shares: list[list[int]]) -> Iterator[Answer]:
    readers: dict[socket.socket, int] = {}  # our end -> process
    found: dict[int, Any] = {}
    try:
        gc.freeze()  # what is there already is not looked through in each process
        for share in shares:
            reader, writer = socket.socketpair()
            with warnings.catch_warnings():
                # Libraries of arrays keep threads that hold no lock of ours.
                warnings.simplefilter("ignore", DeprecationWarning)
                process = os.fork()
            if process == 0:
                _work(tasks, share, writer)
            writer.close()
            readers[reader] = process
        gc.unfreeze()
        coming = _coming(readers)
        for number in range(len(tasks)):
            while number not in found:
                frame = next(coming, None)
                if frame is None:  # its process died: killed, or out of memory
                    found[number] = (False, tasks[number]())
                    break
                failed, at, answer = frame
                found[at] = (failed, pickle.loads(answer))
            failed, answer = found.pop(number)
            if failed:
                raise answer
            yield answer
    finally:
        for reader, process in readers.items():
            reader.close()
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
            with suppress(ChildProcessError):
                os.waitpid(process, 0)


def _coming(readers: Iterable[socket.socket]) -> Iterator[tuple[bool, int, bytes]]:
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
                yield failed, number, bytes(buffer[_FRAME.size : end])
                del buffer[:end]


def _work(tasks: Sequence[Callable[[], Any]], share: list[int], writer: socket.socket) -> None:
    """Do one process's tasks, and end it, whatever happens."""
    try:
        # Nothing else that is open is this process's: a lock would be held beyond its owner.
        os.closerange(3, writer.fileno())
        os.closerange(writer.fileno() + 1, os.sysconf("SC_OPEN_MAX"))
        for number in share:
            try:
                failed, answer = False, packed(tasks[number]())
            except Exception as error:  # noqa: BLE001  # raised again where it is awaited
                failed, answer = True, pickle.dumps(error)
            writer.sendall(_FRAME.pack(failed, number, len(answer)) + answer)
        os._exit(0)
    finally:  # the other end is gone, or the keyboard said stop
        os._exit(1)
