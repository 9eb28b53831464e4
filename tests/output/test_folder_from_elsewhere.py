"""A folder that somebody else made: whatever it holds, nothing outside it is touched."""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

import pytest
from synthetic_tree import FOREIGN, NEW, OLD, RECORD, WORK, HastyDisk, files, tree

from journal.output import OutputError, disk, matches_last, recover, write_file, write_new_files
from journal.output import write_notebook as write

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")

THESIS = "years of work"


@pytest.fixture(autouse=True, params=["by descriptor", "looked at"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each attack where folders have descriptors, and as on Windows, where they have none."""
    if request.param == "looked at":
        monkeypatch.setattr(disk, "BY_DESCRIPTOR", False)


@pytest.fixture
def victim(tmp_path: Path) -> Path:
    folder = tmp_path / "victim"
    folder.mkdir()
    (folder / "thesis.txt").write_text(THESIS)
    return folder


@pytest.fixture
def given(tmp_path: Path) -> Path:
    return tmp_path / "given"


def build(out: Path, contents: dict[str, str]) -> None:
    write(out, files(contents), stamp={"of": str(sorted(contents.items()))}, disk=HastyDisk())


def digest(data: bytes) -> str:
    return blake2b(data, digest_size=16).hexdigest()


def put_record(out: Path, listed: dict[str, str], *, version: int = 2) -> bytes:
    """A record in the form of the journal that lists files, each with its digest."""
    texts = {path: text.encode() for path, text in listed.items()}
    lines = {
        path: f"{len(data)} {digest(data)} k" if version == 2 else f"{len(data)} k"
        for path, data in texts.items()
    }
    head = {"format": f"soap-design-journal made/{version}", "stamp": {}, "lasting": []}
    data = json.dumps({**head, "folders": {"": 1}, "parts": lines}).encode()
    out.mkdir(exist_ok=True)
    (out / RECORD).write_bytes(data)
    return data


def put_note(
    out: Path, before: bytes, after: bytes = b"{}", version: int = 2, **lists: list[str]
) -> None:
    work = out / WORK
    (work / "new").mkdir(parents=True, exist_ok=True)
    (work / "new" / RECORD).write_bytes(after)
    note = {"add": [], "old": [], "new": [], "drop": [], **lists}
    if version == 2:
        note |= {"before": digest(before), "after": digest(after)}  # type: ignore[dict-item]
    text = {"format": f"soap-design-journal exchange/{version}", **note}
    (work / "note.json").write_text(json.dumps(text))


def refused(work: Callable[[], object]) -> str:
    with pytest.raises(OutputError) as found:
        work()
    assert found.value.hint
    return str(found.value)


def stands(victim: Path) -> bool:
    return tree(victim) == {"thesis.txt": THESIS}


# A note that drops, takes away, or puts over ------------------------------------


@pytest.mark.parametrize("version", [1, 2])
def test_a_note_drops_nothing_behind_a_link(given: Path, victim: Path, version: int) -> None:
    record = put_record(given, {"designs/thesis.txt": THESIS}, version=version)
    (given / "designs").symlink_to(victim)
    put_note(given, record, version=version, drop=["designs/thesis.txt"])
    for work in (lambda: recover(given), lambda: build(given, OLD)):
        with suppress(OutputError):
            work()
        assert stands(victim)
    assert os.readlink(given / "designs") == str(victim)
    refused(lambda: build(given, OLD))


@pytest.mark.parametrize("version", [1, 2])
@pytest.mark.parametrize("listed", [{}, {"mine.txt": "another text"}, {"mine/a.txt": "as it is"}])
@pytest.mark.parametrize(
    "lists",
    [
        {"drop": ["mine.txt"]},
        {"drop": ["mine"]},
        {"old": ["mine.txt"]},
        {"old": ["mine"]},
        {"new": ["mine.txt"]},
        {"old": ["mine.txt"], "new": ["mine.txt"]},
        {"old": ["mine"], "new": ["mine"]},
        {"add": ["mine.txt"]},
        {"add": ["mine/b.txt"]},
    ],
)
def test_a_note_takes_away_only_what_is_recorded_with_its_digest(
    given: Path, lists: dict[str, list[str]], listed: dict[str, str], version: int
) -> None:
    mine = {"mine.txt": "as it is", "mine/a.txt": "as it is", "mine/b.txt": "as it was"}
    (given / "mine").mkdir(parents=True)
    for path, text in mine.items():
        (given / path).write_text(text)
    record = put_record(given, listed)
    put_note(given, record, version=version, **lists)
    (given / WORK / "new" / "mine.txt").write_text("theirs")
    (given / WORK / "lasting" / "mine").mkdir(parents=True)
    for path in ("mine.txt", "mine/b.txt"):
        (given / WORK / "lasting" / path).write_text("theirs")
    with suppress(OutputError):
        recover(given)
    assert tree(given) == mine


def test_a_note_that_would_have_second_names_stand_for_what_goes_is_not_followed(
    given: Path,
) -> None:
    """What is in the work folder comes again only if it is to come."""
    record = put_record(given, {})
    (given / "mine").mkdir()
    (given / "mine" / "a.txt").write_text("as it is")
    put_note(given, record, old=["mine"])
    (given / WORK / "new" / "mine").mkdir()
    os.link(given / "mine" / "a.txt", given / WORK / "new" / "mine" / "a.txt")
    refused(lambda: recover(given))
    assert tree(given) == {"mine/a.txt": "as it is"}


@pytest.mark.parametrize("other", ["before", "after"])
def test_a_note_of_another_record_is_not_believed(given: Path, other: str) -> None:
    build(given, OLD)
    record = (given / RECORD).read_bytes()
    records = {"before": record, "after": b"{}", other: b"of another"}
    put_note(given, records["before"], records["after"], drop=["gone.html"])
    (given / WORK / "new" / RECORD).write_bytes(b"{}")
    assert "half written" in refused(lambda: recover(given))
    assert tree(given) == OLD


@pytest.mark.parametrize(
    "path", ["../victim/x", "..", "/victim", "designs\0", "a/../../victim", WORK, "C:x", "", "a//b"]
)
def test_a_note_names_nothing_outside(given: Path, victim: Path, path: str) -> None:
    record = put_record(given, {path: THESIS})
    for name in ("add", "old", "new", "drop"):
        put_note(given, record, **{name: [path]})
        assert "half written" in refused(lambda: recover(given))
        put_note(given, record, **{name: [str(victim / "thesis.txt")]})
        assert "half written" in refused(lambda: recover(given))
    assert stands(victim)


# The record ------------------------------------------------------------------


def test_a_recorded_file_behind_a_link_is_not_removed(given: Path, victim: Path) -> None:
    put_record(given, {"designs/thesis.txt": THESIS, "d/deep/thesis.txt": THESIS})
    (given / "designs").symlink_to(victim)
    (given / "d").mkdir()
    (given / "d" / "deep").symlink_to(victim)
    refused(lambda: build(given, OLD))
    (given / "designs").unlink()
    build(given, OLD)
    assert stands(victim)
    assert tree(given) == OLD


@pytest.mark.parametrize("path", ["gone.html", "index.html", "designs/c/card.html"])
def test_what_was_changed_since_it_was_made_is_not_removed(given: Path, path: str) -> None:
    """The record tells another digest: the file is somebody's by now."""
    build(given, OLD)
    (given / path).write_text("words of my own in it")
    before = tree(given, record=True)
    assert path in refused(lambda: build(given, NEW))
    assert tree(given, record=True) == before
    assert not (given / WORK).exists()
    (given / path).unlink()
    build(given, NEW)
    assert tree(given) == NEW


@pytest.mark.parametrize("damage", [b"?", None])
def test_without_digests_only_the_very_same_bytes_are_replaced(
    given: Path, damage: bytes | None
) -> None:
    build(given, OLD)
    if damage is None:
        put_record(given, OLD, version=1)
    else:
        (given / RECORD).write_bytes(damage)
    changed = OLD | {"index.html": "words of my own"}
    (given / "index.html").write_text(changed["index.html"])
    assert "nobody can tell" in refused(lambda: build(given, OLD))
    assert tree(given) == changed
    (given / "index.html").write_text(OLD["index.html"])
    build(given, OLD)
    assert tree(given) == OLD


def test_names_that_differ_in_capitals_alone_are_two(given: Path) -> None:
    """Where the disk tells them apart, the one that is not recorded stands."""
    build(given, OLD)
    if (given / "GONE.html").exists():
        pytest.skip("capitals do not count on this disk")
    (given / "GONE.html").write_text(OLD["gone.html"])
    build(given, NEW)
    assert tree(given) == NEW | {"GONE.html": OLD["gone.html"]}


# Links, pipes and devices for what the journal keeps ------------------------------


@pytest.mark.parametrize(
    "name",
    [
        RECORD,
        WORK,
        f"{WORK}/lock",
        f"{WORK}/note.json",
        f"{WORK}/note.json.part",
        f"{WORK}/new",
        f"{WORK}/new/index.html",
        f"{WORK}/old",
        f"{WORK}/old/gone.html",
        f"{WORK}/lasting",
        f"{WORK}/lasting/photos",
        "photos/22",
    ],
)
@pytest.mark.parametrize("kind", ["link", "dangling link", "pipe", "second name"])
def test_whatever_stands_for_what_the_journal_keeps(
    given: Path, victim: Path, name: str, kind: str
) -> None:
    build(given, OLD)
    place = given / name
    place.parent.mkdir(parents=True, exist_ok=True)
    if place.is_dir():
        place.rename(victim.parent / "away")
    place.unlink(missing_ok=True)
    # Of the names that are looked for behind a link, some are there.
    (victim / "half.part").write_text("mine")
    if kind == "link":
        is_file = place.suffix or name.endswith("lock")
        place.symlink_to(victim / "thesis.txt" if is_file else victim)
    elif kind == "dangling link":
        place.symlink_to(victim / "new")
    elif kind == "pipe":
        os.mkfifo(place)
    else:
        os.link(victim / "thesis.txt", place)
    before = os.stat(victim / "thesis.txt")
    matches_last(given, {})
    for work in (lambda: recover(given), lambda: build(given, NEW)):
        with suppress(OutputError):
            work()
    assert tree(victim) == {"thesis.txt": THESIS, "half.part": "mine"}
    after = os.stat(victim / "thesis.txt")
    assert (after.st_mtime_ns, after.st_mode) == (before.st_mtime_ns, before.st_mode)


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="there are no such devices")
def test_a_record_that_never_ends_is_not_read(given: Path) -> None:
    given.mkdir()
    (given / RECORD).symlink_to("/dev/zero")
    assert not matches_last(given, {})
    refused(lambda: build(given, OLD))


def test_the_stamp_is_not_counted_behind_links(given: Path, victim: Path) -> None:
    write(given, files(OLD), stamp={}, disk=HastyDisk())
    assert matches_last(given, {})
    (given / "designs").rename(victim / "designs")
    (given / "designs").symlink_to(victim / "designs")
    assert not matches_last(given, {})


def test_second_names_of_files_elsewhere_are_not_written_through(given: Path, victim: Path) -> None:
    put_record(given, {"index.html": THESIS, "gone.txt": THESIS, "designs/own.txt": "other"})
    (given / "designs").mkdir()
    for name in ("index.html", "gone.txt", "designs/own2.txt"):
        os.link(victim / "thesis.txt", given / name)
    build(given, OLD)
    assert stands(victim)
    assert tree(given) == OLD | {"designs/own2.txt": THESIS}


@pytest.mark.parametrize("way", ["by descriptor"], indirect=True)
def test_a_link_put_there_between_look_and_act(given: Path, victim: Path) -> None:
    """Something else swaps folders for links all the while. Linux and macOS only: where folders
    have no descriptors a gap between look and act is left, and the README tells of it."""
    for name in ("a.html", "b.html", "c/card.html", "22bb.jpg", "index.html"):
        (victim / name).parent.mkdir(exist_ok=True)
        (victim / name).write_text(OLD.get(f"designs/{name}", THESIS))
    before = tree(victim)
    over = threading.Event()

    def swap() -> None:
        places = [given / "designs", given / WORK / "new", given / WORK / "old",
                  given / WORK / "lasting", given / "photos" / "22", given / WORK]  # fmt: skip
        while not over.is_set():
            for number, place in enumerate(places):
                aside = given.parent / f"aside-{number}"
                with suppress(OSError):
                    os.rename(place, aside)
                    os.symlink(victim, place)
                with suppress(OSError):
                    if place.is_symlink():
                        place.unlink()
                    os.rename(aside, place)

    swapping = threading.Thread(target=swap)
    swapping.start()
    try:
        for number in range(60):
            with suppress(OutputError):
                build(given, (OLD, NEW)[number % 2])
    finally:
        over.set()
        swapping.join()
    assert tree(victim) == before


def test_what_is_put_into_a_new_folder_stays_when_the_build_is_refused(
    given: Path, victim: Path
) -> None:
    class SharedDisk(HastyDisk):
        """Something else puts a link where the work folder is to stand, as soon as it can."""

        def make_folder(self, path: str, mode: int = 0o777) -> None:
            super().make_folder(path, mode)
            if path == str(given):
                (given / WORK).symlink_to(victim)

    refused(lambda: write(given, files(OLD), stamp={}, disk=SharedDisk()))
    assert os.readlink(given / WORK) == str(victim)
    assert stands(victim)


# What the maker names, and what the folder holds ------------------------------------


def test_a_folder_that_the_maker_names_may_be_a_link(given: Path, victim: Path) -> None:
    given.symlink_to(victim)
    refused(lambda: build(given, OLD))
    assert stands(victim)
    (victim / "thesis.txt").unlink()
    build(given, OLD)
    assert tree(victim) == OLD


def test_new_files_are_not_laid_down_behind_a_link(given: Path, victim: Path) -> None:
    given.mkdir()
    (given / "designs").symlink_to(victim)
    refused(lambda: write_new_files({"new/design.md": b""}, given, "designs"))
    (given / "designs").unlink()
    (given / ".journal-new").symlink_to(victim)
    refused(lambda: write_new_files({"new.md": b""}, given))
    refused(lambda: write_file(given / "new.md", b""))
    assert stands(victim)


def test_a_file_in_a_folder_that_was_named_is_not_written_through_a_link(
    given: Path, victim: Path
) -> None:
    given.mkdir()
    (given / "pours.csv").symlink_to(victim / "thesis.txt")
    refused(lambda: write_file(given / "pours.csv", b"a,b", follow=False))
    assert stands(victim)


def test_what_others_put_there_stands_through_it_all(given: Path) -> None:
    build(given, OLD)
    for path, text in FOREIGN.items():
        (given / path).write_text(text)
    build(given, NEW)
    assert tree(given) == NEW | FOREIGN
