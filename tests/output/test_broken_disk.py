"""Every step of a build fails, or is the last one before the process dies."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from synthetic_tree import (
    FOREIGN,
    NEW,
    OLD,
    WORK,
    Died,
    FaultyDisk,
    HastyDisk,
    dies_at,
    fails_at,
    files,
    full_from,
    parts,
    tree,
    without_links,
)

from journal.output import OutputError, recover, write_notebook
from journal.output.disk import Disk

FIRST, LATER = "first build", "later build"


def stamp(contents: dict[str, str]) -> dict[str, str]:
    return {"of": str(sorted(contents.items()))}


def build(out: Path, contents: dict[str, str], disk: Disk | None = None) -> None:
    write_notebook(out, files(contents), stamp=stamp(contents), disk=disk or HastyDisk())


def begin(folder: Path, kind: str) -> tuple[Path, dict[str, str], dict[str, str]]:
    """A folder before a build; what is in it, and what should be after it."""
    out = folder / "notebook"
    if kind == FIRST:
        return out, {}, NEW
    build(out, OLD)
    for path, text in FOREIGN.items():
        (out / path).write_text(text)
    return out, OLD | FOREIGN, NEW | FOREIGN


def count_steps(folder: Path, kind: str) -> int:
    disk = FaultyDisk(lambda *_: None)
    out, _, _ = begin(folder, kind)
    build(out, NEW, disk)
    return len(disk.steps)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What a build from nothing gives, with its record."""
    out = tmp_path_factory.mktemp("whole") / "notebook"
    build(out, NEW)
    return tree(out, record=True)


def check_next_build(out: Path, kind: str, whole: dict[str, str]) -> None:
    build(out, NEW)
    assert tree(out, record=True) == (whole if kind == FIRST else whole | FOREIGN)
    assert not (out / WORK).exists()


@pytest.mark.parametrize("kind", [FIRST, LATER])
def test_death_at_any_step(
    tmp_path_factory: pytest.TempPathFactory, kind: str, whole: dict[str, str]
) -> None:
    steps = count_steps(tmp_path_factory.mktemp("count"), kind)
    assert steps > 30
    seen = set()
    for step in range(1, steps + 1):
        out, old, new = begin(tmp_path_factory.mktemp("death"), kind)
        with pytest.raises(Died):
            build(out, NEW, dies_at(step))
        begun = (out / WORK / "note.json").exists()
        if not begun:
            assert tree(out) in (old, new), step
        recover(out, disk=HastyDisk())
        found = tree(out)
        assert found in (old, new), step
        assert not begun or found == new, step
        seen.add(found == new)
        check_next_build(out, kind, whole)
    assert seen == {True, False}


@pytest.mark.parametrize("kind", [FIRST, LATER])
@pytest.mark.parametrize(
    "breaks",
    [
        pytest.param(fails_at, id="denied"),
        pytest.param(full_from, id="full"),
        # Another number for a step that fails once.
        pytest.param(lambda step: fails_at(step, errno.EIO), marks=pytest.mark.long, id="i/o"),
    ],
)
def test_failure_at_any_step(
    tmp_path_factory: pytest.TempPathFactory, kind: str, breaks: object, whole: dict[str, str]
) -> None:
    assert callable(breaks)
    failed = 0
    for step in range(1, count_steps(tmp_path_factory.mktemp("count"), kind) + 1):
        out, old, new = begin(tmp_path_factory.mktemp("failure"), kind)
        disk = breaks(step)
        try:
            build(out, NEW, disk)
        except OutputError as error:
            failed += 1
            assert error.hint
            # Right after it, without any recovery: all as it was, or all in place and
            # only the clearing away is left over.
            if "in their places" in error.hint:
                assert tree(out) in (new, new | {"photos/22/22bb.jpg": "picture 22"})
            else:
                assert tree(out) == old, disk.steps[step - 1]
                assert "Nothing was changed" in error.hint
        else:
            assert tree(out) == new
        check_next_build(out, kind, whole)
    assert failed > 10


def test_death_while_recovering_at_any_step(
    tmp_path_factory: pytest.TempPathFactory, whole: dict[str, str]
) -> None:
    disk = FaultyDisk(lambda *_: None)
    out, _, _ = begin(tmp_path_factory.mktemp("count"), LATER)
    build(out, NEW, disk)
    noted = next(
        at
        for at, step in enumerate(disk.steps, 1)
        if step.startswith("rename") and "note.json" in step
    )
    for first in range(noted + 1, len(disk.steps) + 1, 3):
        second = 0
        while True:
            second += 1
            out, _, new = begin(tmp_path_factory.mktemp("again"), LATER)
            with pytest.raises(Died):
                build(out, NEW, dies_at(first))
            try:
                recover(out, disk=dies_at(second))
            except Died:
                recover(out, disk=HastyDisk())
                assert tree(out) == new
            else:
                assert tree(out) == new
                break
        assert tree(out, record=True) == whole | FOREIGN


