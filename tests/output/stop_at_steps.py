"""Stops a build at each of its steps on the disk, in a process of its own; run by a test.

    python stop_at_steps.py FOLDER

A step is a call of the operating system that changes something, or waits for the disk. At each
one a build is killed; at each one another is paused, looked at, and then killed or let go on. The
folder must then hold the old files or the new ones, whole, and what others put there. Says in
JSON how often it came to what.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from synthetic_tree import FOREIGN, NEW, OLD, WORK, HastyDisk, files, tree

from journal.output import OutputError, recover, write_notebook
from journal.output.disk import Disk

STEPS = ("fsync", "link", "mkdir", "open", "replace", "rmdir", "sync", "symlink", "unlink", "write")
NEXT = {"index.html": "the one after", "photos/44/44dd.jpg": "picture 44"}


def build(out: Path, contents: dict[str, str], disk: Disk | None = None) -> None:
    write_notebook(out, files(contents), stamp={"of": str(sorted(contents.items()))}, disk=disk)


class Stopped:
    """Counts the steps of this process, and sends it a signal just before one."""

    def __init__(self, at: int, number: signal.Signals) -> None:
        self.seen, self._at, self._number = 0, at, number
        for name in STEPS:
            setattr(os, name, self._counted(name, getattr(os, name)))

    def _counted(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def step(*arguments: Any, **named: Any) -> Any:
            if name == "open" and not arguments[1] & os.O_CREAT:
                return real(*arguments, **named)
            self.seen += 1
            if self.seen == self._at:
                os.kill(os.getpid(), self._number)
            # No test cuts the power: nobody waits for the disk.
            return None if name in ("fsync", "sync") else real(*arguments, **named)

        return step


def started(out: Path, at: int, number: signal.Signals) -> int:
    process = os.fork()
    if process == 0:
        try:
            Stopped(at, number)
            build(out, NEW)
        except OutputError:
            traceback.print_exc()
        finally:
            os._exit(0)
    return process


def steps_of(out: Path) -> int:
    """How many steps a build into ``out`` takes."""
    reader, writer = os.pipe()
    process = os.fork()
    if process == 0:
        write = os.write
        stopped = Stopped(0, signal.SIGKILL)
        build(out, NEW)
        write(writer, str(stopped.seen).encode())
        os._exit(0)
    os.waitpid(process, 0)
    os.close(writer)
    with open(reader, "rb") as told:
        return int(told.read())


class Kind:
    """A folder before the build: none, or an older notebook with files of somebody else."""

    def __init__(self, folder: Path, *, later: bool) -> None:
        self._before, self.out = folder / "before", folder / "notebook"
        self.old: dict[str, str] = {}
        self.new, foreign = NEW, FOREIGN if later else {}
        if later:
            build(self._before, OLD, HastyDisk())
            for path, text in FOREIGN.items():
                (self._before / path).write_text(text)
        self.old, self.new = (OLD | foreign if later else {}), NEW | foreign
        self.next = NEXT | foreign

    def begin(self) -> None:
        shutil.rmtree(self.out, ignore_errors=True)
        if self._before.exists():
            shutil.copytree(self._before, self.out)

    def check_whole(self, step: int) -> str:
        """What a killed build came to; the next command and the next build find their way."""
        out = self.out
        begun = (out / WORK / "note.json").exists()
        assert begun or tree(out) in (self.old, self.new), step
        recover(out, disk=HastyDisk())
        found = tree(out)
        assert found in (self.old, self.new), step
        assert not begun or found == self.new, step
        build(out, NEXT, HastyDisk())
        assert tree(out) == self.next, step
        assert not (out / WORK).exists(), step
        return "new" if found == self.new else "old"


def run(folder: Path) -> dict[str, int]:
    came_to = {"steps": 0, "old": 0, "new": 0, "kept apart": 0, "went on": 0}
    # What was put beside the folder must stand whatever happens in it.
    (folder / "beside.txt").write_text("mine")
    for later in (False, True):
        (folder / str(later)).mkdir()
        kind = Kind(folder / str(later), later=later)
        kind.begin()
        steps = steps_of(kind.out)
        came_to["steps"] += steps
        for step in range(1, steps + 1):
            kind.begin()
            _, status = os.waitpid(started(kind.out, step, signal.SIGKILL), 0)
            assert os.WIFSIGNALED(status), step
            came_to[kind.check_whole(step)] += 1
            kind.begin()
            process = started(kind.out, step, signal.SIGSTOP)
            _, status = os.waitpid(process, os.WUNTRACED)
            assert os.WIFSTOPPED(status), step
            begun = (kind.out / WORK / "note.json").exists()
            seen = tree(kind.out) if kind.out.exists() else {}
            assert begun or seen in (kind.old, kind.new), step
            held = False
            try:
                recover(kind.out, disk=HastyDisk())
            except OutputError as error:
                assert "another command is at work" in str(error)
                held = True
            came_to["kept apart"] += held
            if held and step % 3 == 0:
                os.kill(process, signal.SIGCONT)
                os.waitpid(process, 0)
                assert tree(kind.out) == kind.new, step
                came_to["went on"] += 1
            else:
                os.kill(process, signal.SIGKILL)
                os.waitpid(process, 0)
                kind.check_whole(step)
    assert (folder / "beside.txt").read_text() == "mine"
    return came_to


if __name__ == "__main__":
    sys.stdout.write(json.dumps(run(Path(sys.argv[1]))))
