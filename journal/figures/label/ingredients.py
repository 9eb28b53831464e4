"""Draft the ingredient list of a bar for a region."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from msgspec import Struct, field

from journal.errors import FigureError
from journal.figures.label.allergens import letters_of
from journal.figures.label.asked import AskedOfLabel, asked_of_label
from journal.figures.label.names import (
    colour_fault,
    find_substance,
    is_colour,
    name_in_region,
    numbers_of,
)
from journal.figures.label.regions import REGIONS
from journal.figures.label.soap import CleansingBase, soap_or_cosmetic, us_rules

# What is at most this share of a bar may stand in any order: 21 CFR 701.3(f)(2); below it,
# Regulation (EC) 1223/2009 Art. 19(1)(g).
ANY_ORDER_SHARE = 0.01

# Shares of a base that sum to 1 within this are taken as the whole of it: a
# supplier prints them to a whole per cent, ten of them or so.
SHARE_SLACK = 0.005

ADVICE = (
    "This is a draft. Check it against the rules where the bar is sold before you print it.",
    "Before you claim anything of a bar beyond that it cleans, ask a licensed professional.",
)
REGION_NOTES = {
    "us": (
        "No United States list of fragrance allergens was in force when this was written; the "
        "European list is used, and naming them is voluntary.",
    ),
    "eu": (
        "Allergens are named above 0.01 % of a bar that is rinsed off. Newly placed bars name the "
        "whole list from 1 August 2026, every bar on sale from 1 August 2028.",
    ),
    "uk": (
        "Great Britain names the 24 allergens of the older list, above 0.01 % of a bar that is "
        "rinsed off. In Northern Ireland the rules of the European Union apply.",
    ),
}
_RULES = {
    "eu": "A cosmetic, as every soap is in the European Union (Regulation (EC) 1223/2009)",
    "uk": "A cosmetic, as every soap is in Great Britain (Regulation (EC) 1223/2009 as amended)",
}


class BaseInBar(Struct, frozen=True):
    """One base in a bar; ``ingredients`` as on its shelf record, share None if not stated.

    ``us_names`` are the studio's own names for the United States; ``true_soap`` as on the shelf.
    """

    base: str
    mass_g: float
    ingredients: tuple[tuple[str, float | None], ...]
    us_names: Mapping[str, str] = {}
    true_soap: bool | None = None


class StirredInBar(Struct, frozen=True):
    """One colourant or additive in a bar; mass None when it is not known.

    ``inci`` may be several names. Of a paste, ``pigment_share`` is the share of what is not its
    ``carrier``. ``certified`` is whether its lot was certified by the FDA. It is a ``colour``
    if it is there to colour; whether a name of it is one, the lists say.
    """

    name: str
    mass_g: float | None
    inci: tuple[str, ...]
    colour: bool = True
    carrier: str = ""
    pigment_share: float = 1.0
    certified: bool = False


class LabelIngredient(Struct, frozen=True):
    """One line of the draft; ``bar_share`` None where only the presence is known."""

    name: str
    bar_share: float | None
    colour: bool


class LabelDraft(Struct, frozen=True):
    """The draft for one region.

    ``ingredients`` are in the order of the label, colourants last. Where a base has
    no shares there is no merged list: ``ingredients`` is empty, ``apart`` holds each
    base's own list, and ``why`` names the bases without shares. ``statement`` is the
    line to print, with the allergens where the region requires them; it is empty where
    ``faults`` has a colour that is not permitted there. ``rules`` says which rules apply,
    ``asked`` what else the label must say.
    """

    region: str
    ingredients: tuple[LabelIngredient, ...]
    allergens: tuple[str, ...]
    apart: tuple[tuple[str, tuple[str, ...]], ...]
    statement: str
    why: tuple[str, ...]
    notes: tuple[str, ...]
    faults: tuple[str, ...] = ()
    kind: str = "cosmetic"
    rules: str = ""
    asked: tuple[AskedOfLabel, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the ingredients, in order."""
        return tuple(ingredient.name for ingredient in self.ingredients)


