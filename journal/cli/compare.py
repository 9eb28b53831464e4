"""``journal compare``: variants compared, in the terminal."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import partial

from journal.cli.terminal import print_json, print_lines, wrapped
from journal.cli.used import require_sound
from journal.comparison.across import CrossDesignComparison
from journal.comparison.as_json import compared_json
from journal.comparison.comparing import VariantComparison
from journal.comparison.derive import (
    ComparisonResults,
    CrossDesignResults,
    DesignResults,
    PlanResults,
    compare_designs,
    possible_plan,
)
from journal.comparison.derive_worth import design_worths
from journal.comparison.failures.sentences import condition_sentences, limit_text
from journal.comparison.planned.sentences import (
    chance_sentences,
    chance_text,
    deviation_sentence,
    layout_sentence,
)
from journal.comparison.sentences import (
    across_sentences,
    claims,
    sentences,
    verdict_sentence,
    worth_sentence,
)
from journal.errors import UsageError, raise_errors
from journal.figures.derive import can_be_derived, derive_design
from journal.figures.shop.cost import round_money
from journal.quantities.show import show_money
from journal.records.models.fields import spelling_hint
from journal.records.notebook import Notebook, read_notebook


def compare(args: argparse.Namespace) -> int:
    """Run ``journal compare``; gives the exit status."""
    notebook = read_notebook(args.content)
    ids = [*notebook.designs, *notebook.unreadable, *notebook.comparisons]
    if args.id is not None and args.id not in ids:
        raise UsageError(
            f'no design or comparison is called "{args.id}"', spelling_hint(args.id, ids)
        )
    if args.id is None or args.id in notebook.comparisons:
        raise_errors(notebook.problems)
    else:
        require_sound(notebook, [args.id])
    compared = compare_designs(notebook)
    if args.json:
        print_json(compared_json(notebook, compared, args.id))
        return 0
    lines = comparison_lines(notebook, compared, args.id)
    print_lines(*(lines or ("Nothing to compare yet: no design has poured two variants.",)))
    return 0


def comparison_lines(
    notebook: Notebook, compared: ComparisonResults, only: str | None
) -> list[str]:
    """Lines on the variants of one design or question ``only``, or of all of them."""
    lines: list[str] = []
    for name, results in compared.designs.items():
        if only not in (None, name):
            continue
        plan = results.plan
        if plan is None and only == name:
            plan = possible_plan(notebook, notebook.designs[name], compared.scatters)
        own = [
            *_design_lines(results.comparisons, only == name),
            *wrapped(*_worth_lines(notebook, results)),
            *([] if plan is None else _plan_lines(plan, name, only == name)),
        ]
        if own:
            lines += ["", notebook.designs[name].title, *own]
    for name, answer in compared.across.items():
        if only in (None, name):
            lines += ["", answer.question.record.title, *_question_lines(answer)]
    if only is None and compared.conditions:
        lines += ["", "What went with what failed", *_failure_lines(notebook, compared)]
    return lines[1:]


def _design_lines(comparisons: Sequence[VariantComparison], whole: bool) -> Iterator[str]:
    """Lines on comparisons: in full if they decide, or with ``whole``; else the verdict alone."""
    for entry in comparisons:
        yield from wrapped(_with_heading(entry, verdict_sentence(entry)))
        if entry.deciding or whole:
            yield from wrapped(*sentences(entry, among=comparisons)[1:], indent="    ")


def _worth_lines(notebook: Notebook, results: DesignResults) -> Iterator[str]:
    """A sentence on what each choice is worth that a verdict decides."""
    design, settings = notebook.designs[results.design], notebook.settings
    told = {(one.group, one.between) for one in results.comparisons if one.deciding and claims(one)}
    if not told or not can_be_derived(notebook.shelf, design):
        return

    def as_money(amount: Fraction) -> str:
        return show_money(round_money(amount, settings.currency), settings.currency)

    figures, _ = derive_design(notebook, design, models=False)
    for worth in design_worths(settings, figures, results):
        if (worth.group, worth.between) in told:
            yield worth_sentence(worth, as_money)


def _plan_lines(plan: PlanResults, name: str, whole: bool) -> Iterator[str]:
    """What a plan is likely to tell, before it is poured, with a table if ``whole``; how it was
    kept.
    """
    if plan.poured:
        deviation = deviation_sentence(plan.deviations)
        yield from wrapped(f"plan: {deviation or 'kept so far.'}")
        return
    text = " ".join(chance_sentences(plan.chance, plan.chances, plan.measure))
    yield from wrapped(f"{'planned' if plan.written else 'before pouring'}: {text}")
    if not whole:
        return
    yield from wrapped(layout_sentence(plan.test), indent="    ")
    if plan.chance.chance is not None:
        yield "    pots  bars each  told"
        for one in plan.chances:
            chance = chance_text(one.chance) if one.chance else "never"
            yield f"    {one.pots:>4}  {one.bars:>9}  {chance}"
    if plan.written:
        yield from wrapped(f"Its sheet: journal sheet pour-day {name}", indent="    ")
    else:
        plan_key = f"plan: {{pots: {plan.test.pots}, seed: any-word}}"
        yield from wrapped(f"To have it laid out, write below the question: {plan_key}",
                           indent="    ")  # fmt: skip


def _question_lines(answer: CrossDesignResults) -> Iterator[str]:
    """The answer to a question across designs, with a row for each design."""
    if answer.empty_because:
        yield from wrapped(f"Nothing to compare: {answer.empty_because}.")
    for entry in answer.results:
        first, *rest = across_sentences(entry)
        yield from wrapped(_with_heading(entry, first))
        width = max((len(row.design) for row in entry.rows), default=0)
        for row in entry.rows:
            contrast = row.why or "nothing to pair"
            if row.difference is not None:
                contrast = f"{row.difference:+.2f} {entry.unit}".rstrip()
                if row.low is not None and row.high is not None:
                    contrast += f"  ({row.low:+.2f} to {row.high:+.2f})"
            yield f"    {row.design:<{width}}  {contrast}"
        yield from wrapped(*rest, indent="    ")


def _failure_lines(notebook: Notebook, compared: ComparisonResults) -> Iterator[str]:
    """Lines on the conditions that went with each symptom, over the whole notebook."""
    us_first = notebook.settings.units == "us"
    bases = {name: base.name for name, base in notebook.shelf.bases.items()}
    fixed: dict[str, list[str]] = {}
    for design in notebook.designs.values():
        for failure in design.failed:
            if failure.mended == "yes":
                fixed.setdefault(failure.what, []).append(failure.mend or "")
    for symptom, looked_at in compared.conditions.items():
        first, *rest = condition_sentences(
            looked_at, fixed.get(symptom, ()), partial(limit_text, us_first=us_first, bases=bases)
        )
        yield from wrapped(f"{symptom}: {first}")
        yield from wrapped(*rest, indent="    ")


def _with_heading(entry: VariantComparison | CrossDesignComparison, sentence: str) -> str:
    """A sentence under what was compared, and whether that decides or is a hint."""
    return f"{entry.by} ({'decides' if entry.deciding else 'a hint'}): {sentence}"
