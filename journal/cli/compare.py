"""``journal compare``: variants compared, in the terminal."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from fractions import Fraction

from journal.cli.terminal import print_json, print_lines, wrapped
from journal.cli.used import require_sound
from journal.comparison.across import CrossDesignComparison
from journal.comparison.as_json import compared_json
from journal.comparison.comparing import VariantComparison
from journal.comparison.derive import (
    ComparisonResults,
    CrossDesignResults,
    DesignResults,
    compare_designs,
)
from journal.comparison.derive_worth import design_worths
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
        if results.comparisons and only in (None, name):
            lines += [
                "",
                notebook.designs[name].title,
                *_design_lines(results.comparisons, only == name),
                *wrapped(*_worth_lines(notebook, results)),
            ]
    for name, answer in compared.across.items():
        if only in (None, name):
            lines += ["", answer.question.record.title, *_question_lines(answer)]
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


def _with_heading(entry: VariantComparison | CrossDesignComparison, sentence: str) -> str:
    """A sentence under what was compared, and whether that decides or is a hint."""
    return f"{entry.by} ({'decides' if entry.deciding else 'a hint'}): {sentence}"
