"""``journal order FILE``: an order's plan at the terminal."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from journal.command_line.on_paper import write_pdf
from journal.command_line.order_lines import plan_lines
from journal.command_line.terminal import say, say_problems
from journal.command_line.used import require_used
from journal.comparison.derive import compare_designs
from journal.errors import ContentError, UsageError
from journal.figures.day_steps import Hours
from journal.figures.derive import derive_design, derive_figures, referenced
from journal.figures.derive_day import Clock, derive_day
from journal.figures.derive_heat import CoolingRun, studio_rates
from journal.figures.derive_order import derive_order
from journal.figures.pot_rates import rate_line
from journal.pages.notebook import open_book
from journal.pages.orders import order_page
from journal.pages.theme import Theme, read_theme
from journal.records.asked import Order
from journal.records.notebook import Notebook, read_notebook
from journal.records.typed import nearest


def order(asked: argparse.Namespace) -> int:
    """``journal order``."""
    notebook = read_notebook(asked.content)
    chosen = _chosen(notebook, asked.file)
    require_used(notebook, chosen)
    found = derive_order(notebook, chosen)
    errors = tuple(problem for problem in found.problems if not problem.warning)
    if errors:
        raise ContentError(errors)
    day = derive_day(notebook, found, rate_line(studio_rates(_runs(notebook))), _clock(asked))
    say_problems(found.problems, asked.content)
    if asked.pdf is not None:
        theme = read_theme(notebook.settings.theme, asked.content)
        write_pdf(asked, theme, _sheet(notebook, chosen, theme, _clock(asked)))
        say(f"Made the order's sheet: {asked.pdf}.")
        return 0
    say(*plan_lines(notebook, found, day))
    return 0


def _sheet(notebook: Notebook, chosen: Order, theme: Theme, clock: Clock) -> str:
    """The order's page of the notebook, to be printed."""
    figures = derive_figures(notebook, models=False)
    book = open_book(notebook, figures, compare_designs(notebook), theme)
    page = order_page(book, book.places.orders[chosen.id], chosen, clock)
    return theme.set_page("page.html", page)


def _chosen(notebook: Notebook, name: str) -> Order:
    """The order that a path or an id names.

    Fails:  ContentError if it cannot be read, UsageError if there is none
    """
    wanted = name
    path = Path(name)
    for tried in (path, notebook.root / path):
        if tried.is_file() and tried.resolve().parent == (notebook.root / "orders").resolve():
            wanted = tried.resolve().stem
            break
    else:
        wanted = wanted.removesuffix(".yaml").removeprefix("orders/")
        if path.is_file():
            raise UsageError(
                f'"{name}" is no order of this notebook',
                f"Keep it in {(notebook.root / 'orders').as_posix()}.",
            )
    if wanted in notebook.orders:
        return notebook.orders[wanted]
    own = tuple(p for p in notebook.errors if p.position.path == f"orders/{wanted}.yaml")
    if own:
        raise ContentError(own)
    raise UsageError(f'no order is called "{name}"', nearest(wanted, notebook.orders))


def _runs(notebook: Notebook) -> Iterator[CoolingRun]:
    """Every pot that was read, in all designs that can be reckoned with."""
    for design in notebook.designs.values():
        if referenced(notebook.shelf, design):
            found = derive_design(notebook.settings, notebook.shelf, design, [], models=False)
            yield from found.cooling.value or ()


def _clock(asked: argparse.Namespace) -> Clock:
    hours: Hours = asked.hours
    begins = hours.opens_min if asked.begins is None else asked.begins
    return Clock(begins, hours)
