"""Records packed and unpacked are the records that they were."""

from __future__ import annotations

import pickle
from dataclasses import dataclass
from pathlib import Path

from msgspec import Struct

from journal.command_line.packed import packed
from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.records.notebook import read_notebook


class Plain(Struct, frozen=True):
    one: int
    other: object = None
    more: tuple[object, ...] = ()


class Single(Struct, frozen=True):
    one: int


@dataclass
class Open:
    one: int


def test_records_come_back() -> None:
    for value in (
        Plain(1, Plain(2, "x", (Single(3), Open(4)))), Single(1), Open(2), [Plain(1)], {"a": Plain},
        None, 1.5, (Plain(1),) * 3,
    ):  # fmt: skip
        back = pickle.loads(packed(value))
        assert back == value
        assert repr(back) == repr(value)
        assert type(back) is type(value)


def test_figures_and_comparisons_of_the_demo_come_back(demo_content: Path) -> None:
    notebook = read_notebook(demo_content)
    for found in (derive_figures(notebook, models=False), compare_designs(notebook)):
        back = pickle.loads(packed(found))
        assert back == found
        assert repr(back) == repr(found)
