"""What stages gave is kept: right or absent, and never needed."""

from __future__ import annotations

import errno
import os
import pickle
from collections.abc import Callable
from functools import partial
from pathlib import Path
from types import NoneType

import pytest
from msgspec import Struct

from journal import cache as of_cache
from journal.cache import (
    AnswerCache,
    Cache,
    DigestedValues,
    LostCacheEntry,
    Stage,
    retry_without_cache,
)
from journal.output import CacheStore
from journal.output.disk import Disk
from journal.records.codec import digest, digest_of, encode
from journal.workers import map_in_order


class Large(Struct, frozen=True):
    name: str
    numbers: list[int]


class Small(Struct, frozen=True):
    first: int


Stages = Callable[..., Stage[Large, Small]]


@pytest.fixture
def store(tmp_path: Path) -> CacheStore:
    return CacheStore(tmp_path / "kept")


@pytest.fixture
def stage(store: CacheStore) -> Stages:
    """Another run's view of the stage, of one program or another."""

    def run(program: str = "a program", name: str = "large") -> Stage[Large, Small]:
        return Cache(store, program).stage(name, Large, Small)

    return run


def put(stage: Stage[Large, Small], number: int) -> Large:
    value = Large(f"r{number}", list(range(number, number + 100)))
    stage.add(value.name, f"key of {value.name}", encode(value), Small(number))
    return value


def test_a_value_is_known_by_its_name_and_the_key_of_its_inputs(stage: Stages) -> None:
    first = stage()
    wanted = {value.name: value for value in (put(first, number) for number in range(9))}
    assert dict(first.values()) == wanted
    first.keep()
    again = stage()
    assert again.before.keys() == wanted.keys()
    assert not again.rows
    assert again.cached_row("r0", "another key") is None
    assert again.cached_row("nowhere", "key of r0") is None
    assert not again.rows
    for name in wanted:
        assert again.cached_row(name, f"key of {name}") is not None
    assert dict(again.values()) == wanted
    assert again.summaries(wanted) == {f"r{number}": Small(number) for number in range(9)}
    assert dict(again.values({"r3": None})) == {"r3": wanted["r3"]}
    assert again.values().digest("r3") == digest(encode(wanted["r3"]))
    assert again.summaries(wanted).digest("r3") == digest_of(Small(3))


def test_another_program_or_another_stage_knows_nothing(stage: Stages) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    assert stage().before
    assert not stage("another program").before
    assert not stage(name="small").before


def test_so_many_values_are_held_and_all_come_back(
    stage: Stages, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_cache, "MAX_DECODED_BYTES", 500)
    first = stage()
    wanted = {value.name: value for value in (put(first, number) for number in range(9))}
    first.keep()
    again = stage()
    assert all(again.cached_row(name, f"key of {name}") for name in wanted)
    values = again.values()
    held = values["r0"]
    assert values["r0"] is held
    for _ in range(2):  # those that were let go of come back
        assert dict(values) == wanted
    assert values["r0"] == held
    assert values["r0"] is not held


def test_what_is_not_asked_for_any_more_is_thrown_away(stage: Stages, tmp_path: Path) -> None:
    first = stage()
    for number in range(3):
        put(first, number)
    first.keep()
    assert len(list((tmp_path / "kept").glob("large.*"))) == 3
    again = stage()
    again.cached_row("r1", "key of r1")
    put(again, 7)
    put(again, 8)
    again.drop("r8")
    again.keep()
    assert stage().before.keys() == {"r1", "r7"}
    assert len(list((tmp_path / "kept").glob("large.*"))) == 2


def test_names_of_one_value_share_its_file(stage: Stages, tmp_path: Path) -> None:
    first = stage()
    data = encode(Large("one", [1]))
    for name in ("a", "b"):
        first.add(name, name, data, Small(1))
    first.keep()
    assert len(list((tmp_path / "kept").glob("large.*"))) == 1
    again = stage()
    again.cached_row("a", "a")
    again.keep()
    assert stage().before.keys() == {"a"}
    last = stage()
    last.cached_row("a", "a")
    assert last.values()["a"] == Large("one", [1])


def test_another_summary_of_the_same_value(stage: Stages) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    again = stage()
    again.cached_row("r1", "key of r1")
    again.revise("r1", Small(9))
    again.keep()
    last = stage()
    row = last.cached_row("r1", "key of r1")
    assert row is not None
    assert row.summary == Small(9)
    assert row.summary_digest == digest_of(Small(9))


def test_nothing_new_writes_nothing(stage: Stages, tmp_path: Path) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    (tmp_path / "kept" / "large").unlink()
    first.keep()
    assert (tmp_path / "kept" / "large").exists()
    again = stage()
    again.cached_row("r1", "key of r1")
    (tmp_path / "kept" / "large").unlink()
    again.keep()
    assert not (tmp_path / "kept" / "large").exists()


