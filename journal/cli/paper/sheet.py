"""``journal sheet``: a form to fill in on pour day or to tap on a phone, or the photo card."""

from __future__ import annotations

import argparse

from journal.cli.paper.on_paper import frame_of, write_or_print
from journal.cli.terminal import print_lines, print_problems
from journal.cli.used import require_things, usable_design
from journal.errors import UsageError, errors_in
from journal.figures.day.derive_card import derive_first_round
from journal.figures.derive import derive_design, derive_figures, figures_summary
from journal.figures.derive_notebook import card_rates, card_reach, studio_pot_rates
from journal.html.theme import read_theme
from journal.output import OutputFile, write_notebook
from journal.quantities.read import read_length
from journal.records.codec import digest
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.bench import bench_page
from journal.views.card.steps import planned_round
from journal.views.paper.photo_sheet import photo_card_page, usual_stand
from journal.views.paper.pour_sheet import pour_sheet
from journal.views.shared.editions import shelf_without_private
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
    """Write the bench page of one design, a single file; gives the exit status, as of its sheet."""
    if args.id is None:
        raise UsageError("a bench page is for one design", "Write: journal sheet bench ID")
    if args.pdf is not None:
        raise UsageError(
            "a bench page is tapped on a phone", "For paper: journal sheet pour-day ID --pdf FILE"
        )
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
    page = bench_page(sheet, planned_round(settings, shelf, design, planned), reach)
    html = read_theme(settings.theme, args.content).set_alone("bench.html", page).encode()
    name = f"{args.id}.html"
    write_notebook(
        args.out, [OutputFile(name, digest(html), html.__bytes__)],
        stamp={"made": args.command_name}, away_from=(args.content,),
    )  # fmt: skip
    print_lines(
        f"Made the bench page of {design.title}: {args.out / name}, a single file.",
        "Send it to the phone, or put it where the phone can open it.",
    )
    return 1 if errors_in(problems) else 0


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
