"""Compiled templates that were kept set the same pages, and count for nothing where they differ."""

from __future__ import annotations

import marshal
import shutil
from pathlib import Path

import pytest
from jinja2 import Environment

from journal.errors import ContentError
from journal.pages import theme as theme_module
from journal.pages.compiled import Compiled
from journal.pages.parts import Frame, Page
from journal.pages.theme import Theme, read_theme, themes_folder

PAGE = Page(Frame("A studio", "", ()), "Salt & <sand>", ())


def ready(compiled: Compiled, content: Path | None = None) -> Theme:
    theme = read_theme(content=content, compiled=compiled)
    compiled.compile_all(theme.environment)
    return theme


@pytest.fixture(scope="module")
def kept() -> bytes:
    compiled = Compiled("ground")
    ready(compiled)
    assert compiled.changed
    return compiled.packed()


def no_compiling(*_: object, **__: object) -> None:
    raise AssertionError("a template was compiled")


def test_what_was_kept_is_not_compiled_and_sets_the_same(
    kept: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = read_theme().set_page("page.html", PAGE)
    monkeypatch.setattr(Environment, "compile", no_compiling)
    compiled = Compiled("ground", kept)
    assert ready(compiled).set_page("page.html", PAGE) == expected
    assert not compiled.changed


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda kept: b"",
        lambda kept: kept[:-7],
        lambda kept: marshal.dumps(None),
        lambda kept: marshal.dumps(("another ground", marshal.loads(kept)[1])),
    ],
    ids=["nothing", "cut short", "something else", "of another program"],
)
def test_what_cannot_be_used_is_compiled_anew(kept: bytes, spoilt: object) -> None:
    compiled = Compiled("ground", spoilt(kept))  # type: ignore[operator]
    ready(compiled)
    assert compiled.changed
    same = compiled.packed() == kept
    assert same


def test_a_template_that_changed_is_compiled_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(themes_folder(), tmp_path / "themes")
    monkeypatch.setattr(theme_module, "themes_folder", lambda: tmp_path / "themes")
    safety = tmp_path / "themes" / "paper" / "templates" / "safety.html"
    packed = None
    for text in ("vellum of old", "vellum of now"):
        safety.write_text(text, "utf-8")
        compiled = Compiled("ground", packed)
        assert ready(compiled).set_page("safety.html", PAGE) == text
        assert compiled.changed
        packed = compiled.packed()
    forgotten = b"vellum of old" not in (packed or b"")
    assert forgotten


def test_a_fault_is_left_to_the_page_that_it_is_on(tmp_path: Path) -> None:
    own = tmp_path / "theme" / "safety.html"
    own.parent.mkdir()
    own.write_text("one\n{% if %}\n", "utf-8")
    compiled = Compiled("ground")
    theme = ready(compiled, tmp_path)
    assert "<h1>" in theme.set_page("page.html", PAGE)
    with pytest.raises(ContentError, match=r"^theme/safety\.html:2:1: the template says"):
        theme.set_page("safety.html", PAGE)
