"""The bench page of a design: what its script knows of pots, steps and bars, beside the sheet.

The steps and their sentences are those of the card; the page takes down what was done.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Final

from msgspec.structs import replace

from journal.comparison.derive import design_plan, plan_pots_poured
from journal.comparison.observed import ObservedBar
from journal.comparison.planned.layout import PlannedPot, PlannedTest, laid_out
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.statistics import t_quantile_95
from journal.figures.day.derive_card import derive_card
from journal.figures.day.sheet import TimedStep
from journal.figures.heat.cooling import NEW_RUN_MARKS
from journal.figures.heat.newton_fit import BEND_READINGS, bend_limit
from journal.figures.heat.pot_rates import RateLine
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.html.bench_page import (
    BenchBar,
    BenchCavity,
    BenchFacts,
    BenchMeasure,
    BenchMould,
    BenchPage,
    BenchPiece,
    BenchPot,
    BenchRound,
    BenchStep,
    BenchTap,
    BenchTurn,
    BenchWindow,
    PourSheet,
)
from journal.html.card_page import plain_text
from journal.quantities.show import show_number
from journal.quantities.units import G_PER_OZ
from journal.records.models.pours import made_batch
from journal.records.models.readings import READING_ERROR_C
from journal.records.models.settings import Measure, Settings, notebook_id
from journal.records.models.write_up import AS_WRITTEN, SPOILT, Design, Variant
from journal.records.notebook import Notebook
from journal.views.card.card import caution_sentences
from journal.views.card.steps import (
    SAID_ELSEWHERE,
    RoundSteps,
    planned_round,
    recipe_round,
    step_words,
)
from journal.views.paper.pour_sheet import LATER_MEASURES, measures_to_fill, pour_sheet
from journal.views.shared.book import Book
from journal.views.shared.moulds import lattice_of
from journal.views.shared.paper_places import bench_place, has_bench_page
from journal.views.shared.places import Sheet
from journal.views.shared.words import TENTH, WHOLE, UnitFormatter, measure_title, units_of

# A run of more readings is judged as one of so many.
_MOST_READINGS: Final = 24
# Of a loaf so many slices stand side by side: more are no target for a finger.
_MOST_IN_ROW: Final = 4
# Names to tap for who pours: more stand in the way of what is asked next.
_MOST_POURERS: Final = 6
# When a bar is looked at again, in days after its pour.
LOOKS: Final = (1, 7, 30, 90)
# What a tap on a step of each kind notes; the others are done.
_TAPS: Final[dict[str, BenchTap]] = {
    "melt": "melted", "reheat": "reheated", "stir": "tinted", "scent": "scented",
    "pour": "poured", "chill": "chill", "rest": "wait", "firm": "wait", "dry": "wait",
    "unmould": "done",
}  # fmt: skip


def pourers_of(notebook: Notebook) -> Mapping[str, int]:
    """The names of those who poured, the last first, each with its place; few enough to tap one."""
    last: dict[str, date] = {}
    for summary in notebook.summaries.values():
        for pour in summary.overview.pours:
            if pour.by:
                last[pour.by] = max(pour.date, last.get(pour.by, pour.date))
    names = sorted(last, key=lambda name: (-last[name].toordinal(), name))
    return {name: place for place, name in enumerate(names[:_MOST_POURERS])}


def bench_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The bench page of a design; none if it is set aside, or the edition has no sheets."""
    design = book.recipes[name]
    if not has_bench_page(book, design) or name not in book.figures.summaries:
        return ()
    here = bench_place(design)

    def make() -> BenchPage:
        settings, units = book.settings, book.units
        dangers = book.over_limit.get(name, ())
        sheet = pour_sheet(book.frame(here), design, settings, book.bench, units, dangers=dangers)
        dew_min = book.figures.summaries[name].dew_min
        rates, reach = book.derived.card_rates[name], book.derived.card_reach[name]
        one = recipe_round(book, design)
        return bench_page(sheet, one, reach, rates, dew_min, book.pourers)

    return (Sheet(here.path, lambda: book.theme.set_alone("bench.html", make()).encode()),)


