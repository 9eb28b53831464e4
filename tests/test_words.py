"""The words that we use, and those that we keep out: British spelling, the trade's terms,
no trace of the place where a line was written.
"""

from __future__ import annotations

import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent

#: What is read: our own text, not the tests that have to name the words.
PLACES = ("journal", "themes", "content", "README.md", "DEVELOPERS.md", ".ci/run")
KINDS = (".py", ".md", ".html", ".css", ".js", ".yaml", ".csv", ".toml", "run")

AMERICAN = re.compile(
    r"\b(un)?(mold(s|ed|ing)?|colou?r(?<!our)(s|ed|ing|ant|ants|less)?|gr(?-i:a)y(s|ish|scale)?"
    r"|cent(?-i:e)r(s|ed|ing)?|flavor(s|ed)?|odor(s)?|fiber(s)?|liter(s)?|favorite(s)?"
    r"|aluminum|labor|catalog(s)?|meter(s)?(?=\s+(long|wide|high))|(organ|recogn|real|summar)iz\w+)\b",
    re.IGNORECASE,
)
#: Names that others gave: titles of sources, words of CSS, SVG and libraries.
GIVEN = (
    "Color Research & Application",
    "no-color.org",
    "NO_COLOR",
    "color additive",
    "Color Additive",
    "color-scheme",
    "color-mix",
    "color_scheme",
    "flood-color",
    "stop-color",
    "theme-color",
    "grayscale",
)
#: Other spellings that the reader of quantities has to understand, and another language.
UNDERSTOOD = (
    "journal/quantities/refusal.py",
    "journal/quantities/kinds.py",
    "journal/pages/phrases/es.toml",
)

#: Of the place where it was written, or of whoever wrote it.
FOREIGN = {
    "a path of one machine": r"(?<![\w.])/(work|home|root|tmp|Users|shared)/\w|\bC:\\",
    "a registry": r"pypi\.org|pythonhosted|npmjs\.(org|com)|\bregistry\.\w+\.\w+",
    "a mark of unfinished work": r"\b(TODO|FIXME|XXX|HACK)\b",
    "a word about how it was made": (
        r"\b(issue|ticket|sub-?task)\s*#?\d+|\b(chat ?bot|language model|AI|LLM|prompt engineering"
        r"|coding (agent|session)|pull request|as (requested|instructed))\b|\b(by|an|the) agents?\b"
    ),
}
#: Words that call programs to mind; in what the reader sees, not in code.
SHOWN = re.compile(
    r"\b(dashboard|widget|workflow|stock(?!ist)|tags?|tagged|followers?|likes|pills|workspace"
    r"|upload|login|sign in|account settings)\b",
    re.IGNORECASE,
)


def texts() -> list[Path]:
    found = []
    for place in PLACES:
        path = PROJECT / place
        inside = sorted(path.rglob("*")) if path.is_dir() else [path] if path.exists() else []
        found += [at for at in inside if at.is_file() and at.name.endswith(KINDS)]
    return [path for path in found if "__pycache__" not in path.parts]


def prose(path: Path) -> Iterator[tuple[int, str]]:
    """Lines of a file in which words are meant as words: code, CSS and markup left out."""
    text = path.read_text("utf-8")
    if path.suffix == ".py":
        yield from names_and_comments(text)
        return
    if path.suffix in (".css", ".js"):
        blank = re.sub(
            r"/\*.*?\*/|(?m:^\s*//.*$)", lambda found: "\0" + found[0] + "\0", text, flags=re.S
        )
        pieces = blank.split("\0")
        # Every second piece is a comment; the code between keeps its line breaks only.
        text = "".join(
            piece if at % 2 else re.sub(r"[^\n]", "", piece) for at, piece in enumerate(pieces)
        )
    elif path.suffix == ".html":
        for markup in (r"\{%.*?%\}", r"\{\{.*?\}\}", r"<(style|script)\b.*?</\1>", r"<[^>]*>"):
            text = re.sub(markup, lambda found: "\n" * found[0].count("\n"), text, flags=re.S)
    elif path.suffix == ".md":
        for code in (r"^```.*?^```", r"^( {4}|\t).*?$", r"`[^`\n]*`"):
            text = re.sub(code, lambda found: "\n" * found[0].count("\n"), text, flags=re.S | re.M)
    yield from enumerate(text.splitlines(), 1)


