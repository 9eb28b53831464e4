"""The search for what the reader stumbles on still runs, on what it begins from."""

from __future__ import annotations

import contextlib
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


def test_the_search_can_begin(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every seed is tried once; atheris, which the search itself needs, is stood in for."""
    stand_in = ModuleType("atheris")
    stand_in.instrument_imports = lambda include: contextlib.nullcontext()  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "atheris", stand_in)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    path = Path(__file__).with_name("fuzz_reader.py")
    spec = importlib.util.spec_from_file_location("fuzz_reader", path)
    assert spec is not None
    assert spec.loader is not None
    search = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(search)
    search.lay_ground()
    seeds = tmp_path / "seeds"
    seeds.mkdir()
    search.lay_seeds(seeds)
    tried = [seed.read_bytes() for seed in sorted(seeds.iterdir())]
    assert len(tried) > 100
    assert {search.FILES[seed[0]] for seed in tried} >= {
        search.DESIGN,
        search.TABLE,
        "journal.yaml",
    }
    for seed in tried:
        search.try_one(seed)
