"""``journal sheet``: a form to fill in on pour day or to tap on a phone, or the photo card."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from journal.cli.paper.on_paper import frame_of, write_or_print
from journal.cli.paper.order import order_named, planned_order
from journal.cli.terminal import print_lines, print_problems
from journal.cli.used import require_known, require_things, usable_design
from journal.errors import Problem, UsageError, errors_in
from journal.figures.day.derive_card import derive_first_round
from journal.figures.derive import derive_design, derive_figures, figures_summary
from journal.figures.derive_notebook import card_rates, card_reach, studio_pot_rates
from journal.html.bench_page import BenchPage
from journal.html.theme import read_theme
from journal.output import OutputFile, write_notebook
from journal.quantities.read import read_length
from journal.records.codec import digest
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.bench import bench_page, pourers_of
from journal.views.card.steps import planned_round
from journal.views.order.bench import order_bench_page
from journal.views.paper.photo_sheet import photo_card_page, usual_stand
from journal.views.paper.pour_sheet import pour_sheet
from journal.views.shared.editions import cut_to_edition, shelf_without_private
from journal.views.shared.over_limit import over_limit_texts
from journal.views.shared.words import units_of

_MOST_STAND_MM = 60.0


def sheet(args: argparse.Namespace) -> int:
    """Run ``journal sheet pour-day ID``, ``sheet bench ID`` or ``sheet photo-card``."""
    notebook = read_notebook(args.content)
    if args.which == "bench":
        return _bench(args, notebook)
    if args.which == "pour-day":
        return _pour_day(args, notebook)
    return _photo_card(args, notebook)


def _pour_day(args: argparse.Namespace, notebook: Notebook) -> int:
    """Write the pour-day sheet of one design; gives the exit status.

    It is 1 if an oil is over its limit: the sheet says so, as the notebook's own does.
    """
    if args.id is None:
        raise UsageError("a pour-day sheet is for one design", "Write: journal sheet pour-day ID")
    design = usable_design(notebook, args.id)
    settings = notebook.settings
    figures, problems = derive_design(notebook, design, models=False)
    print_problems(sorted(set(problems)), args.content)
    dangers = over_limit_texts(notebook.shelf, figures_summary(notebook, design, figures).over)
    status = write_or_print(
        args,
        notebook,
        "pour-sheet.html",
        lambda frame: pour_sheet(
            frame, design, settings, notebook.shelf, units_of(settings), dangers=dangers
        ),
        f"a pour-day sheet for {design.title}",
        "Its columns have the names that they have in the write-up.",
    )
    return 1 if errors_in(problems) else status


def _bench(args: argparse.Namespace, notebook: Notebook) -> int:
    """Write the bench page of a design or an order, a single file; gives the exit status."""
    if args.id is None:
        what = "a bench page is for one design, or one order"
        raise UsageError(what, "Write: journal sheet bench ID")
    if args.pdf is not None:
        raise UsageError(
            "a bench page is tapped on a phone", "For paper: journal sheet pour-day ID --pdf FILE"
        )
    is_design = args.id in notebook.designs or args.id in notebook.unreadable
    page, problems = (_design_bench if is_design else _order_bench)(args, notebook)
    html = read_theme(notebook.settings.theme, args.content).set_alone("bench.html", page).encode()
    name = f"{page.facts.page}.html"
    write_notebook(
        args.out, [OutputFile(name, digest(html), html.__bytes__)],
        stamp={"made": args.command_name}, away_from=(args.content,),
    )  # fmt: skip
    print_lines(
        f"Made the bench page of {page.title.partition(': ')[2]}: {args.out / name}, a single"
        " file.",
        "Send it to the phone, or put it where the phone can open it.",
    )
    return 1 if errors_in(problems) else 0


def _design_bench(
    args: argparse.Namespace, notebook: Notebook
) -> tuple[BenchPage, Sequence[Problem]]:
    """The bench page of a design, and what is wrong with it."""
    design = usable_design(notebook, args.id)
    settings, shelf = notebook.settings, shelf_without_private(notebook.shelf)
    figures, problems = derive_design(notebook, design)
    print_problems(sorted(set(problems)), args.content)
    own = figures_summary(notebook, design, figures)
    rates = studio_pot_rates(derive_figures(notebook, models=False).summaries)
    rate, reach = card_rates([args.id], rates)[args.id], card_reach([args.id], rates)[args.id]
    planned = derive_first_round(notebook, design, rate, own.dew_min)
    sheet = pour_sheet(
        frame_of(notebook, "To print"), design, settings, shelf, units_of(settings),
        dangers=over_limit_texts(shelf, own.over),
    )  # fmt: skip
    one = planned_round(settings, shelf, design, planned)
    pourers = pourers_of(cut_to_edition(notebook, "helpers"))
    return bench_page(sheet, one, reach, rate, own.dew_min, pourers), problems


def _order_bench(
    args: argparse.Namespace, notebook: Notebook
) -> tuple[BenchPage, Sequence[Problem]]:
    """The bench page of an order, and what is wrong with it.

    Fails:  UsageError if there is none of that name, or it has no plan by the hour
    """
    try:
        chosen = order_named(notebook, args.id)
    except UsageError:
        require_known(notebook, [args.id], notebook.orders)
        raise
    order, cut, figures, plan, problems = planned_order(notebook, chosen, "helpers")
    print_problems(problems, args.content)
    if order.record.done is not None:
        hint = 'Take "done" out of it, if it is still to be poured.'
        raise UsageError(f"{order.path} is handed over", hint)
    if plan.day.sheet is None:
        what = f"{order.path} has no plan by the hour: {plan.day.why}"
        raise UsageError(what, "Mend the order.")
    over = {name: over_limit_texts(cut.shelf, one.over) for name, one in figures.summaries.items()}
    reach = card_reach(cut.designs, studio_pot_rates(figures.summaries))
    shelf, frame = shelf_without_private(cut.shelf), frame_of(cut, "To print")
    page = order_bench_page(frame, cut.settings, shelf, order, plan, over, reach, pourers_of(cut))
    return page, problems


def _photo_card(args: argparse.Namespace, notebook: Notebook) -> int:
    """Write the photo card, with legs as high as the bars; gives the exit status."""
    if args.id is not None:
        raise UsageError("the photo card is the same for every design", "Leave the ID away.")
    require_things(notebook, ())
    if args.stand is None:
        stand = usual_stand(notebook.summaries, notebook.shelf)
    else:
        stand = read_length(args.stand)
        if not 0 < stand <= _MOST_STAND_MM:
            raise UsageError(f'legs of "{args.stand}"', "They are above 0 and at most 60 mm high.")
    paper = notebook.settings.paper
    return write_or_print(
        args,
        notebook,
        "photo-card.html",
        lambda frame: photo_card_page(frame, paper, stand),
        f"the photo card, its legs {stand:g} mm high",
        "Print it at 100 % on white, matt paper and measure its ruler.",
    )