def test_failure_while_recovering_puts_back_or_goes_on_later(
    tmp_path_factory: pytest.TempPathFactory, whole: dict[str, str]
) -> None:
    disk = FaultyDisk(lambda *_: None)
    out, _, _ = begin(tmp_path_factory.mktemp("count"), LATER)
    build(out, NEW, disk)
    for first in range(1, len(disk.steps) + 1, 2):
        for second in range(1 + first // 2 % 3, 15, 3):
            out, old, new = begin(tmp_path_factory.mktemp("again"), LATER)
            with pytest.raises(Died):
                build(out, NEW, dies_at(first))
            try:
                recover(out, disk=fails_at(second))
            except OutputError:
                recover(out, disk=HastyDisk())
            assert tree(out) in (old, new), (first, second)
            check_next_build(out, LATER, whole)


def test_a_disk_that_lets_go_of_nothing_is_put_right_later(tmp_path: Path) -> None:
    """A rename of the exchange fails, and putting back fails as well."""
    out, _, new = begin(tmp_path, LATER)
    renames = 0

    def fails(name: str, _: int) -> BaseException | None:
        nonlocal renames
        renames += name == "rename"
        return OSError(errno.EACCES, "open elsewhere") if renames > 6 and name == "rename" else None

    with pytest.raises(OutputError, match="The next command finishes"):
        build(out, NEW, FaultyDisk(fails))
    recover(out, disk=HastyDisk())
    assert tree(out) == new


@pytest.mark.parametrize("step", range(1, 64, 3))
def test_an_interrupt_ends_in_old_or_new_at_once(tmp_path: Path, step: int) -> None:
    out, old, new = begin(tmp_path, LATER)
    disk = FaultyDisk(lambda _, n: KeyboardInterrupt() if n == step else None)
    with pytest.raises(KeyboardInterrupt) as stopped:
        build(out, NEW, disk)
    assert tree(out) == (new if "by then" in str(stopped.value) else old)
    assert not (out / WORK / "note.json").exists()


def test_a_disk_without_links_may_die_too(tmp_path_factory: pytest.TempPathFactory) -> None:
    for step in range(1, 90, 4):
        out, old, new = begin(tmp_path_factory.mktemp("stick"), LATER)
        plain = without_links()

        def fails(
            name: str, n: int, plain: FaultyDisk = plain, step: int = step
        ) -> BaseException | None:
            return Died() if n >= step else plain._fails(name, n)

        try:
            build(out, NEW, FaultyDisk(fails))
        except Died:
            recover(out, disk=HastyDisk())
        assert tree(out) in (old, new)


def test_a_note_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    out, old, _ = begin(tmp_path, LATER)
    (out / WORK).mkdir()
    for note in ("", "{}", '{"format": "soap-design-journal exchange/1", "add": ["../x"]}'):
        (out / WORK / "note.json").write_text(note)
        with pytest.raises(OutputError, match="half written"):
            recover(out)
        with pytest.raises(OutputError, match="half written"):
            build(out, NEW)
        assert tree(out) == old


# One at a time -----------------------------------------------------------------

HOLD = """
import sys
from journal.output.lock import folder_lock
with folder_lock(sys.argv[1], "notebook"):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_two_builds_are_kept_apart_and_a_dead_one_holds_nothing(tmp_path: Path) -> None:
    out, old, new = begin(tmp_path, LATER)
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(out / WORK)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert holder.stdin is not None
    assert holder.stdout is not None
    try:
        assert holder.stdout.readline() == b"held\n"
        with pytest.raises(OutputError, match="another command is at work"):
            build(out, NEW)
        with pytest.raises(OutputError, match="another command is at work"):
            recover(out)
        assert tree(out) == old
    finally:
        holder.kill()
        holder.wait()
        holder.stdin.close()
        holder.stdout.close()
    assert (out / WORK / "lock").exists()
    build(out, NEW)
    assert tree(out) == new
    assert not (out / WORK).exists()


def test_a_build_within_a_build_is_refused(tmp_path: Path) -> None:
    out, _, new = begin(tmp_path, LATER)

    def make_all(todo: object) -> list[bytes]:
        with pytest.raises(OutputError, match="another command"):
            build(out, OLD)
        return [made.make_bytes() for made in todo]  # type: ignore[attr-defined]

    write_notebook(out, parts(NEW), stamp={}, make_all=make_all)
    assert tree(out) == new


# Killed for real ---------------------------------------------------------------

#: Builds two trees in turn until it is killed; a fresh process for each line read.
BUILDER = """
import os, sys
sys.path[:0] = sys.argv[2:]
from pathlib import Path
from test_broken_disk import BIG, build
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        print(os.getpid(), flush=True)
        while True:
            for contents in BIG:
                build(Path(sys.argv[1]), contents)
    os.waitpid(child, 0)
    print("dead", flush=True)
"""
BIG = tuple(
    {f"designs/{n}.html": f"{kind if n % 3 else 'same'} {n}" for n in range(60)}
    | {f"{folder}/x.html": kind for folder in ("cards", "shelf", "weeks", kind)}
    | {f"photos/{kind}-{n}.jpg": f"{kind}-{n}" for n in range(5)}
    | {"index.html": kind, "look.css": "the same"}
    for kind in ("ebb", "flood")
)
KILLS = 100


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and kill")
def test_killed_at_any_moment(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, BIG[0])
    here = str(Path(__file__).parent)
    mixed = 0
    with subprocess.Popen(
        [sys.executable, "-c", BUILDER, str(out), here, str(Path(here).parent)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as builder:
        assert builder.stdin is not None
        assert builder.stdout is not None
        for kill in range(KILLS):
            builder.stdin.write("again\n")
            builder.stdin.flush()
            victim = int(builder.stdout.readline())
            time.sleep(0.0003 * (kill % 47))  # some 14 ms: a build of each tree and more
            os.kill(victim, signal.SIGKILL)
            assert builder.stdout.readline() == "dead\n"
            mixed += tree(out) not in BIG
            recover(out, disk=HastyDisk())
            assert tree(out) in BIG, kill
        builder.stdin.close()
    # Not only is it mended: nearly always there is nothing to mend.
    assert mixed <= KILLS // 4
    build(out, BIG[1])
    assert tree(out) == BIG[1]
