"""Whatever happens to the machine: the old notebook or the new one, whole, and a sentence."""

from __future__ import annotations

import errno
import json
import os
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from demo import KELP_ON_CLAY, KELP_ON_GREY
from long_run import LONG
from small_notebook import lay_down_small

from journal.cli import CONTENT_WRONG, DONE, WRONG_USE, main
from journal.output import recover
from journal.output.disk import Disk

STEPS = ("make_folder", "write", "copy", "link", "rename", "remove", "remove_folder", "sync",
         "sync_all")  # fmt: skip


def tree(root: Path) -> dict[str, bytes]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and ".journal-work" not in path.parts
    }


def build(content: Path, out: Path) -> int:
    return main(["build", "--content", str(content), "--out", str(out)])


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> tuple[Path, Path]:
    """A content in two states, with the notebook of each beside it."""
    root = tmp_path_factory.mktemp("two")
    one = lay_down_small(root / "one", demo_content)
    other = root / "other"
    shutil.copytree(one, other)
    path = other / "designs" / KELP_ON_CLAY / "design.md"
    path.write_text(path.read_text("utf-8").replace("Kelp on clay", "Kelp on mud"), "utf-8")
    photo = other / "designs" / KELP_ON_GREY / "photos"
    shutil.copyfile(photo / "front.jpg", photo / "above.jpg")
    for content in (one, other):
        assert build(content, content.with_name(f"{content.name}-made")) == DONE
    return one, other


def made(content: Path) -> Path:
    return content.with_name(f"{content.name}-made")


class Died(BaseException):
    """Stands for a process that was killed: nothing catches it, nothing is tidied."""


