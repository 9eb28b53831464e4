"""The figures as tables for a spreadsheet: one row a thing, units in the names of columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from journal.figures.as_json import limit_used, missing_of
from journal.figures.cooling import WindowTimes
from journal.figures.derive import DesignFigures, Figures, RecipeFigures
from journal.figures.derive_pieces import PieceFigures
from journal.figures.result import Figure
from journal.figures.tables import Cell, table_text
from journal.records.notebook import Notebook
from journal.records.settings import Measure
from journal.records.write_up import AS_WRITTEN, Bar, Design, Pour

Row = tuple[Cell, ...]
Measured = Mapping[str, float | bool | tuple[float, float, float]]


class Table(Struct, frozen=True):
    """A table by its name: columns, and a row a thing."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def text(self) -> str:
        """The table as CSV."""
        return table_text(self.columns, self.rows)


class Told(Struct, frozen=True):
    """A design with one of its recipes: as it stands, or a variant."""

    design: Design
    variant: str
    figures: RecipeFigures

    @property
    def key(self) -> tuple[Cell, Cell]:
        """The first two cells of its rows."""
        return self.design.id, self.variant


def figure_tables(
    notebook: Notebook,
    figures: Figures,
    pieces: Mapping[str, Figure[PieceFigures]],
    only: Iterable[str] = (),
) -> tuple[Table, ...]:
    """All figures of all designs, or of the designs ``only``; every piece on the shelf.

    Takes:  notebook, figures, pieces  as read and derived
            only                       ids of designs; none: all
    Gives:  tables; those without rows have their columns all the same
    """
    wanted = set(only)
    found = [
        (notebook.designs[name], one)
        for name, one in figures.designs.items()
        if not wanted or name in wanted
    ]
    told = [entry for design, one in found for entry in _told(design, one)]
    measures = notebook.settings.all_measures()
    currency = notebook.settings.currency
    return (
        _table("designs", _DESIGNS, (_design(design, one) for design, one in found)),
        _table("layers", _LAYERS, (row for entry in told for row in _layers(entry))),
        _table("bases", _BASES, (row for entry in told for row in _bases(entry))),
        _table("fragrances", _FRAGRANCES, (row for entry in told for row in _fragrances(entry))),
        _table("colours", _COLOURS, (row for entry in told for row in _colours(entry))),
        _table("pots", _POTS, (row for entry in told for row in _pots(entry))),
        _table("fill", _FILL, (row for entry in told for row in _fill(entry))),
        _table("cost", _COST, (row for entry in told for row in _cost(entry, currency))),
        _table("net_weight", _WEIGHT, (row for each in found for row in _net_weight(*each))),
        _table("label", _LABEL, (row for entry in told for row in _label(entry))),
        _table("cut", _CUT, (row for entry in told for row in _cut(entry))),
        _table("cooling", _COOLING, (row for each in found for row in _cooling(*each))),
        _table("bond", _BOND, (row for entry in told for row in _bond(entry))),
        _table("bleed", _BLEED, (row for each in found for row in _bleed(*each))),
        *_bars([design for design, _ in found], measures),
        _table("missing", ("design", "figure", "needs"), _missing(found)),
        _table("pieces", _PIECES, _pieces(notebook, pieces)),
    )


def _table(name: str, columns: Sequence[str], rows: Iterable[Row]) -> Table:
    return Table(name, tuple(columns), tuple(rows))


def _told(design: Design, figures: DesignFigures) -> Iterator[Told]:
    yield Told(design, AS_WRITTEN, figures.recipe)
    for name, recipe in figures.variants.items():
        if name != AS_WRITTEN:
            yield Told(design, name, recipe)


_DESIGNS = (
    "design", "title", "state", "date", "bars", "mat", "mould", "trim", "piece", "grew_from",
    "bar_g", "pours", "bars_poured",
)  # fmt: skip


def _design(design: Design, figures: DesignFigures) -> Row:
    recipe = design.recipe
    return (
        design.id, design.title, design.state, design.date, recipe.bars, recipe.mat, recipe.mould,
        str(design.written["trim"]) if "trim" in design.written else None, recipe.piece,
        design.grew_from, figures.recipe.masses.bar_g, len(design.pours), len(design.bars),
    )  # fmt: skip


