"""Measures and comparisons of the variants as tables for a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from journal.comparison.as_json import condition_json, missing_chance, missing_intervals
from journal.comparison.derive import ComparisonResults, DesignResults
from journal.comparison.derive_worth import design_worths
from journal.comparison.planned.layout import laid_out
from journal.comparison.worth import PARTS_OF_WORTH
from journal.figures.as_tables import FigureTable
from journal.figures.common.spec import TableRow
from journal.figures.derive import AllFigures
from journal.records.notebook import Notebook

_VARIANTS = (
    "design", "variant", "bars", "pours", "measure", "unit", "n", "not_measured", "day",
    "median", "mean", "yes", "yes_low", "yes_high",
)  # fmt: skip
_COMPARISONS = (
    "design", "first", "second", "by", "unit", "deciding", "trials", "difference", "low", "high",
    "p", "p_adjusted", "verdict", "verdict_code", "so_far",
    "method", "doubt", "next_look_at", "next_look_chance",
)  # fmt: skip

_WORTH = (
    "design", "first", "second", "currency", "saved_a_bar", "low_a_bar", "high_a_bar",
    "tidying_a_bar", "bars_fit_to_sell_a_bar", "materials_a_bar",
)  # fmt: skip

_CONDITIONS = (
    "symptom", "condition", "is", "pots_of", "cut", "unit", "pots_above", "failed_above",
    "pots_below", "failed_below", "p", "p_adjusted", "told",
)  # fmt: skip


def conditions_table(compared: ComparisonResults, only: Iterable[str] = ()) -> FigureTable:
    """The table ``conditions``: what was held against each failure, over the whole notebook.

    It is empty where some designs ``only`` are asked for.
    """
    rows: list[TableRow] = []
    every = () if tuple(only) else compared.every_condition
    for entry in map(condition_json, every):
        above, below = entry.pop("above"), entry.pop("below")
        sides = {
            "pots_above": above["pots"], "failed_above": above["failed"],
            "pots_below": below["pots"], "failed_below": below["failed"],
        }  # fmt: skip
        rows.append(tuple({**entry, **sides}[column] for column in _CONDITIONS))
    return FigureTable("conditions", _CONDITIONS, tuple(rows))


def worth_table(
    notebook: Notebook, figures: AllFigures, compared: ComparisonResults, only: Iterable[str] = ()
) -> FigureTable:
    """The table ``worth``: what the second of two variants saves a bar over the first."""
    ids = set(only)
    rows: list[TableRow] = []
    for name, of_design in figures.designs.items():
        if ids and name not in ids:
            continue
        for worth in design_worths(notebook.settings, of_design, compared.designs[name]):
            low, high = worth.interval or (None, None)
            parts = {one.part: one.money for one in worth.parts}
            money = (worth.money, low, high, *(parts.get(part) for part in PARTS_OF_WORTH))
            amounts = (None if one is None else float(one) for one in money)
            rows.append((name, *worth.between, notebook.settings.currency, *amounts))
    return FigureTable("worth", _WORTH, tuple(rows))


_PLAN = ("design", "pot", "day", "cavity", "variant", "poured", "peeled", "code")


def comparison_tables(
    compared: ComparisonResults, only: Iterable[str] = ()
) -> tuple[FigureTable, ...]:
    """The tables ``variants``, ``comparisons``, ``plan`` and ``missing`` of designs in ``only``.

    Without ids in ``only`` they have all designs. ``missing`` says why comparisons have no
    interval; its rows are to be added to those of the figures.
    """
    ids = set(only)
    chosen = [results for name, results in compared.designs.items() if not ids or name in ids]
    variants = tuple(row for one in chosen for row in _variant_rows(one))
    comparisons = tuple(row for one in chosen for row in _comparison_rows(one))
    missing = tuple(
        (one.design, entry.figure, entry.needs)
        for one in chosen
        for entry in (*missing_intervals(one.comparisons), *missing_chance(one.plan))
    )
    return (
        FigureTable("variants", _VARIANTS, variants),
        FigureTable("comparisons", _COMPARISONS, comparisons),
        FigureTable("plan", _PLAN, tuple(row for one in chosen for row in _plan_rows(one))),
        FigureTable("missing", ("design", "figure", "needs"), missing),
    )


def merge_tables(tables: Iterable[FigureTable]) -> tuple[FigureTable, ...]:
    """Tables of one name and the same columns as one."""
    merged: dict[str, FigureTable] = {}
    for table in tables:
        before = merged.get(table.name)
        rows = table.rows if before is None else (*before.rows, *table.rows)
        merged[table.name] = FigureTable(table.name, table.columns, rows)
    return tuple(merged.values())


def _variant_rows(results: DesignResults) -> Iterator[TableRow]:
    """One row for each measure of each variant; one row for a variant without measures."""
    for variant in results.variants:
        first = (results.design, variant.variant, variant.bars, variant.pours)
        for entry in variant.measures:
            share = entry.share
            numbers: TableRow = (entry.median, entry.mean, None, None, None)
            if share is not None:
                numbers = (None, None, share.yes, share.interval.low, share.interval.high)
            unit = entry.measure.unit or None
            count = len(entry.values)
            yield (
                *first, entry.measure.name, unit, count, entry.not_measured, entry.day, *numbers
            )  # fmt: skip
        if not variant.measures:
            yield (*first, *(None,) * 10)


def _plan_rows(results: DesignResults) -> Iterator[TableRow]:
    """One row for each cavity of a planned test."""
    for pot in laid_out(results.plan.test) if results.plan is not None else ():
        for one in pot.cavities:
            yield (
                results.design, pot.number, pot.day, one.cavity, one.variant or None,
                one.poured, one.peeled, one.code,
            )  # fmt: skip


def _comparison_rows(results: DesignResults) -> Iterator[TableRow]:
    """One row for each comparison."""
    for entry in results.comparisons:
        look = entry.verdict.next_look
        yield (
            results.design, *entry.between, entry.by, entry.unit, entry.deciding, entry.trials,
            entry.difference, entry.low, entry.high, entry.p, entry.p_adjusted,
            entry.verdict.words, entry.verdict.code, entry.verdict.so_far,
            entry.contrast.method, entry.verdict.doubt or None,
            look.at if look is not None else None, look.chance if look is not None else None,
        )  # fmt: skip
