"""The words that we use, and those that we keep out: British spelling, the trade's terms,
no trace of the place where a line was written.
"""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest
from paths import PROJECT

#: What is read: all of our own text.
PLACES = ("journal", "themes", "content", "tests", "README.md", "DEVELOPERS.md", ".ci/run")
KINDS = (".py", ".md", ".html", ".jinja", ".css", ".js", ".json", ".yaml", ".toml", ".csv", ".txt")
#: Of others, or the maker's mistakes as the tests write them.
LEFT_OUT = ("node_modules", "__pycache__", "tests/cases/invalid", "tests/reference")


def joined(pieces: str) -> str:
    """What is looked for, which thus stands nowhere in the project itself."""
    return pieces.replace("·", "")


AMERICAN = re.compile(
    joined(
        r"\b(un)?(mo·ld(s|ed|ing)?|colou?r(?<!our)(s|ed|ing|ant|ants|less)?|gr(?-i:a)y(s|ish|scale)?"
        r"|cent(?-i:e)r(s|ed|ing)?|fla·vor(s|ed)?|od·or(s)?|fi·ber(s)?|li·ter(s)?|favo·rite(s)?"
        r"|alu·minum|la·bor|cata·log(s)?|me·ter(s)?(?=\s+(long|wide|high))"
        r"|(organ|recogn|real|summar)iz\w+)\b"
    ),
    re.IGNORECASE,
)
#: Names that others gave: titles of sources, words of CSS, SVG, HTML and libraries, Spanish.
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
    "coloraide",
    "del color",
    "color corrido",
    "color desvaído",
    "scanning a tag",
    "parsing a tag",
    "undefined tag handle",
    "sets a tag",
)
#: Other spellings that the reader of quantities has to understand; names of a library, of CSS.
UNDERSTOOD = (
    "journal/quantities/unit_words.yaml",
    "journal/quantities/kinds.py",
    "journal/figures/label/colours.csv",
    "journal/figures/label/substances.csv",
    "journal/views/index/words.yaml",
    "journal/views/shared/phrases/es.toml",
    "tests/figures/colour/test_colour.py",
    "tests/browser/test_checks_bite.py",
)

#: Of the place where it was written, or of whoever wrote it.
FOREIGN = {
    "a path of one machine": joined(r"(?<![\w.])/(wo·rk|ho·me|ro·ot|t·mp|Us·ers|sha·red)/\w"),
    "a registry": joined(r"py·pi\.org|python·hosted|npm·js\.(org|com)|\breg·istry\.\w+\.\w+"),
    "a mark of unfinished work": joined(r"\b(TO·DO|FIX·ME|XX·X|HA·CK)\b"),
    "a word about how it was made": joined(
        r"\b(iss·ue|tick·et|sub-?ta·sk)\s*#?\d+|\b(chat ?b·ot|language mo·del|A·I|L·LM"
        r"|prompt engin·eering|coding (age·nt|sess·ion)|pull requ·est"
        r"|as (reques·ted|instruc·ted))\b|\b(by|an|the) age·nts?\b"
    ),
}
#: Words that call programs to mind, in what the maker reads.
SHOWN = re.compile(
    joined(
        r"\b(dash·board|wid·get|work·flow|sto·ck(?!ist)|ta·gs?|tag·ged|follow·ers?|lik·es|pil·ls"
        r"|work·space|up·load|log·in|sign ·in|account set·tings)\b"
    ),
    re.IGNORECASE,
)


def texts() -> list[Path]:
    found = []
    for place in PLACES:
        path = PROJECT / place
        inside = sorted(path.rglob("*")) if path.is_dir() else [path] if path.exists() else []
        found += [at for at in inside if at.is_file() and (at.suffix in KINDS or at.name == "run")]
    return [path for path in found if not any(part in path.as_posix() for part in LEFT_OUT)]


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


def sentences(text: str) -> Iterator[tuple[int, str]]:
    """Strings of a Python file that hold a sentence or a part of one; docstrings left out."""
    tree = ast.parse(text)
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = re.sub(r"<[^>]*>", "", node.value)
            if id(node) not in docstrings and re.search(r"[a-z]{2} [a-z]", words):
                yield node.lineno, words


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
    assert len(texts()) > 300