def bench_page(
    sheet: PourSheet, one: RoundSteps, reach: float | None, rates: RateLine,
    dew_min: Mapping[str, int], pourers: Iterable[str],
) -> BenchPage:  # fmt: skip
    """The bench page of a design: its pours are of the recipe's first round, or as planned.

    Takes:  sheet    to be printed, and to stand there where scripts are off
            one      the steps of the round, with how its pots cool
            reach    how far a pot may be from that, as ``coarse_reach``
            rates    how fast pots cool, for the rounds of variants
            dew_min  minutes that a piece stands until it is dry, by variant
            pourers  who may pour, to be tapped
    """
    context = one.amounts.context
    design, settings, shelf = context.design, context.settings, context.shelf
    rounds = [with_earlier_bars(bench_round(one, reach), design, settings)]
    turns = [BenchTurn(design.id, 0)]
    test = design_plan(settings, shelf, design)
    if test is None:
        turns += _judged_turns(design)
    else:
        of = {}
        # What a pot holds alone may be poured otherwise: then it has steps and windows of its own.
        for name in test.compared if test.by == "pots" else ():
            variant = _variant_called(design, test.group, name)
            recipe = RecipeContext(settings, shelf, design, variant, design.recipe.bars)
            places, dew = places_of_recipe(shelf, variant.recipe), dew_min.get(variant.name, 0)
            planned = derive_card(recipe, places, rates, dew)
            of[name] = len(rounds)
            of_variant = planned_round(settings, shelf, design, planned, variant)
            rounds.append(bench_round(of_variant, reach))
        poured = plan_pots_poured(settings, design, test)
        turns += _planned_turns(design, test, len(poured), of)
        turns += _judged_turns_of_plan(design, test, poured)
    facts = bench_facts(settings, design.id, rounds, turns, pourers)
    return BenchPage((sheet,), f"At the bench: {design.title}", facts)


def _variant_called(design: Design, group: str, name: str) -> Variant:
    """The variant of a name, or the first with that choice of a group."""
    return next(one for one in design.variants if one.chosen.get(group, one.name) == name)


def _planned_turns(
    design: Design, test: PlannedTest, poured: int, of: Mapping[str, int]
) -> Iterator[BenchTurn]:
    """A turn for each pot of a planned test, and one more where all are poured."""
    for pot in laid_out(test, max(test.pots, poured + 1)):
        alone = f": {pot.variant}" if test.by == "pots" else ""
        yield BenchTurn(
            key=f"{design.id}/pot/{pot.number}",
            of=of.get(pot.variant, 0) if alone else 0,
            name=f"Pot {pot.number} of the plan{alone}",
            day=pot.day or 0,
            planned=test.group or "variant",
            cavities=tuple(_cavities(pot)),
            counted=True,
            over=pot.number <= poured,
        )


def _judged_turns_of_plan(
    design: Design, test: PlannedTest, poured: Sequence[Mapping[int, ObservedBar]]
) -> Iterator[BenchTurn]:
    """A turn for each poured pot with bars that lack what the test is decided by, by their codes.

    What is decided by later looks is looked at again with all that are due.
    """
    question = design.question
    assert question is not None
    if question.by in _looked_at_later(design):
        return
    for pot, bars in zip(laid_out(test, len(poured)), poured, strict=False):
        found = [
            (bar.bar, one.code)
            for one in pot.cavities
            if (bar := bars.get(one.cavity)) and not bar.spoilt and question.by not in bar.values
        ]
        if found:
            first = next(iter(bars.values()))
            name = f"Pot {pot.number} of the plan"
            yield _judged_turn(design, first.pour, first.poured_on, name, found)


def _judged_turns(design: Design) -> Iterator[BenchTurn]:
    """A turn for each pour with bars that nobody looked at."""
    for pour in design.pours:
        found = [(bar.bar, bar.bar) for bar in pour.bars if not (bar.measures or bar.spoilt)]
        if found:
            yield _judged_turn(design, pour.label, pour.date, f"Pour {pour.label}", found)


