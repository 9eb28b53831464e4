"""What is kept from one run to the next: right or absent, and never needed."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from small_notebook import lay_down_small

from journal.command_line.answers import _Shelf
from journal.command_line.building import build_notebook
from journal.command_line.drafting import Desk
from journal.command_line.kept import KeptRecords, parts_of
from journal.command_line.kept_designs import KeptDesigns
from journal.command_line.seen import changed_since, look
from journal.command_line.surroundings import store_for
from journal.command_line.unchanged import Asked
from journal.errors import ContentError
from journal.output import Store
from journal.pages.book import program_key
from journal.pages.notebook import other_sheets
from journal.photos.prepare import digest, prepared
from journal.records.later import Later
from journal.records.notebook import read_notebook

LATER = 10**10  # nanoseconds: well beyond the steps that files' times come in


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "kept")


@pytest.fixture
def content(tmp_path: Path) -> Path:
    made = tmp_path / "content"
    (made / "shelf").mkdir(parents=True)
    (made / "journal.yaml").write_text("studio: Nobody\n", "utf-8")
    (made / "shelf" / "bases.yaml").write_text("white: {name: White}\n", "utf-8")
    return made


def test_what_is_kept_comes_back(store: Store) -> None:
    assert store.read("answers") is None
    assert store.write("answers", b"one")
    assert store.write("answers", b"two")
    assert store.read("answers") == b"two"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda raw: raw[:-1],
        lambda raw: raw[:10],
        lambda raw: b"",
        lambda raw: raw[:20] + bytes([raw[20] ^ 1]) + raw[21:],
        lambda raw: bytes([raw[0] ^ 1]) + raw[1:],
        lambda raw: raw + b"more",
    ],
)
def test_a_spoilt_answer_is_none(
    store: Store, tmp_path: Path, spoil: Callable[[bytes], bytes]
) -> None:
    store.write("answers", b"a good many words")
    path = tmp_path / "kept" / "answers"
    path.write_bytes(spoil(path.read_bytes()))
    assert store.read("answers") is None


def test_an_answer_under_another_name_is_none(store: Store, tmp_path: Path) -> None:
    store.write("one", b"words")
    shutil.copyfile(tmp_path / "kept" / "one", tmp_path / "kept" / "other")
    assert store.read("other") is None


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="folders have no owners here")
@dataclass(frozen=True, slots=True)
class Kept(Later):
    name: str
    large: list[int]
    small: str


def test_so_many_parts_are_held_and_all_come_back(store: Store) -> None:
    wanted = {f"r{number}": Kept(f"r{number}", [number] * 100, "x" * number) for number in range(9)}
    first = KeptRecords(store, "kept", Kept, ("name",), ("small",), most_held=500)
    for name, record in wanted.items():
        first.add(name, f"key of {name}", parts_of(record))
    first.keep()
    again = KeptRecords(store, "kept", Kept, ("name",), ("small",), most_held=500)
    assert again.known("r0", "another key") is None
    found = [again.known(name, f"key of {name}") for name in wanted]
    assert all(record is not None for record in found)
    one = found[0]
    assert one is not None
    held = one.large
    assert one.large is held
    for _ in range(2):  # those that were let go of come back
        assert found == list(wanted.values())
    assert one.large == held
    assert one.large is not held


def test_a_folder_that_others_may_write_in_is_not_believed(store: Store, tmp_path: Path) -> None:
    store.write("answers", b"words")
    (tmp_path / "kept").chmod(0o777)
    assert store.read("answers") is None
    assert not store.write("answers", b"words")


def test_no_place_to_keep_anything_is_no_failure(tmp_path: Path) -> None:
    assert not Store(None).write("answers", b"words")
    assert Store(None).read("answers") is None
    (tmp_path / "file").write_text("")
    assert not Store(tmp_path / "file" / "kept").write("answers", b"words")


def test_where_answers_are_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "here"))
    store_for(tmp_path).write("answers", b"words")
    assert [path.name for path in (tmp_path / "here").glob("*/*")] == ["answers"]
    monkeypatch.setenv("JOURNAL_CACHE", "")
    assert not store_for(tmp_path).write("answers", b"words")
    monkeypatch.delenv("JOURNAL_CACHE")
    for name in ("XDG_CACHE_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    assert store_for(tmp_path).write("answers", b"words")
    assert [path.name for path in (tmp_path / "home").rglob("answers")] == ["answers"]


def test_only_what_changed_is_read_again(
    store: Store, content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = look(content, store, clock_ns=time.time_ns() + LATER)
    monkeypatch.setattr("journal.command_line.seen.digest_of", lambda path: "read again")
    again = look(content, store, clock_ns=time.time_ns() + LATER)
    assert again == first
    (content / "journal.yaml").write_text("studio: Somebody\n", "utf-8")
    third = look(content, store, clock_ns=time.time_ns() + LATER)
    assert third.digests == {**first.digests, "journal.yaml": "read again"}


def test_a_change_within_one_step_of_the_clock_is_seen(store: Store, content: Path) -> None:
    """Of the same size and with the same time: as when a file is saved twice in a moment."""
    path = content / "journal.yaml"
    stamp = path.stat().st_mtime_ns
    first = look(content, store, clock_ns=stamp)
    path.write_text("studio: nobodY\n", "utf-8")
    os.utime(path, ns=(stamp, stamp))
    assert look(content, store, clock_ns=stamp).key != first.key


def test_a_clock_that_was_set_back_costs_nothing_but_time(store: Store, content: Path) -> None:
    path = content / "journal.yaml"
    ahead = time.time_ns() + 365 * 24 * 3600 * 10**9
    os.utime(path, ns=(ahead, ahead))
    first = look(content, store)
    path.write_text("studio: nobodY\n", "utf-8")
    os.utime(path, ns=(ahead, ahead))
    assert look(content, store).key != first.key


def test_the_key_tells_names_from_bytes_and_nothing_else(tmp_path: Path, content: Path) -> None:
    first = look(content, Store(None)).key
    other = tmp_path / "elsewhere"
    shutil.copytree(content, other, copy_function=shutil.copyfile)
    assert look(other, Store(None)).key == first
    (other / "shelf" / "bases.yaml").rename(other / "shelf" / "moulds.yaml")
    assert look(other, Store(None)).key != first


def test_a_change_while_the_notebook_is_read_is_seen(store: Store, content: Path) -> None:
    seen = look(content, store)
    assert changed_since(content, seen) == frozenset()
    path = content / "journal.yaml"
    times = path.stat()
    path.write_text("studio: nobodY\n", "utf-8")
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    (content / "shelf" / "more.yaml").write_text("")
    (content / "shelf" / "bases.yaml").unlink()
    expected = {"journal.yaml", "shelf/more.yaml", "shelf/bases.yaml"}
    assert changed_since(content, seen) == expected


def test_a_thing_of_the_shelf_counts_with_what_it_names(tmp_path: Path, demo_content: Path) -> None:
    """A price counts for the designs made with it, and for no others."""
    content = tmp_path / "content"
    shutil.copytree(demo_content, content)
    by_piece = content / "designs" / "kelp-on-clay" / "design.md"
    text = by_piece.read_text("utf-8")
    assert text.count("mat: kelp-frond\n") == 1  # from here on only its piece names the mat
    by_piece.write_text(text.replace("mat: kelp-frond\n", ""), "utf-8")
    before = _Shelf(read_notebook(content))
    notebook = read_notebook(content)
    assert ("mats", "kelp-frond") not in notebook.designs["kelp-on-clay"].things
    first = {name: before.key(design) for name, design in notebook.designs.items()}
    mats = content / "shelf" / "mats.yaml"
    text = mats.read_text("utf-8")
    assert "price: 38.00" in text  # of the kelp
    mats.write_text(text.replace("price: 38.00", "price: 39.00", 1), "utf-8")
    after = _Shelf(read_notebook(content))
    changed = {n for n, design in notebook.designs.items() if after.key(design) != first[n]}
    assert changed == {"kelp-on-clay", "kelp-on-sea-grey"}


def test_known_figures_are_those_that_would_be_derived(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second build derives nothing, and makes the same; a spoilt answer is made anew."""
    cache = tmp_path / "cache"
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    content = tmp_path / "content"
    lay_down_small(content, demo_content)
    build_notebook(Asked(content, tmp_path / "one"))

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("this was known")

    with monkeypatch.context() as patch:
        for name in ("derived", "design_results"):
            patch.setattr(f"journal.command_line.reckoned.{name}", refuse)
        build_notebook(Asked(content, tmp_path / "two"))
    assert _bytes(tmp_path / "one") == _bytes(tmp_path / "two")


