"""What does not fit within one thing on the shelf: shares that are too many, a corner too wide."""

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


def shelf_entry_problems(record: ShelfRecord, entry: Any) -> Iterator[Problem]:
    """Every problem of one thing on the shelf, ``entry`` as it is written."""
    check = _CHECKS.get(type(record))
    if check is not None:
        yield from check(record, entry)


def _of_bases(base: Base, entry: Any) -> Iterator[Problem]:
    """Shares above the whole, and temperatures that are out of order."""
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


def _of_fragrances(fragrance: Fragrance, entry: Any) -> Iterator[Problem]:
    """Shares of allergens above the whole."""
    total = sum(share for _, share in fragrance.allergens)
    if total > 1 + SHARES_MAY_PASS:
        what = f"the shares of the allergens sum to {100 * total:.6g} %"
        hint = "They are shares of the oil: make them sum to 100 % or less."
        yield Problem(position_of(entry, "allergens"), what, hint)


def _of_moulds(mould: Mould, entry: Any) -> Iterator[Problem]:
    """A face that is too small, and corners that do not fit it."""
    if mould.face is None:
        return
    if min(mould.face) < LEAST_FACE_MM:
        what = f"a face of {excerpt(entry['face'])} is none of a bar"
        yield Problem(position_of(entry, "face"), what, "Check the numbers and the unit.")
    if mould.corner_radius is not None and 2 * mould.corner_radius > min(mould.face):
        what = f"a corner of {excerpt(entry['corner_radius'])} is wider than the face of"
        hint = "Write the radius: at most half of the shorter side."
        at = position_of(entry, "corner_radius")
        yield Problem(at, f"{what} {excerpt(entry['face'])}", hint)


def _of_mats(mat: Mat, entry: Any) -> Iterator[Problem]:
    """A relief that is deeper than the sheet."""
    if mat.relief is not None and mat.thickness is not None and mat.relief > mat.thickness:
        what = f"a relief of {excerpt(entry['relief'])} is deeper than the sheet of"
        what += f" {excerpt(entry['thickness'])}"
        yield Problem(position_of(entry, "relief"), what, "Check the two.")


_CHECKS: Mapping[type[Any], Callable[[Any, Any], Iterator[Problem]]] = {
    Base: _of_bases,
    Fragrance: _of_fragrances,
    Mould: _of_moulds,
    Mat: _of_mats,
}