class Fault:
    """Lets a number of steps of the disk pass, and then fails at every one."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, passing: int, failure: BaseException):
        self.left, self.failure, self.seen = passing, failure, 0
        for step in STEPS:
            monkeypatch.setattr(Disk, step, self._faulty(getattr(Disk, step)))

    def _faulty(self, real: Callable[..., None]) -> Callable[..., None]:
        def step(disk: Disk, *arguments: object) -> None:
            self.seen += 1
            if self.seen > self.left:
                raise self.failure
            real(disk, *arguments)

        return step


@pytest.fixture(scope="module")
def steps(two: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> int:
    """How many steps of the disk it takes from the one notebook to the other."""
    out = tmp_path_factory.mktemp("counted") / "out"
    shutil.copytree(made(two[0]), out)
    with pytest.MonkeyPatch.context() as patch:
        counter = Fault(patch, 10**9, Died())
        assert build(two[1], out) == DONE
    assert counter.seen > 20
    return counter.seen


@pytest.fixture
def out(two: tuple[Path, Path], tmp_path: Path) -> Path:
    shutil.copytree(made(two[0]), tmp_path / "out")
    return tmp_path / "out"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no processes are forked here")
@pytest.mark.timeout(900)
def test_killed_at_any_moment(two: tuple[Path, Path], tmp_path: Path, project: Path) -> None:
    one, other = two
    kills = 1000 if LONG else 5
    script = Path(__file__).with_name("kill_builds.py")
    done = subprocess.run(
        [sys.executable, script, tmp_path / "out", one, other, made(one), made(other),
         str(kills), "20260418"],
        env={**os.environ, "PYTHONPATH": str(project), "JOURNAL_WORKERS": "2"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-4000:]
    came_to = json.loads(done.stdout)
    # Builds that were over before their kill are not counted among the kills.
    assert came_to["killed"] >= kills, came_to
    assert came_to["old"], came_to


def laid_back(two: tuple[Path, Path], out: Path) -> None:
    """The one notebook as it was, without a build."""
    shutil.rmtree(out)
    shutil.copytree(made(two[0]), out)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EACCES])
def test_a_disk_that_fails_at_any_step(
    two: tuple[Path, Path], out: Path, steps: int, number: int,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    one, other = two
    rng = random.Random(number)
    for passing in range(steps) if LONG else sorted(rng.sample(range(steps), 2)):
        capsys.readouterr()
        with monkeypatch.context() as patch:
            Fault(patch, passing, OSError(number, os.strerror(number)))
            status = build(other, out)
        said = capsys.readouterr().err
        if status == DONE:  # only what is kept for the next run could not be written
            assert tree(out) == tree(made(other))
        else:
            assert status == WRONG_USE
            assert re.fullmatch(r"journal: [^\n]+\. [^\n]+\.\n", said), said
            assert "Traceback" not in said
        recover(out)
        assert tree(out) in (tree(made(one)), tree(made(other))), passing
        assert build(other, out) == DONE
        assert tree(out) == tree(made(other)), passing
        laid_back(two, out)


def test_died_at_any_step(
    two: tuple[Path, Path], out: Path, steps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = two
    rng = random.Random(1)
    for passing in range(steps) if LONG else sorted(rng.sample(range(steps), 5)):
        with monkeypatch.context() as patch:
            Fault(patch, passing, Died())
            with pytest.raises(Died):
                build(other, out)
        recover(out)
        assert tree(out) in (tree(made(one)), tree(made(other))), passing
        assert build(other, out) == DONE
        assert tree(out) == tree(made(other)), passing
        laid_back(two, out)


def test_a_folder_of_somebody_else_is_left_alone(
    two: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("Dear Odile")
    assert build(two[0], tmp_path / "letters") == WRONG_USE
    assert "files in it that the journal did not make" in capsys.readouterr().err
    assert tree(tmp_path / "letters") == {"dear.txt": b"Dear Odile"}


def test_no_folder_to_write_in(
    two: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert build(two[0], tmp_path / "not there" / "out") == WRONG_USE
    assert "there is no folder" in capsys.readouterr().err


@pytest.mark.skipif(not os.path.isdir("/dev/shm"), reason="there is no second file system here")
def test_on_another_file_system(two: tuple[Path, Path], tmp_path: Path) -> None:
    place = Path("/dev/shm") / f"journal-{os.getpid()}-{tmp_path.name}"
    try:
        assert build(two[0], place) == DONE
        assert build(two[1], place) == DONE
        assert tree(place) == tree(made(two[1]))
    finally:
        shutil.rmtree(place, ignore_errors=True)


@pytest.mark.usefixtures("like_anybody")
def test_a_photo_that_may_not_be_read(
    two: tuple[Path, Path], out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The notebook is made without it, and told where it is named."""
    content = tmp_path / "content"
    shutil.copytree(two[0], content)
    photo = content / "designs" / KELP_ON_GREY / "photos" / "front.jpg"
    photo.chmod(0)
    assert build(content, out) == DONE
    told = capsys.readouterr().err
    assert re.search(
        rf"^designs/{KELP_ON_GREY}/design.md:\d+:\d+: warning: .*front.jpg.* cannot be read",
        told,
        re.MULTILINE,
    )
    assert not [path for path in tree(out) if "front" in path and KELP_ON_GREY in path]
    photo.chmod(0o644)
    assert build(content, out) == DONE
    assert tree(out) == tree(made(two[0]))


