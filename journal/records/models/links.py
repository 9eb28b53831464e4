"""Find the links of Markdown texts, what they point to, and which lead nowhere."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple
from urllib.parse import unquote

from msgspec import Struct

from journal.errors import Position, Problem
from journal.quantities.number import excerpt
from journal.records.models.fields import spelling_hint
from journal.records.yaml.source import path_in_notebook
from journal.records.yaml.tree import LineIndex

_FENCE = re.compile(r" {0,3}(`{3,}|~{3,})")
_LIST = re.compile(r" {0,3}(?:[-*+]|\d{1,9}[.)])\s")
_TICKS = re.compile(r"`+")
_SIGNS = re.compile(r"\\.|[\[\]]|\n\s*\n", re.DOTALL)
# Where a link leads, with its title; both bounded, so that no text takes long.
_DESTINATION = re.compile(
    r"\(\s{0,99}(?:<([^<>\n]{0,2000})>|([^\s()<>]{1,2000}(?:\([^\s()<>]{0,999}\)[^\s()<>]{0,999}){0,9}))"
    r"(?:\s{1,99}(?:\"[^\"\n]{0,2000}\"|'[^'\n]{0,2000}'))?\s{0,99}\)"
)
_REFERENCE = re.compile(r"^ {0,3}\[(?!\^)[^\]\n]{1,999}\]:\s{0,99}<?([^\s<>]+)>?", re.MULTILINE)
_DESIGN = re.compile(r"^designs/([^/]+)/design\.md$")
_SHELF = re.compile(r"^shelf/([^/]+)\.yaml$")
_COMPARISON = re.compile(r"^comparisons/([^/]+)\.md$")


class LinkTarget(Struct, frozen=True):
    """The target of a link.

    ``kind`` is "design", "shelf", "comparison", "file", "outside" (another
    site), "here" (a heading of the same page) or "none"; ``name`` is the id, for
    the shelf "kind/id", for a file its path in the notebook.
    """

    kind: str
    name: str
    fragment: str = ""


class ProseLink(NamedTuple):
    """A link of a Markdown text; ``link`` is its target as it is written."""

    at: Position
    link: str
    is_picture: bool


def target_of(link: str, folder: str) -> LinkTarget:
    """The target of ``link``, which is written in a file of ``folder``."""
    if link.startswith("#"):
        return LinkTarget("here", "", link[1:])
    if re.match(r"^(https?|mailto):", link):
        return LinkTarget("outside", link)
    if re.match(r"^[A-Za-z][A-Za-z0-9+.-]*:", link):
        return LinkTarget("none", link)
    path, _, fragment = unquote(link).partition("#")
    file = path_in_notebook(path, folder)
    if file is None:
        return LinkTarget("none", link)
    for kind, pattern in (("design", _DESIGN), ("comparison", _COMPARISON)):
        if match := pattern.match(file):
            return LinkTarget(kind, match[1], fragment)
    if match := _SHELF.match(file):
        return LinkTarget("shelf", f"{match[1]}/{fragment}" if fragment else match[1])
    return LinkTarget("file", file, fragment)


def links_in(body: str, path: str, first_line: int) -> Iterator[ProseLink]:
    """Yield each link of a Markdown text in order; takes time in proportion to its length.

    ``first_line`` is the line of the file ``path`` that ``body`` begins on.
    """
    if "](" not in body and "]:" not in body:
        return
    text = _without_code(body)
    lines = LineIndex(body, path, first_line)
    links: list[tuple[int, str, bool]] = []
    opened: list[int] = []
    at = 0
    while (sign := _SIGNS.search(text, at)) is not None:
        at = sign.end()
        if sign[0] == "[":
            opened.append(sign.start())
        elif sign[0] == "]":
            if not opened:
                continue
            start = opened.pop()
            destination = _DESTINATION.match(text, at)
            if destination is not None:
                is_picture = start > 0 and text[start - 1] == "!"
                link = destination[1] if destination[1] is not None else destination[2]
                links.append((start - is_picture, link, is_picture))
                at = destination.end()
        elif sign[0][0] == "\n":
            # A link does not reach over the end of its paragraph.
            opened.clear()
            at -= 1
    links.extend((one.start(1), one[1], False) for one in _REFERENCE.finditer(text))
    for offset, link, is_picture in sorted(links):
        yield ProseLink(lines.position(offset), link, is_picture)


def pictures_in(body: str, path: str, first_line: int) -> Iterator[tuple[Position, str]]:
    """Yield the position and path of each picture in a text that is a file of the notebook."""
    folder = path.rpartition("/")[0]
    for at, link, is_picture in links_in(body, path, first_line):
        target = target_of(link, folder)
        if is_picture and target.kind == "file":
            yield at, target.name


def _without_code(body: str) -> str:
    """The text with spaces in place of its code; every other character keeps its offset."""
    if "`" not in body and "~~~" not in body and "\n    " not in body and "\n\t" not in body:
        return body
    lines: list[str] = []
    fence, after_blank, in_list = "", True, False
    for line in body.split("\n"):
        mark = _FENCE.match(line)
        if fence:
            if mark and mark[1].startswith(fence) and not line[mark.end() :].strip():
                fence = ""
            lines.append(" " * len(line))
        elif mark:
            fence = mark[1]
            lines.append(" " * len(line))
        elif line.startswith(("    ", "\t")) and after_blank and not in_list:
            lines.append(" " * len(line))
            continue
        else:
            if line.strip() and not line[0].isspace():
                in_list = _LIST.match(line) is not None
            lines.append(line)
        after_blank = not line.strip()
    text = "\n".join(lines)
    return "".join(map(_without_code_spans, re.split(r"(\n\s*\n)", text))) if "`" in text else text


def _without_code_spans(paragraph: str) -> str:
    """The paragraph with spaces in place of its code spans, backticks among them."""
    runs = [(run.start(), run.end()) for run in _TICKS.finditer(paragraph)]
    # The number of the next run of the same length, worked out from the end; 0 if there is none.
    closing: dict[int, int] = {}
    closes = [0] * len(runs)
    for number in range(len(runs) - 1, -1, -1):
        length = runs[number][1] - runs[number][0]
        closes[number] = closing.get(length, 0)
        closing[length] = number
    pieces: list[str] = []
    done, number = 0, 0
    while number < len(runs):
        close = closes[number]
        if close:
            start, end = runs[number][0], runs[close][1]
            pieces += (paragraph[done:start], re.sub(r"[^\n]", " ", paragraph[start:end]))
            done, number = end, close
        number += 1
    return "".join(pieces) + paragraph[done:]


def dead_links(
    links: Iterable[tuple[ProseLink, LinkTarget]], targets: LinkTargets
) -> Iterator[Problem]:
    """Yield a problem for each link whose target is not among ``targets`` or not allowed."""
    for (at, link, is_picture), target in links:
        if target.kind == "design" and target.name not in targets.designs:
            yield _dead_link(at, f"the design {excerpt(target.name)}", target.name, targets.designs)
        elif target.kind == "shelf" and target.name not in targets.shelf:
            kind = target.name.partition("/")[0]
            if kind not in targets.unread:
                of_kind = frozenset(name for name in targets.shelf if name.startswith(f"{kind}/"))
                what = f"{excerpt(target.name)} of the shelf"
                yield _dead_link(at, what, target.name, of_kind or targets.shelf)
        elif target.kind == "comparison" and target.name not in targets.comparisons:
            what = f"the comparison {excerpt(target.name)}"
            yield _dead_link(at, what, target.name, targets.comparisons)
        elif target.kind == "file" and target.name not in targets.files:
            what = f"the link leads to the {'picture' if is_picture else 'file'} {excerpt(link)}"
            yield Problem(at, f"{what}, and there is none", "Mend its name.")
        elif target.kind == "none":
            what = f"the link {excerpt(link)} leads out of the notebook"
            yield Problem(at, what, "Link a file inside it.")
        elif target.kind == "outside" and is_picture:
            hint = "Copy it into the notebook: it must open without a network."
            yield Problem(at, "the picture would be fetched from another site", hint)


def _dead_link(at: Position, what: str, name: str, names: frozenset[str]) -> Problem:
    """The problem that a link leads to ``what``, since ``name`` is none of ``names``."""
    return Problem(at, f"the link leads to {what}, and there is none", spelling_hint(name, names))


class LinkTargets(Struct, frozen=True):
    """All allowed targets: ids of designs and comparisons, "kind/id" of the shelf, files."""

    designs: frozenset[str]
    shelf: frozenset[str]
    comparisons: frozenset[str]
    files: frozenset[str]
    unread: frozenset[str] = frozenset()  # kinds of the shelf in which anything may be
