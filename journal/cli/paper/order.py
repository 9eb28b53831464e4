"""``journal order FILE``: an order's plan at the terminal."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import NamedTuple

from journal.cli.paper.on_paper import write_pdf
from journal.cli.paper.order_json import plan_json
from journal.cli.paper.order_lines import plan_lines
from journal.cli.terminal import print_json, print_lines, print_problems
from journal.cli.used import faulty_designs, require_used, without_designs
from journal.comparison.derive import compare_designs
from journal.errors import Problem, UsageError, errors_in, raise_errors
from journal.figures.day.derive_day import DayClock
from journal.figures.day.derive_order import too_many_rounds
from journal.figures.derive import AllFigures, derive_figures, lives_of
from journal.figures.derive_notebook import (
    OrderPlan,
    notebook_as_left,
    plan_order,
    studio_pot_rates,
)
from journal.figures.lots.derive_taken import amounts_left
from journal.figures.pieces.derive_pieces import bars_by_piece
from journal.html.theme import read_theme
from journal.records.models.fields import spelling_hint
from journal.records.models.questions import OrderFile
from journal.records.notebook import Notebook, read_notebook
from journal.views.notebook import open_book
from journal.views.order.orders import order_page
from journal.views.shared.editions import Edition, cut_to_edition
from journal.views.shared.private_values import leaks_in_text


class PlannedOrder(NamedTuple):
    """An order with its plan, the notebook of an edition that it is of, and its figures.

    ``problems`` are those of its figures, and of the designs that it is planned without.
    """

    order: OrderFile
    notebook: Notebook
    figures: AllFigures
    plan: OrderPlan
    problems: tuple[Problem, ...]


def planned_order(
    notebook: Notebook, chosen: OrderFile, edition: Edition, clock: DayClock | None = None
) -> PlannedOrder:
    """Plan an order, of those of its designs that have no error.

    Fails:  ContentError for errors in what it uses, and if it is too long to be planned
    """
    faulty = faulty_designs(notebook)
    planned = chosen.of_designs([name for name in notebook.designs if name not in faulty])
    require_used(notebook, planned or chosen)
    ordered = {line.design for line in chosen.record.designs}
    errors = [error for name, own in faulty.items() if name in ordered for error in own]
    notebook = cut_to_edition(without_designs(notebook, faulty), edition)
    chosen = notebook.orders[chosen.id]
    raise_errors(too_many_rounds(notebook, chosen, notebook.designs))
    planned = chosen.of_designs(notebook.designs) or chosen
    figures = derive_figures(notebook, models=False)
    casts = bars_by_piece(notebook.summaries, notebook.shelf)
    taken = (one for summary in figures.summaries.values() for one in summary.taken)
    lives = lives_of(notebook.shelf, figures.summaries)
    as_left = notebook_as_left(notebook, amounts_left(notebook.shelf, taken), lives)
    plan = plan_order(as_left, planned, casts, studio_pot_rates(figures.summaries), clock)
    return PlannedOrder(chosen, notebook, figures, plan, (*plan.figures.problems, *errors))


def order(args: argparse.Namespace) -> int:
    """Run ``journal order``; gives the exit status."""
    whole = read_notebook(args.content)
    opens_min = args.hours.opens_min if args.begins is None else args.begins
    chosen, notebook, figures, plan, problems = planned_order(
        whole, order_named(whole, args.file), args.edition, DayClock(opens_min, args.hours)
    )
    print_problems(problems, args.content)
    status = 1 if errors_in(problems) else 0
    studio = args.edition == "studio"

    def refuse_leaks(text: str) -> None:
        if not studio:
            raise_errors(leaks_in_text(whole, notebook, args.edition, text, chosen.path))

    if args.json:
        found = plan_json(notebook, plan, studio=studio)
        refuse_leaks(json.dumps(found, ensure_ascii=False))
        print_json(found)
        return status
    if args.pdf is not None:
        theme = read_theme(notebook.settings.theme, args.content)
        book = open_book(notebook, figures, compare_designs(notebook), theme, args.edition)
        page = order_page(book, book.places.orders[chosen.id], chosen, plan)
        html = theme.set_page("order.html", page)
        refuse_leaks(html)
        write_pdf(args, theme, html)
        print_lines(f"Made the order's sheet: {args.pdf}.")
        return status
    lines = plan_lines(notebook, plan, studio=studio)
    refuse_leaks("\n".join(lines))
    print_lines(*lines)
    return status


def order_named(notebook: Notebook, name: str) -> OrderFile:
    """The order that a path or an id names.

    Fails:  ContentError if it cannot be read, UsageError if there is none
    """
    path, folder = Path(name), notebook.root / "orders"
    for tried in (path, notebook.root / path):
        if tried.is_file() and tried.resolve().parent == folder.resolve():
            order_id = tried.resolve().stem
            break
    else:
        if path.is_file():
            raise UsageError(
                f'"{name}" is no order of this notebook', f"Keep it in {folder.as_posix()}."
            )
        order_id = name.removesuffix(".yaml").removeprefix("orders/")
    if order_id in notebook.orders:
        return notebook.orders[order_id]
    raise_errors(p for p in notebook.errors if p.position.path == f"orders/{order_id}.yaml")
    raise UsageError(f'no order is called "{name}"', spelling_hint(order_id, notebook.orders))