_LAYERS = (
    "design", "variant", "layer", "pot", "base_g_per_bar", "base_g", "melt_g",
    "volume_ml_per_bar", "pour_low_c", "pour_high_c", "limit_used_percent", "leftover",
)  # fmt: skip


def _layers(told: Told) -> Iterator[Row]:
    for layer in told.figures.masses.layers:
        low, high = layer.pour_c or (None, None)
        yield (
            *told.key, layer.name, layer.pot, layer.base_g_per_bar, layer.base_g, layer.melt_g,
            layer.volume_ml_per_bar, low, high, limit_used(layer), layer.leftover,
        )  # fmt: skip


_BASES = ("design", "variant", "layer", "base", "melt_g")


def _bases(told: Told) -> Iterator[Row]:
    for layer in told.figures.masses.layers:
        for base, melt_g in layer.bases:
            yield (*told.key, layer.name, base, melt_g)


_FRAGRANCES = (
    "design", "variant", "layer", "oil", "volume_ml", "mass_g", "load_percent", "layer_percent",
    "bar_percent", "limit_percent", "within_limit", "add_low_c", "add_high_c", "from_leftover",
    "density_taken",
)  # fmt: skip


def _fragrances(told: Told) -> Iterator[Row]:
    for layer in told.figures.masses.layers:
        for oil in layer.fragrances:
            low, high = oil.add_c or (None, None)
            yield (
                *told.key, layer.name, oil.oil, oil.volume_ml, oil.mass_g, 100 * oil.load,
                100 * oil.layer_share, 100 * oil.bar_share, _percent(oil.limit), oil.within,
                low, high, oil.from_leftover, oil.density_taken,
            )  # fmt: skip


_COLOURS = ("design", "variant", "layer", "colourant", "volume_ml", "mass_g", "by_eye", "aim")


def _colours(told: Told) -> Iterator[Row]:
    for layer in told.figures.masses.layers:
        for colour in layer.colours:
            yield (
                *told.key, layer.name, colour.colourant, colour.volume_ml, colour.mass_g,
                colour.by_eye, colour.aim,
            )  # fmt: skip


_POTS = (
    "design", "variant", "pot", "layers", "melt_g", "left_g", "lost_g", "left_colours",
    "left_fragrances",
)  # fmt: skip


def _pots(told: Told) -> Iterator[Row]:
    left = {one.pot: one for one in told.figures.leftovers.value or ()}
    for pot in told.figures.masses.pots:
        own = left[pot.name]
        scents = ", ".join(oil for oil, _ in own.scents)
        yield (
            *told.key, pot.name, ", ".join(pot.layers), pot.melt_g, own.left_g, own.lost_g,
            ", ".join(own.colours), scents,
        )  # fmt: skip


_FILL = (
    "design", "variant", "capacity_low_ml", "capacity_high_ml", "poured_ml", "piece_ml",
    "fill_low_percent", "fill_high_percent", "proud_low_mm", "proud_high_mm",
)  # fmt: skip


def _fill(told: Told) -> Iterator[Row]:
    fill = told.figures.fill.value
    if fill is not None:
        yield (
            *told.key, *fill.capacity_ml, fill.poured_ml, fill.piece_ml,
            *(100 * share for share in fill.fill), *(fill.proud_mm or (None, None)),
        )  # fmt: skip


_COST = (
    "design", "variant", "bars", "currency", "base_a_bar", "fragrance_a_bar", "colour_a_bar",
    "packaging_a_bar", "tools_a_bar", "labour_a_bar", "total_a_bar", "price_a_bar",
    "contribution_a_bar", "break_even_bars", "batch_total", "batch_price",
)  # fmt: skip


