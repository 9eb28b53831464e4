"""Pours of a write-up: their readings, bars and follow-ups, in any of the forms allowed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from msgspec import Struct, field

from journal.errors import Position, Problem
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.records.models.fields import spelling_hint, validated
from journal.records.models.gather import EMPTY_CELLS, DesignReader
from journal.records.models.readings import poured_twice, read_readings
from journal.records.models.salvage import salvage
from journal.records.models.settings import Measure, WrittenMeasureKind
from journal.records.models.variants import ReadVariants, merged_with_changes
from journal.records.models.write_up import (
    AS_WRITTEN,
    Bar,
    FollowUp,
    Pour,
    Recipe,
    Variant,
    WrittenPour,
)
from journal.records.yaml.tree import SourceTree, WrittenList, WrittenTable, WrittenText

Measured = float | bool | tuple[float, float, float]
# How is each kind of measure read?
_READERS: Mapping[WrittenMeasureKind, Callable[[str], Any]] = {
    "length": read.read_length,
    "count": read.read_count,
    "time": read.read_duration,
    "mass": read.read_mass,
    "rating": read.read_number,
    "yes-no": read.read_yes_no,
}
_OF_FOLLOW_UPS = ("bar", "day", "note")


class PourReader(Struct):
    """Reads the pours of one design, and collects their problems."""

    gather: DesignReader
    variants: ReadVariants
    measures: Mapping[str, Measure]
    all_measures: bool = True  # whether a measure that is not among them is unknown
    #: Every bar that has a name, with its place, whatever else is wrong with it.
    bars_seen: dict[str, Position] = field(default_factory=dict)
    #: Whether the bars of some pour could not be read, so that any bar may be there.
    bars_unread: bool = False
    _pots: tuple[str, ...] = ()
    _layers: tuple[str, ...] = ()
    _of_bars: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        layers = [layer for variant in self.variants.made for layer in variant.recipe.layers]
        self._pots = tuple(sorted({layer.pot_name for layer in layers}))
        self._layers = tuple(sorted({layer.name for layer in layers}))
        self._of_bars = ("bar", "variant", "piece", "poured", "note", *self.variants.groups)

    def read_pours(self, tree: Any) -> tuple[Pour, ...]:
        """All pours that can be read; what cannot is a problem."""
        if tree is None:
            return ()
        if not isinstance(tree, WrittenList):
            self.gather.problem(tree.at, "pours are a list", 'Begin each with "- pour: A".')
            return ()
        pours: list[Pour] = []
        labels: dict[str, Position] = {}
        for number, entry in enumerate(tree):
            if not isinstance(entry, WrittenTable):
                self.gather.problem(entry.at, "a pour is a mapping", 'Write "date: …" and so on.')
                continue
            pour = self._pour(entry, number)
            if pour is None:
                continue
            at = entry["pour"].at if "pour" in entry else entry.at
            if pour.label in labels:
                self.gather.problem(
                    at,
                    f"two pours are called {excerpt(pour.label)}, first on line"
                    f" {labels[pour.label].line}",
                    "Rename one.",
                )
            labels[pour.label] = at
            pours.append(pour)
        return tuple(pours)

    def _pour(self, tree: WrittenTable, number: int) -> Pour | None:
        gather = self.gather
        written = validated(WrittenPour, tree, "pour", gather.problems)
        sound = written is not None
        if written is None:
            salvaged = salvage(WrittenPour, tree)
            if salvaged is None:
                return None
            written, tree = salvaged
        label = written.pour or chr(ord("A") + number % 26) + (
            str(number // 26) if number > 25 else ""
        )
        for pot, _ in written.melted:
            gather.known_key(tree["melted"], pot, self._pots, "pot")
        for layer, _ in written.poured:
            gather.known_key(tree["poured"], layer, self._layers, "layer")
        did = self._did(tree.get("did"), label)
        before = len(self.bars_seen)
        bars = self._bars(tree.get("bars"), label)
        of_this_pour = list(self.bars_seen)[before:]
        readings = read_readings(gather, tree.get("readings"), self._pots)
        poured_c = dict(written.poured)
        if poured_c and readings:
            pots = {layer.name: layer.pot_name for layer in self.variants.made[0].recipe.layers}
            gather.problems.extend(poured_twice(tree["poured"], poured_c, readings, pots))
        later = self._later(tree.get("later"), of_this_pour)
        if not sound:
            return None
        return Pour(
            label=label,
            date=written.date,
            room_c=written.room,
            melted_g=dict(written.melted),
            readings=readings,
            poured_c=poured_c,
            did_source=None if did is None else SourceTree(did),
            bars=bars,
            later=later,
            private=written.private,
            at=tree.at,
        )

    def _did(self, did: Any, label: str) -> WrittenTable | None:
        """What was done where it differs, checked as if it were a variant of each variant."""
        if did is None:
            return None
        if not isinstance(did, WrittenTable):
            self.gather.problem(
                did.at, '"did" is a mapping of what differed', "Write {layers: {…}}."
            )
            return None
        problems: dict[Problem, None] = {}
        for variant in self.variants.made:
            found: list[Problem] = []
            merged = merged_with_changes(variant.written, did, found)
            validated(Recipe, merged, f"pour {excerpt(label)} as it was done", found)
            problems.update(dict.fromkeys(found))
        self.gather.problems.extend(problems)
        return did

    # Bars.

    def _bars(self, tree: Any, label: str) -> tuple[Bar, ...]:
        rows = self.gather.rows(tree, "bars", "{bar: A1, …}")
        if rows is None:
            self.bars_unread = True
            return ()
        found = [self._bar(row, label) for row in rows]
        return tuple(bar for bar in found if bar is not None)

    def _word(self, row: WrittenTable, key: str) -> str:
        """The words at ``key``; empty where there are none."""
        cell = row.get(key, "")
        if isinstance(cell, str):
            return "" if cell in EMPTY_CELLS else str(cell)
        self.gather.problem(cell.at, f"{excerpt(key)} is one value", "Write a single value.")
        return ""

    def _bar(self, row: WrittenTable, label: str) -> Bar | None:
        if "bar" not in row or row["bar"] in EMPTY_CELLS:
            self.gather.problem(row.at, "the bar has no name", 'Add "bar: A1".')
            return None
        name = self._word(row, "bar")
        first = self.bars_seen.get(name)
        if first is not None:
            self.gather.problem(
                row["bar"].at,
                f"two bars are called {excerpt(name)}, first on line {first.line}",
                "Rename one.",
            )
        elif name:
            self.bars_seen[name] = row["bar"].at
        chosen = self._variant_of(row)
        # A variant whose recipe has an error is no further help here; its error is reported there.
        variant = next((v for v in self.variants.made if v.name == chosen), None)
        poured_c = self._poured(row["poured"], variant) if "poured" in row else {}
        values = self._measures(row, self._of_bars)
        piece, note = self._word(row, "piece"), self._word(row, "note")
        if variant is None or not name or first is not None:
            return None
        return Bar(
            bar=name,
            pour=label,
            variant=variant.name,
            piece=piece or None,
            poured_c=poured_c,
            measures=values,
            note=note,
            at=row.at,
            piece_at=row["piece"].at if piece else None,
        )

    def _poured(self, poured: Any, variant: Variant | None) -> dict[str, float]:
        """Temperatures at the pour by layer; one alone is that of the last layer."""
        poured_c: dict[str, float] = {}
        if isinstance(poured, WrittenTable):
            for layer, cell in poured.items():
                degrees = self.gather.value(cell, read.read_temperature)
                known = self.gather.known_key(poured, layer, self._layers, "layer")
                if known and degrees is not None:
                    poured_c[layer] = degrees
        elif not isinstance(poured, str) or poured not in EMPTY_CELLS:
            degrees = self.gather.value(poured, read.read_temperature)
            if degrees is not None and variant is not None:
                poured_c[variant.recipe.layers[-1].name] = degrees
        return poured_c

    def _variant_of(self, row: WrittenTable) -> str | None:
        names, cell = self.variants.names, row.get("variant")
        absent = cell is None or cell in EMPTY_CELLS
        if self.variants.groups and absent:
            return self._choices_of(row)
        if names == (AS_WRITTEN,):
            if absent or cell == AS_WRITTEN:
                return AS_WRITTEN
            self.gather.problem(
                row["variant"].at,
                "the write-up names no variants",
                "Name them under variants, or leave it away.",
            )
            return None
        if absent:
            self.gather.problem(
                row.at,
                "the bar does not say its variant",
                f"Add {excerpt(f'variant: {names[0]}')}.",
            )
            return None
        name = self._word(row, "variant")
        return name if name and self.gather.known(row["variant"], names, "variant") else None

    def _choices_of(self, row: WrittenTable) -> str | None:
        picks = []
        for group, choices in self.variants.groups.items():
            if row.get(group, "") in EMPTY_CELLS:
                self.gather.problem(
                    row.at, f"the bar does not say its {excerpt(group)}",
                    f"Add {excerpt(f'{group}: {choices[0]}')}.",
                )  # fmt: skip
                return None
            name = self._word(row, group)
            if not name or not self.gather.known(row[group], choices, group):
                return None
            picks.append(name)
        return "/".join(picks)

    def _measures(self, row: WrittenTable, own: Sequence[str]) -> dict[str, Measured]:
        values: dict[str, Measured] = {}
        for name, cell in row.items():
            if name in own:
                continue
            measure = self.measures.get(name)
            if measure is None and not self.all_measures:
                continue
            if measure is None:
                self.gather.problem(
                    row.key_at(name), f"unknown measure {excerpt(name)}",
                    spelling_hint(name, (*own, *self.measures)),
                )  # fmt: skip
            elif cell not in EMPTY_CELLS:
                value = self._measured(cell, measure)
                if value is not None:
                    values[name] = value
        return values

    def _measured(self, cell: Any, measure: Measure) -> Measured | None:
        if measure.kind == "colour":
            return self._colour(cell, measure)
        value: float | bool | None = self.gather.value(cell, _READERS[measure.kind])
        if measure.kind == "rating" and value is not None and not 1 <= value <= measure.of:
            self.gather.problem(
                cell.at,
                f"{excerpt(measure.name)[1:-1]} {excerpt(cell)} lies outside 1 to {measure.of}",
                f"Write a number from 1 to {measure.of}.",
            )
            return None
        return value

    def _colour(self, cell: Any, measure: Measure) -> tuple[float, float, float] | None:
        entries: Sequence[Any] = ()
        if isinstance(cell, WrittenList):
            entries = cell
        elif isinstance(cell, WrittenText):
            # A cell of a table holds the three numbers apart by blanks or commas.
            bare = cell.strip("[] ").replace(",", " ")
            entries = [WrittenText(part, cell.at) for part in bare.split()]
        if len(entries) == 3:
            found = [self.gather.value(entry, read.read_signed_number) for entry in entries]
            lightness, a, b = found
            if lightness is None or a is None or b is None:
                return None
            return (lightness, a, b)
        self.gather.problem(
            cell.at, f"{measure.name} is three numbers of CIE Lab", "Write [62, -3, -10]."
        )
        return None

    def _later(self, tree: Any, bars: Sequence[str]) -> tuple[FollowUp, ...]:
        found = []
        for row in self.gather.rows(tree, "follow-ups", "{day: 30, bar: A2, …}") or ():
            lacking = [key for key in ("bar", "day") if row.get(key, "") in EMPTY_CELLS]
            values = self._measures(row, _OF_FOLLOW_UPS)
            if lacking:
                self.gather.problem(
                    row.at, f'the follow-up has no "{lacking[0]}"', "Write {day: 30, bar: A2, …}."
                )
                continue
            day = self.gather.value(row["day"], read.read_count)
            bar = self._word(row, "bar")
            known = self.bars_unread or self.gather.known(row["bar"], bars, "bar of this pour")
            if bar and known and day is not None:
                found.append(FollowUp(bar, day, values, row.at))
        return tuple(found)
