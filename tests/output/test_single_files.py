"""New files over nothing that is there, and one file that replaces another."""

from __future__ import annotations

import errno
import os
import socket
from collections.abc import Callable
from pathlib import Path

import pytest
from synthetic_tree import Died, FaultyDisk, HastyDisk, dies_at, fails_at, full_from, tree

from journal.output import OutputError, write_file, write_new_files
from journal.output.disk import Disk

FILES: dict[str, bytes | Path] = {
    "content/journal.yaml": b"studio: Tidewrack",
    "content/designs/kelp/design.md": b"---\n---\n",
    "content/shelf/bases.yaml": b"",
    "notes.txt": b"where to begin",
}
TEXTS = {path: bytes(data).decode() for path, data in FILES.items() if isinstance(data, bytes)}


def begin(into: Path, disk: Disk | None = None) -> tuple[str, ...]:
    return write_new_files(FILES, into, disk=disk or HastyDisk())


def test_a_new_folder_appears_whole(tmp_path: Path) -> None:
    assert begin(tmp_path / "soap") == tuple(sorted(FILES))
    assert tree(tmp_path / "soap") == TEXTS
    assert os.listdir(tmp_path) == ["soap"]


def test_a_folder_with_other_things_in_it_keeps_them(tmp_path: Path) -> None:
    (tmp_path / ".venv").mkdir()
    (tmp_path / ".venv" / "x").write_text("mine")
    begin(tmp_path)
    assert tree(tmp_path) == TEXTS | {".venv/x": "mine"}
    assert sorted(os.listdir(tmp_path)) == [".venv", "content", "notes.txt"]


@pytest.mark.parametrize("there", ["content/mine.md", "content", "notes.txt"])
def test_nothing_is_overwritten(tmp_path: Path, there: str) -> None:
    (tmp_path / there).parent.mkdir(exist_ok=True)
    (tmp_path / there).write_text("mine")
    with pytest.raises(OutputError, match="would be overwritten"):
        begin(tmp_path)
    assert tree(tmp_path) == {there: "mine"}


def test_a_dangling_link_is_not_written_through(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OutputError, match="would be overwritten"):
        begin(tmp_path)
    assert not (tmp_path / "elsewhere").exists()


def test_photos_are_copied_from_files(tmp_path: Path) -> None:
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8" * 999_999)
    (tmp_path / "link.jpg").symlink_to("photo.jpg")
    write_new_files(
        {"p/1.jpg": tmp_path / "photo.jpg", "p/2.jpg": tmp_path / "link.jpg"}, tmp_path / "new"
    )
    assert not (tmp_path / "new/p/2.jpg").is_symlink()
    assert (tmp_path / "new/p/1.jpg").read_bytes() == (tmp_path / "new/p/2.jpg").read_bytes()
    assert (tmp_path / "new/p/1.jpg").stat().st_size == 2 * 999_999


def test_a_photo_that_is_not_there_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no such file"):
        write_new_files({"a": b"", "p/1.jpg": tmp_path / "nowhere.jpg"}, tmp_path / "new")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("path", ["../x", "/x", "a/../../x", "con"])
def test_odd_paths_are_refused(tmp_path: Path, path: str) -> None:
    with pytest.raises(OutputError, match="no file can be called"):
        write_new_files({path: b""}, tmp_path / "new")


@pytest.mark.parametrize("present", [False, True])
@pytest.mark.parametrize("breaks", [dies_at, fails_at, full_from])
def test_all_or_nothing_at_any_step(
    tmp_path_factory: pytest.TempPathFactory, breaks: Callable[[int], FaultyDisk], present: bool
) -> None:
    outcomes = set()
    for step in range(1, 30):
        into = tmp_path_factory.mktemp("begin") / "soap"
        if present:
            into.mkdir()
        try:
            begin(into, breaks(step))
        except (OutputError, Died) as failure:
            found = tree(into) if into.exists() else {}
            if not (isinstance(failure, Died) and present):
                assert {
                    path for path in found if not path.startswith(".")
                } <= set() or found == TEXTS
        else:
            assert tree(into) == TEXTS
        outcomes.add(into.exists() and tree(into) == TEXTS)
        if not into.exists() or not (into / "content").exists():
            begin(into)
            assert tree(into) == TEXTS
    assert outcomes == {True, False}


