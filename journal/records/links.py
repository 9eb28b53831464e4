"""Links of the prose: what they point to, and which lead nowhere."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import unquote

from journal.errors import Position, Problem
from journal.records.source import inside
from journal.records.typed import nearest

_FENCE = re.compile(r"^\s{0,3}(```|~~~)")
_INLINE = re.compile(
    r"(!?)\[(?:[^\[\]]|\[[^\[\]]*\])*\]\(\s*<?([^\s<>()]+(?:\([^\s()]*\))?)>?[^)]*\)"
)
_REFERENCE = re.compile(r"^\s{0,3}\[(?!\^)[^\]]+\]:\s*<?(\S+?)>?(?:\s|$)")
_CODE = re.compile(r"(`+)(?:(?!\1).)*\1")
_DESIGN = re.compile(r"^designs/([^/]+)/design\.md$")
_SHELF = re.compile(r"^shelf/([^/]+)\.yaml$")
_COMPARISON = re.compile(r"^comparisons/([^/]+)\.md$")


@dataclass(frozen=True, slots=True)
class Target:
    """What a link of the prose points to.

    ``kind`` is "design", "shelf", "comparison", "file", "outside" (another
    site), "here" (a heading of the same page) or "none"; ``name`` is the id, for
    the shelf "kind/id", for a file its path in the notebook.
    """

    kind: str
    name: str
    fragment: str = ""


def target_of(link: str, folder: str) -> Target:
    """What ``link``, written in a file of ``folder``, points to."""
    if link.startswith("#"):
        return Target("here", "", link[1:])
    if re.match(r"^(https?|mailto):", link):
        return Target("outside", link)
    if re.match(r"^[A-Za-z][A-Za-z0-9+.-]*:", link):
        return Target("none", link)
    path, _, fragment = unquote(link).partition("#")
    file = inside(path, folder)
    if file is None:
        return Target("none", link)
    for kind, pattern in (("design", _DESIGN), ("comparison", _COMPARISON)):
        found = pattern.match(file)
        if found:
            return Target(kind, found[1], fragment)
    found = _SHELF.match(file)
    if found:
        return Target("shelf", f"{found[1]}/{fragment}" if fragment else found[1])
    return Target("file", file, fragment)


def links_in(body: str, path: str, first_line: int) -> Iterator[tuple[Position, str, bool]]:
    """Each link of a Markdown text: its place, where it leads, and whether it is a picture."""
    fenced = ""
    for number, line in enumerate(body.split("\n")):
        fence = _FENCE.match(line)
        if fence:
            if not fenced:
                fenced = fence[1]
            elif fence[1] == fenced:
                fenced = ""
            continue
        if fenced or line.startswith(("    ", "\t")):
            continue
        bare = _CODE.sub(lambda code: " " * len(code[0]), line)
        for found in _INLINE.finditer(bare):
            yield Position(path, first_line + number, found.start() + 1), found[2], bool(found[1])
        reference = _REFERENCE.match(bare)
        if reference:
            yield Position(path, first_line + number, reference.start(1) + 1), reference[1], False


def dead_links(
    body: str,
    path: str,
    first_line: int,
    known: Known,
) -> Iterator[Problem]:
    """A problem for each link of ``body`` that leads nowhere."""
    folder = path.rpartition("/")[0]
    for at, link, picture in links_in(body, path, first_line):
        target = target_of(link, folder)
        if target.kind == "design" and target.name not in known.designs:
            mend = nearest(target.name, known.designs)
            yield Problem(
                at, f'the link leads to the design "{target.name}", and there is none', mend
            )
        elif target.kind == "shelf" and target.name not in known.shelf:
            mend = nearest(target.name, known.shelf)
            yield Problem(at, f'the link leads to "{target.name}", which is not on the shelf', mend)
        elif target.kind == "comparison" and target.name not in known.comparisons:
            mend = nearest(target.name, known.comparisons)
            yield Problem(
                at, f'the link leads to the comparison "{target.name}", and there is none', mend
            )
        elif target.kind == "file" and target.name not in known.files:
            what = "picture" if picture else "file"
            yield Problem(
                at, f'the link leads to the {what} "{link}", and there is none', "Mend its name."
            )
        elif target.kind == "none":
            yield Problem(
                at, f'the link "{link}" leads out of the notebook', "Link a file inside it."
            )
        elif target.kind == "outside" and picture:
            yield Problem(
                at,
                "the picture would be fetched from another site",
                "Copy it into the notebook: it must open without a network.",
            )


@dataclass(frozen=True, slots=True)
class Known:
    """What a link may lead to: ids of designs and comparisons, "kind/id" of the shelf, files."""

    designs: frozenset[str]
    shelf: frozenset[str]
    comparisons: frozenset[str]
    files: frozenset[str]
