"""Figures and comparisons together as JSON, as ``journal figures`` prints them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any

from journal.comparison.as_tables_poured import poured_tables
from journal.comparison.comparing import VariantComparison
from journal.comparison.derive import (
    ComparisonResults,
    CrossDesignResults,
    DesignResults,
    MeasureResults,
    PlanResults,
    VariantResults,
    YesNoCount,
)
from journal.comparison.derive_worth import design_worths
from journal.comparison.failures.conditions import ConditionOfFailure, SideCount
from journal.comparison.planned.layout import laid_out
from journal.comparison.verdict import Finding
from journal.comparison.worth import WorthOfChoice
from journal.figures.as_json import FORMAT, design_json, missing_input_json
from journal.figures.as_tables import wear_table
from journal.figures.common.as_json_numbers import number
from journal.figures.common.result import MissingInput
from journal.figures.derive import AllFigures
from journal.figures.lots.as_json_lots import batches_json, missing_dates
from journal.figures.lots.derive_trace import derive_trace
from journal.records.notebook import Notebook

# Reasons for a difference without a 95 % interval.
NO_INTERVAL = {
    "nothing to compare": "nothing to compare",
    "too few": "too few were poured for a 95 % interval",
    "all the same": "all measured the same, so there is no interval",
}


def figures_json(
    notebook: Notebook, figures: AllFigures, compared: ComparisonResults, only: Iterable[str] = ()
) -> dict[str, Any]:
    """All figures, or those of the designs ``only``, with their comparisons.

    Beside the designs stand the rows of ``poured_tables``, by the name of each table; and, where
    all designs are asked for, ``conditions``: what was held against failures, and ``wear``: what
    bars say of the pieces of each mat.
    """
    ids = set(only)
    trace = derive_trace(notebook)
    rows = {table.name: table.json for table in poured_tables(notebook, ids, trace)}
    designs: dict[str, Any] = {}
    for name, of_design in figures.designs.items():
        if ids and name not in ids:
            continue
        block = design_json(notebook.designs[name], of_design)
        results = compared.designs[name]
        for variant in results.variants:
            block["variants"][variant.variant] = {
                **variant_json(variant),
                **block["variants"][variant.variant],
            }
        block["comparisons"] = [comparison_json(entry) for entry in results.comparisons]
        batches = trace.batches[name]
        block["batches"] = batches_json(
            notebook.designs[name], batches, figures.summaries[name].taken
        )
        block |= _plan_block(results)
        worths = design_worths(notebook.settings, of_design, results)
        block["worth"] = [_worth_json(worth) for worth in worths]
        block["missing"] = [
            *block["missing"],
            *map(missing_input_json, missing_dates(batches)),
            *map(missing_input_json, missing_intervals(results.comparisons)),
            *map(missing_input_json, missing_chance(results.plan)),
        ]
        designs[name] = block
    conditions = _conditions_json(compared, whole=not ids)
    rows["wear"] = wear_table(notebook, figures, ids).json
    return {"format": FORMAT, "designs": designs, "conditions": conditions, **rows}


def compared_json(
    notebook: Notebook, compared: ComparisonResults, only: str | None = None
) -> dict[str, Any]:
    """The comparisons of every design and question, or of the one called ``only``.

    With all of them comes ``conditions``: what was held against failures, over the notebook.
    """
    return {
        "format": FORMAT,
        "designs": {
            name: {
                "title": notebook.designs[name].title,
                "variants": {one.variant: variant_json(one) for one in results.variants},
                "comparisons": [comparison_json(entry) for entry in results.comparisons],
                **_plan_block(results),
            }
            for name, results in compared.designs.items()
            if only in (None, name)
        },
        "questions": {
            name: _question_json(answer)
            for name, answer in compared.across.items()
            if only in (None, name)
        },
        "conditions": _conditions_json(compared, whole=only is None),
    }


def _conditions_json(compared: ComparisonResults, whole: bool) -> list[dict[str, Any]]:
    """What was held against failures, which is of the whole notebook or of nothing."""
    return [condition_json(entry) for entry in compared.every_condition] if whole else []


def variant_json(results: VariantResults) -> dict[str, Any]:
    """Counts and measures of one variant's bars; ``kept`` is null if it was not recorded."""
    return {
        "bars": results.bars,
        "spoilt": results.spoilt,
        "pours": results.pours,
        "kept": None if results.kept is None else yes_no_json(results.kept),
        "measures": {entry.measure.name: measured_json(entry) for entry in results.measures},
    }


def measured_json(entry: MeasureResults) -> dict[str, Any]:
    """All values of one measure, with median and mean; for yes/no how many said yes."""
    if entry.share is not None:
        return {**yes_no_json(entry.share), "not_measured": entry.not_measured}
    block: dict[str, Any] = {
        "unit": entry.measure.unit,
        "n": len(entry.values),
        "not_measured": entry.not_measured,
        "median": number(entry.median),
        "mean": number(entry.mean),
        "values": [number(value) for value in entry.values],
    }
    if entry.day is not None:
        block["day"] = entry.day
    return block


def yes_no_json(count: YesNoCount) -> dict[str, Any]:
    """A count of yes with its interval."""
    return {
        "yes": count.yes,
        "n": count.n,
        "low": number(count.interval.low),
        "high": number(count.interval.high),
    }