@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("spoil", [lambda _: None, lambda raw: raw[:-1], lambda raw: b""])
def test_a_value_that_cannot_be_read_any_more_is_told(
    stage: Stages, tmp_path: Path, whole: bool, spoil: Callable[[bytes], bytes | None]
) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    for path in (tmp_path / "kept").glob("large" if whole else "large.*"):
        data = spoil(path.read_bytes())
        path.unlink() if data is None else path.write_bytes(data)
    again = stage()
    if whole:  # without its rows a stage knows nothing, and all is made anew
        assert again.cached_row("r1", "key of r1") is None
        return
    assert again.cached_row("r1", "key of r1") is not None
    with pytest.raises(LostCacheEntry):
        again.values()["r1"]


def test_a_value_of_another_type_under_its_name_is_told(stage: Stages, store: CacheStore) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    again = stage()
    row = again.cached_row("r1", "key of r1")
    assert row is not None
    store.write(f"large.{row.digest}", pickle.dumps(Large("r1", [])))
    with pytest.raises(LostCacheEntry):
        again.values()["r1"]


@pytest.mark.parametrize("rows", [b"", b"\x80\x04N.", encode(["a program", {"r1": ["key"]}])])
def test_rows_that_are_none_are_looked_past(stage: Stages, store: CacheStore, rows: bytes) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    store.write("large", rows)
    assert not stage().before


def test_without_a_place_to_keep_them_values_are_held() -> None:
    stage = Cache(CacheStore(None), "a program").stage("large", Large, Small)
    wanted = [put(stage, number) for number in range(3)]
    assert list(stage.values().values()) == wanted
    stage.keep()