def names_and_comments(text: str) -> Iterator[tuple[int, str]]:
    """Names, comments and docstrings of a Python file; other strings may hold CSS or SVG."""
    before = tokenize.NEWLINE
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type in (tokenize.NAME, tokenize.COMMENT):
            yield token.start[0], token.string.replace("_", " ")
        elif token.type == tokenize.STRING and before in (tokenize.NEWLINE, tokenize.INDENT):
            for at, line in enumerate(token.string.splitlines()):
                yield token.start[0] + at, re.sub(r"``[^`]*``", "", line)
        if token.type not in (tokenize.NL, tokenize.COMMENT):
            before = token.type


def without_given(line: str) -> str:
    for name in (*GIVEN, *(name.replace("_", " ") for name in GIVEN)):
        line = line.replace(name, "")
    return line


def place(path: Path, line: int) -> str:
    return f"{path.relative_to(PROJECT).as_posix()}:{line}"


def test_there_is_something_to_read() -> None:
    assert len(texts()) > 30


def test_spelling_is_british() -> None:
    wrong = [
        f"{place(path, at)}: {found[0]}"
        for path in texts()
        if path.relative_to(PROJECT).as_posix() not in UNDERSTOOD
        for at, line in prose(path)
        for found in AMERICAN.finditer(without_given(line))
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("what", sorted(FOREIGN))
def test_the_project_speaks_of_itself_alone(what: str) -> None:
    pattern = re.compile(FOREIGN[what])
    wrong = [
        f"{place(path, at)}: {what}: {found[0]}"
        for path in texts()
        for at, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        for found in pattern.finditer(line)
    ]
    assert not wrong, "\n".join(wrong)


def test_no_shown_word_calls_a_program_to_mind() -> None:
    wrong = [
        f"{place(path, at)}: {found[0]}"
        for path in texts()
        if path.suffix in (".html", ".md") and path.name not in ("DEVELOPERS.md",)
        for at, line in prose(path)
        for found in SHOWN.finditer(line)
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("a.py", "mold = 1\n", ["mold"]),
        ("a.py", "def unmold_bar(): ...\n", ["unmold"]),
        ("a.py", "bar_color = 'red'\n", ["color"]),
        ("a.py", "# a gray card\n", ["gray"]),
        ("a.py", '"""Color of a bar.\n\nAnd its center.\n"""\n', ["Color", "center"]),
        ("a.py", "css = 'color: gray'\n", []),
        ("a.py", '"""``color`` is a word of CSS."""\n', []),
        ("a.py", "colour, mould, grey, centre = 1, 2, 3, 4\n", []),
        ("a.css", "p { color: gray } /* the color of ink */", ["color"]),
        ("a.html", '<p style="color: red">mold {{ page.color }}</p>', ["mold"]),
        ("a.md", "A `color` of\n\n    color: red\n\nmolds", ["molds"]),
        ("a.yaml", "note: gray edge", ["gray"]),
        ("a.yaml", "a grey, coloured centre; a greyish colourant", []),
    ],
)
def test_the_search_for_spellings_bites(
    tmp_path: Path, name: str, text: str, found: list[str]
) -> None:
    (tmp_path / name).write_text(text)
    lines = prose(tmp_path / name)
    assert [word[0] for _, line in lines for word in AMERICAN.finditer(line)] == found


@pytest.mark.parametrize(
    "line",
    [
        "see /work/main/x",
        "from /home/maker",
        "pip install --index-url https://pypi.org/simple",
        "# TODO: later",
        "as asked in issue #12",
        "an agent wrote this",
    ],
)
def test_the_search_for_traces_bites(line: str) -> None:
    assert any(re.search(pattern, line) for pattern in FOREIGN.values())