@pytest.mark.parametrize(
    "kept",
    ["designs", "figures", "results-studio", "across-studio", "wholes-studio", "laid-studio"],
)
@pytest.mark.parametrize("whole", [False, True])
def test_what_is_kept_may_be_spoilt(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch, kept: str, whole: bool
) -> None:
    """One answer gone, another cut short, or the list of them all: the same comes of it."""
    cache = tmp_path / "cache"
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    content = tmp_path / "content"
    if kept == "across-studio":  # the small notebook asks nothing across designs
        shutil.copytree(demo_content, content)
    else:
        lay_down_small(content, demo_content)
    build_notebook(Asked(content, tmp_path / "one"))
    (own,) = cache.glob(f"*/{kept}")
    answers = sorted(cache.glob(f"*/{kept}.*"))
    if whole or not answers:
        own.write_bytes(own.read_bytes()[:-1])
    else:
        answers[0].unlink()
        answers[1].write_bytes(answers[1].read_bytes()[:-1])
    build_notebook(Asked(content, tmp_path / "two"))
    assert _bytes(tmp_path / "one") == _bytes(tmp_path / "two")
    build_notebook(Asked(content, tmp_path / "three"))
    assert _bytes(tmp_path / "one") == _bytes(tmp_path / "three")


def test_nothing_is_known_to_another_program(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    content = lay_down_small(tmp_path / "content", demo_content)
    build_notebook(Asked(content, tmp_path / "out"))
    store = store_for(content)
    seen = look(content, store)
    shelf = read_notebook(content).shelf
    assert KeptDesigns(content, store, seen, program_key()).known_on(shelf).keys() == {
        path.parent.name for path in content.glob("designs/*/design.md")
    }
    assert not KeptDesigns(content, store, seen, "another program").known_on(shelf)


@pytest.mark.parametrize(
    ("path", "old", "new", "settled"),
    [
        ("shelf/bases.yaml", "price: ", "price: 1", True),
        ("shelf/bases.yaml", "name: ", "name: The ", True),
        ("shelf/mats.yaml", "\n", "\nanother:\n  name: Another\n", False),
        ("shelf/pieces.yaml", "name: ", "name: The ", False),
        ("journal.yaml", "studio: ", "studio: The ", False),
    ],
)
def test_a_design_is_read_again_where_the_shelf_may_judge_it_otherwise(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch,
    path: str, old: str, new: str, settled: bool,
) -> None:  # fmt: skip
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    content = lay_down_small(tmp_path / "content", demo_content)
    build_notebook(Asked(content, tmp_path / "out"))
    text = (content / path).read_text("utf-8")
    assert old in text
    (content / path).write_text(text.replace(old, new, 1), "utf-8")
    store = store_for(content)
    kept = KeptDesigns(content, store, look(content, store), program_key())
    assert bool(kept.known_on(read_notebook(content).shelf)) == settled


def test_a_file_that_changes_while_it_is_read(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The notebook is of one moment, and no answer is kept for words that it does not belong to."""
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    content, out = tmp_path / "content", tmp_path / "out"
    lay_down_small(content, demo_content)
    path = content / "designs" / "kelp-on-clay" / "design.md"
    was = path.read_text("utf-8")
    reads = 0

    def reading(root: Path, *known: Any) -> object:
        nonlocal reads
        found = read_notebook(root, *known)
        reads += 1
        if reads == 1:
            path.write_text(was.replace("title: Kelp on clay", "title: Kelp on mud"), "utf-8")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("journal.command_line.building.read_notebook", reading)
        build_notebook(Asked(content, out))
    assert reads == 2
    assert "Kelp on mud" in (out / "designs" / "kelp-on-clay.html").read_text("utf-8")
    path.write_text(was, "utf-8")
    build_notebook(Asked(content, out))
    assert "Kelp on mud" not in (out / "designs" / "kelp-on-clay.html").read_text("utf-8")


def test_a_file_that_never_rests(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The build ends all the same, and the next one does not take it for finished."""
    content, out = tmp_path / "content", tmp_path / "out"
    lay_down_small(content, demo_content)
    path = content / "designs" / "kelp-on-clay" / "design.md"
    was = path.read_bytes()

    def reading(root: Path, *known: Any) -> object:
        found = read_notebook(root, *known)
        path.write_bytes(path.read_bytes() + b"\nAnd more.\n")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("journal.command_line.building.read_notebook", reading)
        build_notebook(Asked(content, out))
    path.write_bytes(was)
    assert build_notebook(Asked(content, out)).written is not None
    assert build_notebook(Asked(content, out)).written is None


@pytest.mark.parametrize("kept", [False, True])
def test_a_photo_that_changes_between_two_looks_is_not_shown_under_the_old_name(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch, kept: bool
) -> None:
    """Its files are named by their content and never made again, so they must hold it."""
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache") if kept else "")
    content, out = tmp_path / "content", tmp_path / "out"
    lay_down_small(content, demo_content)
    photos = content / "designs" / "kelp-on-sea-grey" / "photos"

    before = digest(photos / "front.jpg")

    def late(*asked: object) -> object:
        found = other_sheets(*asked)  # type: ignore[arg-type]
        shutil.copyfile(photos / "above.jpg", photos / "front.jpg")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("journal.command_line.laid.other_sheets", late)
        if kept:
            # What was made of the photo as it was is at hand, and goes by that name.
            build_notebook(Asked(content, out))
        else:
            with pytest.raises(ContentError, match=r"changed while .* Build again"):
                build_notebook(Asked(content, out))
    shown = list((out / "photos").glob(f"{before[:16]}-1600.jpg"))
    assert len(shown) == int(kept)
    for path in shown:
        front = demo_content / "designs" / "kelp-on-sea-grey" / "photos" / "front.jpg"
        as_made = {one.content for one in prepared(front).renditions}
        assert path.read_bytes() in as_made
    build_notebook(Asked(content, out))
    assert not list((out / "photos").glob(f"{before[:16]}-*"))


def _bytes(root: Path) -> dict[str, bytes]:
    return {str(p.relative_to(root)): p.read_bytes() for p in root.rglob("*") if p.is_file()}


def test_a_preview_goes_on_when_what_was_kept_is_spoilt(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache = tmp_path / "cache"
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    content = lay_down_small(tmp_path / "content", demo_content)
    desk = Desk(Asked(content, tmp_path / "shown"))
    desk.make()
    for path in cache.glob("*/*.*"):
        path.write_bytes(path.read_bytes()[:-1])
    path = content / "designs" / "kelp-on-clay" / "design.md"
    path.write_text(path.read_text("utf-8").replace("title: Kelp", "title: Whitest kelp"), "utf-8")
    desk.make()
    build_notebook(Asked(content, tmp_path / "built"))
    shown, built = _bytes(tmp_path / "shown"), _bytes(tmp_path / "built")
    assert {p: b for p, b in shown.items() if p.endswith(".html")} == {
        p: b for p, b in built.items() if p.endswith(".html")
    }
    assert any(b"Whitest" in data for data in shown.values())
