"""Whatever stands in a write-up, nothing of it runs in the reader's browser."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag
from demo import KELP_ON_CLAY
from every_sheet import all_sheets
from small_notebook import lay_down_small

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import read_notebook
from journal.views.notebook import open_book

#: Each as a text of the front matter and as prose.
HOSTILE = (
    "<script>alert(1)</script>",
    "</title></style></script><script src=//evil.example/x.js></script>",
    '"><img src=x onerror=alert(1)>',
    "'><svg/onload=alert(1)>",
    '<a href="javascript:alert(1)">here</a>',
    "<style>body{display:none}</style>",
    '<b style="background:url(javascript:alert(1))" onmouseover=alert(1)>bold</b>',
    "{{ 191*7 }}{% include 'x' %}{# gone #}",
    "${191*7} <%= 191*7 %> #{191*7}",
    "<!-- --><![CDATA[ x ]]><?xml version='1'?>",
    "&lt;script&gt;alert(1)&lt;/script&gt; &#106;avascript:alert(1)",
)
#: Links, whose addresses must not run or lead a browser elsewhere without its reader's will.
LINKS = (
    "[a](javascript:alert(1))",
    "[b](JaVaScRiPt:alert(1))",
    "[c]( javascript:alert(1))",
    "[d](java\tscript:alert(1))",
    "[e](&#106;avascript:alert(1))",
    "[f](data:text/html,<script>alert(1)</script>)",
    "[g](vbscript:msgbox)",
    "![h](javascript:alert(1))",
    "![i](https://evil.example/count.gif)",
    "[j][1]\n\n[1]: javascript:alert(1)\n",
    "<javascript:alert(1)>",
    '[k](#x "onmouseover=alert(1)")',
    '[l](https://plain.example/ "\'><script>alert(1)</script>")',
)
RUNS = re.compile(r"^\s*(?!https?:|mailto:)[a-z][a-z0-9+.\s-]*:", re.IGNORECASE)
#: Right to left, and back: an override, an isolate left open, marks, a letter of each way.
TURNED = "Kelp \u202eyalc no\u202c \u2067\u05d0\u05d1 \u200f\u200e \u0627"


def yaml_text(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def pages_with(root: Path, demo: Path, text: str, prose: str) -> dict[str, str]:
    """Every page of a small notebook with a text wherever free text may stand."""
    content = lay_down_small(root / "content", demo)
    path = content / "designs" / KELP_ON_CLAY / "design.md"
    told = path.read_text("utf-8")
    own = yaml_text(text)
    told = re.sub(r"^title: .*$", lambda _: f"title: {own}", told, count=1, flags=re.M)
    told = re.sub(r"^summary: .*$", lambda _: f"summary: {own}\nprivate: {own}", told, flags=re.M)
    told = told.replace("subjects: [shoreline, two-tone]", f"subjects: [{own}]")
    told = told.replace("- rest 15 min", f"- {own}\n      - rest 15 min", 1)
    told = re.sub(r"^    (saw|why|mend): .*$", lambda m: f"    {m[1]}: {own}", told, flags=re.M)
    front, end, body = told.rpartition("\n---\n")
    path.write_text(f"{front}{end}{body}\n\n{prose}\n", "utf-8")
    bases = content / "shelf" / "bases.yaml"
    shelf = bases.read_text("utf-8")
    shelf = shelf.replace("name: White shea\n", f"name: {own}\n", 1)
    shelf = re.sub(r"^  (supplier|lot): .*$", lambda m: f"  {m[1]}: {own}", shelf, flags=re.M)
    bases.write_text(shelf, "utf-8")
    settings = content / "journal.yaml"
    told = settings.read_text("utf-8")
    told = re.sub(r"^studio: .*$", lambda _: f"studio: {own}", told, flags=re.M)
    settings.write_text(told, "utf-8")
    notebook = read_notebook(content)
    # A link that leads nowhere is an error; a preview shows the page all the same.
    for problem in notebook.errors:
        assert "link" in problem.what or "picture" in problem.what, problem
    book = open_book(
        notebook,
        derive_figures(notebook, models=False),
        compare_designs(notebook),
        read_theme(content=content),
    )
    sheets = [sheet for sheet in all_sheets(book) if sheet.path.endswith(".html")]
    assert len(sheets) > 40
    return {sheet.path: sheet.make().decode() for sheet in sheets}


def policy_of(html: str) -> str:
    """The policy that a page states before anything of a write-up."""
    before, _, rest = html.partition('<meta http-equiv="Content-Security-Policy" content="')
    assert before.count("<") <= 4, "doctype, html, head, charset"
    return rest.partition('"')[0]


def hashed(code: str) -> str:
    """How a policy names a script or a stylesheet (Content Security Policy Level 3)."""
    return f"'sha256-{b64encode(sha256(code.encode()).digest()).decode()}'"


def what_runs(html: str) -> list[str]:
    """What in a page a browser would run that is not the theme's own."""
    found = []
    for tag in BeautifulSoup(html, "html.parser").find_all(True):
        assert isinstance(tag, Tag)
        # Of a page that is one file the policy, first of all, names what the program set in it.
        if tag.name in ("style", "script") and tag.string and hashed(tag.string) in policy_of(html):
            continue
        if tag.name == "script":
            if tag.get("type") not in (None, "module", "application/json"):
                found.append(f"a script of the type {tag.get('type')}")
            if tag.get("type") != "application/json" and (
                tag.string or not re.fullmatch(r"[./\w-]+\.js", str(tag.get("src")))
            ):
                found.append(f"script: {tag}")
        if tag.name in ("style", "iframe", "object", "embed", "base", "foreignobject"):
            found.append(f"<{tag.name}>")
        for name, value in tag.attrs.items():
            if name.lower().startswith("on"):
                found.append(f"{name}={value}")
            leads = name in ("href", "src", "action", "formaction", "xlink:href", "srcdoc")
            if leads and (RUNS.match(str(value)) or str(value).lstrip().startswith("//")):
                found.append(f"{name}={value}")
            if name == "src" and str(value).startswith("http"):
                found.append(f"a picture from elsewhere: {value}")
            if name == "style" and re.search(r"url|expression|import", str(value)):
                found.append(f"style={value}")
    return found


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> dict[str, str]:
    root = tmp_path_factory.mktemp("hostile")
    prose = "\n\n".join((*HOSTILE, *LINKS, "| a | b |\n| --- | --- |\n| <script>x</script> | y |"))
    return pages_with(root, demo_content, " ".join(HOSTILE), prose)


