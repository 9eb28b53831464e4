"""What the bars of a mat say of its pieces: relief, lifts and tears by the casts before."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from msgspec import Struct

from journal.figures.pieces.derive_pieces import fitting_pieces, things_owned
from journal.figures.pieces.wear import WearTrend, wear_trend
from journal.figures.shop.cost import mat_wear, round_money
from journal.figures.shop.derive_template import CutTemplate, MatAndMould
from journal.records.models.settings import Settings
from journal.records.models.shelf import Mat, Shelf
from journal.records.models.write_up import Design

# Casts that are told together.
BAND = 10
TORN = "torn"
# Of a casting life in 64-bit numbers: 25 casts come out as 24.999999999999996.
ROUNDING = 1e-9


class CastSeen(Struct, frozen=True):
    """The bars of one pour of a design on one piece, and what was seen on them.

    ``casts`` are cavities filled: a block cut into bars is one. ``reliefs`` are marks; of bars
    looked at so many ``lifted``; ``torn`` are those that a failure names.
    """

    piece: str
    poured: date
    bars: int
    casts: int
    reliefs: tuple[float, ...]
    looked_at: int
    lifted: int
    torn: int


class WearBand(Struct, frozen=True):
    """What was seen on bars with ``first`` to ``last`` casts on their piece before."""

    first: int
    last: int
    bars: int
    relief: float | None
    looked_at: int
    lifted: int
    torn: int


class MatWear(Struct, frozen=True):
    """The wear of the pieces of one mat: bars by casts, the trend, and the life as guessed.

    ``life_seen`` is what costs and casts left go by; None where the bars do not show it. ``a_cast``
    is what a cast costs by it, ``guessed`` by the other; None where that, the price or a cut plan
    is not known.
    """

    bands: tuple[WearBand, ...]
    trend: WearTrend | None
    life_seen: int | None
    life_guessed: int | None
    most_casts: int
    a_cast: Decimal | None
    guessed: Decimal | None


def casts_seen(shelf: Shelf, design: Design) -> tuple[CastSeen, ...]:
    """The casts of a design's pours, in their order, each with what was seen.

    A bar lay on the piece that its row names, else on that of its variant, else on the first that
    a card of its recipe chooses.
    """
    torn = {one.bar for one in design.failed if one.what == TORN and one.bar is not None}
    found: list[CastSeen] = []
    for pour in sorted(design.pours, key=lambda one: one.date):
        of_piece: dict[str, list[tuple[float | None, bool | None, bool]]] = {}
        each = 1
        for bar in pour.bars:
            recipe = design.variant(bar.variant).recipe
            chosen = [bar.piece] if bar.piece is not None else fitting_pieces(shelf, recipe)
            piece = next(iter(chosen), None)
            if piece is None:
                continue
            mould = shelf.moulds.get(recipe.mould or "")
            each = (mould.bars_each or 1) if mould is not None else 1
            relief, lifted = bar.measures.get("relief"), bar.measures.get("lifted")
            of_piece.setdefault(piece, []).append(
                (
                    float(relief) if isinstance(relief, int | float) else None,
                    lifted if isinstance(lifted, bool) else None,
                    bar.bar in torn,
                )
            )
        for piece, bars in of_piece.items():
            looked_at = [lifted for _, lifted, _ in bars if lifted is not None]
            found.append(
                CastSeen(
                    piece,
                    pour.date,
                    len(bars),
                    -(-len(bars) // each),
                    tuple(relief for relief, _, _ in bars if relief is not None),
                    len(looked_at),
                    sum(looked_at),
                    sum(is_torn for _, _, is_torn in bars),
                )
            )
    return tuple(found)


class _AtCasts(NamedTuple):
    """A cast, and how many its piece had had before, each of those alike."""

    design: str
    before: float
    seen: CastSeen


def wear_of_mats(
    settings: Settings,
    shelf: Shelf,
    seen: Iterable[tuple[str, Iterable[CastSeen]]],
    templates: Mapping[MatAndMould, tuple[CutTemplate, ...]],
) -> dict[str, MatWear]:
    """The wear of the pieces of each mat that was cast on.

    Takes:  seen       the casts of each design, by its id
            templates  of each mat and mould, for the pieces that a sheet gives
    Gives:  by mat; pieces alike are cast on in turn, so that they wear alike
    """
    a_sheet = {
        mat: plan.count
        for (mat, _), of_pair in templates.items()
        for one in of_pair
        if one.figure.value is not None and (plan := one.figure.value.plan) is not None
    }
    return {
        mat: _wear(shelf.mats[mat], casts, a_sheet.get(mat, 0), settings.currency)
        for mat, casts in sorted(_casts_by_mat(shelf, seen).items())
    }


def lives_seen(shelf: Shelf, seen: Iterable[tuple[str, Iterable[CastSeen]]]) -> dict[str, int]:
    """Casts that a piece of each mat lasts, of mats whose bars show that relief goes down.

    ``seen`` are the casts of each design, by its id. It is the lower end of the interval: a piece
    that is costed as worn too soon loses no money.
    """
    lives = {
        mat: _life_seen(_trend(casts)) for mat, casts in sorted(_casts_by_mat(shelf, seen).items())
    }
    return {mat: life for mat, life in lives.items() if life is not None}


def shelf_as_worn(shelf: Shelf, lives: Mapping[str, int]) -> Shelf:
    """The shelf with the lives of its mats' pieces that were seen, as of ``lives_seen``."""
    return dataclasses.replace(shelf, lives_seen=lives)


