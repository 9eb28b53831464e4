"""Check each thing on the shelf by itself: shares above 100 %, a corner wider than its face."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models.shelf import Base, Fragrance, Mat, Mould, ShelfRecord
from journal.records.yaml.tree import position_of

# Shares that are rounded to a tenth of a per cent may sum to a little more than the whole.
SHARES_MAY_PASS = 0.0011
# No bar is as small as this; a slip of the unit is. A piece has to fit in with room round it.
LEAST_FACE_MM = 5.0
# No mat is as large, and no motif as close to the next: both are slips of a unit, and a plan of
# so many pieces would take hours.
LARGEST_SHEET_MM = 2000.0
MOST_MOTIFS = 1000


def shelf_entry_problems(record: ShelfRecord, entry: Any) -> Iterator[Problem]:
    """Yield every problem of one thing on the shelf; ``entry`` is its tree."""
    check = _CHECKS.get(type(record))
    if check is not None:
        yield from check(record, entry)


def _base_problems(base: Base, entry: Any) -> Iterator[Problem]:
    """Yield problems of ingredients above 100 % and of temperatures that are out of order."""
    total = sum(ingredient.share or 0.0 for ingredient in base.ingredients)
    if total > 1 + SHARES_MAY_PASS:
        what = f"the shares of the ingredients sum to {100 * total:.6g} %"
        hint = "Make them sum to 100 %, or to less where some are not known."
        yield Problem(position_of(entry, "ingredients"), what, hint)
    # Of each pair, the first begins no hotter than the second ends.
    for lower, upper in (("softens", "melts"), ("sets", "melts"), ("melts", "scorches")):
        low, high = getattr(base, lower), getattr(base, upper)
        if low is not None and high is not None and low[0] > high[1]:
            what = f"the base {lower} at {excerpt(entry[lower])}"
            what += f", and {upper} at {excerpt(entry[upper])}"
            hint = f"Check the two: what {lower} does so below where it {upper}."
            yield Problem(position_of(entry, lower), what, hint)


def _fragrance_problems(fragrance: Fragrance, entry: Any) -> Iterator[Problem]:
    """Yield a problem if the allergens are more than 100 %."""
    total = sum(share for _, share in fragrance.allergens)
    if total > 1 + SHARES_MAY_PASS:
        what = f"the shares of the allergens sum to {100 * total:.6g} %"
        hint = "They are shares of the oil: make them sum to 100 % or less."
        yield Problem(position_of(entry, "allergens"), what, hint)


def _mould_problems(mould: Mould, entry: Any) -> Iterator[Problem]:
    """Yield problems of rows that are not the cavities, of a small face and of wide corners."""
    if mould.rows is not None:
        rows, in_row = mould.rows
        if mould.cavities is not None and rows * in_row != mould.cavities:
            what = f"rows of {excerpt(entry['rows'])} are {rows * in_row} cavities"
            hint = "Make rows times how many in each the number of cavities."
            at = position_of(entry, "rows")
            yield Problem(at, f"{what}, and cavities says {mould.cavities}", hint)
    if mould.face is None:
        return
    if min(mould.face) < LEAST_FACE_MM:
        what = f"{excerpt(entry['face'])} is hardly the face of a bar"
        yield Problem(position_of(entry, "face"), what, "Check the numbers and the unit.")
    if mould.corner_radius is not None and 2 * mould.corner_radius > min(mould.face):
        what = f"a corner of {excerpt(entry['corner_radius'])} is wider than the face of"
        hint = "Write the radius: at most half of the shorter side."
        at = position_of(entry, "corner_radius")
        yield Problem(at, f"{what} {excerpt(entry['face'])}", hint)


def _mat_problems(mat: Mat, entry: Any) -> Iterator[Problem]:
    """Yield problems of a relief deeper than the sheet, of a huge sheet and of many motifs."""
    if mat.sheet is not None and max(mat.sheet) > LARGEST_SHEET_MM:
        what = f"{excerpt(entry['sheet'])} is hardly the sheet of a mat"
        yield Problem(position_of(entry, "sheet"), what, "Check the numbers and the unit.")
    elif mat.sheet is not None and mat.motif is not None and mat.motif.pitch is not None:
        pitch = mat.motif.pitch
        motifs = (mat.sheet[0] / pitch[0]) * (mat.sheet[1] / pitch[1])
        if motifs > MOST_MOTIFS:
            what = f"a sheet of {excerpt(entry['sheet'])} has more than {MOST_MOTIFS} motifs"
            hint = "Write the pitch from the centre of a motif to the centre of the next."
            yield Problem(position_of(entry, "motif"), what, hint)
    if mat.relief is not None and mat.thickness is not None and mat.relief > mat.thickness:
        what = f"a relief of {excerpt(entry['relief'])} is deeper than the sheet of"
        what += f" {excerpt(entry['thickness'])}"
        yield Problem(position_of(entry, "relief"), what, "Check the two.")


_CHECKS: Mapping[type[Any], Callable[[Any, Any], Iterator[Problem]]] = {
    Base: _base_problems,
    Fragrance: _fragrance_problems,
    Mould: _mould_problems,
    Mat: _mat_problems,
}
