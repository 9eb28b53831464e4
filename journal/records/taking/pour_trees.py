"""Trees of pours that are taken, their rows, and whether two pours or values are the same."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct

from journal.errors import Position
from journal.records.models.design_reader import EMPTY_CELLS
from journal.records.models.write_up import Bar, FollowUp, Pour, Reading
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText


class TakenRows(Struct):
    """Rows of bars and of later looks that were taken of one pour."""

    bars: Sequence[WrittenTable]
    later: Sequence[WrittenTable]


def complete_names(rows: Sequence[WrittenTable], label: str, known: Mapping[str, Any]) -> None:
    """Put the pour's letter before bars that are only numbered, as on the printed sheet."""
    for row in rows:
        name = row.get("bar")
        if isinstance(name, WrittenText) and name.isdigit() and str(name) not in known:
            row["bar"] = WrittenText(f"{label}{name}", name.at)


def headed_tree(pour: Pour, at: Position) -> WrittenTable:
    """The tree of a pour with its label and date alone, at another place."""
    tree = WrittenTable(at)
    for key, text in (("pour", pour.label), ("date", pour.date.isoformat())):
        tree.put(key, WrittenText(text, at), at)
    return tree


def with_rows(tree: WrittenTable, rows: TakenRows) -> WrittenTable:
    """A pour's tree with rows of bars and of later looks."""
    whole = tree.copy()
    for key, of_key in (("bars", rows.bars), ("later", rows.later)):
        if of_key:
            listed = WrittenList(of_key[0].at)
            listed += of_key
            whole.put(key, listed, listed.at)
    return whole


def named_as(tree: WrittenTable, rows: TakenRows, label: str) -> WrittenTable:
    """A pour's tree with a label, and with its rows, whose bars are called by it."""
    named = TakenRows([row.copy() for row in rows.bars], [row.copy() for row in rows.later])
    for of_bars in (named.bars, named.later):
        complete_names(of_bars, label, {})
    whole = with_rows(tree, named)
    whole.put("pour", WrittenText(label, tree.at), tree.at)
    return whole


def pour_as_read(pour: Pour) -> Any:
    """What a pour says, without its places in a file; keys that are only passed on left out."""
    readings = sorted((r.pot, r.minutes, r.temperature_c, r.did) for r in pour.readings)
    bars = [(b.bar, b.variant, b.piece, b.poured_c, b.measures, b.note, b.cavity, b.peeled,
             b.spoilt) for b in pour.bars]  # fmt: skip
    later = [(look.bar, look.day, look.measures) for look in pour.later]
    return (pour.label, pour.date, pour.room_c, pour.humidity, pour.wrapped_min, pour.melted_g,
            pour.poured_c, readings, bars, later)  # fmt: skip


def may_be_same_pour(pour: Pour, old: Pour) -> bool:
    """Whether a pour may be one of the write-up: of its day, its pots in use at the same time.

    Where either has no readings, the day alone says so.
    """
    if pour.date != old.date:
        return False
    if not pour.readings or not old.readings:
        return True
    spans = [
        {pot: [one.minutes for one in of_pour.readings if one.pot == pot]
         for pot in dict.fromkeys(one.pot for one in of_pour.readings)}
        for of_pour in (pour, old)
    ]  # fmt: skip
    return any(
        min(times) <= max(spans[1][pot]) and min(spans[1][pot]) <= max(times)
        for pot, times in spans[0].items()
        if pot in spans[1]
    )


def with_rest(row: WrittenTable, old: WrittenTable | None) -> WrittenTable:
    """A row with what it leaves open as it is in the write-up."""
    whole = row.copy()
    for key in old or ():
        if key not in whole and old is not None:
            whole.put(key, old[key], old.key_at(key))
    return whole


def is_empty(cell: Any) -> bool:
    """Whether a cell holds nothing, or is not there."""
    return cell is None or cell in EMPTY_CELLS


def value_of_cell(row: Bar | FollowUp, name: str, cell: Any) -> Any:
    """What a cell of a row was read as; its text where it is no quantity."""
    measures = {**row.set_aside, **row.measures} if isinstance(row, Bar) else row.measures
    if name in measures:
        return measures[name]
    if isinstance(row, Bar) and name == "poured":
        return row.poured_c
    if isinstance(row, Bar) and name == "at":
        return row.cavity
    if isinstance(row, Bar) and name == "peeled":
        return row.peeled
    return str(cell)


def same_reading(one: Reading, other: Reading) -> bool:
    """Whether two readings of a pot say the same."""
    return (one.minutes, one.temperature_c, one.did) == (
        other.minutes, other.temperature_c, other.did,
    )  # fmt: skip
