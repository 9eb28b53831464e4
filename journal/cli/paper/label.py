"""``journal label``: drafts of a label, several to a sheet."""

from __future__ import annotations

import argparse
import sys

from journal.cli.paper.on_paper import plain_texts, write_or_print
from journal.cli.terminal import counted, print_lines, print_problems
from journal.cli.used import usable_design
from journal.errors import Problem, UsageError, errors_in
from journal.figures.derive import derive_recipe
from journal.figures.label.regions import REGIONS
from journal.figures.lots.derive_trace import BatchTrace, derive_trace
from journal.figures.shop.derive_shop import LABEL
from journal.html.blocks import PageFrame
from journal.html.true_size import PaperSize
from journal.quantities.read import read_length, read_size
from journal.records.models.fields import spelling_hint
from journal.records.notebook import Notebook, read_notebook
from journal.views.paper.label_sheets import bar_size, label_page, label_words, words_of_batch
from journal.views.paper.labels import (
    LEAST_MM,
    SHAPES,
    BarSize,
    LabelOutline,
    LabelShape,
    label_fits_on,
    usual_shape,
)
from journal.views.shared.over_limit import over_limit_texts
from journal.views.shared.words import capitalised, list_text

_PAGE_HAS = "The design's page has the ingredients."
_CHECK = "A draft: check it against the rules where the bar is sold before you use it."


def draft_labels(args: argparse.Namespace) -> int:
    """Run ``journal label ID``; gives the exit status.

    It is 1 if a colour is not permitted, or an oil over its limit: the page says so, as the
    notebook's own does.
    """
    notebook = read_notebook(args.content)
    design = usable_design(notebook, args.id)
    problems: list[Problem] = []
    figures = derive_recipe(
        notebook.settings, notebook.shelf, design, design.as_written, None, problems, models=False
    )
    print_problems(sorted(set(problems)), args.content)
    label = figures[LABEL].value
    if label is None:
        needs = "; ".join(entry.needs for entry in figures[LABEL].missing)
        raise UsageError(f"a label of {args.id} cannot be drafted", f"It lacks: {needs}.")
    words = label_words(design, figures, notebook.settings)
    unknown = [region for region in notebook.settings.region if region not in REGIONS]
    without = f"a label for {list_text(unknown)} cannot be drawn: its rules are not known here"
    if not words:
        raise UsageError(without, _PAGE_HAS)
    if unknown:
        print_lines(f"{capitalised(without)}. {_PAGE_HAS}", stream=sys.stderr)
    if args.batch is not None:
        batch = _batch_named(notebook, args.id, args.batch)
        words = tuple(words_of_batch(batch, one) for one in words)
    bar = bar_size(notebook.shelf, design)
    paper: PaperSize = "a4" if notebook.settings.paper == "a4" else "letter"
    shapes = tuple(shape for shape in _shapes(args, bar) if label_fits_on(shape, paper))
    if not shapes:
        size = "this bar's size" if args.size is None else f'"{args.size}"'
        raise UsageError(
            f"a label of {size} does not go on a sheet of paper", "Ask for a smaller one."
        )
    dangers = over_limit_texts(notebook.shelf, [("", figures.masses.over)])
    page = label_page(PageFrame("", "", ()), words, bar, shapes, paper)
    print_lines(*plain_texts(page.notes), stream=sys.stderr)
    status = write_or_print(
        args,
        notebook,
        "true-size.html",
        lambda frame: label_page(frame, words, bar, shapes, paper, dangers=dangers),
        f"{counted(len(page.drawings), 'sheet')} of label drafts",
        _CHECK,
    )
    # The notes above say which colour is not permitted where.
    faulty = any(draft.faults for draft in label.drafts)
    return 1 if faulty or errors_in(problems) else status


def _batch_named(notebook: Notebook, design: str, code: str) -> BatchTrace:
    """The batch of a design with this code; UsageError if there is none."""
    batches = derive_trace(notebook).batches.get(design, ())
    for one in batches:
        if one.batch.code.casefold() == code.casefold():
            return one
    hint = spelling_hint(code, [one.batch.code for one in batches])
    raise UsageError(f'no batch of {design} is called "{code}"', hint)


def _shapes(args: argparse.Namespace, bar: BarSize) -> tuple[LabelShape, ...]:
    """The shape and size that the options name; without a size those that fit the bar."""
    if args.size is None:
        outlines: tuple[LabelOutline, ...] = SHAPES if args.shape is None else (args.shape,)
        return tuple(usual_shape(outline, bar) for outline in outlines)
    shape: LabelOutline = args.shape or "rectangle"
    wide, high = _read_label_size(args.size, shape)
    if min(wide, high) < LEAST_MM:
        raise UsageError(
            f'a label of "{args.size}" is too small to write on', "Ask for 10 mm or more."
        )
    return (LabelShape(shape, wide, high),)


def _read_label_size(text: str, shape: LabelOutline) -> tuple[float, float]:
    """Read a label's width and height in mm; one number is the diameter of a round one."""
    if shape == "round" and "x" not in text.replace("×", "x"):
        across = read_length(text)
        return across, across
    wide, high = read_size(text)
    if shape == "round" and wide != high:
        raise UsageError(f'a round label is as wide as it is high, not "{text}"', 'Write "50 mm".')
    return wide, high
