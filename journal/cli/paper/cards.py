"""``journal cards``: recipe cards in a small folder of their own, or as a PDF."""

from __future__ import annotations

import argparse

from journal.cli.paper.on_paper import frame_of, write_folder, write_pdf
from journal.cli.terminal import counted, print_lines, print_problems
from journal.cli.used import require_known, require_recipes
from journal.errors import Problem, raise_errors
from journal.html.card_page import CardLeaf
from journal.html.theme import read_theme
from journal.records.notebook import read_notebook
from journal.views.card.card import card_page, cards_of
from journal.views.card.cards import CARD_SCRIPTS, USUAL_SIZE
from journal.views.shared.catalogue import catalogue_of

_LEAVES = ("leaf", "leaves")


def cards(args: argparse.Namespace) -> int:
    """Run ``journal cards``; gives the exit status."""
    notebook = read_notebook(args.content)
    designs = tuple(dict.fromkeys(args.designs))
    require_known(notebook, designs)
    require_recipes(notebook, [(name, args.variant) for name in designs])
    problems: list[Problem] = []
    words = catalogue_of(args.language or notebook.settings.language)
    size = args.size or USUAL_SIZE[args.sheet or notebook.settings.paper]
    leaves: list[CardLeaf] = []
    for name in designs:
        leaves += cards_of(
            notebook, notebook.designs[name], args.variant, args.bars, size, problems, words
        )
    raise_errors(problems)
    print_problems(sorted(set(problems)), args.content)
    theme = read_theme(notebook.settings.theme, args.content)
    made = f"{counted(len(designs), 'card')}, {len(leaves)} {_LEAVES[len(leaves) != 1]}"
    # Where several cards share a sheet none can take more room for another number of bars.
    scripts = () if args.sheet or args.pdf is not None else CARD_SCRIPTS
    frame = frame_of(notebook, "Cards", scripts)
    html = theme.set_page("card.html", card_page(frame, leaves, size, args.sheet or ""))
    if args.pdf is not None:
        write_pdf(args, theme, html)
        print_lines(f"Made {made}: {args.pdf}.")
        return 0
    write_folder(args, theme, html, with_scripts=True)
    layout = "several leaves a sheet, cut along the marks" if args.sheet else "a leaf a page"
    print_lines(f"Made {made}. Open {args.out / 'index.html'} and print it: {layout}.")
    return 0