def _casts_by_mat(
    shelf: Shelf, seen: Iterable[tuple[str, Iterable[CastSeen]]]
) -> dict[str, list[_AtCasts]]:
    """The casts of all designs by the mat of their piece, each with those before it."""
    by_piece: dict[str, list[tuple[str, CastSeen]]] = {}
    for design, casts in seen:
        for one in casts:
            by_piece.setdefault(one.piece, []).append((design, one))
    by_mat: dict[str, list[_AtCasts]] = {}
    for name, of_piece in by_piece.items():
        mat = shelf.pieces[name].mat if name in shelf.pieces else None
        if mat is not None and mat in shelf.mats:
            by_mat.setdefault(mat, []).extend(_in_turn(shelf, name, of_piece))
    return by_mat


def _trend(casts: Iterable[_AtCasts]) -> WearTrend | None:
    """The trend of relief over the casts of one mat, each design on each piece by itself."""
    groups: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for design, before, one in casts:
        if one.reliefs:
            mean = sum(one.reliefs) / len(one.reliefs)
            groups.setdefault((design, one.piece), []).append((before, mean))
    return wear_trend(list(groups.values()))


def _life_seen(trend: WearTrend | None) -> int | None:
    """Whole casts that a piece lasts at the least; None where no wear is seen."""
    if trend is None or not trend.is_seen or trend.lasts[1] is None:
        return None
    return max(1, math.floor(trend.lasts[1] + ROUNDING))


def _in_turn(
    shelf: Shelf, name: str, of_piece: Iterable[tuple[str, CastSeen]]
) -> Iterator[_AtCasts]:
    """Yield the casts on pieces alike by their day, each with those before it on one of them."""
    piece = shelf.pieces[name]
    alike = max(1, things_owned(piece))
    had = piece.casts_before or 0
    for design, one in sorted(of_piece, key=lambda entry: (entry[1].poured, entry[0])):
        yield _AtCasts(design, had / alike, one)
        had += one.casts


def _wear(mat: Mat, casts: Sequence[_AtCasts], a_sheet: int, currency: str) -> MatWear:
    """The wear of one mat's pieces, of which a sheet gives so many."""
    bands: dict[int, list[CastSeen]] = {}
    most = 0.0
    for _, before, one in casts:
        bands.setdefault(int(before) // BAND, []).append(one)
        most = max(most, before + 1)
    trend = _trend(casts)
    life = _life_seen(trend)

    def a_cast(life: int | None) -> Decimal | None:
        """What a cast costs by a life in casts."""
        if mat.price is None or not a_sheet or life is None:
            return None
        return round_money(mat_wear(mat.price, a_sheet, life), currency)

    return MatWear(
        tuple(_band(number, ones) for number, ones in sorted(bands.items())),
        trend,
        life,
        mat.life,
        int(most),
        a_cast(life),
        a_cast(mat.life),
    )


def _band(number: int, seen: list[CastSeen]) -> WearBand:
    """What was seen within one band of casts."""
    reliefs = [relief for one in seen for relief in one.reliefs]
    return WearBand(
        number * BAND,
        number * BAND + BAND - 1,
        sum(one.bars for one in seen),
        sum(reliefs) / len(reliefs) if reliefs else None,
        sum(one.looked_at for one in seen),
        sum(one.lifted for one in seen),
        sum(one.torn for one in seen),
    )
