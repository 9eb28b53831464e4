"""Work on several cores gives what it gives on one, whatever becomes of a process."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from functools import partial

import pytest

from journal.errors import ContentError, Position, Problem
from journal.workers import map_as_completed, map_in_order, worker_count

linux = pytest.mark.skipif(sys.platform != "linux", reason="processes are forked on Linux alone")


@pytest.fixture(autouse=True)
def as_many_as_there_are_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """Other tests have one process."""
    monkeypatch.delenv("JOURNAL_WORKERS")


FORKED = multiprocessing.get_context("fork") if sys.platform == "linux" else None


def squared(number: int) -> tuple[int, int]:
    return number * number, os.getpid()


@pytest.mark.parametrize("workers", [1, 2, 3, 7])
def test_answers_come_in_order(workers: int) -> None:
    tasks = [partial(squared, number) for number in range(100)]
    assert [answer for answer, _ in map_in_order(tasks, workers=workers)] == [
        n * n for n in range(100)
    ]


@pytest.fixture
def alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Threads that other tests left in this process are not counted."""
    monkeypatch.setattr(threading, "active_count", lambda: 1)


@linux
def test_more_than_one_process_is_at_work_and_groups_keep_together(alone: None) -> None:
    assert FORKED is not None
    three = FORKED.Barrier(3)

    def met(number: int) -> tuple[int, int]:
        """The first of three groups wait for one another, however late a process is."""
        if number < 3:
            three.wait(120)
        return squared(number)

    tasks = [partial(met, number) for number in range(60)]
    found = list(map_in_order(tasks, together=lambda number: number % 5, workers=3))
    assert len({process for _, process in found}) == 3
    assert os.getpid() not in {process for _, process in found}
    for group in range(5):
        assert len({process for _, process in found[group::5]}) == 1


def test_few_tasks_are_done_here() -> None:
    assert {process for _, process in map_in_order([partial(squared, n) for n in range(3)])} == {
        os.getpid()
    }
    assert list(map_in_order([])) == []


def test_beside_another_thread_all_is_done_here() -> None:
    stop = threading.Event()
    other = threading.Thread(target=stop.wait)
    other.start()
    try:
        found = list(map_in_order([partial(squared, n) for n in range(50)], workers=2))
    finally:
        stop.set()
        other.join()
    assert {process for _, process in found} == {os.getpid()}


def test_large_answers_pass() -> None:
    tasks = [partial(bytes, 300_000) for _ in range(10)]
    assert [len(answer) for answer in map_in_order(tasks, workers=2)] == [300_000] * 10


def test_answers_as_they_are_done_are_those_of_their_tasks() -> None:
    tasks = [partial(squared, number) for number in range(60)]
    for workers in (1, 3):
        found = dict(map_as_completed(tasks, together=lambda number: number // 4, workers=workers))
        assert {number: answer for number, (answer, _) in found.items()} == {
            number: number**2 for number in range(60)
        }


@linux
def test_a_long_task_holds_no_other_up(alone: None) -> None:
    """The groups are given out as processes come free: one is not left with half of them."""
    assert FORKED is not None
    done = FORKED.Semaphore(0)

    def slowly(number: int) -> int:
        """The first is done after all others but one, or when no other is done any more."""
        if number:
            done.release()
            return number
        all(done.acquire(timeout=120) for _ in range(38))
        return number

    tasks = [partial(slowly, number) for number in range(40)]
    order = [number for number, _ in map_as_completed(tasks, workers=2)]
    # But what is at hand already, or on its way here.
    assert order.index(0) > 30


def failing(number: int) -> int:
    if number == 7:
        raise ContentError((Problem(Position("a.md", 3, 4), "it is wrong", "Mend it."),))
    return number


@pytest.mark.parametrize("workers", [1, 2])
def test_a_failure_is_raised_where_it_is_awaited(workers: int) -> None:
    coming = map_in_order([partial(failing, number) for number in range(40)], workers=workers)
    assert [next(coming) for _ in range(7)] == list(range(7))
    with pytest.raises(ContentError, match=r"a\.md:3:4: it is wrong"):
        next(coming)


@linux
def test_of_two_failures_the_first_is_told_though_it_comes_last(alone: None) -> None:
    assert FORKED is not None
    failing_last = FORKED.Event()

    def fails(number: int) -> int:
        if number == 5:
            assert failing_last.wait(120)
            time.sleep(0.2)  # in which the failure of the other arrives
            raise KeyError("the first")
        if number == 7:
            failing_last.set()
            raise KeyError("another")
        return number

    coming = map_in_order([partial(fails, number) for number in range(40)], workers=2)
    assert [next(coming) for _ in range(5)] == list(range(5))
    with pytest.raises(KeyError, match="the first"):
        next(coming)


def killed(here: int, number: int) -> int:
    if number == 11 and os.getpid() != here:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


@linux
def test_the_tasks_of_a_killed_process_are_done_here() -> None:
    tasks = [partial(killed, os.getpid(), number) for number in range(40)]
    assert list(map_in_order(tasks, workers=2)) == list(range(40))


@linux
def test_no_process_is_left_when_nobody_wants_more(alone: None) -> None:
    coming = map_in_order([partial(squared, number) for number in range(1000)], workers=2)
    _, process = next(coming)
    coming.close()
    for _ in range(12_000):  # of 10 ms: two minutes
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            return
        time.sleep(0.01)
    pytest.fail("a process is left")


def test_the_number_of_processes_can_be_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOURNAL_WORKERS", "5")
    assert worker_count() == 5
    monkeypatch.setenv("JOURNAL_WORKERS", "many")
    assert worker_count() >= 1
