"""The parts of the sheets for the bench, ready to print."""

from __future__ import annotations

from markupsafe import Markup
from msgspec import Struct

from journal.html.blocks import PageFrame, Words


class BlankColumn(Struct, frozen=True):
    """A column to fill in: its name in the write-up, a hint what goes there, and whether wide."""

    name: str
    hint: str = ""
    wide: bool = False


class BlankTable(Struct, frozen=True):
    """A table to fill in; ``rows`` has the text already printed in each cell, mostly "".

    ``head`` is what it is called in print; without one it is its name.
    """

    name: str
    says: Words
    columns: tuple[BlankColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    head: str = ""


class PlanSheets(Struct, frozen=True):
    """The pages of a planned test: for the one who pours, and for the one who judges."""

    says: tuple[str, ...]
    pots: tuple[BlankTable, ...]
    judging_says: str
    judging: tuple[BlankTable, ...]


class PourSheet(Struct, frozen=True, tag=True):
    """The pour-day sheet of a design: fields to fill in, two tables, and more overleaf.

    ``dangers`` are printed above all else, in the largest type of the sheet. ``plan`` is None
    where no test is planned.
    """

    frame: PageFrame
    title: str
    sub: str
    fields: tuple[BlankColumn, ...]
    readings: BlankTable
    bars: BlankTable
    overleaf: tuple[BlankTable, ...]
    standfirst: Words = ()
    folio: str = ""
    about: str = ""
    dangers: tuple[str, ...] = ()
    plan: PlanSheets | None = None


class PhotoCardPage(Struct, frozen=True, tag=True):
    """The page with the drawing of the photo card; ``stand`` is the height of its legs."""

    frame: PageFrame
    paper: str
    card: Markup
    stand: str
    title: str = "Photo card"
    folio: str = ""
    about: str = "The photo card, to print."
