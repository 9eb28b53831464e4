"""Put tables and hand-ins of pours into a design's write-up: what is new, and nothing twice."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import Position, Problem, errors_in
from journal.quantities.number import excerpt
from journal.records.checks.plausibility import implausible_values
from journal.records.checks.references import ReferenceChecker
from journal.records.designs import design_of
from journal.records.models.design_reader import DesignReader
from journal.records.models.fields import spelling_hint
from journal.records.models.pours import PourReader, free_labels
from journal.records.models.settings import notebook_id
from journal.records.models.variants import ReadVariants
from journal.records.models.write_up import Bar, Design, FollowUp, Pour
from journal.records.notebook import Notebook
from journal.records.taking.edit import EditFailed, WriteUpEdit, Written, plain_values
from journal.records.taking.hand_in import HandIn
from journal.records.taking.pour_trees import (
    TakenRows,
    complete_names,
    headed_tree,
    is_empty,
    may_be_same_pour,
    named_as,
    pour_as_read,
    same_reading,
    value_of_cell,
    with_rest,
    with_rows,
)
from journal.records.taking.tables import TableReader, TakenPour, TakenTable
from journal.records.yaml.source import decode_text, split_write_up
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText

#: Keys of a pour that hold a value each, or one for each pot or layer.
_VALUES = ("room", "humidity", "wrapped", "melted", "poured")
_ORDER = ("pour", "date", "room", "humidity", "melted", "readings", "poured", "bars", "later",
          "wrapped")  # fmt: skip
#: Keys of a new pour in the order in which they are written; the others come behind them.
_WRITTEN = ("pour", "date", "batch", "by", *_ORDER)


class TakenChange(Struct, frozen=True):
    """What is to stand in a write-up: its bytes before and after, and what is new, in words.

    ``pours`` are those that were taken, as they are to stand there.
    """

    path: str
    before: bytes
    after: bytes
    added: tuple[str, ...]
    tables: tuple[TakenTable, ...]
    pours: tuple[Pour, ...]
    warnings: tuple[Problem, ...] = ()


def take_tables(
    notebook: Notebook, design: Design, tables: Sequence[WrittenList], problems: list[Problem]
) -> TakenChange | None:
    """Work out what tables of pours change in a write-up; None, with problems, if they cannot.

    Takes:  the notebook, a design of it without errors, tables by ``table_of``
    Gives:  a change whose text reads as it should; nothing is written
    Fails:  NoBlock where text cannot be put in; EditFailed if the result would not read so
    """
    before = (notebook.root / design.path).read_bytes()
    taking = _Taking(notebook, design, before, problems)
    said = tuple(taking.tables.read(rows) for rows in tables)
    if not errors_in(problems):
        taking.take_all()
    after = taking.result()
    if after is None:
        return None
    pours = tuple(pour for pour in after.design.pours if pour.label in taking.labels)
    return TakenChange(design.path, before, after.text, taking.added, said, pours,
                       tuple(problem for problem in problems if problem.warning))  # fmt: skip


def take_hand_ins(
    notebook: Notebook, name: str, hand_ins: Iterable[HandIn], problems: list[Problem]
) -> TakenChange | None:
    """Work out what hand-ins of the bench page change in a write-up, as ``take_tables`` does.

    The write-up of the design ``name`` is read anew; its own errors are among the problems. One
    hand-in after the other: what is handed in twice is found in what the first has put there.
    """
    path = f"designs/{name}/design.md"
    before = text = (notebook.root / path).read_bytes()
    written = decode_text(before, path)
    read = design_of(notebook.root, name, written, notebook.settings, True, problems)
    if read is None or errors_in(problems):
        return None
    problems[:] = [problem for problem in problems if problem.position.path != path]
    design = read.design
    added: list[str] = []
    labels: dict[str, None] = {}
    for hand_in in hand_ins:
        if hand_in.notebook != notebook_id(notebook.settings):
            what = "this was handed in for another notebook"
            problems.append(Problem(hand_in.at, what, "Take it into that one: --content FOLDER."))
            return None
        if hand_in.pour is None and not hand_in.later:
            problems.append(Problem(hand_in.at, "nothing is handed in", "Note something first."))
            return None
        taking = _Taking(notebook, design, text, problems)
        taking.take_hand_in(hand_in)
        after = taking.result()
        if after is None:
            return None
        text, design = after.text, after.design
        added += taking.added
        labels |= dict.fromkeys(taking.labels)
    pours = tuple(pour for pour in design.pours if pour.label in labels)
    return TakenChange(design.path, before, text, tuple(added), (), pours,
                       tuple(problem for problem in problems if problem.warning))  # fmt: skip


def with_photos(
    notebook: Notebook, name: str, change: TakenChange, rows: Sequence[dict[str, Written]]
) -> TakenChange:
    """The change with further rows of photos, whose files need not be there yet.

    Fails:  NoBlock where they cannot be put in; EditFailed if the result would not read so
    """
    parts = split_write_up(decode_text(change.after, change.path), change.path)
    edit = WriteUpEdit(change.after, parts.front, parts.body_line)
    edit.add_photos(rows)
    after, found = edit.result(change.path), list[Problem]()
    design_of(notebook.root, name, decode_text(after, change.path), notebook.settings, True, found)
    to_come = {f"there is no photo {excerpt(str(row['file']))}" for row in rows}
    if any(problem.what not in to_come for problem in errors_in(found)):
        raise EditFailed("a row of the photos is not as it should be")
    count = f"{len(rows)} photo{'' if len(rows) == 1 else 's'}"
    return replace(change, after=after, added=(*change.added, count))


class _TakenText(Struct):
    """The text of a write-up that was taken into, and the design that it is."""

    text: bytes
    design: Design


class _Taking:
    """Takes pours into one write-up, one after the other."""

    def __init__(
        self, notebook: Notebook, design: Design, before: bytes, problems: list[Problem]
    ) -> None:
        """Take the bytes of the write-up, from which ``design`` was read."""
        parts = split_write_up(decode_text(before, design.path), design.path)
        self.edit = WriteUpEdit(before, parts.front, parts.body_line)
        #: The labels of the pours that were taken.
        self.labels: list[str] = []
        self._added: list[str] = []
        self._counts: Counter[str] = Counter()
        self._root, self._settings = notebook.root, notebook.settings
        self._design, self._problems = design, problems
        self._measures = notebook.settings.all_measures()
        self._references = ReferenceChecker(
            notebook.root, notebook.shelf, (*notebook.summaries, *notebook.unreadable),
            notebook.comparisons,
        )  # fmt: skip
        self._front = parts.front
        self._new: list[dict[str, Written]] = []
        self._keep_one = "Keep the one that is right, here or there."
        names = tuple(variant.name for variant in design.variants)
        self._variants = ReadVariants(design.variants, names, design.groups)
        reader = DesignReader(self._root, design.path.rpartition("/")[0], problems)
        self.tables = TableReader(reader, design, self._measures)

    def result(self) -> _TakenText | None:
        """The write-up with all that was taken; None, with problems, if it cannot be."""
        if errors_in(self._problems):
            return None
        for pour in self._new:  # behind all that goes into old ones
            self.edit.add_pour(pour)
        design, found = self._design, list[Problem]()
        text = self.edit.result(design.path)
        read = design_of(self._root, design.id, decode_text(text, design.path), self._settings,
                         True, found)  # fmt: skip
        if errors_in(found) or read is None:
            # What takes the whole write-up to see, such as two bars of one name in two pours.
            self._problems.extend(errors_in(found))
            return None
        known = {one.what for one in self._doubts(design)}
        # Before she says yes: what can hardly be is mended more easily while it is at hand.
        self._problems.extend(one for one in self._doubts(read.design) if one.what not in known)
        return _TakenText(text, read.design)

    def _doubts(self, design: Design) -> Iterator[Problem]:
        return implausible_values(self._root, design, self._settings)

    def _wrong(self, at: Position, what: str, hint: str) -> None:
        self._problems.append(Problem(at, what, hint))

    def take_all(self) -> None:
        """Take what the tables say, pour by pour; those that name a pour by letter come first."""
        found: dict[int | str, TakenPour] = {}
        order = lambda one: (one.label is None, one.date is None)  # noqa: E731
        for taken in sorted(self.tables.pours.values(), key=order):
            meant = self._meant(taken, found)
            if meant is None:
                continue
            if meant in found:
                self.tables.join(found[meant], taken)
            else:
                found[meant] = taken
        if not errors_in(self._problems):
            for meant, taken in found.items():
                self._take(taken, meant if isinstance(meant, int) else None)

    def _meant(self, taken: TakenPour, found: Mapping[int | str, TakenPour]) -> int | str | None:
        """The number of the pour that is there, or a name for a new one; None with a problem."""
        before = len(errors_in(self._problems))
        number = self._number_of(taken)
        if len(errors_in(self._problems)) > before:
            return None
        if number is not None:
            return number
        if taken.label is not None:
            return f"label {taken.label}"
        new = [name for name in found if isinstance(name, str)]
        if taken.date is not None:
            new = [name for name in new if found[name].date == taken.date]
            if not new:
                return f"date {taken.date}"
        if len(new) == 1:
            return new[0]
        what = "the table does not say which pour it is of"
        self._wrong(taken.at, what, 'Add a column "date", or "pour".')
        return None

    def _take(self, taken: TakenPour, number: int | None) -> None:
        """Take what tables say of one pour: edits, or problems."""
        old = None if number is None else self._design.pours[number]
        if old is not None:
            label = old.label
        elif taken.label is not None:
            label = str(taken.label)
        else:
            label = self._free_label()
        tree = WrittenTable(taken.at)
        tree.put("pour", WrittenText(label, taken.at), taken.at)
        date = WrittenText(old.date.isoformat(), taken.at) if old is not None else taken.date
        if date is None:
            what = f"the new pour {excerpt(label)} has no date"
            self._wrong(taken.at, what, 'Add a column "date".')
            return
        tree.put("date", date, taken.at)
        for key, value in taken.values.items():
            first, _, name = key.partition(": ")
            if name and first not in tree:
                tree.put(first, WrittenTable(value.at), value.at)
            (tree[first] if name else tree).put(name or key, value, value.at)
        readings = self.tables.readings(taken)
        if readings is not None:
            tree.put("readings", readings, readings.at)
        self._put_in(tree, label, TakenRows(taken.bars, taken.later), number)

    def _put_in(self, tree: WrittenTable, label: str, rows: TakenRows, number: int | None) -> None:
        """Put a pour in, written as in a write-up but for its rows: edits, or problems.

        ``number`` is that of the pour of the write-up that it is, None for a new one.
        """
        written = self._written_pour(number)
        known = {str(row.get("bar")): row for row in self._rows(written, "bars")}
        for of_bars in (rows.bars, rows.later):
            complete_names(of_bars, label, known)
        mine = {str(row.get("bar")) for row in rows.bars}
        bars = [with_rest(row, known.get(str(row.get("bar")))) for row in rows.bars]
        bars += [row for name, row in known.items() if name not in mine]
        pour = self._read(with_rows(tree, TakenRows(bars, rows.later)))
        if pour is None:
            return
        self.labels.append(label)
        if number is None:
            self._add_new(with_rows(tree, rows), label, pour)
        else:
            self._add_to(self._design.pours[number], pour, tree, rows, written)

    def take_hand_in(self, hand_in: HandIn) -> None:
        """Take what the bench page hands in: a pour, and later looks at bars of the write-up."""
        self._keep_one = ("Keep the one that is right. If this is another pour of that day, take "
                          "its file with --pour and a letter.")  # fmt: skip
        of_bar = {bar.bar: n for n, pour in enumerate(self._design.pours) for bar in pour.bars}
        looks: dict[int, list[WrittenTable]] = {}
        of_slips: list[WrittenTable] = []
        for look in _copied(hand_in.later):
            name = str(look.get("bar"))
            if name in of_bar:
                looks.setdefault(of_bar[name], []).append(look)
            elif hand_in.pour is not None and name.isdigit():
                of_slips.append(look)
            else:
                what = f"no bar of the write-up is called {excerpt(name)}"
                self._wrong(look.at, what, spelling_hint(name, of_bar))
        if errors_in(self._problems):
            return
        if hand_in.pour is not None:
            bars, later = (_copied(hand_in.pour.get(key, ())) for key in ("bars", "later"))
            self._take_pour(hand_in.pour, TakenRows(bars, [*later, *of_slips]), looks)
        for number, own in looks.items():
            old = self._design.pours[number]
            self._put_in(headed_tree(old, hand_in.at), old.label, TakenRows([], own), number)

    def _take_pour(
        self, tree: WrittenTable, rows: TakenRows, looks: dict[int, list[WrittenTable]]
    ) -> None:
        """Take a pour that was handed in; one that is there already is filled in.

        Of ``looks``, by the number of a pour, it takes those that are its own.
        """
        tree = tree.subset(key for key in tree if key not in ("bars", "later"))
        is_lettered = "pour" in tree
        label = str(tree["pour"]) if is_lettered else self._free_label()
        named = next((n for n, p in enumerate(self._design.pours) if p.label == label), None)
        if is_lettered:
            day = self.tables.day(tree["date"]) if "date" in tree else None
            if named is not None and day not in (None, self._design.pours[named].date):
                self._other_day(label, self._design.pours[named], tree["date"].at)
                return
        else:
            # Read as a new one, it is held against the pours of its day.
            pour = self._read(named_as(tree, rows, label))
            if pour is None:
                return
            of_day = [n for n, old in enumerate(self._design.pours) if may_be_same_pour(pour, old)]
            if len(of_day) > 1:
                of_day = [n for n in of_day if self._is_there(tree, rows, n)][:1] or of_day
            if len(of_day) > 1:
                what = f"the write-up has {len(of_day)} pours of {pour.date} that this may be"
                self._wrong(tree.at, what, "Take its file with --pour and the letter of one.")
                return
            if of_day:
                named = of_day[0]
                label = self._design.pours[named].label
            tree.put("pour", WrittenText(label, tree.at), tree.at)
        own = looks.pop(named, []) if named is not None else []
        self._put_in(tree, label, TakenRows(rows.bars, [*rows.later, *own]), named)

    def _is_there(self, tree: WrittenTable, rows: TakenRows, number: int) -> bool:
        """Whether a pour says the same as one of the write-up."""
        old = self._design.pours[number]
        pour = self._read(named_as(tree, rows, old.label))
        return pour is not None and pour_as_read(pour) == pour_as_read(old)

    def _other_day(self, label: str, pour: Pour, at: Position) -> None:
        what = f"the pour {excerpt(label)} was on {pour.date} by the write-up"
        self._wrong(at, what, "Mend the date, or give the pour another letter.")

    def _read(self, tree: WrittenTable) -> Pour | None:
        """Read a pour; None, with the problems of the tables, if these are wrong."""
        found: list[Problem] = []
        reader = DesignReader(self._root, self._design.path.rpartition("/")[0], found)
        listed = WrittenList(tree.at)
        listed.append(tree)
        pours = PourReader(reader, self._variants, self._measures).read_pours(listed)
        # The write-up's own rows were read without an error before.
        if pours:
            alone = dataclasses.replace(self._design, pours=pours, body="", photos=(), failed=())
            found.extend(self._references.of_design(alone))
        own = [problem for problem in found if problem.position.path != self._design.path]
        self._problems.extend(one for one in own if one not in self._problems)
        return None if errors_in(own) or not pours else pours[0]

    def _number_of(self, taken: TakenPour) -> int | None:
        """The number of the pour of the write-up that is meant; None for a new one."""
        pours = self._design.pours
        day = None if taken.date is None else self.tables.day(taken.date)
        if taken.label is not None:
            number = next((n for n, p in enumerate(pours) if p.label == taken.label), None)
            if number is not None and day is not None and pours[number].date != day:
                assert taken.date is not None
                self._other_day(taken.label, pours[number], taken.date.at)
            return number
        if day is not None:
            same = [number for number, pour in enumerate(pours) if pour.date == day]
            if len(same) > 1:
                what = f"the write-up has {len(same)} pours of {day}"
                self._wrong(taken.at, what, 'Add a column "pour" with the letter of the one meant.')
            return same[0] if same else None
        return None

    def _free_label(self) -> str:
        """The first letter behind the pours that there are which none of them has."""
        used = {pour.label for pour in self._design.pours} | {str(p["pour"]) for p in self._new}
        return next(free_labels(used, len(self._design.pours) + len(self._new)))

    def _written_pour(self, number: int | None) -> WrittenTable | None:
        """The tree of a pour of the write-up."""
        return None if number is None else self._written_pour_of(self._design.pours[number])

    def _rows(self, written: WrittenTable | None, key: str) -> list[WrittenTable]:
        """The rows under a key of a pour as they stand in the write-up or in its CSV file."""
        if written is None or key not in written:
            return []
        quiet = DesignReader(self._root, self._design.path.rpartition("/")[0], [])
        names = (*self.tables.bar_names, "day", "note")
        return quiet.rows(written[key], key, "", names) or []

    def _add_new(self, tree: WrittenTable, label: str, pour: Pour) -> None:
        """Remember a new pour, to be written behind the others."""
        values = plain_values(tree)
        ordered = {key: values[key] for key in (*_WRITTEN, *values) if values.get(key)}
        self._new.append(ordered)
        self._added.append(f"pour {label} of {pour.date}")
        self._count(pour.readings, pour.bars, pour.later)

    def _count(self, readings: Sequence[Any], bars: Sequence[Any], later: Sequence[Any]) -> None:
        self._counts += Counter(
            {"reading": len(readings), "bar": len(bars), "later look": len(later)}
        )

    @property
    def added(self) -> tuple[str, ...]:
        """What is new, in words."""
        counts = (f"{n} {word}{'' if n == 1 else 's'}" for word, n in self._counts.items())
        return (*self._added, *counts)

    # A pour that is there already -------------------------------------------------

    def _add_to(
        self, old: Pour, pour: Pour, tree: WrittenTable, taken: TakenRows,
        written: WrittenTable | None,
    ) -> None:  # fmt: skip
        """Add to a pour what it lacks; a problem for each value that it has otherwise."""
        path: tuple[str | int, ...] = ("pours", self._index_of(written))
        assert written is not None
        mine = {str(row.get("bar")) for row in taken.bars}
        bars = [bar for bar in pour.bars if bar.bar in mine]
        old_bars = {bar.bar: bar for bar in old.bars}
        rows = {str(row["bar"]): row for row in taken.bars}
        new = [plain_values(rows[bar.bar]) for bar in bars if bar.bar not in old_bars]
        before = len(errors_in(self._problems))
        for bar in bars:
            if bar.bar in old_bars:
                self._fill_row(path, "bars", written, rows[bar.bar], bar, old_bars[bar.bar])
        old_looks = {(look.bar, look.day): look for look in old.later}
        new_looks = []
        for look, row in zip(pour.later, taken.later, strict=True):
            known = old_looks.get((look.bar, look.day))
            if known is None:
                new_looks.append(plain_values(row))
            else:
                self._fill_row(path, "later", written, row, look, known)
        new_readings = self._new_readings(tree.get("readings"), pour, old)
        fields = self._new_values(tree, pour, old)
        if len(errors_in(self._problems)) > before:
            return
        self._count([r for rows in new_readings.values() for r in rows], new, new_looks)
        self._append(path, "bars", written, new)
        self._append(path, "later", written, new_looks)
        self._append_readings(path, written, new_readings)
        for key, value in fields.items():
            self._added.append(key)
            if isinstance(value, dict) and key in written:
                for name, one in value.items():
                    self.edit.add_key((*path, key), name, one)
        for key in dict.fromkeys((*_ORDER, *fields)):
            if key in fields and key not in written:
                self.edit.add_key(path, key, fields[key])
            for name, found in (("bars", new), ("later", new_looks), ("readings", new_readings)):
                if key == name and found and key not in written:
                    self.edit.add_key(path, key, found)

    def _index_of(self, written: WrittenTable | None) -> int:
        return next(n for n, entry in enumerate(self._front["pours"]) if entry is written)

    def _append(
        self, path: tuple[str | int, ...], key: str, written: WrittenTable, rows: list[Written]
    ) -> None:
        if rows and key in written:
            self.edit.add_rows((*path, key), rows)

    def _append_readings(
        self, path: tuple[str | int, ...], written: WrittenTable, new: Mapping[str, list[Written]]
    ) -> None:
        if "readings" not in written:
            return
        for pot, rows in new.items():
            there = written["readings"]
            if isinstance(there, WrittenTable) and pot in there:
                self.edit.add_rows((*path, "readings", pot), rows)
            else:
                self.edit.add_key((*path, "readings"), pot, rows)

    def _new_readings(
        self, tree: Any, pour: Pour, old: Pour
    ) -> dict[str, Any]:  # fmt: skip
        """The readings by pot that the write-up does not have yet."""
        new: dict[str, Any] = {}
        counted: dict[str, int] = {}
        for one in pour.readings:
            row = tree[one.pot][counted.setdefault(one.pot, 0)]
            counted[one.pot] += 1
            there = [other for other in old.readings if other.pot == one.pot]
            if any(same_reading(one, other) for other in there):
                continue
            if there and one.minutes <= there[-1].minutes:
                what = f"the pot {excerpt(one.pot)} has no such reading at {row[0]} in the write-up"
                hint = "It has others until then: put this one in by hand, or mend it."
                self._wrong(one.at, what, hint)
            else:
                new.setdefault(one.pot, []).append(plain_values(row))
        return new

    def _new_values(self, tree: WrittenTable, pour: Pour, old: Pour) -> dict[str, Written]:
        """The values of a pour that the write-up lacks, by key."""
        new: dict[str, Written] = {}
        for key, field in zip(
            _VALUES, ("room_c", "humidity", "wrapped_min", "melted_g", "poured_c"), strict=True
        ):
            if key not in tree:
                continue
            value, known, cell = getattr(pour, field), getattr(old, field), tree[key]
            if not isinstance(cell, WrittenTable):
                if known is None:
                    new[key] = str(cell)
                elif known != value:
                    self._conflict(cell, key, f"the pour {excerpt(old.label)}")
                continue
            for name, one in value.items():
                if name not in known:
                    table = new.setdefault(key, {})
                    assert isinstance(table, dict)
                    table[name] = str(cell[name])
                elif known[name] != one:
                    self._conflict(cell[name], f"{key}: {name}", f"the pour {excerpt(old.label)}")
        for key, cell in tree.items():
            if key in _ORDER:
                continue
            there = self._written_pour_of(old).get(key)
            if there is None:
                new[key] = plain_values(cell)
            elif plain_values(there) == plain_values(cell):
                continue
            elif key == "private":
                # A page hands its remarks in anew each time; hers may have been put right.
                what = f"the pour {excerpt(old.label)} has another private note, which stays"
                self._problems.append(Problem(cell.at, what, "Add to it by hand.", warning=True))
            else:
                self._conflict(cell, key, f"the pour {excerpt(old.label)}")
        return new

    def _written_pour_of(self, pour: Pour) -> WrittenTable:
        """The tree of a pour of the write-up."""
        found: WrittenTable = next(entry for entry in self._front["pours"] if entry.at == pour.at)
        return found

    def _conflict(self, cell: Any, key: str, thing: str) -> None:
        shown = excerpt(cell) if isinstance(cell, str) else "something else"
        what = f"{thing} has another {excerpt(key)} in the write-up, not {shown}"
        self._wrong(cell.at, what, self._keep_one)

    def _fill_row(
        self, path: tuple[str | int, ...], key: str, written: WrittenTable, row: WrittenTable,
        new: Bar | FollowUp, old: Bar | FollowUp,
    ) -> None:  # fmt: skip
        """Add to a row what it lacks; a problem for each value that it has otherwise."""
        rows = self._rows(written, key)
        number = next(n for n, one in enumerate(rows) if one.at == old.at)
        there = rows[number]
        for name, cell in row.items():
            if name in ("bar", "day"):
                continue
            if is_empty(there.get(name)):
                if name in there:
                    self._conflict(cell, name, f"the bar {excerpt(new.bar)}")
                    continue
                self.edit.add_key((*path, key, number), name, plain_values(cell))
                self._added.append(f"{name} of {new.bar}")
            elif value_of_cell(new, name, cell) != value_of_cell(old, name, there[name]):
                self._conflict(cell, name, f"the bar {excerpt(new.bar)}")


def _copied(rows: Iterable[WrittenTable]) -> list[WrittenTable]:
    """Rows whose bars may be called otherwise: a hand-in is taken more than once."""
    return [row.copy() for row in rows]
