"""Read tables of past pours: what each column means, and which pour each row is of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from msgspec import Struct, field

from journal.errors import Position, Problem, raise_errors
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.records.models.column_names import column_and_unit, named_and_measured
from journal.records.models.design_reader import EMPTY_CELLS, DesignReader
from journal.records.models.fields import spelling_hint
from journal.records.models.readings import column_names, rows_of_readings
from journal.records.models.settings import KEYS_OF_BARS
from journal.records.models.write_up import Design
from journal.records.yaml.rows import parse_columns
from journal.records.yaml.source import decode_text, why_no_file
from journal.records.yaml.tree import (
    WrittenBlock,
    WrittenList,
    WrittenTable,
    WrittenText,
    content_error,
)

# A table of ten years of pours has some hundred kB.
LARGEST_TABLE_BYTES = 4 * 1024 * 1024
# What a spreadsheet's own file begins with: a ZIP (APPNOTE 4.3.7), or a Compound File (MS-CFB 2.2).
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
_SPREADSHEET_ENDINGS = (".xlsx", ".xlsm", ".xls", ".ods", ".numbers")
#: Keys of a pour that any of its tables may have as columns.
POUR_KEYS = ("pour", "date", "room", "humidity", "wrapped")
#: Keys of a pour whose columns name a pot or a layer too: "melted: slate".
NAMED_KEYS = ("melted", "poured")


class TakenColumn(Struct, frozen=True):
    """A column of a table, and what it was taken for; ``unit`` "" for none, ``name`` "" if left
    out."""

    written: str
    name: str
    unit: str
    hint: str = ""


class TakenTable(Struct, frozen=True):
    """A table that was read: its file, what its rows are, and its columns."""

    path: str
    rows: int
    of: str
    columns: tuple[TakenColumn, ...]


class TakenPour(Struct):
    """What tables say of one pour; ``values`` are its keys but readings, bars and later.

    A value of a pot or a layer is called "melted: slate".
    """

    label: WrittenText | None
    date: WrittenText | None
    at: Position
    values: WrittenTable
    readings: list[WrittenTable] = field(default_factory=list)
    bars: list[WrittenTable] = field(default_factory=list)
    later: list[WrittenTable] = field(default_factory=list)


def table_of(path: Path, problems: list[Problem]) -> WrittenList:
    """The rows of a table's file, its notes in ``problems``; ContentError if it is no table."""
    shown = str(path)
    at = Position(shown)
    try:
        if not path.is_file():
            raise content_error(at, why_no_file(path), "Mend its name.")
        with path.open("rb") as file:
            is_spreadsheet = file.read(8).startswith(_SPREADSHEETS)
        if is_spreadsheet or path.suffix.lower() in _SPREADSHEET_ENDINGS:
            hint = "Save it there as CSV, and name that file."
            raise content_error(at, "this is a spreadsheet, not a table in text", hint)
        if path.stat().st_size > LARGEST_TABLE_BYTES:
            what = f"the file has {path.stat().st_size // 1024 // 1024} MB, which is no table"
            most = LARGEST_TABLE_BYTES // 1024 // 1024
            raise content_error(at, what, f"Keep tables below {most} MB.")
        raw = path.read_bytes()
    except (OSError, UnicodeError) as error:
        what = f"the file cannot be read ({getattr(error, 'strerror', None) or 'its name'})"
        raise content_error(at, what, "Allow reading it.") from None
    if b"\x00" in raw[:4096]:
        hint = "Save the spreadsheet as CSV, and name that file."
        raise content_error(at, "this is no text", hint)
    found: list[Problem] = []
    # Line 0: the first line of the text stands on the first line of the file.
    rows = parse_columns(WrittenBlock(decode_text(raw, shown), Position(shown, 0), 0), found)
    raise_errors(found)
    if not rows:
        hint = "Name the columns in its first line, and write a row for each bar or reading."
        raise content_error(at, "the table has no rows", hint)
    problems.extend(found)
    return rows