def test_spelling_is_british() -> None:
    wrong = [
        f"{place(path, at)}: {found[0]}"
        for path in texts()
        if path.relative_to(PROJECT).as_posix() not in UNDERSTOOD
        # To tell what is prose takes far longer than to see that no such word is in a file.
        if AMERICAN.search(path.read_text("utf-8").replace("_", " "))
        for at, line in (*prose(path), *shown(path))
        for found in AMERICAN.finditer(without_given(line))
    ]
    assert not wrong, "\n".join(wrong)


def shown(path: Path) -> Iterator[tuple[int, str]]:
    """What the maker may come to read: prose of pages and write-ups, sentences in the program."""
    if path.suffix == ".py":
        yield from sentences(path.read_text("utf-8"))
    elif path.suffix in (".html", ".md") and path.name != "DEVELOPERS.md":
        yield from prose(path)


@pytest.mark.parametrize("what", sorted(FOREIGN))
def test_the_project_speaks_of_itself_alone(what: str) -> None:
    pattern = re.compile(FOREIGN[what])
    wrong = [
        f"{place(path, text.count(chr(10), 0, found.start()) + 1)}: {what}: {found[0]}"
        for path in texts()
        for text in [path.read_text("utf-8")]
        for found in pattern.finditer(text)
    ]
    assert not wrong, "\n".join(wrong)


def test_no_shown_word_calls_a_program_to_mind() -> None:
    wrong = [
        f"{place(path, at)}: {found[0]}"
        for path in texts()
        if "tests" not in path.relative_to(PROJECT).parts
        for at, line in shown(path)
        for found in SHOWN.finditer(without_given(line))
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("a.py", "mo·ld = 1\n", ["mo·ld"]),
        ("a.py", "def unmo·ld_bar(): ...\n", ["unmo·ld"]),
        ("a.py", "bar_co·lor = 'red'\n", ["co·lor"]),
        ("a.py", "# a gr·ay card\n", ["gr·ay"]),
        ("a.py", '"""Co·lor of a bar.\n\nAnd its cen·ter.\n"""\n', ["Co·lor", "cen·ter"]),
        ("a.py", "css = 'co·lor: gr·ay'\n", []),
        ("a.py", "told = 'A bar of two co·lors'\n", ["co·lors"]),
        ("a.py", "told = f'{many} mo·lds are full'\n", ["mo·lds"]),
        ("a.py", '"""``co·lor`` is a word of CSS."""\n', []),
        ("a.py", "colour, mould, grey, centre = 1, 2, 3, 4\n", []),
        ("a.css", "p { co·lor: gr·ay } /* the co·lor of ink */", ["co·lor"]),
        ("a.html", '<p style="co·lor: red">mo·ld {{ page.co·lor }}</p>', ["mo·ld"]),
        ("a.md", "A `co·lor` of\n\n    co·lor: red\n\nmo·lds", ["mo·lds"]),
        ("a.yaml", "note: gr·ay edge", ["gr·ay"]),
        ("a.yaml", "a grey, coloured centre; a greyish colourant", []),
    ],
)
def test_the_search_for_spellings_bites(
    tmp_path: Path, name: str, text: str, found: list[str]
) -> None:
    path = tmp_path / name
    path.write_text(joined(text))
    lines = {*prose(path), *shown(path)}
    read = [word[0] for _, line in sorted(lines) for word in AMERICAN.finditer(line)]
    assert read == [joined(word) for word in found]


@pytest.mark.parametrize(
    "line",
    [
        "see /wo·rk/main/x",
        "from /ho·me/maker",
        "pip install --index-url https://py·pi.org/simple",
        "# TO·DO: later",
        "as asked in iss·ue #12",
        "an age·nt wrote this",
    ],
)
def test_the_search_for_traces_bites(line: str) -> None:
    assert any(re.search(pattern, joined(line)) for pattern in FOREIGN.values())


def test_the_search_for_names_of_programs_bites() -> None:
    line = joined("told = 'Your dash·board shows it'")
    assert [found[0] for _, text in sentences(line) for found in SHOWN.finditer(text)]