def draft_label(
    region: str,
    bases: Sequence[BaseInBar],
    fragrance_g: float,
    stirred: Sequence[StirredInBar],
    allergens: Sequence[tuple[str, float]],
    sold_as: str | None = None,
    responsible: str = "",
) -> LabelDraft:
    """Draft the ingredient list of a bar, merged over its bases and layers.

    Mass of an ingredient = sum over bases of (mass of base x its share); one substance under
    several names is one line, in the region's name. Descending by share of the bar, colours
    last; fragrance as one word, at its own place. The carrier of a colour goes by mass among
    the ingredients: by the share of its paste, else by all that the colourant weighs. Those of
    1 % or less may stand in any order, and are kept in descending order too.

    Takes:  region       "us", "eu" or "uk"; another place by its name, of which no rule is known:
                         its draft has the ingredients alone, under their international names
            bases        one or more; mass > 0; shares 0 to 1, summing to no more than 1
            fragrance_g  mass of all fragrance in the bar; >= 0; 0 for none
            stirred      colourants and additives; mass >= 0, or None where it is not known
            allergens    those to be named, each with its share of the bar
            sold_as      "soap" or "cosmetic"; None if the studio has not said
            responsible  name and address for the label; "" if not known
    Gives:  the draft
    Fails:  FigureError if any lies outside its range
    Source: 21 CFR 701.3(a) and (f); Regulation (EC) 1223/2009 Art. 19(1)(g)
    Checked: 90 g of 60 % A, 40 % B and 10 g of 90 % B, 10 % C:
             A 54 %, B 45 %, C 1 %
    """
    _check_ranges(bases, fragrance_g, stirred)
    notes = list(ADVICE + REGION_NOTES.get(region, ()))
    reasons: list[str] = []
    for one in stirred:
        if not one.inci:
            reasons.append(f"{one.name} has no INCI name on the shelf and is not listed")
    finding = soap_or_cosmetic(
        [CleansingBase(base.mass_g, base.ingredients, base.true_soap) for base in bases]
    )
    kind, rules = "cosmetic", _RULES.get(region) or no_rules_text(region)
    if region == "us":
        kind, rules = us_rules(finding, sold_as)
    faults: tuple[str, ...] = ()
    if region in REGIONS:
        faults = tuple(_colour_faults(region, bases, stirred, notes))
    without_shares = [base.base for base in bases if not _has_shares(base)]
    ingredients: tuple[LabelIngredient, ...] = ()
    apart: tuple[tuple[str, tuple[str, ...]], ...] = ()
    if without_shares:
        reasons.insert(
            0,
            f"no merged list: {', '.join(without_shares)} has no shares for its ingredients, so "
            "each base's own list stands apart",
        )
        apart = tuple(
            (
                base.base,
                tuple(_own_name(region, name, base.us_names) for name, _ in base.ingredients),
            )
            for base in bases
        )
    else:
        for base in bases:
            listed = math.fsum(share or 0.0 for _, share in base.ingredients)
            if listed < 1 - SHARE_SLACK:
                notes.append(
                    f"the shares of {base.base} sum to {listed * 100:.3g} %: the rest is not listed"
                )
        ingredients = _merged_ingredients(region, bases, fragrance_g, stirred, reasons)
    statement = ""
    if ingredients and not faults:
        statement = _statement(ingredients, () if region == "us" else allergens)
    return LabelDraft(
        region,
        ingredients,
        tuple(name for name, _ in allergens),
        apart,
        statement,
        tuple(reasons),
        tuple(notes),
        faults,
        kind,
        rules,
        asked_of_label(region, kind, responsible, bool(statement)),
    )


def no_rules_text(region: str) -> str:
    """What is said of a place whose rules are not known, without a full stop."""
    return (
        f"We know no label rules for {region}: here are the ingredients alone. Whoever oversees"
        " cosmetics there can tell you the rest"
    )