def test_a_value_is_not_decoded_to_be_told_apart(
    stage: Stages, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = stage()
    put(first, 1)
    first.keep()
    monkeypatch.setattr(of_cache.codec, "decode", lambda *_: pytest.fail("decoded"))
    values = first.values()
    assert "r1" in values
    assert list(values) == ["r1"]
    assert len(values) == 1
    assert values.digest("r1")


def test_values_at_hand_have_their_digests() -> None:
    found = DigestedValues({"a": 1}, {"a": "its digest"})
    assert found == {"a": 1}
    assert found.digest("a") == "its digest"


def test_a_table(store: CacheStore) -> None:
    cache = Cache(store, "a program")
    assert cache.table("table", int) == {}
    cache.write_table("table", {"a": 1})
    assert cache.table("table", int) == {"a": 1}
    assert cache.table("table", str) == {}
    assert Cache(store, "another").table("table", int) == {}
    store.write("table", pickle.dumps({"a": 1}))
    assert cache.table("table", int) == {}


def test_what_was_spoilt_is_done_once_more_with_nothing(store: CacheStore, tmp_path: Path) -> None:
    store.write("one", b"1")
    tried: list[bytes | None] = []
    forgotten: list[bool] = []

    def work(kept: CacheStore) -> str:
        tried.append(kept.read("one"))
        if tried[-1] is not None:
            raise LostCacheEntry("one")
        return "done"

    assert retry_without_cache(store, work, lambda: forgotten.append(True)) == "done"
    assert tried == [b"1", None]
    assert forgotten == [True]
    assert not list((tmp_path / "kept").iterdir())
    with pytest.raises(ZeroDivisionError):  # nothing else is tried again
        retry_without_cache(store, lambda _: tried.append(b"2") or 1 / 0)  # type: ignore[func-returns-value]
    assert tried[2:] == [b"2"]


def test_what_another_command_clears_away_each_time_is_done_without_a_cache(
    store: CacheStore,
) -> None:
    """As where a build and a preview of the same content are at work at once."""
    kept_in: list[bool] = []

    def work(kept: CacheStore) -> str:
        kept_in.append(kept.has_folder)
        stage = Cache(kept, "1").stage("stage", int, NoneType)
        row = stage.add("one", "key", encode(7), None)
        store.clear("stage.")  # by the other
        return str(stage.load(row.digest))

    assert retry_without_cache(store, work) == "7"
    assert kept_in == [True, True, False]


def test_a_value_that_could_not_be_written_is_made_anew_and_no_other(tmp_path: Path) -> None:
    class FullOnce(Disk):
        def write(self, path: str, data: bytes) -> None:
            if f".{digest(encode(8))}" in path:
                raise OSError(errno.ENOSPC, "full")
            super().write(path, data)

    stage = Cache(CacheStore(tmp_path / "kept", FullOnce()), "1").stage("stage", int, NoneType)
    for name, value in (("one", 7), ("other", 8)):
        row = stage.add(name, "key", encode(value), None)
        assert stage.load(row.digest) == value
    stage.keep()
    later = Cache(CacheStore(tmp_path / "kept"), "1").stage("stage", int, NoneType)
    assert later.cached_row("other", "key") is None
    found = later.cached_row("one", "key")
    assert found is not None
    assert later.load(found.digest) == 7


# ------------------------------------------------------- answers that take long

CALLS: list[tuple[float, ...]] = []


def halved(value: float) -> float:
    """Stands for what takes long; notes that it was asked."""
    CALLS.append((value,))
    return value / 2


def twice(value: float) -> float:
    """Another question of the same number."""
    return value * 2


def in_a_record(value: float, low: float) -> Small:
    """A question of two numbers, with a record for an answer."""
    CALLS.append((value, low))
    return Small(int(value + low))


@pytest.fixture
def memo(store: CacheStore) -> Callable[..., AnswerCache]:
    """Another run's memory."""
    CALLS.clear()
    return lambda program="a program": AnswerCache(Cache(store, program))


def test_a_question_is_answered_once_in_a_run(memo: Callable[..., AnswerCache]) -> None:
    ask = memo()
    assert [ask(halved, 3.0), ask(halved, 3.0), ask(halved, 4.0)] == [1.5, 1.5, 2.0]
    assert CALLS == [(3.0,), (4.0,)]
    assert ask(twice, 3.0) == 6.0  # another function, another answer


def test_an_answer_is_known_in_the_next_run_of_the_same_program(
    memo: Callable[..., AnswerCache],
) -> None:
    first = memo()
    first(halved, 3.0)
    first(in_a_record, 3.0, 1.0)
    first.keep()
    CALLS.clear()
    again = memo()
    assert again(halved, 3.0) == 1.5
    assert again(in_a_record, 3.0, 1.0) == Small(4)
    assert CALLS == []
    assert memo("other program")(halved, 3.0) == 1.5
    assert CALLS == [(3.0,)]


def test_nothing_new_is_not_written(memo: Callable[..., AnswerCache], tmp_path: Path) -> None:
    first = memo()
    first(halved, 3.0)
    first.keep()
    (tmp_path / "kept" / "answers").unlink()
    first.keep()
    again = memo()
    again.keep()
    assert not (tmp_path / "kept" / "answers").exists()


def test_answers_come_back_from_other_processes(memo: Callable[..., AnswerCache]) -> None:
    ask = memo()
    ask.load_earlier()
    tasks = [
        partial(ask.with_new_answers, partial(ask, halved, float(number % 7)))
        for number in range(28)
    ]
    found = []
    for answer, noted in map_in_order(tasks, lambda number: number % 7, workers=2):
        ask.add(noted)
        found.append(answer)
    assert found == [number % 7 / 2 for number in range(28)]
    ask.keep()
    CALLS.clear()
    again = memo()
    assert [again(halved, float(number)) for number in range(7)] == [n / 2 for n in range(7)]
    assert CALLS == []


def test_questions_that_nobody_asks_any_more_go_in_the_end(
    memo: Callable[..., AnswerCache], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_cache, "MAX_UNUSED_ANSWERS", 2)
    for value in (1.0, 2.0, 3.0, 4.0):
        ask = memo()
        ask(halved, value)
        ask.keep()
    CALLS.clear()
    last = memo()
    assert [last(halved, value) for value in (4.0, 3.0, 2.0)] == [2.0, 1.5, 1.0]
    assert CALLS == []
    last(halved, 1.0)
    assert CALLS == [(1.0,)]


def test_answers_that_are_put_away_are_still_known(
    memo: Callable[..., AnswerCache], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_cache, "MAX_DECODED_ANSWERS", 2)
    ask = memo()
    assert [ask(halved, float(n % 5)) for n in range(20)] == [n % 5 / 2 for n in range(20)]
    assert len(CALLS) == 5


@pytest.mark.parametrize("spoilt", [b"spoilt", b"", pickle.dumps(("a program", {}))])
def test_what_cannot_be_read_any_more_is_asked_again(
    memo: Callable[..., AnswerCache], store: CacheStore, spoilt: bytes
) -> None:
    first = memo()
    first(halved, 3.0)
    first.keep()
    store.write("answers", spoilt)
    assert memo()(halved, 3.0) == 1.5
    assert len(CALLS) == 2


def test_one_answer_that_cannot_be_read_is_asked_again(
    memo: Callable[..., AnswerCache], store: CacheStore
) -> None:
    first = memo()
    first(halved, 3.0)
    first.keep()
    cache = Cache(store, "a program")
    for planted in (b"", encode("text"), pickle.dumps(os.mkdir)):
        answers = cache.table("answers", bytes)
        assert answers
        cache.write_table("answers", dict.fromkeys(answers, planted))
        CALLS.clear()
        assert memo()(halved, 3.0) == 1.5
        assert CALLS == [(3.0,)]


def test_what_fails_is_asked_again(memo: Callable[..., AnswerCache]) -> None:
    ask = memo()

    def stumbles(value: float) -> float:
        CALLS.append((value,))
        raise ValueError(value)

    for _ in range(2):
        with pytest.raises(ValueError, match=r"1\.0"):
            ask(stumbles, 1.0)
    assert len(CALLS) == 2
