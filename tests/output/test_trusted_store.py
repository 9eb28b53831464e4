"""Kept answers are read and written only where nobody else can have put anything."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from journal.output import CacheStore, store

pytestmark = pytest.mark.skipif(not hasattr(os, "geteuid"), reason="files have no owners there")

#: Some user who is neither root nor the one who runs the tests.
SOMEBODY = 54321


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "own"
    folder.mkdir(mode=0o700)
    return folder


def believed(folder: Path) -> bool:
    """Whether what was kept there by whoever could is read, written and thrown away."""
    kept = CacheStore(folder)
    read = kept.read("answers") is not None
    written = kept.write("more", b"words")
    before = sorted(os.listdir(folder)) if folder.is_dir() else []
    kept.clear("answers")
    cleared = before != (sorted(os.listdir(folder)) if folder.is_dir() else [])
    assert read == written == cleared
    return read


def with_answers(folder: Path) -> Path:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    assert CacheStore(folder).write("answers", b"words")
    return folder


def test_a_folder_of_ones_own_is_believed(own: Path) -> None:
    assert believed(with_answers(own / "kept"))


def test_what_is_made_is_closed_to_others(own: Path) -> None:
    before = os.umask(0)
    try:
        assert CacheStore(own / "a" / "b" / "c").write("answers", b"words")
    finally:
        os.umask(before)
    assert {path.stat().st_mode & 0o777 for path in own.rglob("*") if path.is_dir()} == {0o700}
    assert CacheStore(own / "a" / "b" / "c").read("answers") == b"words"


def test_a_link_to_a_folder_of_ones_own_is_not_passed(tmp_path: Path, own: Path) -> None:
    """A folder that came with a notebook was unpacked by the maker, and is the maker's own."""
    with_answers(own / "notebook" / "planted")
    (own / "cache").mkdir()
    (own / "cache" / "0123").symlink_to(own / "notebook" / "planted")
    assert not believed(own / "cache" / "0123")
    assert not believed(own / "cache" / "0123" / "deeper")
    (own / "all").symlink_to(own / "notebook")
    assert not believed(own / "all" / "planted")
    assert sorted(os.listdir(own / "notebook" / "planted")) == ["answers"]


@pytest.mark.parametrize("mode", [0o777, 0o770, 0o702, 0o1777])
def test_a_folder_that_others_may_write_in_is_not_believed(own: Path, mode: int) -> None:
    with_answers(own / "kept").chmod(mode)
    assert not believed(own / "kept")


@pytest.mark.parametrize("mode", [0o777, 0o770, 0o702])
def test_nor_is_one_in_a_folder_that_others_may_write_in(own: Path, mode: int) -> None:
    """They could put another in its place."""
    with_answers(own / "shared" / "deep" / "kept")
    (own / "shared").chmod(mode)
    assert not believed(own / "shared" / "deep" / "kept")
    (own / "shared").chmod(mode | 0o1000)  # what is not theirs they cannot move now
    assert believed(own / "shared" / "deep" / "kept")


@pytest.mark.root
@pytest.mark.parametrize("whose", ["shared", "shared/kept"])
def test_somebody_elses_folder_is_not_believed(own: Path, whose: str) -> None:
    with_answers(own / "shared" / "kept")
    os.chown(own / whose, SOMEBODY, SOMEBODY)
    assert not believed(own / "shared" / "kept")


def test_answers_that_are_a_link_or_a_pipe_are_none(own: Path) -> None:
    with_answers(own / "kept")
    with_answers(own / "planted")
    os.rename(own / "kept" / "answers", own / "planted" / "other")
    (own / "kept" / "answers").symlink_to(own / "planted" / "answers")
    assert CacheStore(own / "kept").read("answers") is None
    (own / "kept" / "answers").unlink()
    os.mkfifo(own / "kept" / "answers")
    assert CacheStore(own / "kept").read("answers") is None
    assert CacheStore(own / "kept").write("answers", b"words")
    assert CacheStore(own / "kept").read("answers") == b"words"


def test_an_unfinished_file_that_is_a_link_is_not_written_through(own: Path) -> None:
    with_answers(own / "kept")
    (own / "mine.txt").write_text("mine")
    (own / "kept" / "more.part").symlink_to(own / "mine.txt")
    assert CacheStore(own / "kept").write("more", b"words")
    assert (own / "mine.txt").read_text() == "mine"
    assert CacheStore(own / "kept").read("more") == b"words"


#: Reads as somebody who is not root.
AS_SOMEBODY = """
import os, sys
from pathlib import Path
from journal.output import CacheStore
os.setgroups([]); os.setgid(int(sys.argv[1])); os.setuid(int(sys.argv[1]))
print(CacheStore(Path(sys.argv[2])).read("answers"))
"""


@pytest.fixture
def theirs(tmp_path_factory: pytest.TempPathFactory, project: Path) -> Iterator[Path]:
    """A folder of root's in a sticky one, with one of somebody's in it that holds answers."""
    if not os.path.isdir("/tmp") or os.stat("/tmp").st_mode & 0o1002 != 0o1002:
        pytest.skip("there is no sticky folder for all")
    place = Path(tempfile.mkdtemp(prefix="journal-store-", dir="/tmp"))
    place.chmod(0o755)
    try:
        with_answers(place / "kept")
        os.chown(place / "kept", SOMEBODY, SOMEBODY)
        for path in (place / "kept").iterdir():
            os.chown(path, SOMEBODY, SOMEBODY)
        yield place
    finally:
        subprocess.run(["rm", "-rf", str(place)], check=True)


def read_by_somebody(folder: Path, project: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", AS_SOMEBODY, str(SOMEBODY), str(folder)],
        cwd=project, env={**os.environ, "PYTHONPATH": str(project)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.mark.root
def test_a_link_of_roots_in_a_folder_of_roots_is_passed_by_all_but_root(
    theirs: Path, project: Path
) -> None:
    """As an administrator puts /home elsewhere; root itself may have unpacked the link."""
    (theirs / "home").symlink_to(theirs)
    assert read_by_somebody(theirs / "kept", project) == "b'words'"
    assert read_by_somebody(theirs / "home" / "kept", project) == "b'words'"
    os.chown(theirs / "home", SOMEBODY, SOMEBODY, follow_symlinks=False)
    assert read_by_somebody(theirs / "home" / "kept", project) == "None"
    os.chown(theirs / "home", 0, 0, follow_symlinks=False)
    theirs.chmod(0o1777)
    assert read_by_somebody(theirs / "home" / "kept", project) == "None"


def test_a_link_at_the_very_top_is_passed(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As /var is one of macOS; here the top is played by another folder."""
    with_answers(own / "private" / "var" / "kept")
    real, link = os.lstat, os.readlink
    (own / "var").symlink_to("private/var")

    def lstat(path: str) -> os.stat_result:
        return real(own / "var") if path == "/var" else real(path)

    monkeypatch.setattr(store.os, "lstat", lstat)
    monkeypatch.setattr(
        store.os,
        "readlink",
        lambda path: str(own / "private" / "var") if path == "/var" else link(path),
    )
    expected = b"words" if real(own / "var").st_uid == 0 else None
    assert CacheStore(Path("/var/kept")).read("answers") == expected


def test_links_that_lead_in_a_ring_are_no_folder(own: Path) -> None:
    (own / "one").symlink_to(own / "two")
    (own / "two").symlink_to(own / "one")
    assert CacheStore(own / "one" / "kept").read("answers") is None
    assert not CacheStore(own / "one" / "kept").write("answers", b"words")