def _cost(told: Told, currency: str) -> Iterator[Row]:
    sheet = told.figures.cost.value
    if sheet is not None:
        whole = not sheet.missing
        yield (
            *told.key, sheet.bars, currency, *(part for _, part in sheet.a_bar.parts),
            sheet.a_bar.total if whole else None, sheet.price, sheet.contribution,
            sheet.break_even_bars, sheet.batch.total if whole else None, sheet.batch_price,
        )  # fmt: skip


_WEIGHT = (
    "design", "region", "bars_weighed", "mean_g", "sale_day", "mean_at_sale_g", "lower_g",
    "loss_day_30_percent", "declared_g", "declared",
)  # fmt: skip


def _net_weight(design: Design, figures: DesignFigures) -> Iterator[Row]:
    found = figures.recipe.net_weight.value
    for entry in found.declared if found is not None else ():
        assert found is not None
        net = found.net
        yield (
            design.id, entry.system, net.bars, net.mean_g, net.sale_day, net.mean_at_sale_g,
            net.lower_g, _percent(found.loss.share if found.loss else None), entry.declared_g,
            entry.text or None,
        )  # fmt: skip


_LABEL = ("design", "variant", "region", "kind", "place", "name", "base")


def _label(told: Told) -> Iterator[Row]:
    """An ingredient or allergen a row; ``base`` where a base's list stands apart."""
    label = told.figures.label.value
    for draft in label.drafts if label is not None else ():
        key = (*told.key, draft.region)
        for place, name in enumerate(draft.names, start=1):
            yield (*key, "ingredient", place, name, None)
        for base, names in draft.apart:
            for place, name in enumerate(names, start=1):
                yield (*key, "ingredient", place, name, base)
        for place, name in enumerate(draft.allergens, start=1):
            yield (*key, "allergen", place, name, None)


_CUT = ("design", "variant", "piece_width_mm", "piece_height_mm", "pieces", "waste_percent")


def _cut(told: Told) -> Iterator[Row]:
    plan = told.figures.cut.value
    if plan is not None:
        yield (*told.key, *plan.piece_mm, plan.count, 100 * plan.waste_share)


_COOLING = (
    "design", "pour", "pot", "run", "window", "readings", "room_c", "room_from", "start_c",
    "rate_per_min", "half_time_min", "rms_c", "enters_min", "enters_low_min", "enters_high_min",
    "leaves_min", "leaves_low_min", "leaves_high_min",
)  # fmt: skip


def _cooling(design: Design, figures: DesignFigures) -> Iterator[Row]:
    """A window of a run a row; a run without windows has one row."""
    for run in figures.cooling.value or ():
        curve = run.fit.curve
        of_curve: Row = (None,) * 4
        if curve is not None:
            of_curve = (curve.start_c, curve.rate_per_min, curve.half_time_min, run.fit.rms_c)
        windows: list[tuple[str | None, WindowTimes | None]] = [
            (name, times) for name, _, times in run.windows if times is not None
        ]
        for name, times in windows or [(None, None)]:
            of_window: Row = (None,) * 6
            if times is not None:
                of_window = (
                    times.enters_min, *(times.enters_interval_min or (None, None)),
                    times.leaves_min, *(times.leaves_interval_min or (None, None)),
                )  # fmt: skip
            yield (
                design.id, run.pour, run.pot, run.run.number, name, run.fit.readings,
                None if curve is None else curve.room_c, run.fit.room_from or None,
                *of_curve, *of_window,
            )  # fmt: skip


_BOND = (
    "design", "variant", "layer", "contact_c", "peak_interface_c", "softened_min",
    "remelted_share", "detail_c", "window_low_c", "window_high_c", "window_low_from_c",
    "window_low_to_c", "window_high_from_c", "window_high_to_c",
)  # fmt: skip


def _bond(told: Told) -> Iterator[Row]:
    found = told.figures.bond.value
    if found is not None:
        planned, window = found.planned, found.window
        yield (
            *told.key, found.body_layer, planned.contact_c, planned.peak_interface_c,
            planned.softened_min, planned.remelted_share, planned.detail_c,
            window.low_c, window.high_c, *(window.low_band_c or (None, None)),
            *(window.high_band_c or (None, None)),
        )  # fmt: skip


