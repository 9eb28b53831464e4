"""The templates of a notebook's theme are compiled in one run for those that follow."""

from __future__ import annotations

from pathlib import Path

import pytest
from jinja2 import Environment

from journal.command_line.theme_of import theme_of
from journal.output import Store
from journal.pages.parts import Frame, Page

PAGE = Page(Frame("A studio", "", ()), "Salt", ())


def test_the_second_run_compiles_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store(tmp_path / "kept")
    first = theme_of(store, "a program", "paper", tmp_path).set_page("page.html", PAGE)

    def compiled(*_: object, **__: object) -> None:
        raise AssertionError("a template was compiled")

    monkeypatch.setattr(Environment, "compile", compiled)
    assert theme_of(store, "a program", "paper", tmp_path).set_page("page.html", PAGE) == first
    with pytest.raises(AssertionError, match="compiled"):
        theme_of(store, "another program", "paper", tmp_path)


def test_without_a_store_nothing_is_kept(tmp_path: Path) -> None:
    for _ in range(2):
        theme = theme_of(Store(None), "a program", "bench", tmp_path)
        assert "<h1>" in theme.set_page("page.html", PAGE)
