"""Templates set what they are given: no arithmetic, no rounding, nothing unescaped."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from jinja2 import Environment, TemplateSyntaxError, nodes
from paths import PROJECT

THEMES = PROJECT / "themes"

#: Kinds of files in ``themes/`` that are no templates.
PLAIN = {".css", ".js", ".woff2", ".txt", ".md", ".svg", ".png"}

#: Whatever makes a number out of others.
ARITHMETIC = (
    nodes.Add, nodes.Sub, nodes.Mul, nodes.Div, nodes.FloorDiv, nodes.Mod, nodes.Pow, nodes.Neg,
    nodes.Pos,
)  # fmt: skip
#: Filters that reckon, round, choose by size or by chance, or put a number into words.
NUMBER_FILTERS = frozenset(
    ("abs", "filesizeformat", "float", "format", "int", "max", "min", "random", "round", "sum")
)
#: Filters that let text through unescaped; a text that is HTML already is marked so by the
#: module that made it.
UNESCAPED = frozenset(("safe", "forceescape"))
#: Templates that may use one all the same, each with its reason.
MAY_BE_SAFE: dict[str, str] = {}


def templates() -> list[Path]:
    return [
        path for path in sorted(THEMES.rglob("*")) if path.is_file() and path.suffix not in PLAIN
    ]


def faults(source: str, *, may_be_safe: bool = False) -> Iterator[str]:
    """What a template does that it should not, with the line."""
    environment = Environment(
        autoescape=True, extensions=["jinja2.ext.do", "jinja2.ext.loopcontrols"]
    )
    try:
        tree = environment.parse(source)
    except TemplateSyntaxError as error:
        yield f"{error.lineno}: {error.message}"
        return
    for node in tree.find_all(nodes.Node):
        if isinstance(node, ARITHMETIC):
            yield f"{node.lineno}: {type(node).__name__} is arithmetic"
        elif isinstance(node, nodes.Filter) and node.name in NUMBER_FILTERS:
            yield f"{node.lineno}: |{node.name} reckons"
        elif isinstance(node, nodes.Filter) and node.name in UNESCAPED and not may_be_safe:
            yield f"{node.lineno}: |{node.name} lets text through unescaped"
        elif isinstance(node, nodes.EvalContextModifier):
            yield f"{node.lineno}: escaping is switched"
        elif isinstance(node, nodes.Call):
            called = node.node
            if isinstance(called, nodes.Getattr) and called.attr.startswith("__"):
                yield f"{node.lineno}: {called.attr} is called"
            if isinstance(called, nodes.Name) and called.name in ("range", "cycler", "lipsum"):
                yield f"{node.lineno}: {called.name}() makes numbers or chance"


def test_templates_are_found() -> None:
    assert templates(), f"no template under {THEMES}"


@pytest.mark.parametrize("path", templates(), ids=lambda path: path.relative_to(THEMES).as_posix())
def test_a_template_only_sets_what_it_is_given(path: Path) -> None:
    name = path.relative_to(THEMES).as_posix()
    found = [
        f"{name}:{fault}"
        for fault in faults(path.read_text("utf-8"), may_be_safe=name in MAY_BE_SAFE)
    ]
    assert not found, "\n".join(found)


def test_no_exception_outlives_its_template() -> None:
    assert not MAY_BE_SAFE.keys() - {path.relative_to(THEMES).as_posix() for path in templates()}


@pytest.mark.parametrize(
    "source",
    [
        "{{ a + b }}",
        "{{ a - 1 }}",
        "{{ -a }}",
        "{{ a * b }}",
        "{{ a / b }}",
        "{{ a // b }}",
        "{{ a % b }}",
        "{{ a ** 2 }}",
        "{% if a * 2 > b %}x{% endif %}",
        "{% set n = loop.index + 1 %}",
        "{% macro m(a, b=1 + 1) %}{% endmacro %}",
        "{{ a|round(1) }}",
        "{{ bars|sum }}",
        "{{ '%.1f'|format(a) }}",
        "{{ a|default(b|int) }}",
        "{{ prose|safe }}",
        "{% filter round %}1{% endfilter %}",
        "{% autoescape false %}{{ a }}{% endautoescape %}",
        "{% for n in range(3) %}{% endfor %}",
        "{{ a.__add__(b) }}",
        "{{ a + }}",
    ],
)
def test_the_search_bites(source: str) -> None:
    assert list(faults(source))


@pytest.mark.parametrize(
    "source",
    [
        "{{ a ~ b }}",
        "{{ page.title|e }}",
        "{% for bar in bars if bar.kept %}{{ loop.index }}{% endfor %}",
        "{% if a > b and not c %}{{ names|join(', ') }}{% endif %}",
        "{{ page.own_terms() }}",
    ],
)
def test_the_search_lets_plain_setting_pass(source: str) -> None:
    assert not list(faults(source))