class TableReader:
    """Reads tables for one design into pours; what is wrong goes to the problems of ``reader``."""

    def __init__(
        self, reader: DesignReader, design: Design, measures: Mapping[str, object]
    ) -> None:
        """Take the design that the tables are of, and what its bars may be measured by."""
        self._reader = reader
        layers = [layer for one in design.variants for layer in one.recipe.layers]
        self._pots = tuple(dict.fromkeys(layer.pot_name for layer in layers))
        self.bar_names = (*KEYS_OF_BARS, *design.groups, *measures)
        named = {"melted": self._pots, "poured": tuple({layer.name: 0 for layer in layers})}
        self._pour_of = {bar.bar: pour.label for pour in design.pours for bar in pour.bars}
        self._pour_names = (*POUR_KEYS, *(f"{k}: {n}" for k in NAMED_KEYS for n in named[k]))
        #: The pours found so far, by the text of label and date.
        self.pours: dict[tuple[str, str], TakenPour] = {}

    def read(self, rows: WrittenList) -> TakenTable:
        """Read the rows of a table into ``pours``; says what its columns were taken for."""
        written = dict.fromkeys(key for row in rows for key in row)
        kind, names = self._kind_of(written)
        known = (*names, *(name for name in self._pour_names if name not in names))
        columns = []
        for key in written:
            name, unit = column_and_unit(key, known)
            hint = "" if name in known else spelling_hint(key, known)
            columns.append(TakenColumn(key, name if name in known else "", unit, hint))
        problems = self._reader.problems
        for row in named_and_measured(rows, known, problems):
            self._row(row.subset(key for key in row if key in known), kind, set(names))
        return TakenTable(rows.at.path, len(rows), kind, tuple(columns))

    def _kind_of(self, written: Mapping[str, object]) -> tuple[str, tuple[str, ...]]:
        """What the rows are of, and the names of their own columns."""
        readings = column_names(self._pots)
        if any(column_and_unit(key, readings)[0] == "time" for key in written):
            return "readings", readings
        means = {column_and_unit(key, self.bar_names)[0] for key in written}
        if "bar" not in means:
            return "pours", ()
        if "day" in means:
            return "later", self.bar_names
        return "bars", tuple(name for name in self.bar_names if name != "day")

    def _row(self, row: WrittenTable, kind: str, names: set[str]) -> None:
        """Add a row to the pour that it is of."""
        filled = row.subset(key for key in row if row[key] not in EMPTY_CELLS)
        label, day = (filled.get(key) if key not in names else None for key in ("pour", "date"))
        bar = filled.get("bar")
        if label is None and day is None and bar is not None and str(bar) in self._pour_of:
            label = WrittenText(self._pour_of[str(bar)], bar.at)
        pour = self.pours.setdefault(
            (str(label or ""), str(day or "")), TakenPour(label, day, row.at, WrittenTable(row.at))
        )
        for key, cell in filled.items():
            if key not in names and key not in ("pour", "date"):
                self._put(pour.values, key, cell, filled.key_at(key))
        own = filled.subset(key for key in filled if key in names)
        if own:
            {"readings": pour.readings, "bars": pour.bars, "later": pour.later}[kind].append(own)

    def _put(self, values: WrittenTable, key: str, cell: WrittenText, at: Position) -> None:
        """Set a value of a pour; a problem if it has another of this key."""
        old = values.get(key)
        if old is None:
            values.put(key, cell, at)
        elif old != cell:
            what = f"{excerpt(key)} is {excerpt(cell)} here and {excerpt(old)} on line"
            what = f"{what} {old.at.line} for the same pour"
            self._reader.problem(cell.at, what, "Keep the one that is right.")

    def join(self, pour: TakenPour, other: TakenPour) -> None:
        """Add what a table says of a pour to what another says of it."""
        if pour.date is not None and other.date is not None and pour.date != other.date:
            what = (
                f"the pour is of {excerpt(other.date)} here, and of {excerpt(pour.date)} elsewhere"
            )
            self._reader.problem(other.date.at, what, "Keep the one that is right.")
        pour.label, pour.date = pour.label or other.label, pour.date or other.date
        for key, cell in other.values.items():
            self._put(pour.values, key, cell, other.values.key_at(key))
        pour.readings += other.readings
        pour.bars += other.bars
        pour.later += other.later

    def day(self, cell: WrittenText) -> date | None:
        """The day in a cell; None, with a problem, if there is none."""
        return self._reader.value(cell, read.read_date)

    def readings(self, pour: TakenPour) -> WrittenTable | None:
        """The readings of a pour by pot, each a list of time, temperature and mark; or None."""
        by_pot = WrittenTable(pour.at)
        rows: Sequence[WrittenTable] = pour.readings
        for pot, time, temperature, did, sure in rows_of_readings(self._reader, rows, self._pots):
            if pot not in by_pot:
                by_pot.put(pot, WrittenList(time.at), time.at)
            reading = WrittenList(time.at)
            reading += [time, temperature, *([WrittenText(did, time.at)] if did else ())]
            if sure:
                vouched = WrittenTable(time.at)
                vouched.put("sure", WrittenText("yes", time.at), time.at)
                reading.append(vouched)
            by_pot[pot].append(reading)
        return by_pot or None