_BLEED = (
    "design", "bar", "variant", "by", "looks", "start_mm", "a_mm_per_sqrt_day", "day",
    "width_mm", "width_low_mm", "width_high_mm",
)  # fmt: skip


def _bleed(design: Design, figures: DesignFigures) -> Iterator[Row]:
    """A forecast a row."""
    for entry in figures.bleed.value or ():
        growth = entry.growth
        for one in growth.forecasts:
            yield (
                design.id, entry.bar, entry.variant, growth.by, growth.looks, growth.start_mm,
                growth.a_mm_per_sqrt_day, one.day, one.width_mm,
                *(one.interval_mm or (None, None)),
            )  # fmt: skip


def _bars(designs: Sequence[Design], measures: Mapping[str, Measure]) -> tuple[Table, Table]:
    """Every bar with its measures, and every bar looked at again."""
    first = ("design", "pour", "date", "room_c", "bar", "variant", "piece", "poured_c", "note")
    again = ("design", "pour", "date", "bar", "day")
    columns = {
        name: measure_columns(measure, {*first, *again}) for name, measure in measures.items()
    }
    flat = [column for own in columns.values() for column in own]
    bars = [
        (*_bar(design, pour, bar), *_measured(bar.measures, columns))
        for design in designs
        for pour in design.pours
        for bar in pour.bars
    ]
    looks = [
        (
            design.id,
            pour.label,
            pour.date,
            later.bar,
            later.day,
            *_measured(later.measures, columns),
        )
        for design in designs
        for pour in design.pours
        for later in pour.later
    ]
    return _table("bars", (*first, *flat), bars), _table("later", (*again, *flat), looks)


def _bar(design: Design, pour: Pour, bar: Bar) -> Row:
    recipe = next((v.recipe for v in design.variants if v.name == bar.variant), design.recipe)
    poured = {**pour.poured_c, **bar.poured_c}
    said = "; ".join(f"{layer} {value:.4g}" for layer, value in poured.items())
    return (
        design.id, pour.label, pour.date, pour.room_c, bar.bar, bar.variant,
        bar.piece or recipe.piece, said or None, bar.note or None,
    )  # fmt: skip


def measure_columns(measure: Measure, taken: Iterable[str] = ()) -> tuple[str, ...]:
    """The columns of a measure: its name with its unit; three for a colour."""
    if measure.kind == "colour":
        return tuple(f"{measure.name}_{part}" for part in ("l", "a", "b"))
    unit = measure.unit.replace(" ", "_")
    name = f"{measure.name}_{unit}" if unit else measure.name
    return (f"measure_{name}",) if name in set(taken) else (name,)


def _measured(measures: Measured, columns: Mapping[str, tuple[str, ...]]) -> Row:
    cells: list[Cell] = []
    for name, own in columns.items():
        value = measures.get(name)
        cells.extend(value if isinstance(value, tuple) else (value,) * len(own))
    return tuple(cells)


def _missing(found: Iterable[tuple[Design, DesignFigures]]) -> Iterator[Row]:
    for design, figures in found:
        for entry in missing_of(figures):
            yield (design.id, entry.figure, entry.needs)


_PIECES = (
    "piece", "name", "mat", "mould", "trim", "alike", "width_mm", "height_mm", "casts_before",
    "casts_poured", "casts_had", "casts_left", "casts_had_each", "casts_left_each", "fits",
)  # fmt: skip


def _pieces(notebook: Notebook, pieces: Mapping[str, Figure[PieceFigures]]) -> Iterator[Row]:
    for name, figure in pieces.items():
        found, record = figure.value, notebook.shelf.pieces[name]
        assert found is not None
        entry = notebook.shelf.written["pieces"][name]
        casts = found.casts
        yield (
            name, record.name, record.mat, record.mould,
            str(entry["trim"]) if "trim" in entry else None, found.alike,
            *(found.size_mm or (None, None)), found.before, found.poured,
            found.before + found.poured, None if casts is None else casts.left,
            found.had_each, found.left_each, ", ".join(fit.mould for fit in found.fits),
        )  # fmt: skip


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share