def _judged_turn(
    design: Design, label: str, day: date, name: str, bars: Iterable[tuple[str, str]]
) -> BenchTurn:
    """The turn in which bars of a pour are judged, each called by a code."""
    return BenchTurn(
        key="/".join((design.id, "judged", *name.split(), *label.split())),
        of=0,
        name=name,
        cavities=tuple(BenchCavity(bar, "", 0, 0, code) for bar, code in bars),
        pour=label,
        poured_on=day.isoformat(),
    )


def _cavities(pot: PlannedPot) -> Iterator[BenchCavity]:
    for one in pot.cavities:
        yield BenchCavity(f"{one.cavity}", one.variant, one.poured, one.peeled, one.code)


def bench_facts(
    settings: Settings, page: str, rounds: Sequence[BenchRound],
    turns: Sequence[BenchTurn], pourers: Iterable[str], *, lettered: bool = False,
) -> BenchFacts:  # fmt: skip
    """What the script of a page knows; the room is that of the first round's pots."""
    units = units_of(settings)
    return BenchFacts(
        notebook=notebook_id(settings),
        page=page,
        lettered=lettered,
        degree="F" if units.us_first else "C",
        room=units.temperature(rounds[0].room_c).first,
        mass_unit=units.scales[0],
        by=tuple(pourers),
        rounds=tuple(rounds),
        turns=tuple(turns),
        looks=LOOKS,
        spoilt=SPOILT,
        new_run=NEW_RUN_MARKS,
        t_95=tuple(t_quantile_95(freedom) for freedom in range(1, _MOST_READINGS - 1)),
        bend=tuple(bend_limit(count) for count in range(BEND_READINGS, _MOST_READINGS + 1)),
        bend_from=BEND_READINGS,
        reading_k=READING_ERROR_C,
    )


def bench_round(one: RoundSteps, reach: float | None) -> BenchRound:
    """What is tapped of a pour of a round; ``reach`` as in ``bench_page``."""
    context = one.amounts.context
    design, settings, shelf = context.design, context.settings, context.shelf
    units, recipe = units_of(settings), context.recipe
    mould = shelf.moulds.get(recipe.mould or "")
    lattice = lattice_of(mould, one.bars)
    loaf = lattice.slices > 1
    measures = {measure.name: measure for measure in measures_to_fill(design, settings)}
    asked = design.question.by if design.question is not None else ""
    first = [name for name in (asked, "keep") if name in measures]
    order = dict.fromkeys((*first, *measures))
    pieces = tuple(
        BenchPiece(name, piece.name)
        for name, piece in shelf.pieces.items()
        if recipe.mat is not None and piece.mat == recipe.mat
        and piece.mould in (None, recipe.mould)
    )  # fmt: skip
    names = tuple(variant.name for variant in design.variants if variant.name != AS_WRITTEN)
    return BenchRound(
        design=design.id,
        title=design.title,
        room_c=next(iter(one.pots.values())).room_c,
        pots=tuple(_pots(one, units, reach)),
        steps=tuple(_steps(one)),
        cautions=caution_sentences(context, one.amounts.phrases),
        groups=design.groups or ({"variant": names} if names else {}),
        measures=tuple(_measure(measures[name], units) for name in order),
        bars=one.bars,
        mould=BenchMould(
            name=mould.name if mould is not None else "",
            bars=lattice.bars,
            in_row=min(lattice.slices if loaf else lattice.in_row, _MOST_IN_ROW),
            face=1.0 if loaf else lattice.face[0] / lattice.face[1],
        ),
        pieces=pieces if len(pieces) > 1 else (),
        labels=tuple(pour.label for pour in design.pours),
        signs=made_batch(design.id, design.date, "A").rpartition("-")[2],
    )  # fmt: skip


def with_earlier_bars(one: BenchRound, design: Design, settings: Settings) -> BenchRound:
    """A round with the bars of the design's pours, which are looked at again."""
    units = units_of(settings)
    later = tuple(_measure(measure, units) for measure in _later_measures(design, settings))
    return replace(one, later=later, poured=tuple(_bars(design)))


