"""Pours of a write-up: their readings, bars and follow-ups, in any of the forms allowed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from journal.errors import ContentError, Position, Problem, QuantityError
from journal.quantities import read
from journal.records.settings import Measure
from journal.records.source import (
    Items,
    Table,
    Text,
    inside,
    parse_columns,
    parse_csv,
    read_text,
)
from journal.records.typed import checked, nearest
from journal.records.variants import laid_over
from journal.records.write_up import (
    AS_WRITTEN,
    Bar,
    FollowUp,
    Pour,
    Reading,
    Recipe,
    Variant,
    WrittenPour,
)

# Marks that steer a figure; any other text beside a reading is a note.
MARKS = ("melted", "drawn", "tinted", "scented", "reheated", "poured", "chilled")
ABSENT = ("-", "–", "")


@dataclass(slots=True)
class PourReader:
    """Reads the pours of one design; problems and files used are gathered as it goes."""

    root: Path
    folder: str  # the design's folder, relative to the notebook
    variants: Sequence[Variant]
    groups: Mapping[str, tuple[str, ...]]
    measures: Mapping[str, Measure]
    problems: list[Problem]
    files: list[str] = field(default_factory=list)
    bars_seen: dict[str, Position] = field(default_factory=dict)

    def read_pours(self, tree: Any) -> tuple[Pour, ...]:
        """All pours that can be read; what cannot is a problem."""
        if tree is None or tree == "":
            return ()
        if not isinstance(tree, Items):
            self._problem(tree.at, "pours are a list", 'Begin each with "- pour: A".')
            return ()
        pours: list[Pour] = []
        labels: dict[str, Position] = {}
        for number, entry in enumerate(tree):
            if not isinstance(entry, Table):
                self._problem(entry.at, "a pour is a mapping", 'Write "date: …" and so on.')
                continue
            pour = self._pour(entry, number)
            if pour is None:
                continue
            if pour.label in labels:
                self._problem(
                    entry.at,
                    f'two pours are called "{pour.label}", first on line {labels[pour.label].line}',
                    "Rename one.",
                )
            labels[pour.label] = entry.at
            pours.append(pour)
        return tuple(pours)

    def _problem(self, at: Position, what: str, mend: str, warning: bool = False) -> None:
        self.problems.append(Problem(at, what, mend, warning))

    @property
    def _pots(self) -> list[str]:
        return sorted({layer.pot_name for v in self.variants for layer in v.recipe.layers})

    @property
    def _layers(self) -> list[str]:
        return sorted({layer.name for v in self.variants for layer in v.recipe.layers})

    def _known(self, at: Position, name: str, known: Sequence[str], kind: str) -> bool:
        if name in known:
            return True
        self._problem(at, f'no {kind} is called "{name}"', nearest(name, known))
        return False

    def _pour(self, tree: Table, number: int) -> Pour | None:
        written = checked(WrittenPour, tree, "pour", self.problems)
        if written is None:
            return None
        label = str(
            written.pour or chr(ord("A") + number % 26) + ("" if number < 26 else str(number // 26))
        )
        for pot, _ in written.melted:
            self._known(tree["melted"].keys_at[pot], pot, self._pots, "pot")
        for layer, _ in written.poured:
            self._known(tree["poured"].keys_at[layer], layer, self._layers, "layer")
        did = tree.get("did")
        if did is not None and not isinstance(did, Table):
            self._problem(did.at, '"did" is a mapping of what differed', "Write {layers: {…}}.")
            did = None
        if did is not None:
            for variant in self.variants:
                found: list[Problem] = []
                merged = laid_over(variant.written, did, found)
                checked(Recipe, merged, f"pour {label} as it was done", found)
                self.problems.extend(p for p in found if p not in self.problems)
        bars = self._bars(tree.get("bars"), label)
        return Pour(
            label=label,
            date=written.date,
            room_c=written.room,
            melted_g=dict(written.melted),
            readings=self._readings(tree.get("readings"), tree.at),
            poured_c=dict(written.poured),
            did=did,
            bars=bars,
            later=self._later(tree.get("later"), {bar.bar for bar in bars}),
            private=written.private,
            at=tree.at,
        )

    # Tables that may stand in the write-up or in a file beside it.

    def _csv(self, path: Text) -> Items | None:
        if not path.endswith(".csv"):
            self._problem(path.at, f'"{path}" is no CSV file', "Name a file that ends in .csv.")
            return None
        file = inside(path, self.folder)
        if file is None or not (self.root / file).resolve().is_relative_to(self.root.resolve()):
            self._problem(
                path.at, f'"{path}" leads out of the notebook', "Keep the file inside it."
            )
            return None
        if not (self.root / file).is_file():
            self._problem(path.at, f'there is no file "{path}"', "Write it, or mend its name.")
            return None
        try:
            text = read_text(self.root, file)
            rows = parse_csv(text, file)
        except ContentError as error:
            self.problems.extend(error.problems)
            return None
        self.files.append(file)
        return rows

    def _rows(self, tree: Any, what: str) -> list[Table]:
        if tree is None or tree == "":
            return []
        if isinstance(tree, Text):
            tree = parse_columns(tree) if tree.block else self._csv(tree)
            if tree is None:
                return []
        if not isinstance(tree, Items):
            self._problem(tree.at, f"{what} are a list", 'Begin each with "- {bar: A1, …}".')
            return []
        rows = []
        for row in tree:
            if isinstance(row, Table):
                rows.append(row)
            else:
                self._problem(row.at, f"each of the {what} is a mapping", "Write {bar: A1, …}.")
        return rows

    def _readings(self, tree: Any, at: Position) -> tuple[Reading, ...]:
        if tree is None or tree == "":
            return ()
        if isinstance(tree, Table):
            found = self._readings_by_pot(tree)
        elif isinstance(tree, Text) and tree.block:
            found = self._readings_in_columns(tree)
        elif isinstance(tree, Text):
            found = self._readings_in_csv(tree)
        else:
            self._problem(tree.at, "readings go by pot", "Write {body: [[0:00, 152 F], …]}.")
            return ()
        return self._in_order(found)

    def _readings_by_pot(self, tree: Table) -> list[tuple[str, Text, Text, str]]:
        found = []
        for pot, rows in tree.items():
            if not self._known(tree.keys_at[pot], pot, self._pots, "pot"):
                continue
            if not isinstance(rows, Items):
                self._problem(rows.at, f"the readings of {pot} are a list",
                              "Write [[0:00, 152 F], [0:08, 140 F]].")  # fmt: skip
                continue
            for row in rows:
                if (
                    not isinstance(row, Items)
                    or len(row) not in (2, 3)
                    or not all(isinstance(cell, Text) for cell in row)
                ):
                    self._problem(
                        row.at,
                        "a reading is a time, a temperature, and a mark if there is one",
                        "Write [0:08, 140 F, scented].",
                    )
                    continue
                found.append((pot, row[0], row[1], str(row[2]) if len(row) == 3 else ""))
        return found

    def _readings_in_columns(self, tree: Text) -> list[tuple[str, Text, Text, str]]:
        found = []
        for row in parse_columns(tree):
            time = row.get("time")
            if time is None:
                self._problem(row.at, "the row has no time", 'Name the first column "time".')
                continue
            did = str(row.get("did", ""))
            about, _, mark = did.partition(" ")
            for pot, cell in row.items():
                if pot in ("time", "did"):
                    continue
                if not self._known(cell.at, pot, self._pots, "pot"):
                    continue
                if about in self._pots:
                    found.append((pot, time, cell, mark if about == pot else ""))
                else:
                    found.append((pot, time, cell, did))
        return found

    def _readings_in_csv(self, tree: Text) -> list[tuple[str, Text, Text, str]]:
        found = []
        for row in self._csv(tree) or ():
            unknown = [key for key in row if key not in ("pot", "time", "temperature", "did")]
            for key in unknown:
                self._problem(row.at, f'unknown column "{key}"',
                              nearest(key, ("pot", "time", "temperature", "did")))  # fmt: skip
            lacking = [key for key in ("pot", "time", "temperature") if key not in row]
            if lacking:
                self._problem(row.at, f"the row has no {lacking[0]}", "Fill the cell.")
                continue
            if self._known(row["pot"].at, str(row["pot"]), self._pots, "pot"):
                found.append(
                    (str(row["pot"]), row["time"], row["temperature"], str(row.get("did", "")))
                )
        return found

    def _in_order(self, written: list[tuple[str, Text, Text, str]]) -> tuple[Reading, ...]:
        readings: list[Reading] = []
        forms: dict[str, str] = {}
        last: dict[str, float] = {}
        for pot, time, temperature, did in written:
            moment = self._value(time, read.read_moment)
            degrees = self._value(temperature, read.read_temperature)
            if moment is None or degrees is None:
                continue
            if forms.setdefault(pot, moment.form) != moment.form:
                self._problem(
                    time.at,
                    f'"{time}" is another way of writing times than above in the pot {pot}',
                    "Keep to one way within a pot.",
                )
                continue
            if moment.minutes < last.get(pot, float("-inf")):
                self._problem(
                    time.at,
                    f'"{time}" goes back in time in the pot {pot}',
                    "Put readings in order.",
                )
                continue
            last[pot] = moment.minutes
            readings.append(Reading(pot, moment.minutes, degrees, did, time.at))
        return tuple(readings)

    def _value(self, text: Any, reader: Callable[[str], Any]) -> Any:
        if not isinstance(text, Text):
            self._problem(text.at, "one value belongs here", "Write a single value.")
            return None
        try:
            return reader(text)
        except QuantityError as error:
            self._problem(text.at, error.what, error.mend)
            return None

    # Bars.

    def _bars(self, tree: Any, label: str) -> tuple[Bar, ...]:
        bars: list[Bar] = []
        for row in self._rows(tree, "bars"):
            bar = self._bar(row, label)
            if bar is None:
                continue
            first = self.bars_seen.get(bar.bar)
            if first is not None:
                self._problem(
                    row["bar"].at,
                    f'two bars are called "{bar.bar}", first on line {first.line}',
                    "Rename one.",
                )
                continue
            self.bars_seen[bar.bar] = row["bar"].at
            bars.append(bar)
        return tuple(bars)

    def _bar(self, row: Table, label: str) -> Bar | None:
        own = ["bar", "variant", "piece", "poured", "note", *self.groups]
        if not isinstance(row.get("bar"), Text) or not row["bar"]:
            self._problem(row.at, "the bar has no name", 'Add "bar: A1".')
            return None
        variant = self._variant_of(row)
        poured_c: dict[str, float] = {}
        poured = row.get("poured")
        if isinstance(poured, Table):
            for layer, cell in poured.items():
                degrees = self._value(cell, read.read_temperature)
                if (
                    self._known(poured.keys_at[layer], layer, self._layers, "layer")
                    and degrees is not None
                ):
                    poured_c[layer] = degrees
        elif isinstance(poured, Text) and poured not in ABSENT:
            degrees = self._value(poured, read.read_temperature)
            if degrees is not None and self.variants:
                poured_c[self.variants[0].recipe.layers[-1].name] = degrees
        values = self._measures(row, own)
        if variant is None:
            return None
        piece = row.get("piece")
        return Bar(
            bar=str(row["bar"]),
            pour=label,
            variant=variant,
            piece=str(piece) if isinstance(piece, Text) and piece not in ABSENT else None,
            poured_c=poured_c,
            measures=values,
            note=str(row.get("note", "")),
            at=row.at,
        )

    def _variant_of(self, row: Table) -> str | None:
        if self.groups:
            picks = []
            for group, choices in self.groups.items():
                cell = row.get(group)
                if not isinstance(cell, Text) or cell in ABSENT:
                    self._problem(row.at, f'the bar does not say its "{group}"',
                                  f'Add "{group}: {choices[0]}".')  # fmt: skip
                    return None
                if not self._known(cell.at, str(cell), choices, group):
                    return None
                picks.append(str(cell))
            return "/".join(picks)
        names = [variant.name for variant in self.variants]
        cell = row.get("variant")
        if names == [AS_WRITTEN]:
            if isinstance(cell, Text) and cell != AS_WRITTEN:
                self._problem(cell.at, f'no variant is called "{cell}"',
                              "Name it under variants, or leave it away.")  # fmt: skip
                return None
            return AS_WRITTEN
        if not isinstance(cell, Text) or cell in ABSENT:
            self._problem(
                row.at,
                "the bar does not say its variant",
                f'Add "variant: {names[0] if names else "…"}".',
            )
            return None
        return str(cell) if self._known(cell.at, str(cell), names, "variant") else None

    def _measures(
        self, row: Table, own: Sequence[str]
    ) -> dict[str, float | bool | tuple[float, float, float]]:
        values: dict[str, float | bool | tuple[float, float, float]] = {}
        for name, cell in row.items():
            if name in own:
                continue
            measure = self.measures.get(name)
            if measure is None:
                self._problem(row.keys_at[name], f'unknown measure "{name}"',
                              nearest(name, (*own, *self.measures)))  # fmt: skip
                continue
            if isinstance(cell, Text) and cell in ABSENT:
                continue
            value = self._measured(cell, measure)
            if value is not None:
                values[name] = value
        return values

    def _measured(self, cell: Any, measure: Measure) -> Any:
        if measure.kind == "colour":
            if isinstance(cell, Items) and len(cell) == 3:
                numbers = [self._value(entry, _signed) for entry in cell]
                return None if None in numbers else tuple(numbers)
            self._problem(
                cell.at, f"{measure.name} is three numbers of CIE Lab", "Write [62, -3, -10]."
            )
            return None
        readers: dict[str, Callable[[str], Any]] = {
            "length": read.read_length,
            "count": read.read_count,
            "time": read.read_duration,
            "mass": read.read_mass,
            "rating": read.read_number,
            "yes-no": read.read_yes_no,
        }
        value = self._value(cell, readers[measure.kind])
        if measure.kind == "rating" and value is not None and not 1 <= value <= measure.of:
            self._problem(
                cell.at,
                f'{measure.name} "{cell}" lies outside 1 to {measure.of}',
                f"Write a number from 1 to {measure.of}.",
            )
            return None
        return value

    def _later(self, tree: Any, bars: set[str]) -> tuple[FollowUp, ...]:
        found = []
        for row in self._rows(tree, "follow-ups"):
            bar, day = row.get("bar"), row.get("day")
            if not isinstance(bar, Text) or not isinstance(day, Text):
                self._problem(
                    row.at, "a follow-up names its bar and its day", "Write {day: 30, bar: A2, …}."
                )
                continue
            number = self._value(day, read.read_count)
            known = self._known(bar.at, str(bar), sorted(bars), "bar of this pour")
            values = self._measures(row, ("bar", "day", "note"))
            if number is not None and known:
                found.append(FollowUp(str(bar), number, values, row.at))
        return tuple(found)


def _signed(text: str) -> float:
    if text.startswith(("-", "−")):
        return -read.read_number(text[1:])
    return read.read_number(text)
