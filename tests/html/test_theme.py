from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from jinja2 import TemplateSyntaxError, UndefinedError, nodes
from paths import PROJECT

from journal.errors import ContentError
from journal.html import theme as theme_module
from journal.html.blocks import Link, Page, PageFrame, Paragraph, Passage, Section
from journal.html.compact import compact_css
from journal.html.theme import Theme, read_theme, themes_folder
from journal.records.models.settings import THEMES

TEMPLATES = sorted(themes_folder().glob("*/templates/*.html"))
STYLE = (themes_folder() / "desk" / "look.css").read_text("utf-8")
BENCH = (themes_folder() / "large" / "otherwise.css").read_text("utf-8")

FRAME = PageFrame("A studio", "", (Link("Latest", "index.html", here=True),))
PAGE = Page(
    FRAME,
    "Salt & <sand>",
    (Section("weigh", "Weigh out", (Passage((Paragraph(("5 < 6 & 'so on'",)),)),)),),
)


def test_the_theme_has_templates() -> None:
    assert len(TEMPLATES) > 10


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.name)
def test_templates_hold_no_arithmetic(path: Path) -> None:
    tree = read_theme().environment.parse(path.read_text("utf-8"))
    sums = (nodes.Add, nodes.Sub, nodes.Mul, nodes.Div, nodes.FloorDiv, nodes.Mod, nodes.Pow)
    assert not list(tree.find_all((*sums, nodes.Neg)))
    used = {found.name for found in tree.find_all(nodes.Filter)}
    assert not used & {"round", "sum", "int", "float", "abs", "min", "max", "safe", "format"}


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.name)
def test_templates_hold_no_style_and_no_script(path: Path) -> None:
    text = path.read_text("utf-8")
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:|https?://", text)
    assert not re.search(r"<script(?! src=)", text)


def test_texts_are_escaped() -> None:
    html = read_theme().set_page("page.html", PAGE)
    assert "Salt &amp; &lt;sand&gt;" in html
    assert "5 &lt; 6 &amp; &#39;so on&#39;" in html


def test_a_name_that_does_not_exist_is_an_error() -> None:
    environment = read_theme().environment
    with pytest.raises(UndefinedError, match="no attribute 'titel'"):
        environment.from_string("{{ page.titel }}").render(page=PAGE)


@pytest.mark.parametrize("name", THEMES)
def test_a_notebook_puts_one_template_and_its_colours_in_place(tmp_path: Path, name: str) -> None:
    own = tmp_path / "theme"
    own.mkdir()
    (own / "safety.html").write_text('{% extends "page.html" %}{% block parts %}ours{% endblock %}')
    (own / "colours.css").write_text(":root { --ink: #111 }")
    theme = read_theme(name, tmp_path)
    assert "ours" in theme.set_page("safety.html", PAGE)
    assert "ours" not in theme.set_page("page.html", PAGE)
    assert dict(theme.files)["look.css"].endswith(b":root { --ink: #111 }")


@pytest.mark.parametrize(
    ("text", "line"),
    [("one\n{{ page.titel }}\n", 2), ("one\ntwo\n{% if %}\n", 3)],
    ids=["misspelt", "broken"],
)
def test_a_fault_in_the_notebooks_own_template_is_named_with_its_line(
    tmp_path: Path, text: str, line: int
) -> None:
    (tmp_path / "theme").mkdir()
    (tmp_path / "theme" / "safety.html").write_text(text)
    with pytest.raises(ContentError, match=rf"^theme/safety\.html:{line}:1: the template says"):
        read_theme(content=tmp_path).set_page("safety.html", PAGE)


def test_a_fault_in_the_programs_own_template_passes_through(tmp_path: Path) -> None:
    (tmp_path / "theme").mkdir()
    theme = read_theme(content=tmp_path)
    with pytest.raises(TemplateSyntaxError, match="Expected an expression"):
        theme.environment.from_string("{% if %}")
    with pytest.raises(UndefinedError, match="no attribute 'frame'"):
        theme.set_page("page.html", object())


def theme_names() -> set[str]:
    return {path.name for path in themes_folder().iterdir() if path.is_dir()}


def test_the_settings_and_the_command_know_every_theme() -> None:
    text = (PROJECT / "journal/cli/commands.json").read_text("utf-8")
    offered = re.findall(r'"name": "--theme", "choices": (\[.*?\])', text)
    assert offered
    for choices in offered:
        assert set(THEMES) == set(json.loads(choices)) == theme_names()


def _files(theme: Theme) -> dict[str, bytes]:
    return dict(theme.files)


def test_another_theme_shares_what_it_does_not_hold() -> None:
    paper, bench = read_theme(), read_theme("large")
    names = bench.environment.list_templates(extensions=["html"])
    assert names == paper.environment.list_templates(extensions=["html"])
    assert set(_files(bench)) == set(_files(paper))
    assert _files(bench)["look.css"] == _files(paper)["look.css"] + compact_css(BENCH).encode()


def test_another_theme_copies_nothing() -> None:
    whole = {path.read_bytes() for path in (themes_folder() / "desk").rglob("*") if path.is_file()}
    for name in sorted(theme_names()):
        if name != "desk":
            own = [path for path in (themes_folder() / name).rglob("*") if path.is_file()]
            assert own
            assert not [path for path in own if path.read_bytes() in whole]