def _pots(one: RoundSteps, units: UnitFormatter, reach: float | None) -> Iterator[BenchPot]:
    """Each pot of the round, with the windows of its steps."""
    for pot in one.amounts.masses.pots:
        task = one.pots[pot.name]
        yield BenchPot(
            name=pot.name,
            layers=tuple(pot.layers),
            melt=_written_mass(pot.melt_g, units) if pot.melt_g else "",
            rate_per_min=task.rate_per_min,
            reach=None if task.rate_per_min is None else reach,
            windows=tuple(dict.fromkeys(_windows(one, units, pot.name))),
        )


def _written_mass(mass_g: float, units: UnitFormatter) -> str:
    """A mass as a write-up has it, in one unit of the studio's scales: ``20.4 oz``, ``578 g``."""
    if units.us_first:
        return f"{show_number(mass_g / G_PER_OZ, TENTH)} oz"
    return f"{show_number(mass_g, WHOLE)} g"


def _windows(one: RoundSteps, units: UnitFormatter, pot: str) -> Iterator[BenchWindow]:
    """The windows of a pot's steps, in their order; a pour in several heats comes again."""
    task = one.pots[pot]
    for timed in one.steps:
        step = timed.step
        low_c, high_c = step.window_c or (None, None)
        if step.pot != pot or high_c is None:
            continue
        again = "" if low_c is None else units.temperature(task.reheat_c((low_c, high_c))).first
        shown = units.adding_window((low_c, high_c))
        assert shown is not None
        if step.kind == "pour":
            layers = [one.amounts.layer(number).name for number in step.layers]
            yield BenchWindow("pour", " and ".join(layers), low_c, high_c, shown.first, again)
        elif step.kind == "scent":
            layer = one.amounts.layer(step.layers[0])
            oil = one.amounts.context.shelf.fragrances[layer.fragrance[step.entry or 0].oil]
            yield BenchWindow("scent", oil.name, low_c, high_c, shown.first, again)


def _steps(one: RoundSteps) -> Iterator[BenchStep]:
    """The steps that the card says, each with what a tap on it notes."""
    for timed in one.steps:
        words = step_words(one, timed)
        if timed.step.kind in SAID_ELSEWHERE or not words:
            continue
        yield _step(one, timed, plain_text(words))


def _step(one: RoundSteps, timed: TimedStep, says: str) -> BenchStep:
    step = timed.step
    tap = _TAPS.get(step.kind, "done")
    of_pot = bool(step.pot) and tap not in ("chill", "wait", "done")
    layers = tuple(one.amounts.layer(number) for number in step.layers)
    return BenchStep(
        says=says,
        tap=tap,
        pot=step.pot if of_pot else "",
        layers=tuple(layer.name for layer in layers if not of_pot or layer.pot_name == step.pot),
        minutes=step.minutes if tap in ("chill", "wait") else 0,
    )


def _measure(measure: Measure, units: UnitFormatter) -> BenchMeasure:
    unit = measure.unit if measure.kind in ("length", "time", "mass") else ""
    return BenchMeasure(
        name=measure.name,
        title=measure_title(measure.name),
        kind=measure.kind,
        unit=unit,
        says=measure.says,
        of=measure.of,
        better=measure.better or "",
    )


def _later_measures(design: Design, settings: Settings) -> Iterable[Measure]:
    """What is looked at again: as it was so far, else the usual."""
    used, every = _looked_at_later(design), settings.all_measures()
    names = [name for name in every if name in used] or list(LATER_MEASURES)
    return [every[name] for name in names if every[name].kind != "colour"]


def _looked_at_later(design: Design) -> set[str]:
    return {name for pour in design.pours for look in pour.later for name in look.measures}


def _bars(design: Design) -> Iterator[BenchBar]:
    """The bars of earlier pours that can be looked at again."""
    for pour in design.pours:
        for bar in pour.bars:
            if not bar.spoilt:
                looks = sorted({look.day for look in pour.later if look.bar == bar.bar})
                yield BenchBar(bar.bar, pour.label, pour.date.isoformat(), tuple(looks))
