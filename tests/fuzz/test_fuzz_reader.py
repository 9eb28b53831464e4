"""The search for what the reader stumbles on still runs, on what it begins from, and bites."""

from __future__ import annotations

import contextlib
import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any, NoReturn

import pytest

from journal.errors import Position, Problem


@pytest.fixture
def search(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Any:
    """The search; atheris, which it needs to be led, is stood in for."""
    stand_in = ModuleType("atheris")
    stand_in.instrument_imports = lambda include: contextlib.nullcontext()  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "atheris", stand_in)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    path = Path(__file__).with_name("fuzz_reader.py")
    spec = importlib.util.spec_from_file_location("fuzz_reader", path)
    assert spec is not None
    assert spec.loader is not None
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    found.lay_ground()
    return found


def test_the_search_can_begin(search: Any, tmp_path: Path) -> None:
    """Every seed is tried once."""
    seeds = tmp_path / "seeds"
    seeds.mkdir()
    search.lay_seeds(seeds)
    tried = [seed.read_bytes() for seed in sorted(seeds.iterdir())]
    assert len(tried) > 100
    assert {search.FILES[seed[0]] for seed in tried} >= {
        search.DESIGN,
        search.TABLE,
        search.QUANTITY,
        "journal.yaml",
    }
    for seed in tried:
        search.try_one(seed)


def test_a_stumble_is_kept_once_and_the_search_goes_on(
    search: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumbling(*_: object) -> NoReturn:
        raise IndexError("out of the line")

    monkeypatch.setattr(search, "read_design", stumbling)
    monkeypatch.setenv("FUZZ_ON", str(tmp_path / "kept"))
    (tmp_path / "kept").mkdir()
    design = bytes([search.FILES.index(search.DESIGN)])
    with pytest.raises(IndexError, match="out of the line"):
        search.try_one(design + b"---\n")
    for raw in (b"---\n", b"---\na: b\n---\n"):
        search.try_on(design + raw)
    data, said = sorted((tmp_path / "kept").iterdir())
    assert data.read_bytes() == design + b"---\n"
    assert "IndexError: out of the line" in said.read_text("utf-8")


def test_a_problem_without_a_place_and_a_number_that_is_none_are_stumbles(
    search: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    quantity = bytes([search.FILES.index(search.QUANTITY)])
    monkeypatch.setattr(search, "READERS", {"read_mass": lambda _: float("nan")})
    with pytest.raises(AssertionError, match="read_mass"):
        search.try_one(quantity + b"85 g")
    monkeypatch.setattr(search, "READERS", {"read_mass": lambda _: -0.0})
    with pytest.raises(AssertionError, match="read_mass"):
        search.try_one(quantity + b"85 g")

    def nowhere(root: Path, name: str, settings: object, whole: bool, problems: list[Any]) -> None:
        at = Position(f"designs/{name}/design.md", 99, 1)
        problems.append(Problem(at, "it is odd", "Mend it."))

    monkeypatch.setattr(search, "read_design", nowhere)
    with pytest.raises(AssertionError, match="it is odd"):
        search.try_one(bytes([search.FILES.index(search.DESIGN)]) + b"---\n")
