"""What is dear to work out is asked once, in whichever process and run it was."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest

from journal.command_line import asking as asked_about
from journal.command_line.asking import Asking
from journal.command_line.workers import spread
from journal.output import Store

CALLS: list[tuple[float, ...]] = []


def halved(value: float) -> float:
    """Stands for what takes long; notes that it was asked."""
    CALLS.append((value,))
    return value / 2


def twice(value: float) -> float:
    """Another question of the same number."""
    return value * 2


@pytest.fixture(autouse=True)
def _nothing_asked() -> None:
    CALLS.clear()


def test_a_question_is_answered_once_in_a_run(tmp_path: Path) -> None:
    asking = Asking(Store(tmp_path), "program")
    assert [asking(halved, 3.0), asking(halved, 3.0), asking(halved, 4.0)] == [1.5, 1.5, 2.0]
    assert CALLS == [(3.0,), (4.0,)]
    assert asking(twice, 3.0) == 6.0  # another function, another answer


def test_an_answer_is_known_in_the_next_run_of_the_same_program(tmp_path: Path) -> None:
    store = Store(tmp_path)
    first = Asking(store, "program")
    first(halved, 3.0)
    first.keep()
    CALLS.clear()
    again = Asking(store, "program")
    assert again(halved, 3.0) == 1.5
    assert CALLS == []
    assert Asking(store, "other program")(halved, 3.0) == 1.5
    assert CALLS == [(3.0,)]


def test_nothing_new_writes_nothing(tmp_path: Path) -> None:
    store = Store(tmp_path)
    first = Asking(store, "program")
    first(halved, 3.0)
    first.keep()
    (tmp_path / "asked").unlink()
    first.keep()
    again = Asking(store, "program")
    again.keep()
    assert not (tmp_path / "asked").exists()


def test_answers_come_back_from_other_processes(tmp_path: Path) -> None:
    store = Store(tmp_path)
    asking = Asking(store, "program")
    asking.load()
    tasks = [
        partial(asking.noting, partial(asking, halved, float(number % 7))) for number in range(28)
    ]
    found = []
    for answer, noted in spread(tasks, lambda number: number % 7, workers=2):
        asking.learn(noted)
        found.append(answer)
    assert found == [number % 7 / 2 for number in range(28)]
    asking.keep()
    CALLS.clear()
    again = Asking(store, "program")
    assert [again(halved, float(number)) for number in range(7)] == [n / 2 for n in range(7)]
    assert CALLS == []


def test_questions_that_nobody_asks_any_more_go_in_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asked_about, "MOST_UNASKED", 2)
    store = Store(tmp_path)
    for value in (1.0, 2.0, 3.0, 4.0):
        asking = Asking(store, "program")
        asking(halved, value)
        asking.keep()
    CALLS.clear()
    last = Asking(store, "program")
    assert [last(halved, value) for value in (4.0, 3.0, 2.0)] == [2.0, 1.5, 1.0]
    assert CALLS == []
    last(halved, 1.0)
    assert CALLS == [(1.0,)]


def test_answers_that_are_put_away_are_still_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asked_about, "AT_HAND", 2)
    asking = Asking(Store(tmp_path), "program")
    assert [asking(halved, float(n % 5)) for n in range(20)] == [n % 5 / 2 for n in range(20)]
    assert len(CALLS) == 5


def test_what_cannot_be_read_any_more_is_asked_again(tmp_path: Path) -> None:
    store = Store(tmp_path)
    first = Asking(store, "program")
    first(halved, 3.0)
    first.keep()
    store.write("asked", b"spoilt")
    again = Asking(store, "program")
    assert again(halved, 3.0) == 1.5
    assert len(CALLS) == 2


def test_what_fails_is_asked_again(tmp_path: Path) -> None:
    asking = Asking(Store(tmp_path), "program")

    def stumbles(value: float) -> float:
        CALLS.append((value,))
        raise ValueError(value)

    for _ in range(2):
        with pytest.raises(ValueError, match=r"1\.0"):
            asking(stumbles, 1.0)
    assert len(CALLS) == 2
