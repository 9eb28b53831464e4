"""Read the thermometer readings of a pour in every form allowed, and warn of odd ones."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from msgspec.structs import replace

from journal.errors import Position, Problem, QuantityError
from journal.quantities import read
from journal.quantities.kinds import Moment
from journal.quantities.number import excerpt
from journal.records.models.design_reader import EMPTY_CELLS, DesignReader
from journal.records.models.fields import spelling_hint
from journal.records.models.write_up import Reading
from journal.records.yaml.tree import WrittenBlock, WrittenList, WrittenTable, WrittenText

# Marks that the figures use; any other text beside a reading is a note.
MARKS = ("melted", "drawn", "tinted", "scented", "reheated", "poured", "chilled")
CSV_COLUMNS = ("pot", "time", "temperature", "did", "sure")
# A quarter of a base is water: it boils and foams before it is hotter than this.
# Common practice, no source.
HOTTEST_BASE_C = 110.0
# A kitchen thermometer is read to 1 degree Fahrenheit.
READING_ERROR_C = 5 / 9
# The sum of a few conversions may be off by this much.
_ROUNDING_C = 1e-9
DAY_MIN = 1440.0
# Longer texts are no slip of a comma.
LONGEST_READING = 80
# A pot is watched past midnight from an evening into a night: 2:05 am after 2:05 pm is a slip.
EVENING_MIN, NIGHT_MIN = 1080.0, 360.0


class ReadingRow(NamedTuple):
    """A reading as it is written; ``did`` is the mark or note, empty if there is none.

    ``sure`` is whether the maker vouches for it.
    """

    pot: str
    time: WrittenText
    temperature: WrittenText
    did: str
    sure: bool


def mark_of(reading: Reading) -> str:
    """The first word of a reading's note if it is one of ``MARKS``; else empty."""
    word = reading.did.partition(" ")[0].rstrip(",;.:")
    return word if word in MARKS else ""


def read_readings(reader: DesignReader, tree: Any, pots: Sequence[str]) -> tuple[Reading, ...]:
    """Read a pour's readings, by pot, in columns or in a CSV file; problems for unreadable ones."""
    return _readings_of(reader, written_readings(reader, tree, pots))


def written_readings(reader: DesignReader, tree: Any, pots: Sequence[str]) -> Iterable[ReadingRow]:
    """A pour's readings as they are written, in whatever form; problems for misshapen ones."""
    if isinstance(tree, WrittenTable):
        return _by_pot(reader, tree, pots)
    if isinstance(tree, WrittenBlock):
        return _in_columns(reader, reader.columns(tree, column_names(pots)), pots)
    if isinstance(tree, WrittenText) and tree:
        return _in_csv(reader, tree, pots)
    if isinstance(tree, WrittenText):
        reader.problem(tree.at, "there is no value", "Write readings, or take the key away.")
    elif tree is not None:
        reader.problem(tree.at, "readings go by pot", "Write {body: [[0:00, 152 F], …]}.")
    return ()


def _by_pot(reader: DesignReader, tree: WrittenTable, pots: Sequence[str]) -> Iterator[ReadingRow]:
    """Yield the readings of a mapping from pot to list of readings; adds problems."""
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
            missing = missing_comma(row)
            if missing is not None:
                reader.problems.append(missing)
                continue
            entries, sure = _without_sure(reader, row)
            if not isinstance(row, WrittenList) or len(entries) not in (2, 3):
                what = "a reading is a time, a temperature, and a mark if there is one"
                reader.problem(row.at, what, "Write [0:08, 140 F, scented].")
                continue
            did = entries[2] if len(entries) == 3 else ""
            if not isinstance(did, str):
                reader.problem(did.at, "a mark is a word", "Write [0:08, 140 F, scented].")
                continue
            yield ReadingRow(pot, entries[0], entries[1], str(did), sure)


def _without_sure(reader: DesignReader, row: Any) -> tuple[Sequence[Any], bool]:
    """The entries of [0:08, 140 F, sure: yes] but for the last, and whether that says yes."""
    if not isinstance(row, WrittenList) or not row:
        return (), False
    last = row[-1]
    if not isinstance(last, WrittenTable) or list(last) != ["sure"]:
        return row, False
    return row[:-1], bool(reader.value(last["sure"], read.read_yes_no))


def missing_comma(row: Any) -> Problem | None:
    """The problem that time, temperature and mark of a reading are not all parted by commas.

    None where no comma is missing, or where there is no time and temperature to part.
    """
    entries = row if isinstance(row, WrittenList) else [row]
    if not entries or not all(isinstance(entry, WrittenText) for entry in entries):
        return None
    # A time such as "2:05 pm" has one blank, "54 °C" too: most readings need no closer look.
    if len(entries) > 1 and " " not in entries[0] and entries[1].count(" ") < 2:
        return None
    parts: list[str] = []
    gap: tuple[WrittenText, str, str] | None = None
    for entry in entries:
        of_entry = _parts_of_reading(entry, len(parts))
        if len(of_entry) > 1 and gap is None:
            gap = entry, of_entry[0], of_entry[1]
        parts += of_entry
    if gap is None or len(parts) > 3 or not _is_quantity(read.read_temperature, parts[1]):
        return None
    entry, before, behind = gap
    what = f"a comma is missing between {excerpt(before)} and {excerpt(behind)}"
    return Problem(entry.at, what, f"Write [{excerpt(', '.join(parts))[1:-1]}].")


