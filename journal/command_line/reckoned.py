"""Figures, comparisons and answers of a whole notebook: known where nothing changed, else worked
out on all cores.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from journal.command_line.answers import Answers, program_and_libraries
from journal.command_line.asking import Asking
from journal.command_line.kept import KeptRecords, Parts, parts_of
from journal.command_line.ledger import Ledger, Worked
from journal.command_line.progress import shown
from journal.command_line.workers import FEWEST, cores, spread
from journal.comparison.derive import (
    AcrossResults,
    DesignResults,
    across_results,
    design_results,
)
from journal.errors import Problem
from journal.figures.derive import Derived, Figures, PhotoWidths, derived, referenced
from journal.figures.pot_rates import RateLine
from journal.output import Store
from journal.pages.editions import Edition
from journal.pages.notebook import OfAll, casts_of, outcomes_of, pot_rates, templates_of
from journal.pages.sheet import digest
from journal.records.notebook import Notebook
from journal.records.write_up import Design


def all_derived(
    notebook: Notebook,
    answers: Answers,
    widths: PhotoWidths,
    asking: Asking,
    at_hand: Mapping[str, Derived] | None = None,
) -> dict[str, Derived]:
    """The figures of all designs: those at hand or known, the rest on all cores."""
    found = dict(at_hand or {})
    for name in notebook.designs.keys() - found.keys():
        known = answers.figures(name)
        if known is not None:
            found[name] = known
    todo = [
        design
        for name, design in notebook.designs.items()
        if name not in found and referenced(notebook.shelf, design)
    ]
    if todo:
        asking.load()
    # Designs of one mat mostly share the answers of the bond model.
    made = spread(
        [
            partial(asking.noting, partial(_derived_parts, notebook, design, widths, asking))
            for design in todo
        ],
        together=lambda number: todo[number].recipe.mat,
    )
    told = shown(made, len(todo), "designs reckoned")
    for design, ((parts, problems), answered) in zip(todo, told, strict=True):
        asking.learn(answered)
        found[design.id] = answers.add_figures(design.id, parts, problems)
    return found


def _derived_parts(
    notebook: Notebook, design: Design, widths: PhotoWidths, asking: Asking
) -> tuple[Parts, tuple[Problem, ...]]:
    found, problems = derived(notebook, design, photo_widths=widths.get(design.id, {}), ask=asking)
    return parts_of(found), problems


def all_compared(
    cut: Notebook, answers: Answers, at_hand: Mapping[str, DesignResults] | None = None
) -> dict[str, DesignResults]:
    """The comparisons of all designs: those at hand or known, the rest on all cores."""
    found = dict(at_hand or {})
    for name in cut.designs.keys() - found.keys():
        known = answers.results(name)
        if known is not None:
            found[name] = known
    todo = [design for name, design in cut.designs.items() if name not in found]
    made = spread([partial(_results_parts, cut, design) for design in todo])
    told = shown(made, len(todo), "designs compared")
    for design, parts in zip(todo, told, strict=True):
        found[design.id] = answers.add_results(design.id, parts)
    return found


class Wholes:
    """What is worked out from all designs of an edition at once, known or done."""

    def __init__(
        self, store: Store, program: str, cut: Notebook, figures: Figures, edition: Edition
    ) -> None:
        ground = program_and_libraries(program)
        self._cut, self._edition = cut, edition
        self._of_notebook = Ledger(store, f"wholes-{edition}", cut, ground)
        self._of_figures = Ledger(store, f"rates-{edition}", figures, ground)
        self._answers = KeptRecords(store, f"across-{edition}", AcrossResults)

    def answers(self) -> dict[str, AcrossResults]:
        """The answers to all questions across designs: those of which nothing changed are known,
        the rest are worked out on all cores.
        """
        cut, ledger = self._cut, self._of_notebook
        entries = {name: f"question {name}" for name in cut.comparisons}
        found: dict[str, AcrossResults] = {}
        for name, entry in entries.items():
            key: str | None = ledger.known(entry)
            known = None if key is None else self._answers.known(name, key)
            if known is not None:
                found[name] = known
        todo = [name for name in entries if name not in found]
        made = spread(
            [partial(ledger.worked, partial(_answer_parts, name)) for name in todo],
            # Few questions, but each across all designs.
            workers=cores() if len(cut.designs) >= FEWEST else 1,
        )
        for name, worked in zip(todo, made, strict=True):
            key = digest(*worked.outcome.values())
            ledger.note(entries[name], Worked(key, worked.ways))
            found[name] = self._answers.add(name, key, worked.outcome)
        return {name: found[name] for name in entries}

    def rates(self) -> RateLine:
        """How fast the studio's pots cooled."""
        return self._of_figures.recall("rates", pot_rates)

    def of_all(self) -> OfAll:
        """What else is worked out of all designs at once."""
        recall = self._of_notebook.recall
        return OfAll(
            recall("templates", partial(templates_of, edition=self._edition)),
            recall("casts", casts_of),
            recall("outcomes", outcomes_of),
        )

    def keep(self) -> None:
        """Keep all of it for the next run."""
        self._of_notebook.keep()
        self._of_figures.keep()
        self._answers.keep()


def _answer_parts(name: str, cut: Notebook) -> Parts:
    return parts_of(across_results(cut, cut.comparisons[name]))


def _results_parts(cut: Notebook, design: Design) -> Parts:
    return parts_of(design_results(cut.settings, cut.shelf, design))