def missing_intervals(comparisons: Iterable[VariantComparison]) -> Iterator[MissingInput]:
    """A missing input for each comparison without an interval, with the reason."""
    for entry in comparisons:
        why = entry.contrast.trials.why or NO_INTERVAL.get(entry.contrast.no_interval)
        if why:
            first, second = entry.between
            yield MissingInput("comparisons", f"{second} against {first} by {entry.by}: {why}")


def missing_chance(plan: PlanResults | None) -> Iterator[MissingInput]:
    """A missing input for a plan of which nothing says how likely it is to tell."""
    if plan is not None and plan.chance.chance is None:
        yield MissingInput("comparisons", f"chance of the plan: {plan.measure.name} of others")


def comparison_json(entry: VariantComparison) -> dict[str, Any]:
    """Two variants compared by one measure; numbers that do not exist are null."""
    look = entry.verdict.next_look
    return {
        **_finding_json(entry),
        "trials": entry.trials,
        "method": entry.contrast.method,
        "doubt": entry.verdict.doubt,
        "next_look": None if look is None else {"at": look.at, "chance": number(look.chance)},
    }


def _plan_block(results: DesignResults) -> dict[str, Any]:
    """The block ``plan`` of a design; none without a planned test."""
    return {} if results.plan is None else {"plan": plan_json(results.plan)}


def plan_json(plan: PlanResults) -> dict[str, Any]:
    """A planned test: chances to tell by pots, what was not kept, and its layout pot by pot.

    A cavity that is left free has no variant, "".
    """
    test = plan.test
    return {
        "trials": test.by,
        "compare": list(test.compared),
        "by": plan.measure.name,
        "matters": number(plan.measure.matters),
        "seed": test.seed,
        "pots": test.pots,
        "bars": test.bars,
        "chance": number(plan.chance.chance),
        "chances": [
            {"pots": one.pots, "bars": one.bars, "chance": number(one.chance)}
            for one in plan.chances
        ],
        "deviations": list(plan.deviations),
        "layout": [
            {
                "pot": pot.number,
                **({} if pot.day is None else {"day": pot.day}),
                "cavities": [
                    {
                        "cavity": one.cavity,
                        "variant": one.variant,
                        "poured": one.poured,
                        **({} if one.peeled is None else {"peeled": one.peeled}),
                        "code": one.code,
                    }
                    for one in pot.cavities
                ],
            }
            for pot in laid_out(test)
        ],
    }


def condition_json(entry: ConditionOfFailure) -> dict[str, Any]:
    """One symptom against one condition: counts on either side, and p.

    The cut of a number is in degrees C, percent or minutes; of a kind, such as a season, null.
    """
    unit = {"temperature": "c", "share": "percent", "time": "min"}.get(entry.kind)
    cut = None if entry.cut is None else entry.cut * (100 if entry.kind == "share" else 1)

    def side(count: SideCount) -> dict[str, Any]:
        low, high = (None, None) if (i := count.interval) is None else (i.low, i.high)
        return {"failed": count.failed, "pots": count.pots, "low": number(low),
                "high": number(high)}  # fmt: skip

    return {
        "symptom": entry.symptom,
        "condition": entry.condition,
        "is": entry.value or None,
        "pots_of": "all designs" if entry.of_design else "one design",
        "cut": number(cut),
        "unit": unit,
        "above": side(entry.above),
        "below": side(entry.below),
        "p": number(entry.p),
        "p_adjusted": number(entry.sure_p),
        "told": entry.is_told,
    }


def _worth_json(worth: WorthOfChoice) -> dict[str, Any]:
    """What the second of two variants saves a bar, with its parts; below 0 it costs more."""
    low, high = worth.interval or (None, None)
    return {
        "between": list(worth.between),
        "money": _money_number(worth.money),
        "low": _money_number(low),
        "high": _money_number(high),
        "parts": {
            one.part: {
                "money": _money_number(one.money),
                "low": _money_number(one.low),
                "high": _money_number(one.high),
            }
            for one in worth.parts
        },
    }


def _money_number(amount: Fraction | None) -> float | None:
    """An exact amount, not rounded to coins: it is of one bar, and sums over many."""
    return None if amount is None else number(float(amount))


def _finding_json(entry: Finding) -> dict[str, Any]:
    """What every comparison has, within a design and across designs."""
    return {
        "between": list(entry.between),
        "by": entry.by,
        "unit": entry.unit,
        "deciding": entry.deciding,
        "difference": number(entry.difference),
        "low": number(entry.low),
        "high": number(entry.high),
        "p": number(entry.p),
        "p_adjusted": number(entry.p_adjusted),
        "verdict": entry.verdict.words,
        "verdict_code": entry.verdict.code,
        "so_far": entry.verdict.so_far,
    }


def _question_json(answer: CrossDesignResults) -> dict[str, Any]:
    """The answer to a question across designs, with a row for each design."""
    return {
        "title": answer.question.record.title,
        "compared": answer.thing,
        "values": list(answer.values),
        "nothing_because": answer.empty_because or None,
        "comparisons": [
            {
                **_finding_json(entry),
                "designs_paired": entry.paired,
                "designs": {
                    row.design: {
                        "difference": number(row.difference),
                        "low": number(row.low),
                        "high": number(row.high),
                        "why": row.why or None,
                    }
                    for row in entry.rows
                },
            }
            for entry in answer.results
        ],
    }