def test_a_file_put_there_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    class Meddled(HastyDisk):
        def rename(self, source: str, target: str) -> None:
            super().rename(source, target)
            if target.endswith("content"):
                (tmp_path / "notes.txt").write_text("mine")

    with pytest.raises(OutputError, match="file exists"):
        begin(tmp_path, Meddled())
    assert tree(tmp_path) == {"notes.txt": "mine"}


# One file ----------------------------------------------------------------------


def test_a_file_is_written_and_replaced(tmp_path: Path) -> None:
    write_file(tmp_path / "card.pdf", b"one")
    write_file(tmp_path / "card.pdf", b"two")
    assert (tmp_path / "card.pdf").read_bytes() == b"two"
    assert os.listdir(tmp_path) == ["card.pdf"]


def test_a_link_to_a_file_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real.pdf").write_bytes(b"one")
    (tmp_path / "card.pdf").symlink_to("real.pdf")
    write_file(tmp_path / "card.pdf", b"two")
    assert (tmp_path / "card.pdf").is_symlink()
    assert (tmp_path / "real.pdf").read_bytes() == b"two"


def test_only_a_file_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with socket.socket(socket.AF_UNIX) as door:
        door.bind(os.path.relpath(tmp_path / "door"))
    for name in ("folder", "door"):
        with pytest.raises(OutputError, match="is not a file"):
            write_file(tmp_path / name, b"")
    with pytest.raises(OutputError, match="is not a file"):
        write_file(Path("/dev/null"), b"")
    with pytest.raises(OutputError, match="there is no folder"):
        write_file(tmp_path / "nowhere" / "card.pdf", b"")


def test_nothing_is_written_among_what_is_only_read(tmp_path: Path) -> None:
    content = tmp_path / "content"
    (content / "designs").mkdir(parents=True)
    (tmp_path / "link").symlink_to(content)
    for path, said in (
        ("content/x.pdf", 'content", which is only read'),
        ("content/designs/x.pdf", 'content", which is only read'),
        ("link/x.pdf", 'content", which is only read'),
        ("content", "is not a file"),
    ):
        with pytest.raises(OutputError, match=said):
            write_file(tmp_path / path, b"", away_from=[content])
    write_file(tmp_path / "contents.pdf", b"", away_from=[content])
    assert tree(content) == {}


@pytest.mark.parametrize("breaks", [dies_at, fails_at, full_from])
def test_a_file_is_old_or_new_at_any_step(
    tmp_path: Path, breaks: Callable[[int], FaultyDisk]
) -> None:
    seen = set()
    for step in range(1, 8):
        target = tmp_path / "card.pdf"
        target.write_bytes(b"the old card")
        try:
            write_file(target, b"the new card", disk=breaks(step))
        except (OutputError, Died):
            pass
        seen.add(target.read_bytes())
    assert seen == {b"the old card", b"the new card"}


def test_a_full_disk_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(OutputError) as refused:
        write_file(tmp_path / "card.pdf", b"x", disk=full_from(1))
    assert "no space left" in str(refused.value)
    assert "Free some space and try again. Nothing was changed." in str(refused.value)


@pytest.mark.parametrize(
    ("number", "mend"),
    [
        (errno.EROFS, "can be written to"),
        (errno.ENAMETOOLONG, "shorter name"),
        (errno.EACCES, "Allow writing there"),
        (errno.EIO, "Look at the disk"),
    ],
)
def test_each_failure_has_its_mend(tmp_path: Path, number: int, mend: str) -> None:
    with pytest.raises(OutputError) as refused:
        write_file(tmp_path / "card.pdf", b"x", disk=fails_at(1, number))
    assert mend in refused.value.hint
