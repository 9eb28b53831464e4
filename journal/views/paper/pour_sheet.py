"""A sheet for the day of a pour: blank tables for readings and bars, to be typed in later.

Each column and each line to fill has the name that it has in the write-up, so that the
sheet can be copied from top to bottom.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Final

from journal.comparison.derive import design_plan
from journal.comparison.planned.layout import PlannedPot, PlannedTest, laid_out
from journal.comparison.planned.sentences import layout_sentence
from journal.figures.recipe.derive_layers import adding_window
from journal.html.bench_page import BlankColumn, BlankTable, PlanSheets, PourSheet
from journal.html.blocks import PageFrame, TextRun, Words
from journal.records.models.readings import MARKS
from journal.records.models.settings import Measure, Settings
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import AS_WRITTEN, Design
from journal.views.shared.book import Book
from journal.views.shared.paper_places import has_pour_sheet, pour_sheet_place
from journal.views.shared.places import Sheet, span
from journal.views.shared.words import UnitFormatter, list_text

READING_ROWS: Final = 14
MOST_BARS: Final = 16
LEAST_BARS: Final = 12
# A danger is of two lines, as high as so many rows; the sheet stays one, as high as it is.
_DANGER_ROWS: Final = 2
_FEWEST_ROWS: Final = 4
_FAILED_ROWS: Final = 4
_LATER_ROWS: Final = 6
# The measures of a design that has not been measured yet.
_USUAL: Final = ("lip", "bleed", "lifted", "relief", "scent", "tidy", "keep")
# The measures that are taken again on a bar some days later.
LATER_MEASURES: Final = ("bleed", "scent", "weight")
_HINTS: Final = {"yes-no": "yes, no", "count": "how many", "time": "min", "mass": "g"}


def pour_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The pour-day sheet of a design; none if it is set aside, or the edition has no sheets."""
    design = book.recipes[name]
    if not has_pour_sheet(book, design) or name not in book.figures.summaries:
        return ()
    here = pour_sheet_place(design)
    standfirst: Words = (
        "Print it, fill it in at the bench, and type it into the write-up of ",
        span(here, book.places.designs[design.id]),
        " afterwards. Its columns have the same names there.",
    )
    make = partial(
        pour_sheet, book.frame(here), design, book.settings, book.bench, book.units, standfirst,
        book.over_limit.get(name, ()),
    )  # fmt: skip
    return (book.sheet(here, "pour-sheet.html", make),)


def pour_sheet(
    frame: PageFrame,
    design: Design,
    settings: Settings,
    shelf: Shelf,
    units: UnitFormatter,
    standfirst: Words = (),
    dangers: tuple[str, ...] = (),
) -> PourSheet:
    """The sheet of one design, with a row for each bar of the recipe's batch (12 to 16 rows).

    ``dangers`` are what is said of the limits that it is over (``over_limit_texts``).
    """
    recipe = design.recipe
    pots = tuple(dict.fromkeys(layer.pot_name for layer in recipe.layers))
    fields = [
        BlankColumn("pour", "A, B, …"),
        BlankColumn("date", "2026-04-18"),
        BlankColumn("batch", "or leave it"),
        BlankColumn("by", "who pours"),
        BlankColumn("lots", "not the open ones"),
        BlankColumn("room", units.degree),
        BlankColumn("humidity", "%"),
    ]
    fields += [BlankColumn(f"melted: {pot}", "all that was in it") for pot in pots]
    fields += [BlankColumn(f"poured: {layer.name}", units.degree) for layer in recipe.layers]
    names = [variant.name for variant in design.variants if variant.name != AS_WRITTEN]
    lost = _DANGER_ROWS * len(dangers)
    test = design_plan(settings, shelf, design)
    return PourSheet(
        frame=frame,
        title=f"Pour day: {design.title}",
        sub=f"designs/{design.id}/design.md, under pours:",
        fields=tuple(fields),
        readings=_readings_table(design, shelf, units, pots, lost),
        bars=_bars_table(design, settings, units, names, lost, planned=test is not None),
        overleaf=(_failures_table(names), _later_table(settings)),
        standfirst=standfirst,
        about=f"A sheet to fill in when {design.title} is poured.",
        dangers=dangers,
        plan=None if test is None else _plan_sheets(design, settings, test),
    )


def _readings_table(
    design: Design, shelf: Shelf, units: UnitFormatter, pots: tuple[str, ...], lost: int
) -> BlankTable:
    """Blank rows for the temperatures of each pot over time, ``lost`` of them to dangers."""
    columns = [BlankColumn("time", "0:00 or 14:05")]
    columns += [BlankColumn(pot, _pot_windows(design, shelf, units, pot)) for pot in pots]
    columns.append(BlankColumn("did", "mark, or a note", wide=True))
    says: Words = ("Marks: ", TextRun(", ".join(MARKS), "strong"), ".")
    return _blank_table("readings", columns, max(_FEWEST_ROWS, READING_ROWS - lost), says)


def _blank_table(name: str, columns: list[BlankColumn], rows: int, says: Words = ()) -> BlankTable:
    """A table of so many empty rows."""
    return BlankTable(name, says, tuple(columns), (("",) * len(columns),) * rows)


def _pot_windows(design: Design, shelf: Shelf, units: UnitFormatter, pot: str) -> str:
    """The temperatures at which a pot is scented and poured; the unit alone without any."""
    windows = []
    for layer in design.recipe.layers:
        if layer.pot_name != pot:
            continue
        adds = (units.adding_window(adding_window(shelf, oil)) for oil in layer.fragrance)
        windows += [f"scent {window.first}" for window in adds if window is not None]
        if layer.pour is not None:
            windows.append(f"pour at {units.temperatures(*layer.pour).first}")
    return "; ".join(windows) or units.degree