def _own_name(region: str, name: str, us_names: Mapping[str, str]) -> str:
    """The name of an ingredient in a region; the studio's own one first."""
    return (us_names.get(name) if region == "us" else None) or name_in_region(region, name)


def _colour_faults(
    region: str, bases: Sequence[BaseInBar], stirred: Sequence[StirredInBar], notes: list[str]
) -> Iterator[str]:
    """Yield a fault for each colour that is not permitted; limits of use go to ``notes``."""
    # What colours are in a base is for its supplier to have certified.
    named = [(name, True) for base in bases for name, _ in base.ingredients]
    named += [(name, one.certified) for one in stirred for name in one.inci]
    for name, certified in dict.fromkeys(named):
        fault = colour_fault(region, name, certified)
        if fault:
            yield fault
            continue
        found = find_substance(name)
        if found is None or region == "us" or found.eu_use in ("", "all", "carrier", "rinse-off"):
            continue
        notes.append(f"{name} is permitted {found.eu_use} (Annex IV): ask the safety assessor")
    for one in stirred:
        bears = any(is_colour("us", name) for name in one.inci)
        if one.colour and one.inci and not bears:
            yield f"{one.name} has no name that is in a list of permitted colours"


def _check_ranges(
    bases: Sequence[BaseInBar], fragrance_g: float, stirred: Sequence[StirredInBar]
) -> None:
    """Raise FigureError if there is no base, or a mass or a share lies outside its range."""
    if not bases:
        raise FigureError("a bar without a base has no label")
    for base in bases:
        if not (math.isfinite(base.mass_g) and base.mass_g > 0):
            raise FigureError(f"{base.base} weighs {base.mass_g} g; it must be above 0")
        for name, share in base.ingredients:
            if share is not None and not 0 <= share <= 1:
                raise FigureError(f"{name} is {share} of {base.base}; a share is 0 to 1")
        listed = math.fsum(share or 0.0 for _, share in base.ingredients)
        if listed > 1 + SHARE_SLACK:
            raise FigureError(f"the shares of {base.base} sum to {listed:.4g}; at most 1")
    if not (math.isfinite(fragrance_g) and fragrance_g >= 0):
        raise FigureError(f"the fragrance weighs {fragrance_g} g; it cannot be below 0")
    for one in stirred:
        if one.mass_g is not None and not (math.isfinite(one.mass_g) and one.mass_g >= 0):
            raise FigureError(f"{one.name} weighs {one.mass_g} g; it cannot be below 0")
        if not 0 <= one.pigment_share <= 1:
            raise FigureError(f"{one.pigment_share} of {one.name} is pigment; a share is 0 to 1")


def _has_shares(base: BaseInBar) -> bool:
    """Whether a base has ingredients and the share of each is known."""
    return bool(base.ingredients) and all(share is not None for _, share in base.ingredients)


class _IngredientMasses(Struct):
    """The masses of one ingredient while they are collected.

    ``known_g`` are in the bar for sure; ``carried_g`` are of colourants in which it may be
    anything from nothing to all. ``unknown`` if there is some whose mass is not known at all.
    """

    name: str
    colour: bool
    known_g: list[float] = field(default_factory=list)
    carried_g: dict[str, float] = field(default_factory=dict)
    unknown: bool = False

    def bar_share(self, total_g: float) -> float | None:
        """The share of the bar that is known; None if only its presence is."""
        if not self.known_g or (self.colour and (self.unknown or self.carried_g)):
            return None
        return math.fsum(self.known_g) / total_g

    def most_g(self) -> float:
        """What it weighs at most, as far as that is known."""
        return math.fsum((*self.known_g, *self.carried_g.values()))


