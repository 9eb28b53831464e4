"""Thermometer readings of a pour, in any of the forms allowed, and what is odd about them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from journal.errors import Problem
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.records.models.design_reader import DesignReader
from journal.records.models.fields import spelling_hint
from journal.records.models.write_up import Reading
from journal.records.yaml.tree import WrittenBlock, WrittenList, WrittenTable, WrittenText

# Marks that steer a figure; any other text beside a reading is a note.
MARKS = ("melted", "drawn", "tinted", "scented", "reheated", "poured", "chilled")
CSV_COLUMNS = ("pot", "time", "temperature", "did")
# A thermometer of the kitchen is read to a degree Fahrenheit: 1 F, exactly.
READ_TO_C = 5 / 9
# The sum of a few conversions may be off by this much.
_ROUNDING_C = 1e-9


class _Row(NamedTuple):
    """A reading as it is written."""

    pot: str
    time: WrittenText
    temperature: WrittenText
    did: str


def mark_of(reading: Reading) -> str:
    """The mark of a reading, its first word; empty if that is no mark."""
    word = reading.did.partition(" ")[0].rstrip(",;.:")
    return word if word in MARKS else ""


def read_readings(reader: DesignReader, tree: Any, pots: Sequence[str]) -> tuple[Reading, ...]:
    """All readings of a pour that can be read; what cannot is a problem."""
    if tree is None:
        return ()
    if isinstance(tree, WrittenTable):
        rows = _by_pot(reader, tree, pots)
    elif isinstance(tree, WrittenBlock):
        rows = _in_columns(reader, tree, pots)
    elif isinstance(tree, WrittenText) and tree:
        rows = _in_csv(reader, tree, pots)
    elif isinstance(tree, WrittenText):
        reader.problem(tree.at, "there is no value", "Write readings, or take the key away.")
        return ()
    else:
        reader.problem(tree.at, "readings go by pot", "Write {body: [[0:00, 152 F], …]}.")
        return ()
    return _checked(reader, rows)


def _by_pot(reader: DesignReader, tree: WrittenTable, pots: Sequence[str]) -> Iterator[_Row]:
    """The readings of a mapping of pots to lists."""
    for pot, rows in tree.items():
        if not reader.is_known_key(tree, pot, pots, "pot"):
            continue
        if not isinstance(rows, WrittenList):
            hint = "Write [[0:00, 152 F], [0:08, 140 F]]."
            reader.problem(rows.at, f"the readings of {excerpt(pot)} are a list", hint)
            continue
        for row in rows:
            comma = _decimal_comma(row)
            if comma is not None:
                reader.value(comma, read.read_temperature)
                continue
            if not isinstance(row, WrittenList) or len(row) not in (2, 3):
                what = "a reading is a time, a temperature, and a mark if there is one"
                reader.problem(row.at, what, "Write [0:08, 140 F, scented].")
                continue
            did = row[2] if len(row) == 3 else ""
            if not isinstance(did, str):
                reader.problem(did.at, "a mark is a word", "Write [0:08, 140 F, scented].")
                continue
            yield _Row(pot, row[0], row[1], str(did))


def _decimal_comma(row: Any) -> WrittenText | None:
    """The temperature of a reading such as [0:08, 140,5 F], which a comma has cut in two."""
    if not isinstance(row, WrittenList) or len(row) not in (3, 4):
        return None
    whole, rest = row[1], row[2]
    if not isinstance(whole, WrittenText) or not isinstance(rest, WrittenText):
        return None
    if not whole.isdigit() or not rest[:1].isdigit():
        return None
    return WrittenText(f"{whole},{rest}", whole.at)


def _in_columns(reader: DesignReader, tree: WrittenBlock, pots: Sequence[str]) -> Iterator[_Row]:
    """The readings of a text table, which has a column for each pot."""
    for row in reader.columns(tree):
        time = row.get("time")
        if time is None:
            reader.problem(row.at, "the row has no time", 'Name the first column "time".')
            continue
        did = str(row.get("did", ""))
        about, _, mark = did.partition(" ")
        for pot, cell in row.items():
            if pot in ("time", "did") or not reader.is_known_key(row, pot, pots, "pot"):
                continue
            if about in pots:
                yield _Row(pot, time, cell, mark if about == pot else "")
            else:
                yield _Row(pot, time, cell, did)


def _in_csv(reader: DesignReader, tree: WrittenText, pots: Sequence[str]) -> Iterator[_Row]:
    """The readings of a CSV file, which has a row for each."""
    for row in reader.csv(tree) or ():
        for key in row:
            if key not in CSV_COLUMNS:
                hint = spelling_hint(key, CSV_COLUMNS)
                reader.problem(row.key_at(key), f"unknown column {excerpt(key)}", hint)
        lacking = [key for key in CSV_COLUMNS[:3] if key not in row]
        if lacking:
            reader.problem(row.at, f'the row has no "{lacking[0]}"', "Fill the cell.")
        elif reader.is_known(row["pot"], row["pot"].at, pots, "pot"):
            yield _Row(str(row["pot"]), row["time"], row["temperature"], str(row.get("did", "")))


def _checked(reader: DesignReader, rows: Iterable[_Row]) -> tuple[Reading, ...]:
    """The readings that can be read and stand in the order of their times."""
    readings: list[Reading] = []
    of_pot: dict[str, list[tuple[Reading, WrittenText]]] = {}
    forms: dict[str, str] = {}
    for pot, time, temperature, did in rows:
        moment = reader.value(time, read.read_moment)
        degrees = reader.value(temperature, read.read_temperature)
        if moment is None or degrees is None:
            continue
        if forms.setdefault(pot, moment.form) != moment.form:
            what = f"{excerpt(time)} is another way of writing times than above in the pot"
            reader.problem(time.at, f"{what} {excerpt(pot)}", "Keep to one way within a pot.")
            continue
        before = of_pot.setdefault(pot, [])
        if before and moment.minutes < before[-1][0].minutes:
            what = f"{excerpt(time)} goes back in time in the pot {excerpt(pot)}"
            reader.problem(time.at, what, "Put readings in order.")
            continue
        reading = Reading(pot, moment.minutes, degrees, did, time.at)
        before.append((reading, temperature))
        readings.append(reading)
    hint = "Mark the reading as reheated, or check the temperatures."
    for pot, with_texts in of_pot.items():
        for temperature in _rises(with_texts):
            what = f"the pot {excerpt(pot)} rises to {excerpt(temperature)}"
            what += ", and no mark says that it was reheated"
            reader.problem(temperature.at, what, hint, warning=True)
    return tuple(readings)


def _rises(readings: Sequence[tuple[Reading, WrittenText]]) -> Iterator[WrittenText]:
    """Where a pot rises by more than a thermometer strays, and nothing says why.

    Until it is melted a pot rises, and that needs no mark.
    """
    marks = [mark_of(reading) for reading, _ in readings]
    first = marks.index("melted") if "melted" in marks else 0
    for number in range(first + 1, len(readings)):
        rise_c = readings[number][0].temperature_c - readings[number - 1][0].temperature_c
        if rise_c > READ_TO_C + _ROUNDING_C and "reheated" not in marks[number - 1 : number + 1]:
            yield readings[number][1]


def poured_twice(
    poured: WrittenTable, poured_c: Mapping[str, float], readings: Sequence[Reading],
    pot_of: Mapping[str, str],
) -> Iterator[Problem]:  # fmt: skip
    """A warning for each temperature at the pour that its pot's readings contradict.

    ``poured`` is the mapping as written, ``pot_of`` the pot of each layer. In a pot
    of several layers it is only clear which reading is which when each has one.
    """
    layers_of: dict[str, list[str]] = {}
    for layer, pot in pot_of.items():
        layers_of.setdefault(pot, []).append(layer)
    for layer, noted_c in poured_c.items():
        pot = pot_of.get(layer, "")
        marked = [r for r in readings if r.pot == pot and mark_of(r) == "poured"]
        if not marked or len(marked) < len(layers_of.get(pot, ())):
            continue
        if min(abs(r.temperature_c - noted_c) for r in marked) > READ_TO_C + _ROUNDING_C:
            what = (
                f"{excerpt(layer)} was poured at {excerpt(poured[layer])}, and the reading on line"
                f" {marked[-1].at.line} that is marked poured says otherwise"
            )
            yield Problem(poured[layer].at, what, "Keep the one that is right.", warning=True)