def test_nothing_of_a_write_up_runs(hostile: dict[str, str]) -> None:
    found = [f"{path}: {what}" for path, html in hostile.items() for what in what_runs(html)]
    assert not found, "\n".join(found[:20])


def test_what_was_written_is_read_as_it_was_written(hostile: dict[str, str]) -> None:
    """Shown, not taken out: the maker sees what she wrote."""
    page = hostile[f"designs/{KELP_ON_CLAY}.html"]
    text = BeautifulSoup(page, "html.parser").get_text()
    for written in (
        "<script>alert(1)</script>",
        "{{ 191*7 }}{% include 'x' %}{# gone #}",
        "${191*7}",
    ):
        assert text.count(written) >= 5, written  # in the title, the summary, the prose, …
    assert "1337" not in text


@pytest.mark.parametrize(
    "html",
    [
        "<script>alert(1)</script>",
        "<script src='//evil.example/x.js'></script>",
        "<img src=x onerror=alert(1)>",
        "<a href=' JavaScript:alert(1)'>x</a>",
        "<a href='java\tscript:alert(1)'>x</a>",
        "<img src='https://evil.example/count.gif'>",
        "<style>b{}</style>",
        "<b style='background:url(x)'>x</b>",
        "<iframe></iframe>",
    ],
)
def test_the_search_for_what_runs_bites(html: str) -> None:
    assert what_runs(html)


def test_marks_that_turn_the_text_round_end_with_it(tmp_path: Path, demo_content: Path) -> None:
    """Nothing after a title is turned round by it: a browser ends them with the block."""
    pages = pages_with(tmp_path, demo_content, TURNED, TURNED)
    soup = BeautifulSoup(pages[f"designs/{KELP_ON_CLAY}.html"], "html.parser")
    heading = soup.find("h1")
    assert heading is not None
    assert heading.get_text().strip() == TURNED
    for path, html in pages.items():
        assert html.rstrip().endswith("</html>"), path
        assert not what_runs(html), path