def _merged_ingredients(
    region: str,
    bases: Sequence[BaseInBar],
    fragrance_g: float,
    stirred: Sequence[StirredInBar],
    reasons: list[str],
) -> tuple[LabelIngredient, ...]:
    """The ingredients of all bases, the fragrance and what is stirred in, in label order.

    What keeps an order from being sure is added to ``reasons``.
    """
    total_g = math.fsum(
        [base.mass_g for base in bases]
        + [fragrance_g]
        + [one.mass_g for one in stirred if one.mass_g is not None]
    )
    lines: dict[str, _IngredientMasses] = {}

    def line_of(name: str, us_names: Mapping[str, str] = {}) -> _IngredientMasses:
        """The line of a substance by its name in the region."""
        label = _own_name(region, name, us_names)
        numbers = numbers_of(name)
        if region != "us" and len(numbers) > 1:
            reasons.append(f"{name} is {' or '.join(numbers)} here: ask the supplier which")
        return lines.setdefault(
            letters_of(label), _IngredientMasses(label, is_colour(region, name))
        )

    for base in bases:
        for name, share in base.ingredients:
            line_of(name, base.us_names).known_g.append(base.mass_g * (share or 0.0))
    if fragrance_g > 0:
        line_of("Parfum").known_g.append(fragrance_g)
    for one in stirred:
        _add_stirred(one, line_of, reasons)
    _explain_carriers(lines.values(), total_g, reasons)

    def place(line: _IngredientMasses) -> tuple[bool, bool, float, str]:
        """Colours last; what is known before what is only there."""
        most_g = line.most_g()
        return (line.colour, most_g == 0.0 and line.unknown, -most_g, line.name.casefold())

    return tuple(
        LabelIngredient(line.name, line.bar_share(total_g), line.colour)
        for line in sorted(lines.values(), key=place)
    )


def _add_stirred(
    one: StirredInBar, line_of: Callable[[str], _IngredientMasses], reasons: list[str]
) -> None:
    """Add the mass of a colourant or an additive to the lines of its names."""
    names = [name for name in one.inci if letters_of(name) != letters_of(one.carrier)]
    if one.mass_g is None:
        for name in one.inci:
            line = line_of(name)
            line.unknown = True
            if not line.colour and not line.known_g:
                reasons.append(
                    f"how much of {one.name} is in a bar is not known: it stands after the rest"
                )
        return
    if one.carrier:
        line_of(one.carrier).known_g.append(one.mass_g * (1 - one.pigment_share))
    for name in names:
        if len(names) == 1:
            line_of(name).known_g.append(one.mass_g * one.pigment_share)
        else:
            # The split of a blend over its names is not known.
            carried_g = line_of(name).carried_g
            carried_g[one.name] = carried_g.get(one.name, 0.0) + one.mass_g * one.pigment_share


def _explain_carriers(
    lines: Iterable[_IngredientMasses], total_g: float, reasons: list[str]
) -> None:
    """Say of which colourants the paste decides the order; below 1 % any order will do."""
    plain = [line for line in lines if not line.colour]
    for line in plain:
        least_g, most_g = math.fsum(line.known_g), line.most_g()
        between = [
            other
            for other in plain
            if other is not line and least_g < other.most_g() and math.fsum(other.known_g) < most_g
        ]
        if line.carried_g and between and most_g > ANY_ORDER_SHARE * total_g:
            reasons.append(
                f"how much {line.name} is in {' and '.join(line.carried_g)} is not known, and its"
                " place goes by it: write paste: {pigment: …, carrier: …} on the shelf"
            )


def _statement(
    ingredients: Sequence[LabelIngredient], allergens: Sequence[tuple[str, float]]
) -> str:
    """The line to print: allergens sorted in by their own share, before the colours."""
    listed = {letters_of(ingredient.name) for ingredient in ingredients}
    lines = [
        (ingredient.colour, -(ingredient.bar_share or 0.0), place, ingredient.name)
        for place, ingredient in enumerate(ingredients)
    ]
    # An allergen that is an ingredient in its own right too is written once.
    lines += [
        (False, -share, len(ingredients) + place, name)
        for place, (name, share) in enumerate(allergens)
        if letters_of(name) not in listed
    ]
    lines.sort()
    return "Ingredients: " + ", ".join(name for _, _, _, name in lines) + "."
