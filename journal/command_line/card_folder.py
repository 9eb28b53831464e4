"""``journal cards``: recipe cards in a small folder of their own, or as a PDF."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from journal.command_line.on_paper import write_pdf
from journal.command_line.terminal import counted, say, say_problems
from journal.command_line.used import require_known, require_recipes
from journal.errors import Problem, raise_errors
from journal.output import Part, write_notebook
from journal.pages.card import card_page, cards_of
from journal.pages.cards import CARD_SCRIPTS
from journal.pages.catalogue import catalogue_of
from journal.pages.leaf import CardPage, Leaf
from journal.pages.parts import Frame, Link
from journal.pages.theme import Theme, read_theme
from journal.records.codec import digest
from journal.records.notebook import Notebook, read_notebook

_LEAVES = ("leaf", "leaves")


def cards(asked: argparse.Namespace) -> int:
    """``journal cards``."""
    notebook = read_notebook(asked.content)
    designs = tuple(dict.fromkeys(asked.designs))
    require_known(notebook, designs)
    require_recipes(notebook, [(name, asked.variant) for name in designs])
    leaves, problems = _leaves(notebook, designs, asked)
    say_problems([p for p in problems if p.warning], asked.content)
    theme = read_theme(notebook.settings.theme, asked.content)
    made = f"{counted(len(designs), 'card')}, {len(leaves)} {_LEAVES[len(leaves) != 1]}"
    if asked.pdf is not None:
        page = _page(notebook, leaves, asked, scripts=())
        write_pdf(asked, theme, theme.set_page("card.html", page))
        say(f"Made {made}: {asked.pdf}.")
        return 0
    # Where several cards share a sheet none can take more room for another number of bars.
    scripts = () if asked.sheet else CARD_SCRIPTS
    page = _page(notebook, leaves, asked, scripts=scripts)
    write_notebook(
        asked.out,
        _parts(theme, page),
        stamp={"made": "cards"},
        away_from=(asked.content,),
    )
    say(f"Made {made}. Open {asked.out / 'index.html'} and print it: {_layout(asked)}.")
    return 0


def _layout(asked: argparse.Namespace) -> str:
    return "several leaves a sheet, cut along the marks" if asked.sheet else "a leaf a page"


def _leaves(
    notebook: Notebook, designs: Sequence[str], asked: argparse.Namespace
) -> tuple[tuple[Leaf, ...], tuple[Problem, ...]]:
    """The leaves of all cards; ContentError for what only the figures find wrong in them."""
    problems: list[Problem] = []
    leaves: list[Leaf] = []
    words = catalogue_of(asked.language or notebook.settings.language)
    for name in designs:
        design = notebook.designs[name]
        leaves += cards_of(notebook, design, asked.variant, asked.bars, asked.size, problems, words)
    raise_errors(problems)
    return tuple(leaves), tuple(sorted(set(problems)))


def _page(
    notebook: Notebook,
    leaves: Sequence[Leaf],
    asked: argparse.Namespace,
    scripts: tuple[str, ...],
) -> CardPage:
    frame = Frame(
        studio=notebook.settings.studio,
        root="",
        pages=(Link("Cards", "index.html", here=True),),
        paper=notebook.settings.paper,
        scripts=scripts,
    )
    return card_page(frame, leaves, asked.size, asked.sheet or "")


def _parts(theme: Theme, page: CardPage) -> list[Part]:
    html = theme.set_page("card.html", page).encode()
    files = [("index.html", html), *theme.files]
    return [Part(path, digest(content), content.__bytes__) for path, content in files]
