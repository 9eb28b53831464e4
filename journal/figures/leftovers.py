"""What a melt leaves behind, and which order may draw on what is on the shelf."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from journal.errors import FigureError

# Below this share of a melt a remainder is the last digits of a float.
FLOAT_SLACK = 1e-9

# What a design lets into its pots: nothing, plain base only (what a design
# that says nothing allows), or tinted and scented base too.
NONE = "none"
PLAIN = "plain"
ANY = "any"


class LeftBehind(Struct, frozen=True):
    """What a pot leaves once its layers are poured.

    ``left_g`` can be scraped back and kept, ``lost_g`` stays in the jug,
    ``short_g`` is how much too little was melted for that.
    """

    left_g: float
    lost_g: float
    short_g: float


class Leftover(Struct, frozen=True):
    """Base on the shelf that was melted before.

    ``shares`` are of its bases and sum to 1; ``tinted`` the colourant or None;
    ``scented`` the oil or None, at ``concentration`` of the leftover's mass.
    """

    name: str
    shares: tuple[tuple[str, float], ...]
    amount_g: float
    tinted: str | None
    scented: str | None
    concentration: float


class PotNeed(Struct, frozen=True):
    """What a pot of an order needs: its bases by mass, its own colour and scent."""

    design: str
    pot: str
    bases_g: tuple[tuple[str, float], ...]
    colourants: tuple[str, ...]
    oils: tuple[str, ...]
    allows: str


class Draw(Struct, frozen=True):
    """So much of a leftover into a pot.

    ``oil_g`` is fragrance that comes with it and counts towards the limit;
    ``other_colour`` and ``other_scent`` say that it is not the pot's own.
    """

    leftover: str
    design: str
    pot: str
    mass_g: float
    bases_g: tuple[tuple[str, float], ...]
    oil: str | None
    oil_g: float
    other_colour: bool
    other_scent: bool


class Drawn(Struct, frozen=True):
    """All draws of an order, the fresh base that is still to melt, and what stays."""

    draws: tuple[Draw, ...]
    fresh: tuple[PotNeed, ...]
    kept_g: tuple[tuple[str, float], ...]


def _mass(value: float, what: str) -> float:
    if not (math.isfinite(value) and value >= 0):
        raise FigureError(f"{what} is {value} g; it cannot be below 0")
    return value


def jug_loss_g(poured_g: float, waste_share: float, least_g: float) -> float:
    """What stays in the jug of one pot: the waste that the melt allows for.

    Takes:  poured_g     sum of the pot's layers + the largest `over`; grams; >= 0
            waste_share  0 to 1
            least_g      grams a pot; >= 0
    Gives:  grams: poured x share, at least `least`
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: 578.33 g at 3 % and 8 g is 17.35 g; 50 g is 8 g
    """
    if not 0 <= waste_share <= 1:
        raise FigureError(f"the waste is {waste_share} of the melt; a share is 0 to 1")
    return max(_mass(poured_g, "the mass poured") * waste_share, _mass(least_g, "the least waste"))


def left_behind(melted_g: float, stays_g: float, lost_g: float) -> LeftBehind:
    """What a pot leaves behind: melted less what stays in the bars and in the jug.

    For a melt as planned that is the base poured over and scraped back; for a
    pot of which more was melted than planned, the surplus too. What is in the
    jug is counted as lost: whoever scrapes it out has that much more.

    Takes:  melted_g  base that the pot held; grams; >= 0
            stays_g   base that stays in the bars; grams; >= 0
            lost_g    grams in the jug; >= 0
    Gives:  grams left, lost, and short
    Fails:  FigureError if any is below 0
    Source: definition (mass balance)
    Checked: 623.69 g melted, 578.33 g stay, 17.35 g lost: 28.01 g left
    """
    melted = _mass(melted_g, "the melt")
    left = melted - _mass(stays_g, "what stays in the bars") - _mass(lost_g, "what is lost")
    if abs(left) <= FLOAT_SLACK * melted:
        left = 0.0
    return LeftBehind(max(0.0, left), lost_g, max(0.0, -left))


def draw_leftovers(needs: Sequence[PotNeed], leftovers: Sequence[Leftover]) -> Drawn:
    """Which leftovers an order can use up, and in which pots.

    A leftover goes into a pot only if every base of it is one of the pot's
    bases, in its own proportions, and no further than the pot's need of each.
    Plain base goes into any pot, unless its design takes no leftovers. Tinted
    or scented base goes only into designs that say so, there only into a pot
    that is tinted (scented) itself, and first into one of the same colourant
    (oil); a draw of another colour or scent is marked, for the maker to judge.

    The rule: leftovers that are hardest to place go first (scented and tinted,
    then one of both, then plain; the smaller first, to be done with it), and
    each goes to the pots in order of likeness, then in the order given.

    Takes:  needs      masses >= 0, in the order in which the pots are melted
            leftovers  amount >= 0; shares sum to 1; concentration 0 to 1
    Gives:  the draws, the needs less what is drawn, and what stays on the shelf
    Fails:  FigureError if any lies outside its range
    Source: definition; common practice for the order, no source
    Checked: 300 g of plain white into a pot of 200 g white: 200 g drawn, 100 g kept
    """
    for need in needs:
        if need.allows not in (NONE, PLAIN, ANY):
            raise FigureError(f'a design that allows "{need.allows}"; {NONE}, {PLAIN} or {ANY}')
        for base, mass in need.bases_g:
            _mass(mass, f"{base} in the pot {need.pot} of {need.design}")
    for leftover in leftovers:
        _check_leftover(leftover)
    wanting = [dict(need.bases_g) for need in needs]
    kept = {leftover.name: leftover.amount_g for leftover in leftovers}
    draws: list[Draw] = []
    for leftover in sorted(leftovers, key=_hardest_first):
        suited = [
            (_unlikeness(leftover, need), place)
            for place, need in enumerate(needs)
            if _may_take(leftover, need)
        ]
        for _, place in sorted(suited):
            mass = min(
                kept[leftover.name],
                *(
                    wanting[place].get(base, 0.0) / share
                    for base, share in leftover.shares
                    if share > 0
                ),
            )
            if mass <= FLOAT_SLACK * leftover.amount_g:
                continue
            drawn = tuple((base, mass * share) for base, share in leftover.shares if share > 0)
            for base, part in drawn:
                wanting[place][base] = max(0.0, wanting[place][base] - part)
            kept[leftover.name] = max(0.0, kept[leftover.name] - mass)
            need = needs[place]
            draws.append(
                Draw(
                    leftover.name,
                    need.design,
                    need.pot,
                    mass,
                    drawn,
                    leftover.scented,
                    mass * leftover.concentration if leftover.scented else 0.0,
                    leftover.tinted is not None and leftover.tinted not in need.colourants,
                    leftover.scented is not None and leftover.scented not in need.oils,
                )
            )
    fresh = tuple(
        PotNeed(
            need.design,
            need.pot,
            tuple((base, wanting[place][base]) for base, _ in need.bases_g),
            need.colourants,
            need.oils,
            need.allows,
        )
        for place, need in enumerate(needs)
    )
    return Drawn(
        tuple(draws), fresh, tuple((leftover.name, kept[leftover.name]) for leftover in leftovers)
    )


def _check_leftover(leftover: Leftover) -> None:
    _mass(leftover.amount_g, f"the leftover {leftover.name}")
    if not leftover.shares or any(not 0 <= share <= 1 for _, share in leftover.shares):
        raise FigureError(f"the shares of the leftover {leftover.name} must lie in 0 to 1")
    total = math.fsum(share for _, share in leftover.shares)
    if abs(total - 1) > 1e-6:
        raise FigureError(f"the shares of the leftover {leftover.name} sum to {total}, not to 1")
    if not 0 <= leftover.concentration <= 1:
        raise FigureError(
            f"a concentration of {leftover.concentration} in {leftover.name}; a share is 0 to 1"
        )


def _hardest_first(leftover: Leftover) -> tuple[int, float, str]:
    marks = (leftover.tinted is not None) + (leftover.scented is not None)
    return (-marks, leftover.amount_g, leftover.name)


def _may_take(leftover: Leftover, need: PotNeed) -> bool:
    if need.allows == NONE:
        return False
    held = {base for base, mass in need.bases_g if mass > 0}
    if any(share > 0 and base not in held for base, share in leftover.shares):
        return False
    if leftover.tinted is None and leftover.scented is None:
        return True
    if need.allows != ANY:
        return False
    if leftover.tinted is not None and not need.colourants:
        return False
    return leftover.scented is None or bool(need.oils)


def _unlikeness(leftover: Leftover, need: PotNeed) -> int:
    """0 for the pot's own colour and scent, plain to plain; more for each difference."""
    colour = leftover.tinted is not None and leftover.tinted not in need.colourants
    scent = leftover.scented is not None and leftover.scented not in need.oils
    return colour + 2 * scent
