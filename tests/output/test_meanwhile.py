"""What others do between a look and an act, and what fails while a failure is cleared up."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from synthetic_tree import NEW, OLD, WORK, FaultyDisk, HastyDisk, files, tree

from journal.output import OutputError, ReadyFile, matches_last, recover, swap, write_notebook
from journal.output import disk as disk_access
from journal.output.disk import Disk

STAMP = {"of": "all"}


def build(out: Path, contents: dict[str, str], disk: Disk | None = None) -> None:
    write_notebook(out, files(contents), stamp=STAMP, disk=disk or HastyDisk())


@pytest.fixture
def out(tmp_path: Path) -> Path:
    build(tmp_path / "notebook", OLD)
    return tmp_path / "notebook"


def test_what_is_gone_since_it_was_listed_is_not_there(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the files that an editor, or a program that copies the folder elsewhere, lets go of."""
    listed = os.listdir
    monkeypatch.setattr(disk_access.os, "listdir", lambda place: [*listed(place), ".~gone"])
    build(out, NEW)
    assert tree(out) == NEW


def test_a_folder_that_goes_away_as_it_is_listed_has_no_files(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    look = disk_access.lstat_or_none

    def late(path: str) -> os.stat_result | None:
        status = look(path)
        if path == str(out / "weeks"):
            os.rename(path, out.parent / "away")
        return status

    monkeypatch.setattr(disk_access, "lstat_or_none", late)
    assert disk_access.files_at(str(out / "weeks")) == {}


def test_a_folder_that_was_filled_since_the_look_stays(out: Path) -> None:
    class SharedDisk(HastyDisk):
        def remove_folder(self, path: str) -> None:
            if path == str(out / "photos" / "22"):
                (out / "photos" / "22" / "own.txt").write_text("mine")
            super().remove_folder(path)

    build(out, NEW, SharedDisk())
    assert tree(out) == NEW | {"photos/22/own.txt": "mine"}
    assert not (out / WORK).exists()


def test_a_folder_that_another_command_exchanges_as_it_is_counted_is_no_match(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert matches_last(out, STAMP)
    look = disk_access.is_folder

    def late(path: str) -> bool:
        there = look(path)
        if path == str(out / "designs"):
            os.rename(path, out.parent / "away")
        return there

    monkeypatch.setattr(disk_access, "is_folder", late)
    assert not matches_last(out, STAMP)


@pytest.mark.usefixtures("like_anybody")
def test_a_folder_that_may_not_be_looked_into_is_said(out: Path) -> None:
    ready = [ReadyFile(path, text, text.encode()) for path, text in OLD.items()]
    write_notebook(out, ready, stamp=STAMP, disk=HastyDisk())
    (out / "designs").chmod(0)
    try:
        assert not matches_last(out, STAMP)
        with pytest.raises(OutputError, match="permission denied"):
            write_notebook(out, ready, stamp=STAMP, disk=HastyDisk())
    finally:
        (out / "designs").chmod(0o755)


# While it is cleared up ------------------------------------------------------------


def fails_and_then_removes_nothing(step: int, failure: BaseException) -> FaultyDisk:
    def fails(name: str, number: int) -> BaseException | None:
        if number == step:
            return failure
        denied = number > step and name in ("remove", "remove_folder")
        return OSError(errno.EACCES, os.strerror(errno.EACCES)) if denied else None

    return FaultyDisk(fails)


def steps_of(out: Path) -> list[str]:
    disk = FaultyDisk(lambda *_: None)
    build(out, NEW, disk)
    build(out, OLD)
    return disk.steps


def test_an_interrupt_is_told_though_nothing_can_be_cleared_away(out: Path) -> None:
    step = next(n for n, step in enumerate(steps_of(out), 1) if step.startswith("write"))
    with pytest.raises(KeyboardInterrupt):
        build(out, NEW, fails_and_then_removes_nothing(step, KeyboardInterrupt()))
    assert tree(out) == OLD


def test_the_first_failure_is_told_though_the_disk_cannot_be_looked_at_any_more(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(_: str) -> bool:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(swap, "is_under_way", gone)
    full = FaultyDisk(lambda name, _: OSError(errno.ENOSPC, "full") if name == "write" else None)
    with pytest.raises(OutputError, match="no space left"):
        build(out, NEW, full)


def test_an_exchange_that_no_memory_is_left_for_is_finished_by_the_next_command(out: Path) -> None:
    """What lies ready is not thrown away once the exchange has begun."""
    renames = [n for n, step in enumerate(steps_of(out), 1) if step.startswith("rename")]
    with pytest.raises(MemoryError):
        build(out, NEW, FaultyDisk(lambda _, n: MemoryError() if n == renames[-2] else None))
    recover(out, disk=HastyDisk())
    assert tree(out) == NEW
