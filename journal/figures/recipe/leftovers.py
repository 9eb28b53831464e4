"""Mass balances of a pot: what it leaves behind, and how much of a leftover it can take."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from journal.errors import FigureError

# Below this share of a melt a remainder is the last digits of a float.
FLOAT_SLACK = 1e-9


class PotRemainder(Struct, frozen=True):
    """The masses that a pot leaves once its layers are poured.

    ``left_g`` can be scraped back and kept, ``lost_g`` stays in the jug,
    ``short_g`` is how much too little was melted for that.
    """

    left_g: float
    lost_g: float
    short_g: float


def _mass(value: float, what: str) -> float:
    """The mass itself; FigureError, naming it by ``what``, if it is not finite or below 0."""
    if not (math.isfinite(value) and value >= 0):
        raise FigureError(f"{what} is {value} g; it cannot be below 0")
    return value


def jug_loss_g(poured_g: float, waste_share: float, least_g: float) -> float:
    """Grams that stay in the jug of one pot: the waste that the melt allows for.

    Takes:  poured_g     sum of the pot's layers + the largest overpour; grams; >= 0
            waste_share  0 to 1
            least_g      grams a pot; >= 0
    Gives:  grams: poured x share, at least least_g
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: 578.33 g at 3 % and 8 g is 17.35 g; 50 g is 8 g
    """
    if not 0 <= waste_share <= 1:
        raise FigureError(f"the waste is {waste_share} of the melt; a share is 0 to 1")
    return max(_mass(poured_g, "the mass poured") * waste_share, _mass(least_g, "the least waste"))


def left_behind(melted_g: float, stays_g: float, lost_g: float) -> PotRemainder:
    """Subtract from a melt what stays in the bars and in the jug.

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
    return PotRemainder(max(0.0, left), lost_g, max(0.0, -left))


def mass_to_draw_g(
    wanted_g: Mapping[str, float], shares: Sequence[tuple[str, float]], there_g: float
) -> float:
    """Grams of a leftover that a pot can take.

    Every base of the leftover must be one of the pot's bases: what is drawn brings
    them in the leftover's own proportions, and no more of each than the pot needs.

    Takes:  wanted_g  base -> grams that the pot still needs of it; >= 0
            shares    of the leftover's bases; 0 to 1; they sum to 1
            there_g   grams of the leftover that are there; >= 0
    Gives:  grams; 0 if the leftover does not suit the pot
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: 300 g of plain white into a pot of 200 g white: 200 g
    """
    _mass(there_g, "what there is of a leftover")
    for base, wanted in wanted_g.items():
        _mass(wanted, f"the need of {base}")
    if not shares or any(not 0 <= share <= 1 for _, share in shares):
        raise FigureError("the shares of a leftover must lie in 0 to 1")
    total = math.fsum(share for _, share in shares)
    if abs(total - 1) > 1e-6:
        raise FigureError(f"the shares of a leftover sum to {total}, not to 1")
    mass = min(there_g, *(wanted_g.get(base, 0.0) / share for base, share in shares if share > 0))
    return mass if mass > FLOAT_SLACK * there_g else 0.0
