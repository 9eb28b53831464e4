"""The share of fragrance oil in a bar, and whether that is within the oil's limit."""

from __future__ import annotations

from collections.abc import Sequence

from journal.errors import FigureError

# Density of a fragrance oil that has none on the shelf.
# Published range 0.85 to 1.10 g/mL (trade pages; ISO 3054 gives 0.885 to 0.897 for one
# oil). The heavy end: it never makes a bar look weaker than it is.
HEAVIEST_OIL_G_ML = 1.10

# The coolest and the hottest that an oil goes in at, in degrees C; None for an end that nobody set.
AddingWindow = tuple[float | None, float | None]


def adding_window_c(add_c: tuple[float, float] | None, add_below_c: float | None) -> AddingWindow:
    """The temperatures at which an oil is stirred in: the recipe's, up to what its supplier says.

    Takes:  add_c        the recipe's window, low and high; degrees C; None if it has none
            add_below_c  below which the supplier says the oil goes in; degrees C; None if unsaid
    Gives:  (low, high); None for an end that is not set. Where all of ``add_c`` lies above
            ``add_below_c`` the supplier's word stands alone
    Source: definition; the supplier's word for the oil. Its flash point is no such word: it tells
            when the vapour over the oil alone can be lit
    """
    if add_c is None or add_below_c is None:
        return add_c or (None, add_below_c)
    low, high = add_c
    return (None, add_below_c) if low > add_below_c else (low, min(high, add_below_c))


def fragrance_load(fragrance_g: float, base_g: float) -> float:
    """Fragrance load: mass of oil over mass of base alone, as a fraction.

    Takes:  fragrance_g  >= 0; base_g > 0; grams; scalars
    Gives:  fraction, may exceed 1
    Fails:  FigureError outside these ranges
    Source: definition
    """
    if not base_g > 0 or not fragrance_g >= 0:
        raise FigureError(f"{fragrance_g} g of oil into {base_g} g of base")
    return fragrance_g / base_g


def concentration(fragrance_g: float, whole_g: float) -> float:
    """Share of the oil in the finished layer or bar, as a fraction.

    Takes:  fragrance_g  the oil; grams; 0 to whole_g
            whole_g      base + fragrance + colour; grams; > 0
    Gives:  fraction of the finished product
    Fails:  FigureError outside these ranges
    Source: definition; a certificate's limit is a share of the finished product
            (IFRA Guidance for the use of IFRA Standards)
    Checked: 15 g into 500 g of base: 15 / 515 = 2.9126 %, not 3 %
    """
    if not whole_g > 0 or not 0 <= fragrance_g <= whole_g:
        raise FigureError(f"{fragrance_g} g of oil in {whole_g} g")
    return fragrance_g / whole_g


def limit_used(parts: Sequence[tuple[float, float]]) -> float:
    """The part of the limits that a blend uses: the sum of concentration / limit.

    Takes:  parts  (concentration, limit) of each oil; fractions; limits > 0
    Gives:  1 at the limit; above 1 the blend is over it
    Fails:  FigureError for a limit that is not above 0
    Source: definition; the limit of a mixture goes by its parts (IFRA Guidance)
    """
    total = 0.0
    for share, limit in parts:
        if not limit > 0:
            raise FigureError(f"a limit of {limit}")
        total += share / limit
    return total


def share_taken(bases: Sequence[tuple[float, float | None]]) -> float | None:
    """The largest fragrance load that a blend of bases carries: their mean, weighted by mass.

    A base of which it is not known is taken to carry what the others do.

    Takes:  bases  (share of the blend, largest load or None) of each; fractions; shares >= 0
    Gives:  fraction of the blend's mass; None where it is known of no base
    Fails:  FigureError for a share or load below 0
    Source: definition (mass balance): each base carries its part. Common practice, no source
    Checked: 70 % of one that takes 3 % and 30 % of one that takes 2 %: 2.7 %
    """
    if any(share < 0 or (load or 0.0) < 0 for share, load in bases):
        raise FigureError(f"a blend of {bases}")
    known = [(share, load) for share, load in bases if load is not None and share]
    if not known:
        return None
    return sum(share * load for share, load in known) / sum(share for share, _ in known)


def most_oil_g(
    base_g: float,
    rest_g: float,
    others: Sequence[tuple[float, float | None]],
    limit: float | None,
    takes: float | None,
) -> float | None:
    """The most of an oil that a layer may hold, with all else in it as it is.

    Its certificate allows m where m / limit + (other oils, each / its limit) is no more than the
    whole layer, rest + m; the base carries what its load leaves beside the other oils. The lower
    of the two rules.

    Takes:  base_g  of the layer; > 0; rest_g  all in it but this oil; >= 0; grams
            others  (grams, limit or None) of each other oil; limits > 0
            limit   of the oil, as a share of the layer; takes, of the base; 0 to 1, or None
    Gives:  grams, never below 0; None where neither is known
    Fails:  FigureError outside these ranges
    Source: definition; solved for m
    Checked: 100 g of base alone: 2 % of the layer is 100 / 49 = 2.0408 g; 2 % of the base 2 g
    """
    if not base_g > 0 or rest_g < 0 or any(mass_g < 0 or most == 0 for mass_g, most in others):
        raise FigureError(f"{base_g} g of base in {rest_g} g with the oils {others}")
    bounds = []
    if limit == 0:
        bounds.append(0.0)
    elif limit is not None and limit < 1:
        used_g = sum(mass_g / most for mass_g, most in others if most is not None)
        bounds.append((rest_g - used_g) / (1 / limit - 1))
    if takes is not None:
        bounds.append(takes * base_g - sum(mass_g for mass_g, _ in others))
    return max(0.0, min(bounds)) if bounds else None


# A dose reckoned exactly at the limit must not fail by the last bit of a float.
LIMIT_SLACK = 1e-9


def within_limit(used: float) -> bool:
    """Whether a blend is within its limits, from the part of them that it uses.

    Takes:  used  from ``limit_used``; >= 0
    Gives:  True up to 1, within ``LIMIT_SLACK`` for rounding of floats
    Source: definition
    """
    return used <= 1 + LIMIT_SLACK
