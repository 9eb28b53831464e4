"""Moulds as pages draw them: how cavities lie, and a pour at the height of a line."""

from __future__ import annotations

from msgspec.structs import replace

from journal.charts import mould as charts
from journal.html.blocks import PageCell, TextRun, number_cell
from journal.records.models.shelf import Mould
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import PourOverview
from journal.views.shared.book import Book
from journal.views.shared.words import no_break

FIT_TO_SELL = no_break(" fit to sell")


def lattice_of(mould: Mould | None, bars: int) -> charts.Lattice:
    """How the cavities of a mould lie: as the shelf says, else in a sensible block.

    Of a mould that is not known, ``bars`` are as many cavities.
    """
    if mould is None:
        return _block(bars)
    slices = mould.bars_each or 1
    cavities = mould.cavities or max(1, -(-bars // slices))
    radius_mm = mould.corner_radius or 0.0
    if mould.rows is not None:
        rows, in_row = mould.rows
        return charts.Lattice(rows * in_row, in_row, slices, mould.face, radius_mm)
    return _block(cavities, slices, mould.face, radius_mm)


def _block(
    cavities: int, slices: int = 1, face_mm: tuple[float, float] | None = None, radius: float = 0.0
) -> charts.Lattice:
    lattice = charts.Lattice(max(1, cavities), 1, slices, face_mm, radius)
    return replace(lattice, in_row=charts.sensible_row(lattice.cavities, lattice.face))


def pour_mark(book: Book, design: DesignSummary, pour: PourOverview) -> TextRun:
    """A pour as it lay in its mould, at the height of a line; "" without bars."""
    mould = book.bench.moulds.get(design.overview.mould or "")
    lattice = lattice_of(mould, len(pour.cells))
    # Of a loaf the slices, in rows that are no longer than those of the usual mould.
    in_row = lattice.in_row if lattice.slices == 1 else min(lattice.slices, charts.IN_ROW // 2)
    return _cells(pour.cells, in_row)


def fit_to_sell(*pours: PourOverview) -> tuple[TextRun, str]:
    """Bars as cells, those fit to sell first, and in words: ``4 of 6 fit to sell``; else empty."""
    kept, judged = sum(pour.kept for pour in pours), sum(pour.judged for pour in pours)
    bars = sum(pour.bars for pour in pours)
    if not judged:
        return TextRun(""), ""
    text = f"{no_break(f'{kept} of {judged}')}{FIT_TO_SELL}"
    counts = ("y", kept), ("n", judged - kept), ("o", bars - judged)
    if bars > charts.MOST_CELLS:
        # A row of each, of a cell for every ten bars.
        tens = [(letter, round(number / 10)) for letter, number in counts]
        longest = max(number for _, number in tens)
        cells = "".join((letter * number).ljust(longest, ".") for letter, number in tens if number)
        return _cells(cells, longest), f"{text}, a cell for ten"
    return _cells("".join(letter * number for letter, number in counts), charts.IN_ROW), text


def fit_cell(*pours: PourOverview, mark: TextRun | None = None) -> PageCell:
    """A cell of a table under "Fit to sell": ``4 of 6`` after its bars; a dash if none was judged.

    ``mark`` is drawn instead of the bars in their number, such as a pour as it lay.
    """
    cells, text = fit_to_sell(*pours)
    if not text:
        return number_cell("–")
    return PageCell((mark or cells, text.replace(FIT_TO_SELL, "")), number=True)


def _cells(cells: str, in_row: int) -> TextRun:
    return TextRun("", cells=charts.cells_mark(cells, in_row) if cells else None)
