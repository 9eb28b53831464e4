"""What is kept is data: it comes back as it was, in the same bytes everywhere, and runs nothing."""

from __future__ import annotations

import dataclasses
import json
import marshal
import os
import pickle
import random
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
import strategies
from hypothesis import HealthCheck, Phase, given, settings
from kept_values import Kept, kept_values
from small_notebook import DESIGNS, lay_down_small
from test_any_notebook import lay_down

from journal.figures.common.result import Figure
from journal.records.codec import (
    CodecError,
    cached_digest,
    decode,
    digest,
    digest_of,
    encode,
    return_type,
)
from journal.records.models.own_words import OwnWords
from journal.records.models.settings import Settings
from journal.records.models.summary import DesignSummary, summary_of
from journal.records.models.write_up import Design, HandsOn
from journal.records.notebook import read_notebook
from journal.records.yaml.tree import SourceTree, plain_tree

LONG = os.environ.get("JOURNAL_LONG_TESTS") == "1"


@pytest.fixture(scope="module")
def of_demo(demo_content: Path) -> list[Kept]:
    return list(kept_values(demo_content, modelled=DESIGNS))


@pytest.fixture(scope="module")
def of_small(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Path:
    return lay_down_small(tmp_path_factory.mktemp("codec") / "content", demo_content)


def trees(value: Any) -> Iterator[SourceTree]:
    """Every source tree in a record, found without the codec."""
    if isinstance(value, SourceTree):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from trees(inner)
    elif isinstance(value, tuple | list):
        for inner in value:
            yield from trees(inner)
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            yield from trees(getattr(value, name))
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from trees(getattr(value, field.name))


def assert_same(back: Any, value: Any) -> None:
    assert type(back) is type(value)
    assert back == value
    assert repr(back) == repr(value)  # tells 1 from 1.0, and a tuple from a list
    # Trees are equal wherever they stand; their places are told apart.
    for one, other in zip(trees(back), trees(value), strict=True):
        assert one.path == other.path
        assert plain_tree(one.table) == plain_tree(other.table)
    assert encode(back) == encode(value)


def test_everything_of_the_demo_comes_back(of_demo: list[Kept]) -> None:
    assert {kind.__name__ for _, kind, _ in of_demo} >= {
        "Settings", "Base", "Mat", "Design", "DesignSummary", "DesignFigures", "FiguresSummary",
        "DesignResults", "ResultsSummary", "DesignContrasts", "CrossDesignResults", "OrderFile",
        "OrderPlan", "ComparisonFile",
    }  # fmt: skip
    assert any(kind is Design and list(trees(value)) for _, kind, value in of_demo)
    for what, kind, value in of_demo:
        try:
            assert_same(decode(encode(value), kind), value)
        except AssertionError as error:
            raise AssertionError(what) from error


def test_the_same_bytes_in_another_process(of_small: Path, project: Path) -> None:
    """Whatever order its sets have, and wherever its objects lie."""
    here = {what: digest(encode(value)) for what, _, value in kept_values(of_small)}
    assert len(here) > 40
    for seed in ("1", "4711"):
        done = subprocess.run(
            [sys.executable, project / "tests" / "kept_values.py", of_small],
            env={**os.environ, "PYTHONPATH": str(project), "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        )
        assert json.loads(done.stdout) == here


@settings(
    max_examples=300 if LONG else 12,
    derandomize=not LONG,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
@given(files=strategies.notebooks())
def test_any_notebook_comes_back(
    tmp_path_factory: pytest.TempPathFactory, files: dict[str, str]
) -> None:
    root = tmp_path_factory.mktemp("any") / "content"
    lay_down(files, root)
    notebook = read_notebook(root)
    assert notebook.designs
    assert_same(decode(encode(notebook.settings), Settings), notebook.settings)
    for name, design in notebook.designs.items():
        back = decode(encode(design), Design)
        assert_same(back, design)
        # What is made of the one is what is made of the other.
        summary = notebook.summaries[name]
        assert summary_of(back) == summary
        assert_same(decode(encode(summary), DesignSummary), summary)


def test_equal_values_have_one_digest() -> None:
    one = {"a": Fraction(1, 3), "b": (1.5, None, "é\udc80"[:1])}
    assert digest_of(one) == digest_of(dict(one))
    assert digest_of(one) != digest_of(dict(reversed(one.items())))
    assert digest_of(1.0) != digest_of(1)
    assert digest("ab", "c") != digest("a", "bc")
    assert digest("ab") == digest(b"ab")
    assert digest("\udcff") != digest("")  # a file's name that is no UTF-8
    assert cached_digest(one, "a") == digest_of(Fraction(1, 3))
    assert cached_digest(one, "nowhere") == ""


def test_a_decorated_function_gives_what_its_own_annotation_says() -> None:
    """The annotation's names are those of the module that the function was written in."""
    assert return_type(summary_of) is DesignSummary
    assert return_type(lru_cache(summary_of)) is DesignSummary


def test_what_is_no_data_is_not_kept() -> None:
    for value in (print, object(), type, compile("1", "", "eval"), iter(())):
        with pytest.raises(TypeError):
            encode(value)
    with pytest.raises(CodecError):
        decode(encode("1"), type)


# ------------------------------------------------------------------ bytes of somebody else


class Runs:
    """What a pickle may be made of: unpickling it makes a file."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def __reduce__(self) -> tuple[Callable[..., object], tuple[object, ...]]:
        return os.mkdir, (str(self._path),)


def test_a_planted_pickle_runs_nothing(tmp_path: Path, of_demo: list[Kept]) -> None:
    made = tmp_path / "made"
    code = marshal.dumps(compile(f"import os; os.mkdir({str(made)!r})", "", "exec"))
    kinds = {kind for _, kind, _ in of_demo}
    for protocol in range(pickle.HIGHEST_PROTOCOL + 1):
        planted = pickle.dumps(Runs(made), protocol)
        for kind in kinds:
            with pytest.raises(CodecError):
                decode(planted, kind)
            with pytest.raises(CodecError):
                decode(encode([planted, code]), kind)
    for kind in kinds:
        with pytest.raises(CodecError):
            decode(code, kind)
    assert not made.exists()
    pickle.loads(pickle.dumps(Runs(made)))
    assert made.exists(), "the pickle would have run"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xc1",  # the one byte that MessagePack never uses
        b"\x91" * 100_000,  # lists in lists
        b"\x81\xa1a" * 100_000,
        b"\xdd\xff\xff\xff\xff",  # four thousand million entries, of which none is there
        b"\xdf\xff\xff\xff\xff",
        b"\xdb\xff\xff\xff\xff",
        b"\xa4\xff\xfe\xfd\xfc",  # no UTF-8
        b"\xd4\x01\x00",  # an extension
        b"\xcb\x7f\xf8\x00\x00\x00\x00\x00\x00",
        b"\xc0",
        b"\xcf\xff\xff\xff\xff\xff\xff\xff\xff",
        b"{}",
    ],
    ids=str,
)
@pytest.mark.parametrize("kind", [Design, DesignSummary, Settings, SourceTree, Fraction, HandsOn])
def test_bytes_that_are_nothing(data: bytes, kind: Any) -> None:
    with pytest.raises(CodecError):
        decode(data, kind)


@pytest.mark.parametrize(
    "parts", [[1, 0], ["1e999999999"], ["1", "2"], [1.5], [1], [1, 2, 3], [True, 1], "12", {}]
)
def test_what_is_no_fraction(parts: Any) -> None:
    assert decode(encode(Fraction(-7, 3)), Fraction) == Fraction(-7, 3)
    with pytest.raises(CodecError):
        decode(msgspec.msgpack.encode(parts), Fraction)


@pytest.mark.parametrize(
    "values", [[], [1], ["x", 2], [1, 2, 3, 4, 5, 6], {"pour": 1}, "ab", None, [[1], 2]]
)
def test_what_is_no_record(values: Any) -> None:
    with pytest.raises(CodecError):
        decode(msgspec.msgpack.encode(values), HandsOn)


def test_a_text_is_no_number_and_a_number_no_text(of_demo: list[Kept]) -> None:
    for _, kind, value in of_demo:
        if kind is not Settings:
            continue
        plain = msgspec.msgpack.decode(encode(value))
        names = list(Settings.model_fields)
        for name, wrong in (
            ("studio", 7),
            ("studio", ["x"]),
            ("labour", "many"),
            ("labour", [1]),
            ("region", 3),
        ):
            spoilt = list(plain)
            spoilt[names.index(name)] = wrong
            with pytest.raises(CodecError):
                decode(msgspec.msgpack.encode(spoilt), Settings)


def test_spoilt_bytes_are_a_value_of_the_type_or_none(of_demo: list[Kept]) -> None:
    """Bits flipped, bytes gone or put in: nothing but a ``CodecError`` comes of it."""
    draws, refused = random.Random(20260418), 0
    by_kind = {kind: encode(value) for _, kind, value in of_demo}
    for kind, data in by_kind.items():
        for _ in range(60 if LONG else 12):
            spoilt = bytearray(data)
            for _ in range(draws.randint(1, 4)):
                at = draws.randrange(len(spoilt))
                cut = slice(at, at + draws.randint(0, 3))
                spoilt[cut] = draws.randbytes(draws.randint(0, 3))
            try:
                found = decode(bytes(spoilt), kind)
            except CodecError:
                refused += 1
            else:
                assert isinstance(found, kind)
    assert refused > len(by_kind)


def test_a_value_of_another_type_is_none(of_demo: list[Kept]) -> None:
    """A kept file under the name of another is no answer."""
    by_kind = {kind: encode(value) for _, kind, value in of_demo}
    for kind in (Design, DesignSummary, Settings, Figure):
        for other, data in by_kind.items():
            if other is not kind:
                with pytest.raises(CodecError):
                    decode(data, kind)


@pytest.mark.parametrize(
    "words",
    [OwnWords("peel"), OwnWords("despegar", "es"), OwnWords("peel", "en", (("es", "despegar"),))],
)
def test_words_come_back_in_all_their_languages(words: OwnWords) -> None:
    back = decode(encode((words,)), tuple[OwnWords, ...])[0]
    assert type(back) is OwnWords
    assert (str(back), back.language, back.others) == (str(words), words.language, words.others)
    # A card is made again when one of its languages changes.
    assert digest_of(words) != digest_of(OwnWords(words, "en", (("es", "pelar"),)))
