"""Read the pours of a write-up: their readings, bars and follow-ups, in every form allowed."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from datetime import date
from typing import Any
from zlib import crc32

from msgspec import Struct, field

from journal.errors import Position, Problem
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.records.models import write_up
from journal.records.models.design_reader import EMPTY_CELLS, DesignReader
from journal.records.models.fields import one_of, read_at_least_one, spelling_hint, validated
from journal.records.models.readings import is_sure, pouring_temperature_warnings, read_readings
from journal.records.models.salvage import salvage
from journal.records.models.settings import Measure, WrittenMeasureKind, humidity_warnings
from journal.records.models.shelf import MATERIALS, ThingRef
from journal.records.models.things import references_of
from journal.records.models.variants import ReadVariants, merged_with_changes
from journal.records.yaml.tree import SourceTree, WrittenList, WrittenTable, WrittenText

Measured = float | bool | tuple[float, float, float]
# How is each kind of measure read?
READERS_OF_MEASURES: Mapping[WrittenMeasureKind, Callable[[str], Any]] = {
    "length": read.read_length,
    "count": read.read_count,
    "time": read.read_duration,
    "mass": read.read_mass,
    "rating": read.read_number,
    "yes-no": read.read_yes_no,
}
# Nothing is as much in every unit.
_NOTHING = re.compile(r"0(?:\.0+)?")
_HAVE_UNITS = ("length", "time", "mass")
# No bar leaves its mould sooner than this after the pour. Common practice, no source.
SOONEST_WRAPPED_MIN = 60.0
# A bar was dropped; a temperature that dropped to 48 C was not.
_DROPPED = re.compile(r"\b(?<!temperature )dropped\b(?! (?:to|by|below|under)\b)", re.IGNORECASE)
DROPPED = "the bar is counted as not fit to sell, and was dropped"
DROPPED_HINT = 'If that alone spoilt it, write "spoilt: dropped": it is then not judged.'
# Signs of a made batch code that nobody takes for another: no I, L, O or U.
# Source: D. Crockford, "Base 32"; from memory.
_SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_FOLLOW_UP_KEYS = ("bar", "day", "note", "sure")


def says_dropped(text: str) -> bool:
    """Whether a remark says that a bar was dropped."""
    return _DROPPED.search(text) is not None


def made_batch(design: str, day: date, label: str) -> str:
    """The code of a batch that was given none: date, label, and three signs of the design's id.

    Two designs poured on one day have other signs, but for one pair in 32,768.
    """
    number = crc32(design.encode())
    signs = "".join(_SIGNS[number >> shift & 31] for shift in (0, 5, 10))
    return f"{day:%y%m%d}-{'-'.join(label.split())}-{signs}"


def label_of(number: int) -> str:
    """The label of a pour that was given none, by its place from 0: A to Z, then A1, B1, …"""
    return chr(ord("A") + number % 26) + str(number // 26 or "")


def free_labels(used: Container[str], count: int) -> Iterator[str]:
    """Yield the labels behind ``count`` pours that none of those ``used`` is, without end."""
    return (label for number in itertools.count(count) if (label := label_of(number)) not in used)


class PourReader(Struct):
    """Reads the pours of one design; what is wrong goes to the problems of ``reader``.

    ``measures`` are those that a bar may have, by name. Without ``all_measures`` some could not
    be read, and a measure of another name is no problem.
    """

    reader: DesignReader
    variants: ReadVariants
    measures: Mapping[str, Measure]
    all_measures: bool = True
    #: The position of every bar that has a name, also of a bar that is otherwise faulty.
    bar_positions: dict[str, Position] = field(default_factory=dict)
    #: Whether the bars of some pour could not be read, so that no name of a bar is unknown.
    bars_unread: bool = False
    _pots: tuple[str, ...] = ()
    _layers: tuple[str, ...] = ()
    _bar_keys: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        layers = [layer for variant in self.variants.readable for layer in variant.recipe.layers]
        self._pots = tuple(sorted({layer.pot_name for layer in layers}))
        self._layers = tuple(sorted({layer.name for layer in layers}))
        self._bar_keys = (
            "bar",
            "variant",
            "piece",
            "at",
            "peeled",
            "poured",
            "spoilt",
            "note",
            "sure",
            *self.variants.groups,
        )

    @property
    def _design(self) -> str:
        """The id of the design, which is the name of its folder."""
        return self.reader.folder.rpartition("/")[2]

    def read_pours(self, tree: Any) -> tuple[write_up.Pour, ...]:
        """All pours that can be read; a problem is added for each of the others."""
        if tree is None:
            return ()
        if not isinstance(tree, WrittenList):
            self.reader.problem(tree.at, "pours are a list", 'Begin each with "- pour: A".')
            return ()
        pours: list[write_up.Pour] = []
        label_positions: dict[str, Position] = {}
        for number, entry in enumerate(tree):
            if not isinstance(entry, WrittenTable):
                self.reader.problem(
                    entry.at, "a pour has keys of its own", 'Write "date: …" and so on.'
                )
                continue
            pour = self._pour(entry, number)
            if pour is None:
                continue
            at = entry["pour"].at if "pour" in entry else entry.at
            if pour.label in label_positions:
                self._add_duplicate("pours", pour.label, at, label_positions[pour.label])
            label_positions[pour.label] = at
            pours.append(pour)
        return tuple(pours)

    def _add_duplicate(self, kind: str, name: str, at: Position, first: Position) -> None:
        """Add the problem that two pours, or two bars (``kind``), have the same name."""
        what = f"two {kind} are called {excerpt(name)}, first on line {first.line}"
        self.reader.problem(at, what, "Rename one.")

    def _pour(self, tree: WrittenTable, number: int) -> write_up.Pour | None:
        """Read and check one pour; None if it is faulty. ``number``, from 0, labels one without."""
        reader = self.reader
        written = validated(write_up.WrittenPour, tree, "pour", reader.problems)
        is_valid = written is not None
        if written is None:
            salvaged = salvage(write_up.WrittenPour, tree)
            if salvaged is None:
                return None
            written, tree = salvaged
        label = written.pour or label_of(number)
        for pot, _ in written.melted:
            reader.is_known_key(tree["melted"], pot, self._pots, "pot")
        for layer, _ in written.poured:
            reader.is_known_key(tree["poured"], layer, self._layers, "layer")
        did = self._done_differently(tree.get("did"), label)
        before = len(self.bar_positions)
        bars = self._bars(tree.get("bars"), label)
        bar_names = list(self.bar_positions)[before:]
        readings = read_readings(reader, tree.get("readings"), self._pots)
        poured_c = dict(written.poured)
        if poured_c and readings and not written.sure:
            pots = {layer.name: layer.pot_name for layer in self.variants.readable[0].recipe.layers}
            reader.problems.extend(
                pouring_temperature_warnings(tree["poured"], poured_c, readings, pots)
            )
        later = self._follow_ups(tree.get("later"), bar_names)
        lots = self._lots(written, tree, did)
        for number, complaint in enumerate(written.complaints):
            if complaint.bar is not None and not self.bars_unread:
                at = tree["complaints"][number]["bar"].at
                reader.is_known(complaint.bar, at, bar_names, "bar of this pour")
        if not written.sure:
            reader.problems.extend(_pour_warnings(written, tree))
        if not is_valid:
            return None
        return write_up.Pour(
            label=label,
            date=written.date,
            room_c=written.room,
            humidity=written.humidity,
            melted_g=dict(written.melted),
            readings=readings,
            poured_c=poured_c,
            did_source=None if did is None else SourceTree(did),
            bars=bars,
            later=later,
            wrapped_min=written.wrapped,
            private=written.private,
            at=tree.at,
            batch=written.batch or made_batch(self._design, written.date, label),
            by=written.by,
            lots=lots,
            complaints=written.complaints,
            batch_at=tree["batch"].at if "batch" in tree else tree.at,
            sure=written.sure,
        )

    def _lots(
        self, pour: write_up.WrittenPour, tree: WrittenTable, did: WrittenTable | None
    ) -> dict[ThingRef, tuple[str, ...]]:
        """The lots that a pour names, by material; a problem for what its recipes do not name."""
        if not pour.lots:
            return {}
        recipes = [variant.recipe for variant in self.variants.readable]
        if did is not None:
            changed = (
                merged_with_changes(variant.written, did, []) for variant in self.variants.readable
            )
            read = (validated(write_up.Recipe, one, "", []) for one in changed)
            recipes.extend(recipe for recipe in read if recipe is not None)
        kinds: dict[str, dict[str, None]] = {}
        for recipe in recipes:
            for one in references_of(recipe):
                if one.kind in MATERIALS:
                    kinds.setdefault(one.name, {})[one.kind] = None
        whole = {f"{kind}/{name}": (kind, name) for name, of in kinds.items() for kind in of}
        found: dict[ThingRef, tuple[str, ...]] = {}
        for key, lots in pour.lots:
            of_key = [(kind, key) for kind in kinds.get(key, ())]
            if len(of_key) > 1:
                hint = f"Write {one_of([f'{kind}/{name}' for kind, name in of_key])}."
                what = f"{excerpt(key)} is the name of several materials of this pour"
                self.reader.problem(tree["lots"].key_at(key), what, hint)
            elif of_key or key in whole:
                found[of_key[0] if of_key else whole[key]] = lots
            else:
                self.reader.is_known_key(tree["lots"], key, (*kinds,), "material of this pour")
        return found

    def _done_differently(self, did: Any, label: str) -> WrittenTable | None:
        """Check what was done otherwise in the pour ``label`` by merging it into each variant.

        Gives the tree ``did``, also if it does not fit; None, with a problem, if it is no mapping.
        """
        if did is None:
            return None
        if not isinstance(did, WrittenTable):
            what = '"did" has keys of its own, for what differed'
            self.reader.problem(did.at, what, "Write {layers: {…}}.")
            return None
        problems: dict[Problem, None] = {}
        for variant in self.variants.readable:
            of_variant: list[Problem] = []
            merged = merged_with_changes(variant.written, did, of_variant)
            validated(write_up.Recipe, merged, f"pour {excerpt(label)} as it was done", of_variant)
            problems.update(dict.fromkeys(of_variant))
        self.reader.problems.extend(problems)
        return did

    def _bars(self, tree: Any, label: str) -> tuple[write_up.Bar, ...]:
        """The bars of the pour ``label`` that can be read; sets ``bars_unread`` if none can."""
        names = (*self._bar_keys, *self.measures)
        rows = self.reader.rows(tree, "bars", "{bar: A1, …}", names)
        if rows is None:
            self.bars_unread = True
            return ()
        return tuple(bar for row in rows if (bar := self._bar(row, label)) is not None)

    def _text(self, row: WrittenTable, key: str) -> str:
        """The text of a cell; empty if there is none, or, with a problem, no single value."""
        cell = row.get(key, "")
        if isinstance(cell, str):
            return "" if cell in EMPTY_CELLS else str(cell)
        self.reader.problem(cell.at, f"{excerpt(key)} is one value", "Write a single value.")
        return ""

    def _bar(self, row: WrittenTable, label: str) -> write_up.Bar | None:
        """Read a bar of the pour ``label``; None, with a problem, if name or variant is unclear."""
        if "bar" not in row or row["bar"] in EMPTY_CELLS:
            self.reader.problem(row.at, "the bar has no name", 'Add "bar: A1".')
            return None
        name = self._text(row, "bar")
        first = self.bar_positions.get(name)
        if first is not None:
            self._add_duplicate("bars", name, row["bar"].at, first)
        elif name:
            self.bar_positions[name] = row["bar"].at
        variant_name = self._variant_of(row)
        # A variant whose recipe has an error is no further help here; its error is reported there.
        variant = next((v for v in self.variants.readable if v.name == variant_name), None)
        poured_c = self._poured_c(row["poured"], variant) if "poured" in row else {}
        values = self._measures(row, self._bar_keys)
        cavity, cavity_at = None, None
        if row.get("at", "") not in EMPTY_CELLS:
            cavity_at = row["at"].at
            cavity = self.reader.value(row["at"], read_at_least_one)
        peeled = None
        if row.get("peeled", "") not in EMPTY_CELLS:
            peeled = self.reader.value(row["peeled"], read_at_least_one)
        piece, note = self._text(row, "piece"), self._text(row, "note")
        is_sure(self.reader, row)
        spoilt = self._spoilt(row, values, note)
        if variant is None or not name or first is not None:
            return None
        return write_up.Bar(
            bar=name,
            pour=label,
            variant=variant.name,
            piece=piece or None,
            poured_c=poured_c,
            measures={} if spoilt else values,
            note=note,
            at=row.at,
            piece_at=row["piece"].at if piece else None,
            cavity=cavity,
            cavity_at=cavity_at,
            peeled=peeled,
            spoilt=spoilt,
            set_aside=values if spoilt else {},
        )

    def _spoilt(self, row: WrittenTable, values: Mapping[str, Measured], note: str) -> str:
        """What befell a bar, "" if nothing; a note that it was dropped and not fit is asked about.

        A bar that was dropped tells nothing of the recipe, so it would count against its variant.
        """
        spoilt = self._text(row, "spoilt")
        if spoilt and not self.reader.is_known(
            spoilt, row["spoilt"].at, write_up.SPOILT, "way to be spoilt"
        ):
            return ""
        if not spoilt and values.get("keep") is False and says_dropped(note):
            self.reader.problem(row["keep"].at, DROPPED, DROPPED_HINT, warning=True)
        return spoilt

    def _poured_c(self, poured: Any, variant: write_up.Variant | None) -> dict[str, float]:
        """Pouring temperatures in degC by layer; a single one is that of the last layer."""
        poured_c: dict[str, float] = {}
        if isinstance(poured, WrittenTable):
            for layer, cell in poured.items():
                degrees = self.reader.value(cell, read.read_temperature)
                known = self.reader.is_known_key(poured, layer, self._layers, "layer")
                if known and degrees is not None:
                    poured_c[layer] = degrees
        elif not isinstance(poured, str) or poured not in EMPTY_CELLS:
            degrees = self.reader.value(poured, read.read_temperature)
            if degrees is not None and variant is not None:
                poured_c[variant.recipe.layers[-1].name] = degrees
        return poured_c

    def _variant_of(self, row: WrittenTable) -> str | None:
        """The name of a bar's variant, from its row; None, with a problem, if it is not clear."""
        names, cell = self.variants.names, row.get("variant")
        is_empty = cell is None or cell in EMPTY_CELLS
        if self.variants.groups and is_empty:
            return self._choices_of(row)
        if names == (write_up.AS_WRITTEN,):
            if is_empty or cell == write_up.AS_WRITTEN:
                return write_up.AS_WRITTEN
            hint = "Name them under variants, or leave it away."
            self.reader.problem(row["variant"].at, "the write-up names no variants", hint)
            return None
        return self._choice(row, "variant", names)

    def _choices_of(self, row: WrittenTable) -> str | None:
        """Join a bar's choices from all groups to its variant's name; None as in ``_choice``."""
        names = []
        for group, choices in self.variants.groups.items():
            name = self._choice(row, group, choices)
            if name is None:
                return None
            names.append(name)
        return "/".join(names)

    def _choice(self, row: WrittenTable, key: str, names: Sequence[str]) -> str | None:
        """The name in a bar's cell ``key``; None, with a problem, if it is none of ``names``."""
        if row.get(key, "") in EMPTY_CELLS:
            hint = f"Add {excerpt(f'{key}: {names[0]}')}."
            label = excerpt(key) if self.variants.groups else key
            self.reader.problem(row.at, f"the bar does not say its {label}", hint)
            return None
        name = self._text(row, key)
        known = name and self.reader.is_known(name, row[key].at, names, key)
        return name if known else None

    def _measures(self, row: WrittenTable, other_keys: Sequence[str]) -> dict[str, Measured]:
        """Values by measure, from the cells of a row but ``other_keys``; without faulty ones."""
        values: dict[str, Measured] = {}
        for name, cell in row.items():
            if name in other_keys:
                continue
            measure = self.measures.get(name)
            if measure is None:
                if self.all_measures:
                    hint = spelling_hint(name, (*other_keys, *self.measures))
                    self.reader.problem(row.key_at(name), f"unknown measure {excerpt(name)}", hint)
            elif cell not in EMPTY_CELLS:
                value = self._measured(cell, measure)
                if value is not None:
                    values[name] = value
        return values

    def _measured(self, cell: Any, measure: Measure) -> Measured | None:
        """Read a cell in the stored unit of its measure; None, with a problem, if that fails."""
        if measure.kind == "colour":
            return self._colour(cell, measure)
        if isinstance(cell, str) and _NOTHING.fullmatch(cell) and measure.kind in _HAVE_UNITS:
            return 0.0
        value: float | bool | None = self.reader.value(cell, READERS_OF_MEASURES[measure.kind])
        if measure.kind == "rating" and value is not None and not 1 <= value <= measure.of:
            what = f"{excerpt(measure.name)[1:-1]} {excerpt(cell)} lies outside 1 to {measure.of}"
            self.reader.problem(cell.at, what, f"Write a number from 1 to {measure.of}.")
            return None
        return value

    def _colour(self, cell: Any, measure: Measure) -> tuple[float, float, float] | None:
        """The colour in a cell, three numbers of CIE Lab; None, with a problem, if it has none."""
        entries: Sequence[Any] = ()
        if isinstance(cell, WrittenList):
            entries = cell
        elif isinstance(cell, WrittenText):
            # A cell of a table holds the three numbers apart by blanks or commas.
            bare = cell.strip("[] ").replace(",", " ")
            entries = [WrittenText(part, cell.at) for part in bare.split()]
        if len(entries) == 3:
            lightness, a, b = (
                self.reader.value(entry, read.read_signed_number) for entry in entries
            )
            return None if lightness is None or a is None or b is None else (lightness, a, b)
        what = f"{measure.name} is three numbers of CIE Lab"
        self.reader.problem(cell.at, what, "Write [62, -3, -10].")
        return None

    def _follow_ups(self, tree: Any, bars: Sequence[str]) -> tuple[write_up.FollowUp, ...]:
        """The follow-ups that can be read of a pour; ``bars`` are the names of its bars."""
        follow_ups = []
        example = "{day: 30, bar: A2, …}"
        names = (*_FOLLOW_UP_KEYS, *self.measures)
        for row in self.reader.rows(tree, "follow-ups", example, names) or ():
            missing = [key for key in ("bar", "day") if row.get(key, "") in EMPTY_CELLS]
            values = self._measures(row, _FOLLOW_UP_KEYS)
            if missing:
                what = f'the follow-up has no "{missing[0]}"'
                self.reader.problem(row.at, what, f"Write {example}.")
                continue
            is_sure(self.reader, row)
            day = self.reader.value(row["day"], read.read_count)
            bar = self._text(row, "bar")
            if bar and not self.bars_unread:
                known = self.reader.is_known(bar, row["bar"].at, bars, "bar of this pour")
                bar = bar if known else ""
            if bar and day is not None:
                follow_ups.append(write_up.FollowUp(bar, day, values, row.at))
        return tuple(follow_ups)


def _pour_warnings(pour: write_up.WrittenPour, tree: WrittenTable) -> Iterator[Problem]:
    """A warning for a humidity that can hardly be, and for bars that were wrapped too soon."""
    yield from humidity_warnings(pour.humidity, tree)
    if pour.wrapped is not None and pour.wrapped < SOONEST_WRAPPED_MIN:
        what = f"a bar wrapped {excerpt(tree['wrapped'])} after its pour is still soft"
        yield Problem(tree["wrapped"].at, what, "Count from the pour: wrapped: 26 h.", warning=True)
