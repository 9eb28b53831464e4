"""What was poured, as tables to ask: pours, readings, bars, bars looked at again, lots.

A row a thing and one number a column, so that a program for tables can select, join and group.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from journal.comparison.derive import compared_value
from journal.figures.as_tables import FigureTable, trim_cells
from journal.figures.common.spec import TableRow
from journal.figures.common.tables import Cell
from journal.figures.heat.derive_heat import body_temperature, poured_reading
from journal.figures.lots.as_json_lots import places_of
from journal.figures.lots.derive_trace import Trace, derive_trace
from journal.records.models.readings import mark_of
from journal.records.models.settings import Measure
from journal.records.models.summary import mould_of
from journal.records.models.variants import recipe_as_done
from journal.records.models.write_up import Bar, Design, Layer, Pour, Reading, Recipe
from journal.records.notebook import Notebook

_POURS = (
    "design", "pour", "date", "mat", "mould", "pot", "layer", "base", "bars", "room_c",
    "humidity_percent", "melted_g", "window_low_c", "window_high_c", "start_c", "scented_c",
    "scented_min", "poured_c", "poured_from", "poured_min", "wrapped_min",
)  # fmt: skip
_READINGS = (
    "design", "pour", "date", "pot", "reading", "time_min", "since_first_min", "temperature_c",
    "room_c", "mark", "note",
)  # fmt: skip
_BARS = (
    "design", "pour", "date", "bar", "cavity", "peeled", "variant", "mat", "mould", "trim",
    "margin_mm", "piece", "base", "colourants", "additives", "fragrances", "room_c",
    "humidity_percent", "poured_c", "spoilt", "note",
)  # fmt: skip
_LATER = ("design", "pour", "date", "bar", "day")
_LOTS = ("kind", "thing", "name", "lot", "opened", "best_before", "pours", "bars", "bars_perhaps")
_BATCHES = ("design", "pour", "date", "batch", "by", "kind", "thing", "lot", "via", "bars")

MeasuredValues = Mapping[str, float | bool | tuple[float, float, float]]


def poured_tables(
    notebook: Notebook, only: Iterable[str] = (), trace: Trace | None = None
) -> tuple[FigureTable, ...]:
    """The tables ``pours``, ``readings``, ``bars``, ``later``, ``lots`` and ``batches``.

    Takes:  only   ids of designs; all designs if it is empty. ``lots`` are of the whole shelf
            trace  of the notebook, where it is known; ``batches`` has a row a lot in a pour
    Gives:  tables; one without rows still has its columns. A pour has a row a pot and layer, and
            another where bars of it differ in base, mould, window or temperature; ``poured_min``
            and ``scented_min`` count from the pot's first reading. Of a bar ``base`` and
            ``poured_c`` are its last layer's, the body's
    """
    trace = derive_trace(notebook) if trace is None else trace
    ids = set(only)
    designs = [one for name, one in notebook.designs.items() if not ids or name in ids]
    pours = [(design, pour) for design in designs for pour in design.pours]
    measures = notebook.settings.all_measures()
    columns = {
        name: measure_columns(measure, {*_BARS, *_LATER}) for name, measure in measures.items()
    }
    added = tuple(column for names in columns.values() for column in names)
    tables: Mapping[str, tuple[Sequence[str], Iterable[TableRow]]] = {
        "pours": (_POURS, (row for pair in pours for row in _pour_rows(*pair))),
        "readings": (_READINGS, (row for pair in pours for row in _reading_rows(*pair))),
        "bars": (
            (*_BARS, *added),
            (
                (
                    *_bar_cells(notebook, design, pour, bar),
                    *_measure_cells(bar.measures or bar.set_aside, columns),
                )
                for design, pour in pours
                for bar in pour.bars
            ),
        ),
        "later": (
            (*_LATER, *added),
            (
                (*_first_cells(design, pour), one.bar, one.day,
                 *_measure_cells(one.measures, columns))
                for design, pour in pours
                for one in pour.later
            ),
        ),
        "lots": (_LOTS, _lot_rows(notebook, trace)),
        "batches": (
            _BATCHES,
            (row for design, pour in pours for row in _batch_rows(design, pour, trace)),
        ),
    }  # fmt: skip
    return tuple(
        FigureTable(name, tuple(head), tuple(rows)) for name, (head, rows) in tables.items()
    )


def measure_columns(measure: Measure, reserved: Iterable[str] = ()) -> tuple[str, ...]:
    """The columns of a measure: its name with its unit, or three for a colour.

    A name in ``reserved`` gets the prefix ``measure_``.
    """
    if measure.kind == "colour":
        return tuple(f"{measure.name}_{part}" for part in ("l", "a", "b"))
    unit = measure.unit.replace(" ", "_")
    name = f"{measure.name}_{unit}" if unit else measure.name
    return (f"measure_{name}",) if name in set(reserved) else (name,)


def _measure_cells(
    measures: MeasuredValues, columns: Mapping[str, tuple[str, ...]]
) -> Iterator[Cell]:
    """The cells of all measures; of one that was not taken they are empty."""
    for name, names in columns.items():
        value = measures.get(name)
        yield from value if isinstance(value, tuple) else (value,) * len(names)


def _first_cells(design: Design, pour: Pour) -> TableRow:
    return design.id, pour.label, pour.date


def _pour_rows(design: Design, pour: Pour) -> Iterator[TableRow]:
    """A row for each way in which a layer was poured, in the order of the layers."""
    recipes = {one.name: recipe_as_done(one, pour) for one in design.variants}
    # A pour whose bars are not written down yet was poured by the recipe.
    poured: Sequence[tuple[Recipe, Bar | None]] = [
        (recipes[bar.variant], bar) for bar in pour.bars
    ] or [(recipe_as_done(design.as_written, pour), None)]
    counts: dict[tuple[int, TableRow], int] = {}
    for recipe, bar in poured:
        for place, layer in enumerate(recipe.layers):
            key = place, _poured_cells(design, pour, recipe, layer, bar)
            counts[key] = counts.get(key, 0) + (bar is not None)
    for (_, cells), bars in sorted(counts.items(), key=lambda row: row[0][0]):
        how = dict(zip(_POURED, cells, strict=True))
        pot, layer_name = str(how["pot"]), str(how["layer"])
        of_pot = [one for one in pour.readings if one.pot == pot]
        scented = next((one for one in of_pot if mark_of(one) == "scented"), None)
        marked = poured_reading(design, pour, layer_name)
        was_read = marked is not None and how["poured_c"] == marked.temperature_c
        source = None if how["poured_c"] is None else "reading" if was_read else "noted"
        how |= {
            "design": design.id, "pour": pour.label, "date": pour.date, "bars": bars,
            "room_c": pour.room_c, "humidity_percent": _percent(pour.humidity),
            "melted_g": pour.melted_g.get(pot),
            "start_c": of_pot[0].temperature_c if of_pot else None,
            "scented_c": None if scented is None else scented.temperature_c,
            "scented_min": _since_first(of_pot, scented),
            "poured_from": source,
            "poured_min": _since_first(of_pot, marked),
            "wrapped_min": pour.wrapped_min,
        }  # fmt: skip
        yield tuple(how[name] for name in _POURS)


# What bars of one pour may differ in.
_POURED = ("mat", "mould", "pot", "layer", "base", "window_low_c", "window_high_c", "poured_c")


def _poured_cells(
    design: Design, pour: Pour, recipe: Recipe, layer: Layer, bar: Bar | None
) -> TableRow:
    """The cells of ``_POURED``, for a bar or for a pour whose bars are not written down."""
    some_bar = bar or Bar("", pour.label, "", None, {}, {}, "", pour.at)
    return (
        recipe.mat, mould_of(pour, recipe), layer.pot_name, layer.name,
        compared_value(recipe, f"layer.{layer.name}.base"), *(layer.pour or (None, None)),
        body_temperature(design, pour, some_bar, layer.name),
    )  # fmt: skip


def _since_first(of_pot: Sequence[Reading], one: Reading | None) -> float | None:
    """Minutes from a pot's first reading to another."""
    return None if one is None else one.minutes - of_pot[0].minutes


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def _reading_rows(design: Design, pour: Pour) -> Iterator[TableRow]:
    """A row for each reading, numbered within its pot; a note that is a mark alone is none."""
    first: dict[str, float] = {}
    numbers: dict[str, int] = {}
    for one in pour.readings:
        start_min = first.setdefault(one.pot, one.minutes)
        numbers[one.pot] = numbers.get(one.pot, 0) + 1
        mark = mark_of(one)
        yield (
            *_first_cells(design, pour), one.pot, numbers[one.pot], one.minutes,
            one.minutes - start_min, one.temperature_c, pour.room_c, mark or None,
            one.did if one.did != mark else None,
        )  # fmt: skip


