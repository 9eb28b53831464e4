"""What is kept in a folder comes back whole or not at all; a folder that fails is no failure."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from journal.cache_folder import cache_store
from journal.output import CacheStore


@pytest.fixture
def store(tmp_path: Path) -> CacheStore:
    return CacheStore(tmp_path / "kept")


def test_what_is_kept_comes_back(store: CacheStore) -> None:
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
    store: CacheStore, tmp_path: Path, spoil: Callable[[bytes], bytes]
) -> None:
    store.write("answers", b"a good many words")
    path = tmp_path / "kept" / "answers"
    path.write_bytes(spoil(path.read_bytes()))
    assert store.read("answers") is None


def test_an_answer_under_another_name_is_none(store: CacheStore, tmp_path: Path) -> None:
    store.write("one", b"words")
    shutil.copyfile(tmp_path / "kept" / "one", tmp_path / "kept" / "other")
    assert store.read("other") is None


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="folders have no owners here")
def test_a_folder_that_others_may_write_in_is_not_believed(
    store: CacheStore, tmp_path: Path
) -> None:
    store.write("answers", b"words")
    (tmp_path / "kept").chmod(0o777)
    assert store.read("answers") is None
    assert not store.write("answers", b"words")


def test_no_place_to_keep_anything_is_no_failure(tmp_path: Path) -> None:
    assert not CacheStore(None).write("answers", b"words")
    assert CacheStore(None).read("answers") is None
    (tmp_path / "file").write_text("")
    assert not CacheStore(tmp_path / "file" / "kept").write("answers", b"words")


def test_where_answers_are_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "here"))
    cache_store(tmp_path).write("answers", b"words")
    assert [path.name for path in (tmp_path / "here").glob("*/*")] == ["answers"]
    monkeypatch.setenv("JOURNAL_CACHE", "")
    assert not cache_store(tmp_path).write("answers", b"words")
    monkeypatch.delenv("JOURNAL_CACHE")
    for name in ("XDG_CACHE_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    assert cache_store(tmp_path).write("answers", b"words")
    assert [path.name for path in (tmp_path / "home").rglob("answers")] == ["answers"]
