"""The parts of the sheets for the bench, ready to print."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

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


class BenchWindow(Struct, frozen=True):
    """A window of temperature of a pot: what is done in it, between which °C (None: open).

    ``of`` is what is stirred in or poured; ``again`` what the pot is reheated to where it got too
    cold, as shown.
    """

    kind: Literal["scent", "pour"]
    of: str
    low_c: float | None
    high_c: float | None
    shown: str
    again: str = ""


class BenchPot(Struct, frozen=True):
    """A pot of the bench page: what it holds by the recipe, how fast such a pot cools here.

    ``rate_per_min`` is the rate of Newton's law, None where no pot was ever read; one more pot
    lies within a factor of e^``reach`` of it with 95 %, None where too few were.
    """

    name: str
    layers: tuple[str, ...]
    melt: str
    rate_per_min: float | None
    reach: float | None
    windows: tuple[BenchWindow, ...]


BenchTap = Literal["melted", "scented", "tinted", "reheated", "poured", "chill", "wait", "done"]


class BenchStep(Struct, frozen=True):
    """A step of the card: its sentence, and what a tap on it notes.

    ``minutes`` is how long a wait takes, 0 of a step that takes hands.
    """

    says: str
    tap: BenchTap
    pot: str = ""
    layers: tuple[str, ...] = ()
    minutes: int = 0


class BenchMeasure(Struct, frozen=True):
    """A measure of a bar; ``unit`` is what a number that is typed gets behind it."""

    name: str
    title: str
    kind: str
    unit: str
    says: str
    of: int = 5
    better: str = ""


class BenchMould(Struct, frozen=True):
    """How the bars of one filling lie: so many, ``in_row`` of them side by side.

    ``face`` is the width of a bar as it lies over its height.
    """

    name: str
    bars: int
    in_row: int
    face: float


class BenchBar(Struct, frozen=True):
    """A bar of an earlier pour, and the days on which it was looked at again."""

    bar: str
    pour: str
    poured_on: str
    looks: tuple[int, ...]


class BenchPiece(Struct, frozen=True):
    """A piece that a bar can be cast on: its id, and what it is called."""

    id: str
    name: str


class BenchRound(Struct, frozen=True):
    """What is tapped of one pour of a design: its pots, its steps, its bars.

    ``groups`` are the names that a bar has to choose one each of, by the key of a bar. ``labels``
    are those of its pours so far; ``signs`` stand behind date and label in the code of a batch.
    ``poured`` are the bars that can be looked at again, at ``later`` measures.
    """

    design: str
    title: str
    room_c: float
    pots: tuple[BenchPot, ...]
    steps: tuple[BenchStep, ...]
    cautions: str
    groups: Mapping[str, tuple[str, ...]]
    measures: tuple[BenchMeasure, ...]
    bars: int
    mould: BenchMould
    pieces: tuple[BenchPiece, ...]
    labels: tuple[str, ...]
    signs: str
    later: tuple[BenchMeasure, ...] = ()
    poured: tuple[BenchBar, ...] = ()


class BenchCavity(Struct, frozen=True):
    """A cavity of a planned pot: what goes into it ("": either) and the code of its bar.

    ``poured`` and ``peeled`` are its places in the order of pouring and of peeling, from 1; None
    where any order will do.
    """

    at: str
    variant: str
    poured: int
    peeled: int | None
    code: str


class BenchTurn(Struct, frozen=True):
    """A pour that can be begun on the page: of which round (``of``), and under which key it is
    kept on a phone.

    ``name`` tells it from the others; ``day`` counts the days of a plan (0: none), ``begins`` is
    the time by the clock. ``filled`` is what all bars have, by the key of a bar; ``cavities`` what
    is planned of each under the key ``planned``. With ``counted`` its bars are handed in once all
    is poured, looked at or not. With ``over`` it is in the write-up, and not begun again.

    With a letter in ``pour`` nothing is poured: the bars of that pour of the write-up, of the day
    ``poured_on``, are judged, and stand in ``cavities`` by their names.
    """

    key: str
    of: int
    name: str = ""
    day: int = 0
    begins: str = ""
    filled: Mapping[str, str] = {}
    planned: str = ""
    cavities: tuple[BenchCavity, ...] = ()
    counted: bool = False
    over: bool = False
    pour: str = ""
    poured_on: str = ""


class BenchFacts(Struct, frozen=True):
    """What the script of a bench page knows.

    ``page`` names its files; ``lettered``: a pour gets its letter as it is begun. ``by`` are those
    who poured last. ``t_95`` is Student's t for a 95 % interval by degrees of freedom from 1 on,
    ``bend`` the F above which readings bend away, by their number from ``bend_from`` on;
    ``reading_k`` is how far a reading of the thermometer may be off.
    """

    notebook: str
    page: str
    lettered: bool
    degree: Literal["F", "C"]
    room: str
    mass_unit: str
    by: tuple[str, ...]
    rounds: tuple[BenchRound, ...]
    turns: tuple[BenchTurn, ...]
    looks: tuple[int, ...]
    spoilt: tuple[str, ...]
    new_run: tuple[str, ...]
    t_95: tuple[float, ...]
    bend: tuple[float, ...]
    bend_from: int
    reading_k: float


class BenchPage(Struct, frozen=True):
    """A bench page: its sheets to print, which a script replaces on a screen.

    It is one file, set by the program's own template alone, since what it notes is kept and
    handed over.
    """

    sheets: tuple[PourSheet, ...]
    title: str
    facts: BenchFacts

    @property
    def frame(self) -> PageFrame:
        """The frame of its sheets."""
        return self.sheets[0].frame

    @property
    def dangers(self) -> tuple[str, ...]:
        """What is said above all else, each once."""
        return tuple(dict.fromkeys(text for sheet in self.sheets for text in sheet.dangers))


class PhotoCardPage(Struct, frozen=True, tag=True):
    """The page with the drawing of the photo card; ``stand`` is the height of its legs."""

    frame: PageFrame
    paper: str
    card: Markup
    stand: str
    title: str = "Photo card"
    folio: str = ""
    about: str = "The photo card, to print."