def _bar_cells(notebook: Notebook, design: Design, pour: Pour, bar: Bar) -> TableRow:
    """The first cells of a bar's row, before its measures."""
    recipe = recipe_as_done(design.variant(bar.variant), pour)
    piece = bar.piece or recipe.piece
    on_shelf = notebook.shelf.pieces.get(piece or "")
    trim = recipe.trim or (None if on_shelf is None else on_shelf.trim)
    kinds = ("base", "colourant", "additive", "fragrance")
    return (
        *_first_cells(design, pour), bar.bar, bar.cavity, bar.peeled, bar.variant, recipe.mat,
        mould_of(pour, recipe), *trim_cells(trim), piece,
        *(compared_value(recipe, kind) for kind in kinds), pour.room_c, _percent(pour.humidity),
        body_temperature(design, pour, bar, recipe.layers[-1].name),
        bar.spoilt or None, bar.note or None,
    )  # fmt: skip


def _lot_rows(notebook: Notebook, trace: Trace) -> Iterator[TableRow]:
    """A row for each lot that is written down, and how many bars hold it."""
    for one in trace.lots.values():
        record = notebook.shelf.of_kind(one.kind).get(one.name)
        yield (
            one.kind, one.name, None if record is None else record.name, one.lot,
            None if one.opened is None else one.opened.isoformat(),
            None if one.best_before is None else one.best_before.isoformat(),
            len(one.holds), one.bars, sum(len(row.bars) for row in one.perhaps),
        )  # fmt: skip


def _batch_rows(design: Design, pour: Pour, trace: Trace) -> Iterator[TableRow]:
    """A row for each lot in a pour, and in how many of its bars it is."""
    batch = next(one for one in trace.batches[design.id] if one.batch.pour == pour.label).batch
    for use, (_, bars) in places_of(batch).items():
        yield (
            *_first_cells(design, pour), pour.batch, pour.by, use.kind, use.name, use.lot,
            " ".join(use.via) or None, len(bars),
        )  # fmt: skip
