"""What the files look like: only what changed is read, and no change goes unseen."""

from __future__ import annotations

import os
import shutil
import time
from pathlib import Path

import pytest

from journal.output import CacheStore
from journal.scan import changed_since, scan_content

LATER = 10**10  # nanoseconds: well beyond the steps that files' times come in


@pytest.fixture
def store(tmp_path: Path) -> CacheStore:
    return CacheStore(tmp_path / "kept")


@pytest.fixture
def content(tmp_path: Path) -> Path:
    made = tmp_path / "content"
    (made / "shelf").mkdir(parents=True)
    (made / "journal.yaml").write_text("studio: Nobody\n", "utf-8")
    (made / "shelf" / "bases.yaml").write_text("white: {name: White}\n", "utf-8")
    return made


def test_only_what_changed_is_read_again(
    store: CacheStore, content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = scan_content(content, store, clock_ns=time.time_ns() + LATER)
    monkeypatch.setattr("journal.scan.file_digest", lambda path: "read again")
    again = scan_content(content, store, clock_ns=time.time_ns() + LATER)
    assert again == first
    (content / "journal.yaml").write_text("studio: Somebody\n", "utf-8")
    third = scan_content(content, store, clock_ns=time.time_ns() + LATER)
    assert third.digests == {**first.digests, "journal.yaml": "read again"}


def test_a_change_within_one_step_of_the_clock_is_seen(store: CacheStore, content: Path) -> None:
    """Of the same size and with the same time: as when a file is saved twice in a moment."""
    path = content / "journal.yaml"
    stamp = path.stat().st_mtime_ns
    first = scan_content(content, store, clock_ns=stamp)
    path.write_text("studio: nobodY\n", "utf-8")
    os.utime(path, ns=(stamp, stamp))
    assert scan_content(content, store, clock_ns=stamp).key != first.key


def test_a_clock_that_was_set_back_costs_nothing_but_time(store: CacheStore, content: Path) -> None:
    path = content / "journal.yaml"
    ahead = time.time_ns() + 365 * 24 * 3600 * 10**9
    os.utime(path, ns=(ahead, ahead))
    first = scan_content(content, store)
    path.write_text("studio: nobodY\n", "utf-8")
    os.utime(path, ns=(ahead, ahead))
    assert scan_content(content, store).key != first.key


def test_the_key_tells_names_from_bytes_and_nothing_else(tmp_path: Path, content: Path) -> None:
    first = scan_content(content, CacheStore(None)).key
    other = tmp_path / "elsewhere"
    shutil.copytree(content, other, copy_function=shutil.copyfile)
    assert scan_content(other, CacheStore(None)).key == first
    (other / "shelf" / "bases.yaml").rename(other / "shelf" / "moulds.yaml")
    assert scan_content(other, CacheStore(None)).key != first


def test_a_change_while_the_notebook_is_read_is_seen(store: CacheStore, content: Path) -> None:
    seen = scan_content(content, store)
    assert changed_since(content, seen) == frozenset()
    path = content / "journal.yaml"
    times = path.stat()
    path.write_text("studio: nobodY\n", "utf-8")
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    (content / "shelf" / "more.yaml").write_text("")
    (content / "shelf" / "bases.yaml").unlink()
    expected = {"journal.yaml", "shelf/more.yaml", "shelf/bases.yaml"}
    assert changed_since(content, seen) == expected


def test_a_file_that_cannot_be_read_has_no_digest(store: CacheStore, content: Path) -> None:
    (content / "leads-nowhere.yaml").symlink_to(content / "gone.yaml")
    (content / "shelf" / "circle.yaml").symlink_to("circle.yaml")
    digests = scan_content(content, store).digests
    assert digests.keys() >= {"journal.yaml", "shelf/bases.yaml"}
    assert not {digests.get("leads-nowhere.yaml"), digests.get("shelf/circle.yaml")} - {"", None}


def test_a_digest_of_a_folder_is_of_its_files_alone(store: CacheStore, content: Path) -> None:
    first = scan_content(content, store)
    (content / "journal.yaml").write_text("studio: Somebody\n", "utf-8")
    second = scan_content(content, store)
    assert second.under("shelf/") == first.under("shelf/")
    assert second.key != first.key
    (content / "shelf" / "mats.yaml").write_text("", "utf-8")
    assert scan_content(content, store).under("shelf/") != first.under("shelf/")


@pytest.mark.parametrize(
    "table",
    [b"", b"no JSON", b"[]", b"[1, []]", b'[1, {"journal.yaml": [1]}]', b"[9, {}]", b"[" * 9000],
)
def test_a_table_that_is_none_is_looked_past(
    store: CacheStore, content: Path, table: bytes
) -> None:
    wanted = scan_content(content, CacheStore(None))
    store.write("seen", table)
    assert scan_content(content, store) == wanted
