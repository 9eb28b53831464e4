"""``journal cards``: recipe cards in a small folder of their own, or as a PDF."""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from journal.charts.things import bar_in_ink
from journal.cli.clock import today
from journal.cli.paper.on_paper import frame_of, write_folder, write_pdf
from journal.cli.terminal import counted, print_lines, print_problems
from journal.cli.used import require_known, require_recipes
from journal.comparison.derive import compare_designs
from journal.errors import FigureError, Problem, UsageError, errors_in
from journal.figures.day.derive_batches import batches_to_come
from journal.figures.day.derive_order import too_many_rounds
from journal.figures.derive import FiguresSummary, derive_design, derive_figures, figures_summary
from journal.figures.derive_notebook import card_rates, plan_order, studio_pot_rates
from journal.figures.recipe.derive_another_mould import AnotherThing, design_in_another
from journal.html.blocks import Words
from journal.html.card_page import CardLeaf
from journal.html.theme import read_theme
from journal.records.models.fields import spelling_hint
from journal.records.models.questions import unwritten_order
from journal.records.models.shelf import KINDS
from journal.records.models.write_up import AS_WRITTEN, Design, Recipe
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.card import card_page, cards_of
from journal.views.card.cards import CARD_SCRIPTS, USUAL_SIZE
from journal.views.notebook import open_book
from journal.views.order.orders import day_page
from journal.views.shared.bars_seen import drawn_motif, seen_bar
from journal.views.shared.catalogue import PhraseCatalogue, catalogue_of
from journal.views.shared.over_limit import over_limit_texts
from journal.views.shared.words import list_text

_LEAVES = ("leaf", "leaves")


def cards(args: argparse.Namespace) -> int:
    """Run ``journal cards``; gives the exit status.

    What only the figures find, such as an oil over its limit, stops no card: it says not to be
    poured, without an amount of that oil, as the notebook's own does, and the status is 1.
    """
    notebook = read_notebook(args.content)
    designs = tuple(dict.fromkeys(args.designs))
    require_known(notebook, designs)
    require_recipes(notebook, [(name, args.variant) for name in designs])
    notebook, remarks = _in_another(args, notebook, designs)
    if args.day:
        print_lines(*remarks)
        return _day(args, notebook, designs)
    problems: list[Problem] = []
    words = _catalogue(args, notebook)
    size = args.size or USUAL_SIZE[args.sheet or notebook.settings.paper]
    leaves: list[CardLeaf] = []
    # Where several cards share a sheet none can take more room for another number of bars.
    scripted = not args.sheet and args.pdf is None
    summaries = _summaries(notebook, designs)
    rates = card_rates(summaries, studio_pot_rates(summaries))
    # A page is printed some other day, and then says so itself.
    printed_on = None if args.pdf is None else today()
    for name in designs:
        face = summaries[name].face
        drawing = None
        if face is not None:
            motif = drawn_motif(notebook.shelf.mats.get(face.mat), face.motif_mm)
            drawing = bar_in_ink(seen_bar(face, motif, (), ()).bar)
        leaves += cards_of(
            notebook, notebook.designs[name], args.variant, args.bars, size,
            rates[name], summaries[name].dew_min, problems, words, scripted, printed_on,
            drawing,
        )  # fmt: skip
    print_problems(sorted(set(problems)), args.content)
    status = 1 if errors_in(problems) else 0
    print_lines(*remarks)
    theme = read_theme(notebook.settings.theme, args.content)
    made = f"{counted(len(designs), 'card')}, {len(leaves)} {_LEAVES[len(leaves) != 1]}"
    frame = frame_of(notebook, "Cards", CARD_SCRIPTS if scripted else ())
    page = card_page(frame, leaves, size, args.sheet or "")
    page = replace(page, dangers=_dangers(notebook, summaries, designs, args.variant))
    page = replace(page, standfirst=(" ".join(remarks),) if remarks else ())
    html = theme.set_page("card.html", page)
    if args.pdf is not None:
        write_pdf(args, theme, html)
        print_lines(f"Made {made}: {args.pdf}.")
        return status
    write_folder(args, theme, html, with_scripts=True)
    layout = "several leaves a sheet, cut along the marks" if args.sheet else "a leaf a page"
    print_lines(f"Made {made}. Open {args.out / 'index.html'} and print it: {layout}.")
    return status


