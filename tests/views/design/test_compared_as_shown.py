"""A pour of another design makes a page again only where it shows what that changed."""

from __future__ import annotations

import dataclasses
import re
from datetime import date, timedelta
from itertools import combinations

from demo import FAN, KELP_ON_CLAY
from demo_book import demo_book, demo_notebook
from msgspec.structs import replace

from journal.comparison.derive import (
    DesignResults,
    design_results,
    design_scatter,
    lent_scatter,
    other_scatter,
)
from journal.comparison.moderated import PotScatter
from journal.comparison.scatter import MeasureScatter, OtherScatter
from journal.comparison.sentences import method_text
from journal.views.design.page import design_sheets
from journal.views.design.variants import compared_as_shown
from journal.views.shared.inputs import GroupKeys, cards_inputs

# What the pots of the other designs scatter, times what they do in the demo.
FACTORS = (1.0, 1.0001, 1.01, 1.02, 1.03, 1.05, 1.08, 1.15, 1.3)


def test_results_that_are_shown_alike_make_the_same_page() -> None:
    book, alike, apart = demo_book(), 0, 0
    lent = lent_scatter(book.compared.scatters)
    for name, own in book.compared.scatters.items():
        others = other_scatter(name, own, lent)
        found = [results_with(name, others, factor) for factor in FACTORS]
        if not any(entry.contrast.pots for entry in found[0].comparisons):
            continue
        pages = [page(name, results) for results in found]
        shown = [compared_as_shown(results) for results in found]
        for first, second in combinations(range(len(FACTORS)), 2):
            if shown[first] == shown[second]:
                assert pages[first] == pages[second], (name, FACTORS[first], FACTORS[second])
                alike += found[first] != found[second]
            else:
                apart += 1
    assert alike, "other numbers are shown alike nowhere"
    assert apart, "no page shows what is borrowed"


def test_of_the_same_few_pots_one_question_borrows_and_one_may_not() -> None:
    """Two pots of each: five other designs had shown their relief by then, none its bubbles."""
    told = {}
    for name in (KELP_ON_CLAY, FAN):
        (found,) = (one for one in demo_book().compared.designs[name].comparisons if one.deciding)
        assert (found.trials, [side.pours for side in found.sides]) == ("pots", [2, 2])
        told[name] = (found.contrast.method, found.verdict.code, method_text(found))
    method, code, says = told[KELP_ON_CLAY]
    assert (method, code) == ("moderated t", "leaning")
    assert "the pots of 5 other designs" in says
    assert told[FAN] == ("permutation", "too few", "by exact permutation, p\u00a0=\u00a00.5")


def test_a_pour_of_later_changes_no_answer_of_another_design() -> None:
    """A loaf once more changes what was poured on that day or later, and borrows from it."""
    book, loaf = demo_book(), demo_notebook().designs["oat-and-milk-loaf"]
    last = book.compared.scatters["moth-and-moon"].borrows_until
    changed = []
    for on in (last, last + timedelta(1), date.max):
        pour = replace(loaf.pours[-1], label="Z", date=on)
        poured = dataclasses.replace(loaf, pours=(*loaf.pours, pour))
        own = design_scatter(book.settings, book.notebook.shelf, poured)
        scatters = {**book.compared.scatters, loaf.id: own}
        lent = lent_scatter(scatters)
        found = {
            name: results_with(name, other_scatter(name, scatter, lent))
            for name, scatter in scatters.items()
            if name != loaf.id
        }
        changed.append({name for name in found if found[name] != book.compared.designs[name]})
    later = {"fan-white-on-white", "kelp-on-clay"}
    assert changed == [later | {"moth-and-moon"}, later, set()]


def results_with(name: str, others: OtherScatter, factor: float = 1.0) -> DesignResults:
    """The results of a design if the pots of the others scattered so many times as much."""
    notebook = demo_book().notebook
    scaled = {
        of: tuple(tuple(times(one, factor) for one in history) for history in lent)
        for of, lent in others.items()
    }
    return design_results(notebook.settings, notebook.shelf, notebook.designs[name], scaled)


def times(scatter: MeasureScatter, factor: float) -> MeasureScatter:
    def of(one: PotScatter | None) -> PotScatter | None:
        return None if one is None else replace(one, variance=factor * one.variance)

    return replace(scatter, in_day=of(scatter.in_day), over_days=of(scatter.over_days))


def page(name: str, results: DesignResults) -> bytes:
    """A design's page with these results."""
    book = demo_book()
    compared = replace(book.compared, designs={name: results})
    (sheet,) = design_sheets(dataclasses.replace(book, compared=compared), name)
    # What is worth money stands in a section that is made by itself.
    return re.sub(rb"<p>[^<]* saves about .*?</p>", b"", sheet.make())


def test_cards_go_by_what_lost_and_by_nothing_else_that_was_compared() -> None:
    book = demo_book()
    name, summary = next((n, one) for n, one in book.compared.summaries.items() if one.deciding)
    deciding = tuple(replace(entry, p=0.123) for entry in summary.deciding)
    summaries = {**book.compared.summaries, name: replace(summary, deciding=deciding)}
    compared = dataclasses.replace(book, compared=replace(book.compared, summaries=summaries))
    lost = dataclasses.replace(book, lost={**book.lost, name: (("", "what lost"),)})
    keys = [GroupKeys(one).key("cards", cards_inputs(one, name)) for one in (book, compared, lost)]
    assert keys[0] == keys[1] != keys[2]