def _parts_of_reading(text: str, number: int) -> list[str]:
    """Split an entry where a time ends, and a temperature; it is number 0, 1 or 2 of a reading."""
    parts: list[str] = []
    words = text[:LONGEST_READING].split()
    for reader in (read.read_moment, read.read_temperature)[number:]:
        # The longest first: "8 min" is a time, and so is "8:00" of "8:00 54 C".
        for count in range(min(len(words), 4), 0, -1):
            if _is_quantity(reader, " ".join(words[:count])):
                parts.append(" ".join(words[:count]))
                words = words[count:]
                break
        else:
            break
    return [*parts, " ".join(words)] if words else parts


def _is_quantity(reader: Callable[[str], Any], text: str) -> bool:
    """Whether ``reader`` takes the text."""
    try:
        reader(text)
    except QuantityError:
        return False
    return True


def _decimal_comma(row: Any) -> WrittenText | None:
    """Join "140" and "5 F" of [0:08, 140,5 F], which a decimal comma has cut in two; else None."""
    if not isinstance(row, WrittenList) or len(row) not in (3, 4):
        return None
    whole, rest = row[1], row[2]
    if not isinstance(whole, WrittenText) or not isinstance(rest, WrittenText):
        return None
    if not whole.isdigit() or not rest[:1].isdigit():
        return None
    return WrittenText(f"{whole},{rest}", whole.at)


def column_names(pots: Sequence[str]) -> tuple[str, ...]:
    """What columns of readings may be called; a pot may be called as any."""
    return (*pots, *(name for name in CSV_COLUMNS if name not in pots))


def _in_columns(
    reader: DesignReader, rows: Iterable[WrittenTable], pots: Sequence[str]
) -> Iterator[ReadingRow]:
    """Yield the readings of rows with a column for each pot; adds problems."""
    for row in rows:
        time = row.get("time")
        if time is None:
            reader.problem(row.at, "the row has no time", 'Name the first column "time".')
            continue
        did = str(row.get("did", ""))
        pot_named, _, mark = did.partition(" ")
        sure = is_sure(reader, row)
        for pot, cell in row.items():
            if pot in ("time", "did", "sure") or not reader.is_known_key(row, pot, pots, "pot"):
                continue
            if pot_named in pots:
                did_here = mark if pot_named == pot else ""
                yield ReadingRow(pot, time, cell, did_here, sure)
            else:
                yield ReadingRow(pot, time, cell, did, sure)


def _in_csv(reader: DesignReader, tree: WrittenText, pots: Sequence[str]) -> Iterator[ReadingRow]:
    """Yield the readings of a CSV file, with a column for each pot or for all; adds problems."""
    return rows_of_readings(reader, reader.csv(tree, column_names(pots)) or (), pots)


def rows_of_readings(
    reader: DesignReader, rows: Sequence[WrittenTable], pots: Sequence[str]
) -> Iterator[ReadingRow]:
    """Yield the readings of rows with a column for each pot or one for all; adds problems."""
    columns = {key for row in rows for key in row}
    by_pot = columns & set(pots) or columns <= {"time", "did", "sure"}
    if not columns & {"pot", "temperature"} and by_pot:
        yield from _in_columns(reader, rows, pots)
        return
    for row in rows:
        for key in row:
            if key not in CSV_COLUMNS:
                hint = spelling_hint(key, CSV_COLUMNS)
                reader.problem(row.key_at(key), f"unknown column {excerpt(key)}", hint)
        missing = [key for key in CSV_COLUMNS[:3] if key not in row]
        if missing:
            reader.problem(row.at, f'the row has no "{missing[0]}"', "Fill the cell.")
        elif reader.is_known(row["pot"], row["pot"].at, pots, "pot"):
            did, sure = str(row.get("did", "")), is_sure(reader, row)
            yield ReadingRow(str(row["pot"]), row["time"], row["temperature"], did, sure)


def is_sure(reader: DesignReader, row: WrittenTable) -> bool:
    """Whether a row says ``sure: yes``; a problem is added for what is neither yes nor no."""
    if row.get("sure", "") in EMPTY_CELLS:
        return False
    return bool(reader.value(row["sure"], read.read_yes_no))