@pytest.mark.usefixtures("like_anybody")
@pytest.mark.parametrize(
    ("path", "rights"),
    [
        (f"designs/{KELP_ON_CLAY}/design.md", 0),
        ("shelf/bases.yaml", 0),
        ("journal.yaml", 0),
        (f"designs/{KELP_ON_CLAY}", 0),
        ("designs", 0),
        ("shelf", 0o600),
        (".", 0),
    ],
)
def test_content_that_may_not_be_read(
    two: tuple[Path, Path], out: Path, tmp_path: Path, path: str, rights: int,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    content = tmp_path / "content"
    shutil.copytree(two[0], content)
    locked = content / path
    before = locked.stat().st_mode
    locked.chmod(rights)
    try:
        assert build(content, out) in (CONTENT_WRONG, WRONG_USE)
    finally:
        locked.chmod(before)
    told = capsys.readouterr().err
    assert "cannot be read" in told or "permission denied" in told.lower(), told
    if path.startswith(f"designs/{KELP_ON_CLAY}"):  # it costs its own page
        page = f"designs/{KELP_ON_CLAY}.html"
        assert "cannot be read" in (out / page).read_text("utf-8")
        assert f"designs/{KELP_ON_GREY}.html" in tree(out)
    else:
        assert tree(out) == tree(made(two[0]))
    assert build(content, out) == DONE
    assert tree(out) == tree(made(two[0]))


@pytest.mark.usefixtures("like_anybody")
@pytest.mark.parametrize("locked", ["", "designs", ".journal-made.json"])
def test_a_notebook_that_may_not_be_written(
    two: tuple[Path, Path], out: Path, locked: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = tree(out)
    path = out / locked
    rights = path.stat().st_mode
    path.chmod(0o500 if path.is_dir() else 0)
    try:
        assert build(two[1], out) == WRONG_USE
    finally:
        path.chmod(rights)
    told = capsys.readouterr().err
    assert re.fullmatch(r"journal: [^\n]+ cannot be [^\n]+: permission denied\. [^\n]+\n", told), (
        told
    )
    assert tree(out) == before
    assert build(two[1], out) == DONE
    assert tree(out) == tree(made(two[1]))


def test_two_builds_at_once(two: tuple[Path, Path], out: Path, project: Path) -> None:
    """One of them does it; the other does it after, or says that it must wait."""
    ask = [sys.executable, "-m", "journal", "build", "--out", str(out), "--content"]
    environment = {**os.environ, "PYTHONPATH": str(project)}
    both = [
        subprocess.Popen([*ask, str(content)], cwd=project, env=environment, text=True,
                         stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for content in two
    ]  # fmt: skip
    for process in both:
        _, said = process.communicate(timeout=280)
        assert process.returncode in (DONE, WRONG_USE), said
        assert process.returncode == DONE or "another command is at work" in said
    assert tree(out) in (tree(made(two[0])), tree(made(two[1])))
    assert build(two[1], out) == DONE
    assert tree(out) == tree(made(two[1]))


def test_kept_answers_of_any_kind_change_nothing(
    two: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cut short, overwritten, of another version, or gone: the same notebook comes of it."""
    cache = tmp_path / "cache"
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    content = tmp_path / "content"
    shutil.copytree(two[0], content, copy_function=shutil.copyfile)
    rng = random.Random(5)
    for number in range(20 if LONG else 3):
        assert build(content, tmp_path / f"out-{number}") == DONE
        assert tree(tmp_path / f"out-{number}") == tree(made(two[0])), number
        for path in sorted(cache.glob("*/*")):
            raw = bytearray(path.read_bytes())
            kind = rng.choice(("cut", "flipped", "foreign", "gone"))
            if kind == "cut":
                path.write_bytes(raw[: rng.randrange(len(raw))])
            elif kind == "flipped":
                raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
                path.write_bytes(raw)
            elif kind == "foreign":
                path.write_bytes(rng.randbytes(100))
            else:
                path.unlink()


def test_a_clock_set_back(
    two: tuple[Path, Path], out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = tmp_path / "content"
    shutil.copytree(two[0], content)
    assert build(content, out) == DONE
    monkeypatch.setattr("time.time_ns", lambda: 10**18)  # 2001
    path = content / "designs" / KELP_ON_CLAY / "design.md"
    path.write_text(path.read_text("utf-8").replace("Kelp on clay", "Kelp on sand"), "utf-8")
    os.utime(path, (10**9, 10**9))
    assert build(content, out) == DONE
    assert "Kelp on sand" in (out / "designs" / f"{KELP_ON_CLAY}.html").read_text("utf-8")
