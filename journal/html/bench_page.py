"""The parts of the sheets for the bench, ready to print."""

from __future__ import annotations

from markupsafe import Markup
from msgspec import Struct

from journal.html.blocks import PageFrame, Words


class BlankColumn(Struct, frozen=True):
    """A column to fill: its name in the write-up, what belongs into it, and if it is wide."""

    name: str
    hint: str = ""
    wide: bool = False


class BlankTable(Struct, frozen=True):
    """A blank table; what is printed in its rows already stands in ``rows``."""

    name: str
    says: Words
    columns: tuple[BlankColumn, ...]
    rows: tuple[tuple[str, ...], ...]


class PourSheet(Struct, frozen=True, tag=True):
    """The sheet of one design: lines to fill, then tables, left and right, then overleaf."""

    frame: PageFrame
    title: str
    sub: str
    fields: tuple[BlankColumn, ...]
    readings: BlankTable
    bars: BlankTable
    overleaf: tuple[BlankTable, ...]
    lead: Words = ()
    folio: str = ""
    about: str = ""


class PhotoCardPage(Struct, frozen=True, tag=True):
    """The drawing of the photo card, and ``stand``, how high its legs are."""

    frame: PageFrame
    paper: str
    card: Markup
    stand: str
    title: str = "Photo card"
    folio: str = ""
    about: str = "The photo card, to print."