def _readings_of(reader: DesignReader, rows: Iterable[ReadingRow]) -> tuple[Reading, ...]:
    """Read rows, without those that are unreadable or go back in time; warn of odd rises."""
    readings: list[Reading] = []
    of_pot: dict[str, list[tuple[Reading, WrittenText]]] = {}
    forms: dict[str, str] = {}
    sure_at: set[Position] = set()
    for pot, time, temperature, did, sure in rows:
        moment = reader.value(time, read.read_moment)
        degrees = reader.value(temperature, read.read_temperature)
        if moment is None or degrees is None:
            continue
        before = of_pot.setdefault(pot, [])
        if before and forms[pot] != "duration" and _is_past_midnight(before[-1][0], moment):
            moment = replace(moment, minutes=moment.minutes + DAY_MIN)
            forms[pot] = moment.form
        if forms.setdefault(pot, moment.form) != moment.form:
            what = f"{excerpt(time)} is another way of writing times than above in the pot"
            reader.problem(time.at, f"{what} {excerpt(pot)}", "Keep to one way within a pot.")
            continue
        if before and moment.minutes < before[-1][0].minutes:
            what = f"{excerpt(time)} goes back in time in the pot {excerpt(pot)}"
            reader.problem(time.at, what, "Put readings in order.")
            continue
        reading = Reading(pot, moment.minutes, degrees, did, time.at)
        before.append((reading, temperature))
        if sure:
            sure_at.add(temperature.at)
        readings.append(reading)
    hint = "Mark the reading as reheated, or check the temperatures."
    for pot, with_texts in of_pot.items():
        for temperature in _unexplained_rises(with_texts):
            if temperature.at in sure_at:
                continue
            what = f"the pot {excerpt(pot)} rises to {excerpt(temperature)}"
            what += ", and no mark says that it was reheated"
            reader.problem(temperature.at, what, hint, warning=True)
    night = _pots_after_midnight(of_pot, forms)
    return tuple(
        replace(one, minutes=one.minutes + DAY_MIN) if one.pot in night else one for one in readings
    )


def _pots_after_midnight(
    of_pot: Mapping[str, Sequence[tuple[Reading, WrittenText]]], forms: Mapping[str, str]
) -> frozenset[str]:
    """The pots whose first reading, such as 12:05 am, lies on the day after another's, 23:58.

    Only where am and pm are written: 0:05 may be five minutes from the start.
    """
    firsts = {pot: rows[0][0].minutes for pot, rows in of_pot.items() if rows}
    if not any(at >= EVENING_MIN for pot, at in firsts.items() if forms[pot] != "duration"):
        return frozenset()
    return frozenset(
        pot for pot, at in firsts.items() if forms[pot] == "twelve-hour" and at < NIGHT_MIN
    )


def _is_past_midnight(before: Reading, moment: Moment) -> bool:
    """Whether a time such as 12:05 am lies on the day after a reading such as 23:58's."""
    if moment.form != "twelve-hour":
        return False
    return before.minutes >= DAY_MIN or (
        before.minutes >= EVENING_MIN and moment.minutes < NIGHT_MIN
    )


def _unexplained_rises(readings: Sequence[tuple[Reading, WrittenText]]) -> Iterator[WrittenText]:
    """Yield each temperature of a pot that is above the one before by more than a reading error.

    Rises that are marked as reheated are left out, those before the pot was melted, and those to
    what no base can have.
    """
    marks = [mark_of(reading) for reading, _ in readings]
    first = marks.index("melted") if "melted" in marks else 0
    for number in range(first + 1, len(readings)):
        rise_c = readings[number][0].temperature_c - readings[number - 1][0].temperature_c
        if (
            readings[number][0].temperature_c <= HOTTEST_BASE_C
            and rise_c > READING_ERROR_C + _ROUNDING_C
            and "reheated" not in marks[number - 1 : number + 1]
        ):
            yield readings[number][1]


def pouring_temperature_warnings(
    poured: WrittenTable, poured_c: Mapping[str, float], readings: Sequence[Reading],
    pot_of: Mapping[str, str],
) -> Iterator[Problem]:  # fmt: skip
    """A warning for each layer's pouring temperature that its pot's readings contradict.

    Only readings marked as poured count. ``poured`` is the mapping as written, ``poured_c`` as
    read, ``pot_of`` the pot of each layer. A pot of several layers is only judged when it has
    such a reading for each of them.
    """
    layers_of: dict[str, list[str]] = {}
    for layer, pot in pot_of.items():
        layers_of.setdefault(pot, []).append(layer)
    for layer, layer_poured_c in poured_c.items():
        pot = pot_of.get(layer, "")
        poured_readings = [r for r in readings if r.pot == pot and mark_of(r) == "poured"]
        if not poured_readings or len(poured_readings) < len(layers_of.get(pot, ())):
            continue
        if (
            min(abs(r.temperature_c - layer_poured_c) for r in poured_readings)
            > READING_ERROR_C + _ROUNDING_C
        ):
            what = (
                f"{excerpt(layer)} was poured at {excerpt(poured[layer])}, and the reading on line"
                f" {poured_readings[-1].at.line} that is marked poured says otherwise"
            )
            yield Problem(poured[layer].at, what, "Keep the one that is right.", warning=True)
