"""``journal template``: a cutting template at true size."""

from __future__ import annotations

import argparse
import sys

from journal.cli.paper.on_paper import plain_texts, write_or_print
from journal.cli.terminal import counted, print_lines
from journal.cli.used import require_things
from journal.errors import UsageError
from journal.figures.shop.derive_template import cut_templates, trims_used
from journal.html.blocks import PageFrame
from journal.html.true_size import PaperSize
from journal.records.models.fields import spelling_hint
from journal.records.models.shelf import KINDS
from journal.records.models.trim import Trim, read_trim
from journal.records.notebook import Notebook, read_notebook
from journal.views.paper.templates import template_page

_MEASURE_FIRST = "Print it at 100 % and measure the lines of 100 mm before you cut."


def template(args: argparse.Namespace) -> int:
    """Run ``journal template MAT MOULD``; gives the exit status."""
    notebook = read_notebook(args.content)
    pair = (_on_shelf(notebook, "mats", args.mat), _on_shelf(notebook, "moulds", args.mould))
    require_things(notebook, [("mats", pair[0]), ("moulds", pair[1])])
    trims = _trims(args.trim) or trims_used(notebook).get(pair, ())
    cut = cut_templates(notebook.shelf, pair, trims)
    paper: PaperSize = "a4" if notebook.settings.paper == "a4" else "letter"
    page = template_page(PageFrame("", "", ()), notebook.shelf, pair, cut, paper)
    notes = plain_texts(page.notes)
    if not page.drawings:
        raise UsageError(f"there is nothing to draw. {'; '.join(notes)}".rstrip("."))
    print_lines(*notes, stream=sys.stderr)
    return write_or_print(
        args,
        notebook,
        "true-size.html",
        lambda frame: template_page(frame, notebook.shelf, pair, cut, paper),
        f"a template of {counted(len(page.drawings), 'sheet')}",
        _MEASURE_FIRST,
    )


def _on_shelf(notebook: Notebook, kind: str, name: str) -> str:
    """The name, if a thing of the kind has it; else UsageError."""
    names = [*notebook.shelf.written.get(kind, ())]
    if name not in names:
        raise UsageError(
            f'no {KINDS[kind].noun} "{name}" is on the shelf', spelling_hint(name, names)
        )
    return name


def _trims(texts: list[str] | None) -> tuple[Trim, ...]:
    """Read the trims that the options name, each with a margin; empty for none."""
    trims = []
    for text in texts or ():
        trim = read_trim(text)
        if trim.margin_mm is None:
            raise UsageError(
                f'the trim "{text}" has no margin', 'Write --trim "straight 3 mm", say.'
            )
        trims.append(trim)
    return tuple(trims)
