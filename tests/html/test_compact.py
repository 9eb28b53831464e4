"""A stylesheet without its comments and indents, held to what an independent parser reads."""

from __future__ import annotations

from typing import Any

import pytest
import tinycss2

from journal.html.compact import compact_css
from journal.html.theme import themes_folder

STYLES = sorted(themes_folder().glob("*/*.css"))


def read(css: str) -> list[Any]:
    """The rules and declarations of a stylesheet; source: tinycss2, of CSS Syntax Level 3."""
    return [of_rule(rule) for rule in tinycss2.parse_stylesheet(css, True, True)]


def of_rule(rule: Any) -> tuple[Any, ...]:
    """A rule as its prelude and what is in it; blanks round commas mean nothing there."""
    assert rule.type != "error", rule.message
    prelude = tinycss2.serialize(rule.prelude).strip()
    for sign in (",", ":"):
        prelude = prelude.replace(f"{sign} ", sign)
    inner: list[Any] = []
    for one in tinycss2.parse_blocks_contents(rule.content or [], True, True):
        if one.type == "declaration":
            # A text in quotes is one token; whatever blanks are in it stay.
            tokens = [token.serialize() for token in one.value if token.type != "whitespace"]
            inner.append((one.name, [token.replace(", ", ",") for token in tokens], one.important))
        else:
            inner.append(of_rule(one))
    return (" ".join(prelude.split()), inner)


@pytest.mark.parametrize("path", STYLES, ids=[f"{p.parent.name}-{p.stem}" for p in STYLES])
def test_the_rules_stay_the_same(path: Any) -> None:
    css = path.read_text("utf-8")
    compact = compact_css(css)
    assert read(compact) == read(css)
    assert len(compact) < 0.9 * len(css)
    assert "/*" not in compact


@pytest.mark.parametrize(
    ("css", "compact"),
    [
        ("a :hover { color : red; }", "a :hover{color :red}\n"),
        ("a:hover,\n b > c {\n  margin: 0 1px;\n}\n", "a:hover,b > c{margin:0 1px}\n"),
        ('p::after { content: "; , { /* } " }', 'p::after{content:"; , { /* } "}\n'),
        ('/* "one */ p { width: calc(1px + 2px) } /* two" */', "p{width:calc(1px + 2px)}\n"),
        (r'p::after { content: "\"; a"; top: 0 }', r'p::after{content:"\"; a";top:0}' + "\n"),
    ],
    ids=["descendant", "lists", "marks-in-a-text", "quote-in-a-comment", "quoted-quote"],
)
def test_what_means_something_stays(css: str, compact: str) -> None:
    assert compact_css(css).lstrip() == compact
