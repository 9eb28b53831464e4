"""A folder of files: what is made, what is kept, what is refused."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from synthetic_tree import (
    FOREIGN,
    NEW,
    OLD,
    RECORD,
    WORK,
    Died,
    HastyDisk,
    files,
    part,
    parts,
    tree,
    without_links,
)

from journal.output import (
    OutputError,
    OutputFile,
    ReadyFile,
    WriteResult,
    matches_last,
    recover,
    write_notebook,
)
from journal.output.disk import Disk, bytes_digest


def build(out: Path, contents: dict[str, str], **more: object) -> WriteResult:
    more.setdefault("disk", HastyDisk())
    return write_notebook(out, files(contents), stamp={"of": str(sorted(contents))}, **more)  # type: ignore[arg-type]


def put(root: Path, files: dict[str, str]) -> None:
    for path, text in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(text)


def test_a_first_build_makes_every_part(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    written = build(out, OLD)
    assert tree(out) == OLD
    assert written == WriteResult(made=tuple(sorted(OLD)), kept=(), removed=())
    assert sorted(os.listdir(tmp_path)) == ["notebook"]
    assert WORK not in os.listdir(out)


def test_a_second_build_makes_only_what_changed(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    written = build(out, NEW)
    assert tree(out) == NEW
    assert written == WriteResult(
        made=(
            "cards/a.html",
            "designs/b.html",
            "designs/d/card.html",
            "index.html",
            "photos/33/33cc.jpg",
        ),
        kept=("designs/a.html", "look.css", "photos/11/11aa.jpg", "shelf/white.html"),
        removed=("designs/c/card.html", "gone.html", "photos/22/22bb.jpg", "weeks/16.html"),
    )
    assert not (out / "photos" / "22").exists()
    assert not (out / "weeks").exists()


def test_nothing_changed_touches_no_file(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    before = {path: path.stat().st_ino for path in out.rglob("*")}
    written = build(out, OLD)
    assert written.made == written.removed == ()
    assert {path: path.stat().st_ino for path in out.rglob("*")} == before


def test_an_unchanged_entry_is_not_exchanged_when_another_changes(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    shelf = (out / "shelf").stat().st_ino
    photos = (out / "photos").stat().st_ino
    build(out, NEW)
    assert ((out / "shelf").stat().st_ino, (out / "photos").stat().st_ino) == (shelf, photos)


def test_the_same_bytes_from_nothing_as_step_by_step(tmp_path: Path) -> None:
    build(tmp_path / "steps", OLD)
    build(tmp_path / "steps", NEW)
    build(tmp_path / "nothing", NEW)
    assert tree(tmp_path / "steps", record=True) == tree(tmp_path / "nothing", record=True)


def test_the_order_of_the_parts_changes_nothing(tmp_path: Path) -> None:
    build(tmp_path / "one", NEW)
    build(tmp_path / "two", dict(reversed(NEW.items())))
    assert tree(tmp_path / "one", record=True) == tree(tmp_path / "two", record=True)


def test_a_key_says_whether_a_part_is_made_again(tmp_path: Path) -> None:
    out = tmp_path / "notebook"

    def with_key(key: str, text: str) -> list[OutputFile]:
        return [OutputFile("a.html", key, text.encode)]

    write_notebook(out, with_key("one", "first"), stamp={})
    write_notebook(out, with_key("one", "never asked for"), stamp={})
    assert tree(out) == {"a.html": "first"}
    write_notebook(out, with_key("two", "second"), stamp={})
    assert tree(out) == {"a.html": "second"}


def test_a_lasting_part_is_known_by_its_name(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    write_notebook(out, [OutputFile("p/1f.jpg", "one", lambda: b"first", lasting=True)], stamp={})
    written = write_notebook(
        out, [OutputFile("p/1f.jpg", "two", lambda: b"no", lasting=True)], stamp={}
    )
    assert (written.made, tree(out)) == ((), {"p/1f.jpg": "first"})


@pytest.mark.parametrize("path", ["index.html", "designs/a.html", "photos/11/11aa.jpg"])
def test_a_file_that_was_cut_short_or_lost_is_made_again(tmp_path: Path, path: str) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    (out / path).write_text("")
    assert build(out, OLD).made == (path,)
    (out / path).unlink()
    assert build(out, OLD).made == (path,)
    assert tree(out) == OLD


def test_an_entry_may_turn_from_a_file_into_a_folder_and_into_a_lasting_one(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    for contents in (
        [part("a", "a file")],
        [part("a/b", "in a folder")],
        [part("a/b", "in a folder", lasting=True)],
        [part("a/c", "not lasting"), part("a/b", "in a folder")],
        [part("a", "a file")],
    ):
        write_notebook(out, contents, stamp={})
        assert sorted(tree(out)) == sorted(made.path for made in contents)


def test_no_parts_leave_a_folder_with_a_record(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    assert len(build(out, {}).removed) == len(OLD)
    assert os.listdir(out) == [RECORD]


def test_a_disk_without_links_copies(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    put(out, FOREIGN)
    disk = without_links()
    build(out, NEW, disk=disk)
    assert tree(out) == NEW | FOREIGN
    assert any(step.startswith("copy") for step in disk.steps)


def test_everything_new_is_safe_from_a_power_cut_before_the_exchange_begins(tmp_path: Path) -> None:
    class Watched(Disk):
        def __init__(self) -> None:
            self.unsafe: set[str] = set()
            self.begun = False

        def write(self, path: str, data: bytes) -> None:
            super().write(path, data)
            self.unsafe.add(path)

        def sync(self, path: str) -> None:
            super().sync(path)
            self.unsafe.discard(path)

        def rename(self, source: str, target: str) -> None:
            if target.endswith("note.json"):
                self.begun = True
                assert not self.unsafe
            super().rename(source, target)

    out = tmp_path / "notebook"
    build(out, OLD)
    disk = Watched()
    build(out, NEW, disk=disk)
    assert disk.begun


def test_bytes_at_hand_are_put_by_as_they_come_and_none_is_held(tmp_path: Path) -> None:
    out, seen = tmp_path / "notebook", []

    def coming() -> Iterator[ReadyFile]:
        for number in range(3):
            yield ReadyFile(f"{number}.html", f"key {number}", b"x" * number)
            seen.append(len(list((out / WORK).rglob("*.html"))))

    write_notebook(out, coming(), stamp={}, disk=HastyDisk())
    assert seen == [1, 2, 3]
    # What is as it was is not written again.
    seen.clear()
    written = write_notebook(out, coming(), stamp={}, disk=HastyDisk())
    assert seen == [0, 0, 0]
    assert written.made == ()
    (out / "1.html").unlink()
    assert write_notebook(out, coming(), stamp={}, disk=HastyDisk()).made == ("1.html",)


def test_what_fails_on_the_way_leaves_all_as_it_was(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    before = tree(out, record=True)

    def coming() -> Iterator[ReadyFile]:
        yield ReadyFile("index.html", "another", b"another front")
        raise ValueError("no more")

    with pytest.raises(ValueError, match="no more"):
        write_notebook(out, coming(), stamp={}, disk=HastyDisk())
    assert tree(out, record=True) == before
    assert not (out / WORK).exists()


def test_all_parts_may_be_made_by_one_call(tmp_path: Path) -> None:
    asked: list[str] = []

    def make_all(todo: Sequence[OutputFile]) -> Iterable[bytes]:
        asked.extend(made.path for made in todo)
        return [made.make_bytes() for made in todo]

    out = tmp_path / "notebook"
    build(out, OLD)
    written = build(out, NEW, make_all=make_all)
    assert tree(out) == NEW
    assert list(written.kept) == sorted(written.kept)
    assert asked == sorted(asked)
    assert "look.css" not in asked


# Files that the journal did not make -------------------------------------------


def test_what_others_put_there_stays(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    put(out, FOREIGN)
    build(out, NEW)
    assert tree(out) == NEW | FOREIGN
    build(out, {})
    assert tree(out) == FOREIGN


def test_a_link_that_others_put_there_stays_a_link(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    (out / "designs" / "elsewhere").symlink_to(tmp_path)
    build(out, NEW)
    assert os.readlink(out / "designs" / "elsewhere") == str(tmp_path)


@pytest.mark.parametrize("lies", ["cards/a.html", "cards", "designs/d", "photos/33/33cc.jpg"])
def test_what_stands_in_the_way_is_refused_and_nothing_changes(tmp_path: Path, lies: str) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    put(out, {lies: "mine"})
    before = tree(out, record=True)
    with pytest.raises(OutputError, match="was not made by the journal") as refused:
        build(out, NEW)
    assert f'"{lies}"' in refused.value.what
    assert tree(out, record=True) == before


def test_a_folder_that_somebody_moved_away_and_linked_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    (out / "photos").rename(tmp_path / "big-disk")
    (out / "photos").symlink_to(tmp_path / "big-disk")
    with pytest.raises(OutputError, match="was not made by the journal"):
        build(out, NEW)
    assert (tmp_path / "big-disk" / "22" / "22bb.jpg").exists()


def test_a_folder_that_the_journal_did_not_make_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "letters"
    put(out, {"letter.txt": "dear"})
    with pytest.raises(OutputError, match="did not make") as refused:
        build(out, OLD)
    assert refused.value.hint
    assert tree(out) == {"letter.txt": "dear"}
    assert os.listdir(out) == ["letter.txt"]


@pytest.mark.parametrize("strewn", [[], [".DS_Store"], ["Thumbs.db", "desktop.ini"]])
def test_an_empty_folder_will_do(tmp_path: Path, strewn: list[str]) -> None:
    out = tmp_path / "notebook"
    out.mkdir()
    put(out, dict.fromkeys(strewn, ""))
    build(out, OLD)
    assert tree(out) == OLD | dict.fromkeys(strewn, "")


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    out.write_text("a file")
    with pytest.raises(OutputError, match="is not a folder"):
        build(out, OLD)
    assert out.read_text() == "a file"


def test_a_missing_parent_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="there is no folder"):
        build(tmp_path / "nowhere" / "notebook", OLD)
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("out", ["content", "content/notebook", ".", "link"])
def test_what_is_read_is_kept_apart_from_what_is_written(tmp_path: Path, out: str) -> None:
    content = tmp_path / "content"
    put(content, {"journal.yaml": "studio: Tidewrack"})
    (tmp_path / "link").symlink_to(content)
    with pytest.raises(OutputError, match=r"over the folder that is read|one in the other"):
        build(tmp_path / out, OLD, away_from=[content])
    assert tree(content) == {"journal.yaml": "studio: Tidewrack"}


def test_a_link_to_the_folder_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    build(tmp_path / "link", OLD)
    assert (tmp_path / "link").is_symlink()
    assert tree(tmp_path / "real") == OLD


def test_links_that_lead_in_a_ring_are_refused(tmp_path: Path) -> None:
    (tmp_path / "one").symlink_to(tmp_path / "two")
    (tmp_path / "two").symlink_to(tmp_path / "one")
    with pytest.raises(OutputError, match='one" is not a folder'):
        build(tmp_path / "one", OLD)


@pytest.mark.usefixtures("like_anybody")
def test_a_folder_that_may_not_be_written_is_named(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    out.mkdir(mode=0o500)
    with pytest.raises(OutputError, match="permission denied"):
        build(out, OLD)


# The record --------------------------------------------------------------------


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"\xff\xfe",
        b"[]",
        b"{}",
        b'"text"',
        b'{"format": "soap-design-journal made/2", "stamp": {}, "parts": [1]}',
        b'{"format": "soap-design-journal made/2", "stamp": {}, "parts": {"a": "many d k"}}',
        b"[" * 100_000,
    ],
    ids=range(8),
)
def test_a_record_that_cannot_be_read_makes_everything_again(tmp_path: Path, damage: bytes) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    (out / RECORD).write_bytes(damage)
    assert not matches_last(out, {"of": str(sorted(OLD))})
    assert build(out, OLD).made == tuple(sorted(OLD))
    assert tree(out) == OLD


@pytest.mark.parametrize("cut", range(0, 600, 37))
def test_a_record_cut_short_makes_everything_again(tmp_path: Path, cut: int) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    whole = (out / RECORD).read_bytes()
    assert len(whole) > cut + 2
    (out / RECORD).write_bytes(whole[:cut])
    assert build(out, OLD).made == tuple(sorted(OLD))
    assert (out / RECORD).read_bytes() == whole


def test_without_a_record_nobody_knows_whose_the_other_files_are(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    (out / RECORD).write_text("?")
    with pytest.raises(OutputError, match="cannot be read"):
        build(out, NEW)
    assert tree(out) == OLD


def test_a_record_of_another_version_tells_whose_the_files_are(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    build(out, OLD)
    put(out, FOREIGN)
    found = json.loads((out / RECORD).read_text())
    (out / RECORD).write_text(json.dumps(found | {"format": "soap-design-journal made/3"}))
    written = build(out, NEW)
    assert tree(out) == NEW | FOREIGN
    assert "look.css" in written.made
    assert "gone.html" in written.removed


def test_a_record_cannot_lead_out_of_the_folder(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    put(tmp_path, {"mine.txt": "mine", "mine/deep.txt": "mine"})
    build(out, OLD)
    found = json.loads((out / RECORD).read_text())
    line = f"4 {bytes_digest(b'mine')} k"
    found["parts"] |= {
        "../mine.txt": line,
        "..": line,
        str(tmp_path / "mine.txt"): line,
        "designs/../../mine/deep.txt": line,
        "designs\0/a": line,
    }
    (out / RECORD).write_text(json.dumps(found))
    build(out, NEW)
    assert (
        (tmp_path / "mine.txt").read_text()
        == (tmp_path / "mine" / "deep.txt").read_text()
        == "mine"
    )
    assert tree(out) == NEW


# Whether anything changed ----------------------------------------------------


def test_the_stamp_says_whether_anything_changed(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    assert not matches_last(out, {})
    write_notebook(out, parts(OLD), stamp={"content": "1", "bars": "6"})
    assert matches_last(out, {"bars": "6", "content": "1"})
    assert not matches_last(out, {"content": "1"})
    assert not matches_last(out, {"content": "2", "bars": "6"})


@pytest.mark.parametrize("path", sorted(OLD))
def test_a_file_that_has_gone_is_a_change(tmp_path: Path, path: str) -> None:
    out = tmp_path / "notebook"
    write_notebook(out, parts(OLD), stamp={})
    (out / path).unlink()
    assert not matches_last(out, {})


def test_what_computers_strew_about_is_no_change(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    write_notebook(out, parts(OLD), stamp={})
    put(out, {"designs/.DS_Store": "", ".directory": ""})
    assert matches_last(out, {})


def test_an_exchange_under_way_is_a_change(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    write_notebook(out, parts(OLD), stamp={})
    put(out, {f"{WORK}/note.json": "{}"})
    assert not matches_last(out, {})


# Failures of what is to be written ---------------------------------------------


@pytest.mark.parametrize("failure", [ValueError("bad figure"), OSError(2, "no photo"), Died()])
@pytest.mark.parametrize("first", [True, False])
def test_a_part_that_cannot_be_made_leaves_all_as_it_was(
    tmp_path: Path, failure: BaseException, first: bool
) -> None:
    out = tmp_path / "notebook"
    if not first:
        build(out, OLD)
    before = tree(out, record=True)

    def make() -> bytes:
        raise failure

    with pytest.raises(type(failure)) as raised:
        write_notebook(out, [*parts({"a.html": "a"}), OutputFile("b.html", "k", make)], stamp={})
    assert raised.value is failure
    assert tree(out, record=True) == before
    if first and not isinstance(failure, Died):
        assert not out.exists()
    recover(out)
    assert tree(out, record=True) == before
    assert not (out / WORK).exists()


def test_pictures_that_were_made_are_not_made_twice_after_a_failure(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    made: list[str] = []

    def picture(path: str) -> OutputFile:
        def make() -> bytes:
            made.append(path)
            return path.encode()

        return OutputFile(path, "k", make, lasting=True)

    def broken() -> bytes:
        raise Died

    pictures = [picture("photos/1.jpg"), picture("photos/2.jpg")]
    with pytest.raises(Died):
        write_notebook(out, [*pictures, OutputFile("zz.html", "k", broken)], stamp={})
    write_notebook(out, [*pictures, part("zz.html", "whole")], stamp={})
    assert made == ["photos/1.jpg", "photos/2.jpg"]
    assert tree(out) == {
        "photos/1.jpg": "photos/1.jpg",
        "photos/2.jpg": "photos/2.jpg",
        "zz.html": "whole",
    }


def test_a_picture_of_a_failed_build_that_goes_away_meanwhile_is_said(tmp_path: Path) -> None:
    out = tmp_path / "notebook"
    picture = OutputFile("photos/1.jpg", "k", lambda: b"ready", lasting=True)

    def broken() -> bytes:
        raise Died

    def take_away() -> bytes:
        (out / WORK / "lasting" / "photos" / "1.jpg").unlink()
        return b"page"

    with pytest.raises(Died):
        write_notebook(out, [picture, OutputFile("zz.html", "k", broken)], stamp={})
    with pytest.raises(OutputError, match=r'"photos/1\.jpg" went away while'):
        write_notebook(out, [picture, OutputFile("zz.html", "k", take_away)], stamp={})
    assert tree(out) == {}
    write_notebook(out, [picture, part("zz.html", "whole")], stamp={})
    assert tree(out) == {"photos/1.jpg": "ready", "zz.html": "whole"}


# Any history -----------------------------------------------------------------

PATHS = ["a", "b/c", "b/d", "b/e/f", "photos/1", "photos/2", "photos/x/3"]
STATE = st.dictionaries(st.sampled_from(PATHS), st.sampled_from(["one", "two", "three!"]))
HARM = st.sampled_from([None, "lose", "cut", "record"])


@given(history=st.lists(st.tuples(STATE, HARM, st.sampled_from(PATHS)), min_size=1, max_size=5))
@examples(60)
def test_any_history_ends_in_the_same_bytes(
    tmp_path_factory: pytest.TempPathFactory, history: list[tuple[dict[str, str], str | None, str]]
) -> None:
    out = tmp_path_factory.mktemp("any") / "notebook"
    for state, harm, path in history:
        # A lasting part's content is its name's.
        state = {at: at if at.startswith("photos") else text for at, text in state.items()}
        build(out, state)
        assert tree(out) == state
        fresh = tmp_path_factory.mktemp("fresh") / "notebook"
        build(fresh, state)
        assert tree(out, record=True) == tree(fresh, record=True)
        if harm in ("lose", "cut") and path in state:
            (out / path).unlink()
            if harm == "cut":
                (out / path).write_text("")
        elif harm == "record" and not state:
            (out / RECORD).write_text("?")


@pytest.mark.skipif(sys.platform == "win32", reason="no modes there")
def test_files_have_the_mode_that_the_studio_gives_new_files(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        build(tmp_path / "notebook", OLD)
    finally:
        os.umask(before)
    assert {path.stat().st_mode & 0o777 for path in tmp_path.rglob("*") if path.is_file()} == {
        0o644
    }