def _bars_table(
    design: Design,
    settings: Settings,
    units: UnitFormatter,
    names: list[str],
    lost: int,
    *,
    planned: bool,
) -> BlankTable:
    """A numbered row for each bar, with columns for its variant and measures.

    ``lost`` are rows that the sheet has no room for. Of a ``planned`` test each bar's cavity is
    asked for.
    """
    columns = [BlankColumn("bar", "A1")]
    if planned:
        columns.append(BlankColumn("at", "cavity"))
    if design.groups:
        columns += [BlankColumn(group, ", ".join(design.groups[group])) for group in design.groups]
    elif names:
        columns.append(BlankColumn("variant", ", ".join(names)))
    if design.recipe.mat is not None:
        columns.append(BlankColumn("piece", "if another"))
    columns.append(BlankColumn("poured", units.degree))
    columns += [
        BlankColumn(measure.name, _measure_hint(measure))
        for measure in measures_to_fill(design, settings)
    ]
    columns.append(BlankColumn("note", wide=True))
    number = max(LEAST_BARS, min(MOST_BARS, design.recipe.bars))
    number = max(_FEWEST_ROWS, min(number, MOST_BARS - lost))
    rows = tuple((f"{n}", *("",) * (len(columns) - 1)) for n in range(1, number + 1))
    says: Words = (
        "Put the pour's letter before the number. Leave empty what you did not look at.",
    )
    return BlankTable("bars", says, tuple(columns), rows)


def _plan_sheets(design: Design, settings: Settings, test: PlannedTest) -> PlanSheets:
    """The pages of a planned test: what goes where, and what is judged under which code."""
    pots = laid_out(test)
    # Bars of pots of one variant are judged among each other, with the other pots of their day.
    together = test.blocked if test.by == "pots" else 1
    groups = [pots[first : first + together] for first in range(0, len(pots), together)]
    noun = "Day" if test.by == "pots" else "Pot"
    measured = [
        BlankColumn(one.name, _measure_hint(one)) for one in measures_to_fill(design, settings)
    ]
    columns = (BlankColumn("code"), *measured, BlankColumn("note", wide=True))
    judging = tuple(
        BlankTable(
            f"judging-{number}", (), columns,
            tuple(
                (code, *("",) * (len(columns) - 1))
                for code in sorted(one.code for pot in group for one in pot.cavities)
            ),
            f"{noun} {number}",
        )
        for number, group in enumerate(groups, 1)
    )  # fmt: skip
    return PlanSheets(
        (
            layout_sentence(test),
            f"{'Pour in this order' if test.by == 'pots' else 'Pour and peel in these orders'},"
            " put its code on each bar, and keep this page to yourself until all is judged.",
        ),
        tuple(map(_pot_table, pots)),
        "Bars by their codes alone. Give this page to somebody who has not seen the plan.",
        judging,
    )


def _pot_table(pot: PlannedPot) -> BlankTable:
    """Which variant goes into which cavity of a pot, in the order of pouring."""
    columns = [
        BlankColumn("poured", "in this order"),
        BlankColumn("at", "its cavity"),
        BlankColumn("variant"),
    ]
    if any(one.peeled is not None for one in pot.cavities):
        columns.append(BlankColumn("peeled", "in this order"))
    columns.append(BlankColumn("code"))
    rows = (
        (
            f"{one.poured}.", f"{one.cavity}", one.variant or "either",
            *(() if one.peeled is None else (f"{one.peeled}.",)), one.code,
        )
        for one in sorted(pot.cavities, key=lambda one: one.poured)
    )  # fmt: skip
    head = f"Pot {pot.number}" + ("" if pot.day is None else f", day {pot.day}")
    return BlankTable(f"pot-{pot.number}", (), tuple(columns), tuple(rows), head)


def measures_to_fill(design: Design, settings: Settings) -> Iterator[Measure]:
    """The measures used for the design's bars so far, or else the usual ones, without colours."""
    used = {name for bar in design.bars for name in bar.measures} or set(_USUAL)
    used.add("keep")
    if design.question is not None:
        used.add(design.question.by)
    for name, measure in settings.all_measures().items():
        if name in used and measure.kind != "colour":
            yield measure


def _measure_hint(measure: Measure) -> str:
    """What is to be written in for a measure: a scale, a unit or allowed words."""
    if measure.kind == "rating":
        return f"1 to {measure.of}"
    return _HINTS.get(measure.kind, "mm")


def _failures_table(names: list[str]) -> BlankTable:
    """Blank rows for failures; the column of variants only if there are any."""
    columns = [BlankColumn("what"), BlankColumn("bar")]
    if names:
        columns.append(BlankColumn("variant", list_text(names, "or")))
    columns += [BlankColumn(name, wide=True) for name in ("saw", "why", "mend")]
    columns.append(BlankColumn("mended", "yes, no, untested"))
    return _blank_table("failed", columns, _FAILED_ROWS)


def _later_table(settings: Settings) -> BlankTable:
    """Blank rows for the measures that are taken again some days later."""
    measures = settings.all_measures()
    columns = [BlankColumn("day", "since the pour"), BlankColumn("bar")]
    columns += [BlankColumn(name, _measure_hint(measures[name])) for name in LATER_MEASURES]
    columns.append(BlankColumn("note", wide=True))
    return _blank_table("later", columns, _LATER_ROWS)