def test_a_theme_may_put_a_template_a_script_and_a_font_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(themes_folder() / "desk", tmp_path / "desk")
    vellum = tmp_path / "vellum"
    (vellum / "templates").mkdir(parents=True)
    (vellum / "fonts").mkdir()
    (vellum / "templates" / "safety.html").write_text("vellum {{ page.title }}")
    (vellum / "narrow.js").write_text("'use strict'")
    (vellum / "fonts" / "quill.woff2").write_bytes(b"quill")
    monkeypatch.setattr(theme_module, "themes_folder", lambda: tmp_path)
    theme = read_theme("vellum")
    assert theme.set_page("safety.html", PAGE) == "vellum Salt &amp; &lt;sand&gt;"
    assert "<h1>" in theme.set_page("page.html", PAGE)
    assert _files(theme)["narrow.js"] == b"'use strict'"
    assert _files(theme)["fonts/quill.woff2"] == b"quill"
    assert _files(theme)["look.css"] == _files(read_theme())["look.css"]
    assert list(_files(theme)).count("narrow.js") == 1


def test_no_theme_of_that_name() -> None:
    with pytest.raises(FileNotFoundError, match="themes/vellum"):
        read_theme("vellum")


def test_licences_stand_beside_the_fonts() -> None:
    names = [name for name, _ in read_theme().files if name.startswith("fonts/")]
    for family in ("atkinson", "literata"):
        assert f"fonts/LICENSE-{family}.txt" in names
        assert any(n.endswith(".woff2") and family in n for n in names)


def test_the_stylesheet_is_small_and_reaches_for_nothing_outside() -> None:
    assert len(_files(read_theme())["look.css"]) <= 40_000
    assert not re.search(r"@import|https?:|gradient|shadow", STYLE)
    files = {name for name, _ in read_theme().files}
    assert set(re.findall(r"url\(([^)]+)\)", STYLE)) <= files


def test_sizes_of_paper_are_measured() -> None:
    # A named size such as A6 is unknown to some browsers, which then take another.
    sizes = re.findall(r"\bsize:\s*([^;}]+)", re.sub(r"[\w-]+-size:[^;}]+", "", STYLE))
    assert sizes
    for size in sizes:
        assert re.fullmatch(r"[\d.]+(mm|in) [\d.]+(mm|in)", size.strip()), size


@pytest.mark.parametrize("style", [STYLE, BENCH], ids=["desk", "large"])
def test_dark_inks_stay_off_paper(style: str) -> None:
    dark = re.findall(r"@media ([^{]*prefers-color-scheme: dark[^{]*)", style)
    assert dark
    assert all(query.startswith("screen and") for query in dark)


def test_the_bench_is_for_screens_alone() -> None:
    # What is printed is the same in every theme: cards are counted out to the letter.
    outside = re.sub(r"@media screen[^{]*\{(?:[^{}]*\{[^{}]*\}|[^{}])*\}", "", BENCH)
    assert not re.sub(r"/\*.*?\*/", "", outside, flags=re.S).strip()


def _inks(night: bool, style: str = STYLE) -> dict[str, str]:
    blocks = re.findall(r":root \{([^}]*)\}", style)
    return dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", blocks[1 if night else 0]))


def _contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours. Source: WCAG 2.2, "relative luminance"."""

    def luminance(colour: str) -> float:
        parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("night", [False, True], ids=["day", "night"])
@pytest.mark.parametrize("ground", ["paper", "band"])
@pytest.mark.parametrize("ink", ["ink", "soft", "madder", "kelp"])
def test_every_ink_can_be_read_on_its_ground(ink: str, ground: str, night: bool) -> None:
    inks = _inks(night)
    # WCAG 2.2, success criterion 1.4.3, level AA.
    assert _contrast(inks[ink], inks[ground]) >= 4.5


@pytest.mark.parametrize("night", [False, True], ids=["day", "night"])
@pytest.mark.parametrize("ground", ["paper", "band"])
@pytest.mark.parametrize("ink", ["ink", "soft", "madder", "kelp"])
def test_every_ink_of_the_bench_can_be_read_from_afar(ink: str, ground: str, night: bool) -> None:
    inks = _inks(night, BENCH)
    # WCAG 2.2, success criterion 1.4.6, level AAA.
    assert _contrast(inks[ink], inks[ground]) >= 7


@pytest.mark.parametrize("night", [False, True], ids=["day", "night"])
@pytest.mark.parametrize("style", [STYLE, BENCH], ids=["desk", "large"])
def test_the_edge_of_a_window_is_seen(style: str, night: bool) -> None:
    edge = re.search(r"^\.band, \.window \{[^}]*stroke: var\(--(\w+)\)", STYLE, re.M)
    assert edge
    inks = _inks(night, style)
    # WCAG 2.2, success criterion 1.4.11, non-text contrast.
    assert min(_contrast(inks[edge[1]], inks[ground]) for ground in ("paper", "band")) >= 3


@pytest.mark.parametrize("style", [STYLE, BENCH], ids=["desk", "large"])
def test_weights_go_by_hundreds(style: str) -> None:
    # WeasyPrint 70 drops any other weight, and the whole of a `font` that has one.
    rules = re.sub(r"@font-face \{[^}]*\}", "", style)
    weights = re.findall(r"font(?:-weight)?: (\d{3})\b(?!%)", rules)
    assert weights
    assert not [weight for weight in weights if int(weight) % 100]


def test_contrast_as_published() -> None:
    # WCAG 2.2: black on white is 21 to 1, a colour on itself 1 to 1.
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert _contrast("#96331f", "#96331f") == pytest.approx(1.0)
