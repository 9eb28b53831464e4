"""The parts of the sheets for the bench, ready to print."""

from __future__ import annotations

from markupsafe import Markup
from msgspec import Struct

from journal.pages.parts import Frame, Words


class Column(Struct, frozen=True):
    """A column to fill: its name in the write-up, what belongs into it, and if it is wide."""

    name: str
    hint: str = ""
    wide: bool = False


class Grid(Struct, frozen=True):
    """A blank table; what is printed in its rows already stands in ``rows``."""

    name: str
    says: Words
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


class PourSheet(Struct, frozen=True, tag=True):
    """The sheet of one design: lines to fill, then tables, left and right, then overleaf."""

    frame: Frame
    title: str
    sub: str
    fields: tuple[Column, ...]
    readings: Grid
    bars: Grid
    overleaf: tuple[Grid, ...]
    lead: Words = ()
    folio: str = ""
    about: str = ""


class PhotoCardPage(Struct, frozen=True, tag=True):
    """The drawing of the photo card, and ``stand``, how high its legs are."""

    frame: Frame
    paper: str
    card: Markup
    stand: str
    title: str = "Photo card"
    folio: str = ""
    about: str = "The photo card, to print."
