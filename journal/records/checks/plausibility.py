"""Warn of values that can be read and can hardly be: 640 C, a lip wider than its margin.

Where one slip of the pen explains a value, the hint has what was likely meant. The maker who is
right all the same says ``sure: yes`` in the same row, and nothing more is said of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from journal.errors import Position, Problem, QuantityError
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.quantities.show import show_length, show_temperature_c
from journal.records.models.design_reader import DesignReader
from journal.records.models.fields import validated
from journal.records.models.readings import (
    HOTTEST_BASE_C,
    ReadingRow,
    is_sure,
    mark_of,
    written_readings,
)
from journal.records.models.settings import Settings
from journal.records.models.trim import SAME_BORDER_MM, Trim
from journal.records.models.variants import merged_with_changes
from journal.records.models.write_up import Bar, Design, FollowUp, Pour, Recipe
from journal.records.yaml.tree import WrittenTable, WrittenText

# All of these: common practice, no source.
# Between these a base is liquid and not scorched: what was meant lies there.
LIKELY_BASE_C = (30.0, 95.0)
# Nobody pours in a room that is colder or warmer.
LIKELY_ROOM_C = (0.0, 45.0)
# Two thermometers, one at the wall and one in the pot, differ by no more than this.
THERMOMETERS_DIFFER_K = 2.0
# A bar weighs about what its layers weigh: scent, scraps and drying are far from a factor of 2.
WEIGHT_MAY_DIFFER_TIMES = 2.0
# Air as damp as this wets a bare bar, whose glycerin takes water up.
DAMP_AIR = 0.6
# A design is not left for longer between two pours, and then poured again under its old name.
LONGEST_PAUSE_YEARS = 5

DAYS_A_YEAR = 365.25

_AMOUNT = re.compile(r"(?P<number>[0-9]+(?:\.[0-9]+)?)(?P<blank> ?[°º˚]? ?)(?P<unit>[A-Za-z]+)")


class _Doubt(NamedTuple):
    """A value that can hardly be: of which row and cell, and the sentence about it.

    ``row`` is the position of the row in its record. ``before`` and ``behind`` stand around the
    value as it is written; ``guess`` makes of that what was likely meant, "" for no idea.
    """

    row: Position
    cell: tuple[str, ...]
    before: str
    behind: str
    guess: Callable[[str], str]
    otherwise: str = "Look at it again."


def implausible_values(root: Path, design: Design, settings: Settings) -> Iterator[Problem]:
    """Yield a warning for each value of a design's pours that can hardly be.

    Takes:  root      the notebook's folder
            design    one that was read without a fault
            settings  the studio's, for the room and the scales
    """
    recipes = {variant.name: variant.recipe for variant in design.variants}
    for pour in design.pours:
        doubts = [
            *_temperatures(pour, settings),
            *_lips(pour, recipes),
            *_weights(pour, design, recipes),
            *_growing_weights(pour, settings),
            *_dates(pour, design),
        ]
        if doubts:
            rows = _WrittenRows(root, design, pour)
            # Of one value one thing is said, the first.
            first = {(doubt.row, doubt.cell): doubt for doubt in reversed(doubts)}
            yield from (warning for doubt in first.values() for warning in rows.warnings(doubt))


# What is doubted -------------------------------------------------------------------


def _temperatures(pour: Pour, settings: Settings) -> Iterator[_Doubt]:
    """Doubts of a room, of readings and of pours that are too hot or too cold."""
    room_c = pour.room_c if pour.room_c is not None else settings.room
    low_c, high_c = LIKELY_ROOM_C
    if pour.room_c is not None and not low_c <= pour.room_c <= high_c:
        guess = _temperature_guess(low_c, high_c)
        yield _Doubt(pour.at, ("room",), "", " is hardly the temperature of a room", guess)
        room_c = None
    guess = _temperature_guess(*LIKELY_BASE_C)

    def doubted(row: Position, cell: tuple[str, ...], value_c: float) -> Iterator[_Doubt]:
        if value_c > HOTTEST_BASE_C:
            yield _Doubt(row, cell, "", " is hotter than a base can be", guess)
        elif room_c is not None and value_c < room_c - THERMOMETERS_DIFFER_K:
            behind = f" is colder than the room, {show_temperature_c(room_c)}"
            yield _Doubt(row, cell, "", behind, guess)

    unmelted = {one.pot for one in pour.readings if mark_of(one) == "melted"}
    chilled: set[str] = set()
    for reading in pour.readings:
        mark = mark_of(reading)
        if mark == "melted":
            unmelted.discard(reading.pot)
        if mark in ("melted", "reheated"):
            chilled.discard(reading.pot)
        elif mark == "chilled":
            chilled.add(reading.pot)
        # Base comes cold from the shelf, and stands cold in the chill.
        if reading.temperature_c > HOTTEST_BASE_C or reading.pot not in unmelted | chilled:
            yield from doubted(reading.at, (reading.pot,), reading.temperature_c)
    for layer, value_c in pour.poured_c.items():
        yield from doubted(pour.at, ("poured", layer), value_c)
    for bar in pour.bars:
        for layer, value_c in bar.poured_c.items():
            yield from doubted(bar.at, ("poured", layer), value_c)


def _lips(pour: Pour, recipes: Mapping[str, Recipe]) -> Iterator[_Doubt]:
    """Doubts of lips that are wider than the border that they lay on."""
    for bar in pour.bars:
        lip_mm, trim = bar.measures.get("lip"), recipes[bar.variant].trim
        margin_mm = _margin_of(trim)
        if lip_mm is None or margin_mm is None or isinstance(lip_mm, tuple):
            continue
        most_mm = margin_mm + SAME_BORDER_MM
        if lip_mm > most_mm:
            behind = f" is wider than the margin of {show_length(margin_mm)} that it lay on"
            guess = _guess(read.read_length, 0.0, most_mm, (("cm", "mm"), ("in", "mm")))
            yield _Doubt(bar.at, ("lip",), "a lip of ", behind, guess)


def _margin_of(trim: Trim | None) -> float | None:
    """The margin of a straight trim in mm; None where there is none, or none is written."""
    return None if trim is None or trim.kind != "straight" else trim.margin_mm


def _weights(pour: Pour, design: Design, recipes: Mapping[str, Recipe]) -> Iterator[_Doubt]:
    """Doubts of bars that weigh far more or less than the base in their recipe."""
    variant_of = {bar.bar: bar.variant for bar in pour.bars}
    rows: Sequence[Bar | FollowUp] = (*pour.bars, *pour.later)
    for row in rows:
        weight_g, variant = row.measures.get("weight"), variant_of.get(row.bar)
        if weight_g is None or isinstance(weight_g, tuple) or variant is None:
            continue
        if _is_likely_weight(weight_g, _base_of_bar(recipes[variant])):
            continue
        # Only now, since to merge what was done takes longer than all else.
        base_g = _base_of_bar(_as_done(pour, design, variant))
        if not _is_likely_weight(weight_g, base_g):
            behind = f" is hardly the weight of a bar that holds {base_g:.3g} g of base"
            guess = _guess(
                read.read_mass, base_g / WEIGHT_MAY_DIFFER_TIMES, base_g * WEIGHT_MAY_DIFFER_TIMES,
                (("oz", "g"), ("g", "oz"), ("kg", "g"), ("lb", "oz"), ("lb", "g")),
            )  # fmt: skip
            yield _Doubt(row.at, ("weight",), "", behind, guess)


def _base_of_bar(recipe: Recipe) -> float:
    """The base in a bar in g."""
    return sum(layer.amount for layer in recipe.layers)


def _is_likely_weight(weight_g: float, base_g: float) -> bool:
    """Whether a bar with so much base in it may weigh so much."""
    return base_g / WEIGHT_MAY_DIFFER_TIMES <= weight_g <= base_g * WEIGHT_MAY_DIFFER_TIMES


def _as_done(pour: Pour, design: Design, variant: str) -> Recipe:
    """The recipe of a variant as it was done in a pour."""
    written = design.variant(variant)
    if pour.did is None:
        return written.recipe
    merged = merged_with_changes(written.written, pour.did, [])
    return validated(Recipe, merged, "", []) or written.recipe


def _growing_weights(pour: Pour, settings: Settings) -> Iterator[_Doubt]:
    """Doubts of bars that are heavier at a later look, unless they lay bare in damp air."""
    humidity = pour.humidity if pour.humidity is not None else settings.humidity
    if pour.wrapped_min is None and humidity is not None and humidity >= DAMP_AIR:
        return
    last_g = {bar.bar: bar.measures.get("weight") for bar in pour.bars}
    # One weighing may be rounded up and the other down, on whichever scales.
    step_g = max(settings.scales)
    for look in sorted(pour.later, key=lambda one: one.day):
        weight_g, before_g = look.measures.get("weight"), last_g.get(look.bar)
        if weight_g is None or isinstance(weight_g, tuple):
            continue
        last_g[look.bar] = weight_g
        if before_g is None or isinstance(before_g, tuple) or weight_g <= before_g + step_g:
            continue
        before = f"{excerpt(look.bar)} weighs "
        behind = f" on day {look.day}, {weight_g - before_g:.3g} g more than before"
        hint = "Weigh it again; if it lay bare in damp air, write the pour's humidity."
        yield _Doubt(look.at, ("weight",), before, behind, _no_idea, hint)


def _dates(pour: Pour, design: Design) -> Iterator[_Doubt]:
    """Doubts of a pour before its design, and of one many years after what came before it."""
    if pour.date < design.date:
        behind = f" is before the design's date, {design.date}"
        hint = "Mend the one that is wrong."
        guess = _date_guess(pour.date, design.date, (0,))
        yield _Doubt(pour.at, ("date",), "the pour of ", behind, guess, hint)
        return
    if (pour.date - design.date).days <= LONGEST_PAUSE_YEARS * DAYS_A_YEAR:
        return
    earlier = [one.date for one in design.pours if one.date < pour.date]
    before = max([design.date, *earlier])
    years = (pour.date - before).days / DAYS_A_YEAR
    if years > LONGEST_PAUSE_YEARS:
        behind, guess = (
            f" is {years:.0f} years after {before}",
            _date_guess(pour.date, before, (0, 1)),
        )
        yield _Doubt(pour.at, ("date",), "the pour of ", behind, guess)


# What was likely meant ---------------------------------------------------------------


def _no_idea(_: str) -> str:
    return ""


def _temperature_guess(low_c: float, high_c: float) -> Callable[[str], str]:
    return _guess(read.read_temperature, low_c, high_c, (("C", "F"), ("F", "C")))


def _guess(
    reader: Callable[[str], float], low: float, high: float, units: Sequence[tuple[str, str]]
) -> Callable[[str], str]:
    """A guess at what was meant: another unit, or a point that was lost or slipped.

    ``low`` and ``high`` bound what can be, in the unit that ``reader`` gives; ``units`` are
    pairs of (as written, as meant).
    """

    def meant(text: str) -> str:
        found = _AMOUNT.fullmatch(text.strip())
        if found is None:
            return ""
        number, blank, unit = Decimal(found["number"]), found["blank"], found["unit"]
        texts = [f"{found['number']}{blank}{other}" for one, other in units if one == unit]
        texts += [f"{number.scaleb(shift):f}{blank}{unit}" for shift in (-1, 1)]
        for candidate in texts:
            try:
                value = reader(candidate)
            except QuantityError:
                continue
            if low <= value <= high:
                return candidate
        return ""

    return meant


def _date_guess(written: date, before: date, years: Sequence[int]) -> Callable[[str], str]:
    """A guess at the year of a date that is not before ``before``: its year and ``years`` more."""

    def meant(_: str) -> str:
        for more in years:
            try:
                candidate = written.replace(year=before.year + more)
            except ValueError:  # the 29th of February
                continue
            if candidate >= before:
                return candidate.isoformat()
        return ""

    return meant


# Where it stands ---------------------------------------------------------------------


_SURE_OF_ROW = "add sure: yes to its row"


class _WrittenRows:
    """The rows of a pour as they are written, looked up only where there is a doubt."""

    def __init__(self, root: Path, design: Design, pour: Pour) -> None:
        self._design, self._pour = design, pour
        # All problems of these rows have been told when they were read.
        self._reader = DesignReader(root, design.path.rpartition("/")[0], [])
        pours = design.written.get("pours")
        entries = pours if isinstance(pours, list) else []
        self._tree = next((one for one in entries if one.at == pour.at), WrittenTable(pour.at))

    def warnings(self, doubt: _Doubt) -> Iterator[Problem]:
        """Yield the warning of a doubt, unless the maker is sure of the row."""
        written, sure, how = self._cell(doubt)
        if sure:
            return
        guess = doubt.guess(written) if isinstance(written, WrittenText) else ""
        at = written.at if isinstance(written, WrittenText) else doubt.row
        quoted = excerpt(written) if isinstance(written, WrittenText) else "a value"
        hint = f"Did you mean {excerpt(guess)}?" if guess else doubt.otherwise
        what = f"{doubt.before}{quoted}{doubt.behind}"
        yield Problem(at, what, f"{hint} If it is right, {how}.", warning=True)

    def _cell(self, doubt: _Doubt) -> tuple[Any, bool, str]:
        """The cell as written, whether the row says that it is sure, and how to say so."""
        if doubt.row == self._pour.at:
            cell: Any = self._tree
            for key in doubt.cell:
                cell = cell.get(key) if isinstance(cell, dict) else None
            return cell, is_sure(self._reader, self._tree), "add sure: yes to the pour"
        reading = self._readings.get((doubt.row, doubt.cell[0]))
        if reading is not None:
            return reading.temperature, reading.sure, self._surely(reading)
        row = self._rows.get(doubt.row)
        if row is None:
            return None, False, _SURE_OF_ROW
        cell = row.get(doubt.cell[0])
        if isinstance(cell, dict):
            cell = cell.get(doubt.cell[-1])
        return cell, is_sure(self._reader, row), _SURE_OF_ROW

    @cached_property
    def _rows(self) -> Mapping[Position, WrittenTable]:
        """The rows of bars and of later looks, by their positions."""
        return {
            row.at: row
            for key in ("bars", "later")
            for row in self._reader.rows(self._tree.get(key), key, "", ()) or ()
        }

    @cached_property
    def _readings(self) -> Mapping[tuple[Position, str], ReadingRow]:
        """The readings by the position of their time and their pot."""
        layers = [layer for one in self._design.variants for layer in one.recipe.layers]
        pots = tuple({layer.pot_name for layer in layers})
        rows = written_readings(self._reader, self._tree.get("readings"), pots)
        return {(one.time.at, one.pot): one for one in rows}

    def _surely(self, reading: ReadingRow) -> str:
        """How to say that a reading is right."""
        if not isinstance(self._tree.get("readings"), WrittenTable):
            return 'add a column "sure" that says yes'
        entries = (reading.time, reading.temperature, *filter(None, [reading.did]), "sure: yes")
        return f"write [{', '.join(entries)}]"