def _in_another(
    args: argparse.Namespace, notebook: Notebook, designs: Sequence[str]
) -> tuple[Notebook, tuple[str, ...]]:
    """The notebook with the designs carried over to another mould, mat or base; what was not.

    Fails:  UsageError for what is not on the shelf, or where it cannot be carried over
    """
    shelf = notebook.shelf
    bases: dict[str, str] = {}
    for text in args.base or ():
        old, _, new = text.partition("=")
        if not old or not new:
            raise UsageError(f'"{text}" names no two bases', "Write --base OLD=NEW.")
        bases[old] = new
    other = AnotherThing(args.mould, args.mat, bases)
    for kind, name in (("moulds", args.mould), ("mats", args.mat),
                       *(("bases", name) for pair in bases.items() for name in pair)):  # fmt: skip
        if name is not None and name not in shelf.of_kind(kind):
            what = f'no {KINDS[kind].noun} is called "{name}"'
            raise UsageError(what, spelling_hint(name, shelf.of_kind(kind)))
    if other == AnotherThing():
        return notebook, ()
    carried: dict[str, Design] = {}
    remarks: list[str] = []
    for name in designs:
        design = notebook.designs[name]
        recipe = (
            design.as_written if args.variant is None else design.variant(args.variant)
        ).recipe
        used = dict.fromkeys(base for layer in recipe.layers for base, _ in layer.base.shares)
        for base in bases:
            if base not in used:
                raise UsageError(f"{name} has no {base} in it", f"It has {list_text([*used])}.")
        try:
            carried[name], own = design_in_another(
                notebook.settings, shelf, design, args.variant, other
            )
        except FigureError as error:
            what = f"{name} cannot be carried over: {error}"
            raise UsageError(what, "Complete the shelf, or choose another mould.") from None
        titled = f"{design.title}: " if len(designs) > 1 else ""
        remarks.append(f"{titled}Carried over from {_where_from(notebook, recipe, other)}.")
        remarks += own
    changed = {**notebook.designs, **carried}
    return dataclasses.replace(notebook, designs=changed), tuple(remarks)


def _where_from(notebook: Notebook, recipe: Recipe, other: AnotherThing) -> str:
    """What a recipe was written for and is not any more: "Oblong, six cavities"."""
    shelf = notebook.shelf
    names = [] if other.mould is None else [shelf.moulds[recipe.mould or ""].name]
    if other.mat is not None and recipe.mat is not None:
        names.append(shelf.mats[recipe.mat].name)
    names += [shelf.bases[base].name for base in other.bases]
    return f"{list_text(names)}; nothing was poured of it yet"


def _catalogue(args: argparse.Namespace, notebook: Notebook) -> PhraseCatalogue:
    """The phrases in the language that was asked for, else in that of the settings."""
    settings = notebook.settings
    return catalogue_of(args.language or settings.language, settings.written_in)


def _day(args: argparse.Namespace, notebook: Notebook, designs: Sequence[str]) -> int:
    """Write the day sheet of some designs, as an order of them has it; gives the exit status."""
    if args.size or args.sheet:
        raise UsageError(
            "--day with the size or sheet of a card", "A day sheet is on the studio's paper."
        )
    lines = [
        (name, args.bars or notebook.designs[name].recipe.bars, args.variant) for name in designs
    ]
    order = unwritten_order(lines, today())
    for problem in too_many_rounds(notebook, order, notebook.designs):
        raise UsageError(problem.what, "Ask for fewer --bars, or for fewer designs at once.")
    figures = derive_figures(notebook, models=False)
    plan = plan_order(notebook, order, {}, studio_pot_rates(figures.summaries))
    # No day is set for it: it is begun when it is printed.
    begun = replace(plan.day, begin_by=today())
    batches = batches_to_come(notebook.shelf, plan.figures, begun)
    plan = replace(plan, batches=batches)
    print_problems(plan.figures.problems, args.content)
    status = 1 if errors_in(plan.figures.problems) else 0
    theme = read_theme(notebook.settings.theme, args.content)
    book = open_book(notebook, figures, compare_designs(notebook), theme, "helpers")
    page = day_page(book, frame_of(notebook, "The day"), plan, _catalogue(args, notebook))
    html = theme.set_page("order.html", page)
    days = counted(plan.day.days, "day") if plan.day.sheet is not None else "no day"
    if args.pdf is not None:
        write_pdf(args, theme, html)
        print_lines(f"Made the day sheet of {page.title}, {days}: {args.pdf}.")
        return status
    write_folder(args, theme, html)
    at = args.out / "index.html"
    print_lines(f"Made the day sheet of {page.title}, {days}. Open {at} and print it.")
    return status


def _dangers(
    notebook: Notebook,
    summaries: Mapping[str, FiguresSummary],
    designs: Sequence[str],
    variant: str | None,
) -> tuple[Words, ...]:
    """What the page says of the cards that are over a limit, each under its title."""
    chosen = "" if variant in (None, AS_WRITTEN) else variant
    return tuple(
        (f"{notebook.designs[name].title}. {text}",)
        for name in designs
        for text in over_limit_texts(
            notebook.shelf, [one for one in summaries[name].over if one[0] == chosen]
        )
    )


def _summaries(notebook: Notebook, designs: Sequence[str]) -> dict[str, FiguresSummary]:
    """What is known of the figures of all designs; estimates of those that get a card."""
    summaries = dict(derive_figures(notebook, models=False).summaries)
    for name in designs:
        design = notebook.designs[name]
        figures, _ = derive_design(notebook, design)
        summaries[name] = figures_summary(notebook, design, figures)
    return summaries
