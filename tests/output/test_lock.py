"""One command at a time, also when the lock's file goes away under our hands."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from journal.output import OutputError, lock
from journal.output.lock import folder_lock


def test_a_lock_is_for_one_and_leaves_nothing(tmp_path: Path) -> None:
    folder = str(tmp_path / "work")
    with (
        folder_lock(folder, "notebook"),
        pytest.raises(OutputError, match="another command"),
        folder_lock(folder, "notebook"),
    ):
        pass
    assert os.listdir(tmp_path) == []
    with folder_lock(folder, "notebook"):
        pass


def test_what_else_lies_in_the_folder_stays(tmp_path: Path) -> None:
    (tmp_path / "work").mkdir()
    (tmp_path / "work" / "lasting").touch()
    with folder_lock(str(tmp_path / "work"), "notebook"):
        pass
    assert os.listdir(tmp_path / "work") == ["lasting"]


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot be removed there")
def test_a_file_that_its_holder_removed_as_we_opened_it_locks_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "work"
    take = lock._lock_now
    taken = []

    def take_late(handle: int) -> None:
        if not taken:
            (folder / "lock").unlink()  # as the one before lets go
        taken.append(handle)
        take(handle)

    monkeypatch.setattr(lock, "_lock_now", take_late)
    with (
        folder_lock(str(folder), "notebook"),
        pytest.raises(OutputError, match="another command"),
        folder_lock(str(folder), "notebook"),
    ):
        pass


def test_a_folder_that_goes_away_each_time_is_not_waited_for_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Commands that end just as this one looks, one after the other."""
    monkeypatch.setattr(lock, "_is_still_at", lambda *_: False)
    with (
        pytest.raises(OutputError, match="many commands are at work"),
        folder_lock(str(tmp_path / "work"), "notebook"),
    ):
        pass


def test_a_disk_that_knows_no_locks_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(handle: int) -> None:
        raise OSError(37, "No locks available")

    monkeypatch.setattr(lock, "_lock_now", refuse)
    with (
        pytest.raises(OutputError, match="cannot keep two commands apart"),
        folder_lock(str(tmp_path / "work"), "notebook"),
    ):
        pass


#: Adds one to a number in a file, many times, each time by reading and writing it.
COUNTER = """
import sys
from pathlib import Path
from journal.output import OutputError
from journal.output.lock import folder_lock
folder, number = sys.argv[1], Path(sys.argv[2])
done = 0
while done < 200:
    try:
        with folder_lock(folder, "number"):
            number.write_text(str(int(number.read_text()) + 1))
    except OutputError:
        continue
    done += 1
"""


def test_three_processes_lose_no_count(tmp_path: Path, project: Path) -> None:
    number = tmp_path / "number"
    number.write_text("0")
    command = [sys.executable, "-c", COUNTER, str(tmp_path / "work"), str(number)]
    environment = {**os.environ, "PYTHONPATH": str(project)}
    counters = [subprocess.Popen(command, env=environment) for _ in range(3)]
    assert [counter.wait() for counter in counters] == [0, 0, 0]
    assert number.read_text() == "600"
