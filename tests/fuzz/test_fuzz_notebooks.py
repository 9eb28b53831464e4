"""Whole notebooks with mistakes in them: ``check`` and ``build`` neither stumble nor differ."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import pytest
from fuzz import fuzz_notebooks
from fuzz.fuzz_notebooks import lay_down, sound_notebooks, spoilt_by, try_alone, try_notebook
from fuzz.spoil import Files
from long_run import LONG

from journal import building
from journal.errors import ContentError, Position, Problem

#: The notebooks of so many seeds.
SEEDS = range(400) if LONG else range(8)
#: Of the sound notebooks those that take least; the long command begins from all.
BEGUN_FROM = (0, 1, 2, 3) if LONG else (1,)


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is kept from one to the next."""
    monkeypatch.setenv("JOURNAL_CACHE", "")
    monkeypatch.setenv("JOURNAL_WORKERS", "1")


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> list[Files]:
    return sound_notebooks(tmp_path_factory.mktemp("sound"))


def laid(files: Files, folder: Path) -> Path:
    lay_down(files, folder / "content")
    return folder / "content"


@pytest.mark.parametrize("number", BEGUN_FROM)
def test_what_it_begins_from_is_sound(sound: list[Files], number: int, tmp_path: Path) -> None:
    assert try_notebook(laid(sound[number], tmp_path), tmp_path / "out") == 0


@pytest.mark.parametrize("seed", SEEDS)
def test_no_notebook_makes_it_stumble(sound: list[Files], seed: int, tmp_path: Path) -> None:
    files, done, edition = spoilt_by(seed, [sound[number] for number in BEGUN_FROM])
    try:
        assert try_notebook(laid(files, tmp_path), tmp_path / "out", edition) in (0, 1)
    except BaseException as stumble:
        stumble.add_note("\n".join(done))
        raise


def test_the_same_seed_puts_in_the_same_mistakes(sound: list[Files]) -> None:
    assert spoilt_by(7, sound) == spoilt_by(7, sound)
    assert spoilt_by(7, sound)[0] != spoilt_by(8, sound)[0]


def _tells_nowhere(*_: object) -> NoReturn:
    raise ContentError((Problem(Position("designs/leaf/design.md", 999, 1), "it is odd", "Mend."),))


def _breaks(*_: object) -> NoReturn:
    raise IndexError("out of the line")


@pytest.mark.parametrize(
    ("broken", "said"), [("read_theme", "it is odd"), ("photo_paths", "out of the line")]
)
def test_it_bites(
    sound: list[Files], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str, said: str
) -> None:
    """A problem without a place, and an exception, are stumbles."""
    stumbling: Callable[..., Any] = _tells_nowhere if broken == "read_theme" else _breaks
    monkeypatch.setattr(f"journal.pipeline.{broken}", stumbling)
    with pytest.raises((AssertionError, IndexError), match=said):
        try_notebook(laid(sound[1], tmp_path), tmp_path / "out")


def test_a_check_that_says_less_than_the_build_is_a_stumble(
    sound: list[Files], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = dict(sound[1])
    files["designs/leaf/design.md"] = files["designs/leaf/design.md"].replace(b"bars:", b"bras:", 1)
    monkeypatch.setattr("journal.cli.check.check_notebook", lambda *_: building.CheckResult((), 1))
    with pytest.raises(AssertionError, match="check 0 and build 1"):
        try_notebook(laid(files, tmp_path), tmp_path / "out")


def test_each_kind_of_stumble_is_kept_once(
    sound: list[Files], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a process of its own, which ends with it."""
    monkeypatch.setattr(fuzz_notebooks, "try_notebook", _breaks)
    kept = tmp_path / "kept"
    kept.mkdir()
    assert [try_alone(seed, sound[1:2], kept, 60) for seed in (3, 4)] == [
        "stumble", "stumble known",
    ]  # fmt: skip
    told, trace = sorted(kept.iterdir())
    assert told.read_text("utf-8").startswith("seed 3, ")
    assert "IndexError: out of the line" in trace.read_text("utf-8")


def _never_ends(*_: object) -> NoReturn:
    while True:
        pass


def test_what_never_ends_is_a_stumble(
    sound: list[Files], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fuzz_notebooks, "try_notebook", _never_ends)
    assert try_alone(3, sound[1:2], tmp_path, 0.3) == "stumble"
    (trace,) = tmp_path.glob("*.txt")
    assert "Hang" in trace.read_text("utf-8")
