"""A mat's motif as a drawing program saved it: the paths of an SVG file, and nothing else of it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, NoReturn
from xml.parsers import expat

from msgspec import Struct

from journal.errors import Position, QuantityError
from journal.quantities.number import excerpt
from journal.quantities.path_data import (
    IDENTITY,
    MOST_SEGMENTS,
    Matrix,
    PathError,
    PathSegment,
    bounds,
    joined,
    moved,
    on_points,
    read_path,
    read_transform,
)
from journal.quantities.written_forms import WrittenForm
from journal.records.yaml.source import position_in, read_text
from journal.records.yaml.tree import content_error

FOLDER: Final = "shelf/outlines"
#: A handsome motif takes 3 kB; it stands on every page that draws a bar of it.
LARGEST_BYTES: Final = 16 * 1024
FILE_NAME: Final = WrittenForm(r"[a-z0-9][a-z0-9-]{0,62}\.svg")
_FILE_NAME: Final = re.compile(FILE_NAME.pattern)
# Elements that are read, each with its attributes; an id is read past, and never shown.
_READ: Final = {
    "svg": frozenset(("xmlns", "version", "width", "height", "viewBox", "id")),
    "g": frozenset(("transform", "id")),
    "path": frozenset(("d", "transform", "id")),
}
_KEEP: Final = "Save it as plain paths: <path d> alone, in <svg> or <g>."


class Outline(Struct, frozen=True):
    """A motif's outline: the name of its file, and its paths between (0, 0) and ``size``.

    Its units are the file's own; what counts is the shape. Without ``paths`` it was not read.
    """

    file: str
    size: tuple[float, float] = (0.0, 0.0)
    paths: tuple[PathSegment, ...] = ()


def read_outline_name(text: str) -> Outline:
    """An outline that is still to be read, by the name of its file; QuantityError for no name."""
    if not _FILE_NAME.fullmatch(text):
        hint = f"Write its name in {FOLDER}, such as kelp.svg: small letters, digits, hyphens."
        raise QuantityError(f"{excerpt(text)} is no file of an outline", hint)
    return Outline(text)


def read_outline(root: Path, name: str) -> Outline:
    """Read the outline in the file ``name`` of the folder of outlines.

    Fails:  ContentError, with the place, for a file that cannot be read, or that holds anything
            but paths: what would run, fetch or stand for something else is never read past
    """
    path = f"{FOLDER}/{name}"
    text = read_text(root, path)
    if len(text.encode()) > LARGEST_BYTES:
        hint = f"Draw it with fewer points: at most {LARGEST_BYTES // 1024} kB."
        raise content_error(Position(path), "the outline is too large", hint)
    return _OutlineReader(path, text).read(name)


class _OutlineReader:
    """Reads one file; expat is told to stop at the first thing that is no path."""

    def __init__(self, path: str, text: str) -> None:
        self._path, self._text = path, text
        self._open: list[Matrix] = []
        self._found: list[PathSegment] = []
        self._parser = parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = lambda _: self._open.pop()
        parser.CharacterDataHandler = self._characters
        parser.ProcessingInstructionHandler = lambda *_: self._refuse("a processing instruction")
        # Entities are declared in a DOCTYPE alone: without one there is nothing to expand.
        parser.StartDoctypeDeclHandler = lambda *_: self._refuse("a DOCTYPE")
        parser.StartCdataSectionHandler = lambda: self._refuse("a CDATA section")

    def read(self, name: str) -> Outline:
        """The outline of the whole file."""
        try:
            self._parser.Parse(self._text, True)
        except expat.ExpatError as error:
            at = Position(self._path, error.lineno, error.offset + 1)
            what = f"this is no SVG ({expat.ErrorString(error.code)})"
            raise content_error(at, what, _KEEP) from None
        ends = bounds(self._found)
        if ends is None or ends[0][0] >= ends[1][0] or ends[0][1] >= ends[1][1]:
            what = "there is no path in it that has a width and a height"
            raise content_error(Position(self._path), what, _KEEP)
        (left, top), (right, foot) = ends
        paths = on_points(self._found, lambda point: (point[0] - left, point[1] - top))
        return Outline(name, (right - left, foot - top), paths)

    @property
    def _at(self) -> Position:
        """Where the parser has come to."""
        parser = self._parser
        return Position(self._path, parser.CurrentLineNumber, parser.CurrentColumnNumber + 1)

    def _place_in(self, attribute: str, offset: int) -> Position:
        """The place of a character of an attribute of the element that is being read."""
        start = len(self._text.encode()[: self._parser.CurrentByteIndex].decode())
        value = re.compile(rf"\s{attribute}\s*=\s*[\"']").search(self._text, start)
        assert value is not None
        return position_in(self._text, value.end() + offset, self._path)

    def _refuse(self, what: str, hint: str = _KEEP) -> NoReturn:
        """Raise the error that ``what`` stands in the file, where the parser has come to."""
        raise content_error(self._at, f"{what} stands in the outline", hint)

    def _characters(self, text: str) -> None:
        if text.strip():
            self._refuse(f"the text {excerpt(text.strip())}")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        """Take an element: it is listed, with no attribute but listed ones, and stands right."""
        listed = _READ.get(tag)
        if listed is None or (tag == "svg") != (not self._open):
            self._refuse(f"<{tag[:40]}>")
        for name, value in attributes.items():
            if name not in listed:
                self._refuse(f"the attribute {excerpt(name)}")
            if name == "viewBox" and not _is_view_box(value):
                self._refuse(f"the viewBox {excerpt(value)}", "Write four numbers: 0 0 64 44.")
        place = self._open[-1] if self._open else IDENTITY
        reading = "transform"
        try:
            if "transform" in attributes:
                place = joined(place, read_transform(attributes["transform"]))
            reading = "d"
            drawn = read_path(attributes.get("d", "")) if tag == "path" else ()
        except PathError as error:
            at = self._place_in(reading, error.offset)
            raise content_error(at, error.what, error.hint) from None
        self._open.append(place)
        self._found.extend(on_points(drawn, lambda point: moved(place, point)))
        if len(self._found) > MOST_SEGMENTS:
            self._refuse(f"more than {MOST_SEGMENTS} pieces", "Draw it with fewer points.")


def _is_view_box(text: str) -> bool:
    """Whether a text is four numbers, of which the last two are above 0."""
    try:
        numbers = [float(number) for number in re.split(r"[\s,]+", text.strip())]
    except ValueError:
        return False
    return len(numbers) == 4 and numbers[2] > 0 and numbers[3] > 0
