"""Draft the ingredient list of a bar for a region."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from msgspec import Struct, field

from journal.errors import FigureError
from journal.figures.label.allergens import letters_of

REGIONS = ("us", "eu")

# By which one word is a fragrance named? 21 CFR 701.3(a); Regulation (EC)
# 1223/2009 Art. 19(1)(g).
FRAGRANCE_WORDS = {"us": "Fragrance", "eu": "Parfum"}

# Shares of a base that sum to 1 within this are taken as the whole of it: a
# supplier prints them to a whole per cent, ten of them or so.
SHARE_SLACK = 0.005

ADVICE = (
    "This is a draft. Check it against the rules where the bar is sold before you print it.",
    "Before you claim anything of a bar beyond that it cleans, ask a licensed professional.",
)
REGION_NOTES = {
    "us": (
        "True soap that is sold only as soap needs no ingredient list (21 CFR 701.20). Most "
        "melt-and-pour bases hold detergents; their bars are cosmetics and need one.",
        "No United States list of fragrance allergens was in force when this was written; the "
        "European list is used, and naming them is voluntary.",
    ),
    "eu": (
        "Allergens are named above 0.01 % of a bar that is rinsed off. Newly placed bars name the "
        "whole list from 1 August 2026, every bar on sale from 1 August 2028.",
        "The label also needs the responsible person with address, a batch number and what "
        "else Regulation (EC) 1223/2009 Article 19 asks for.",
    ),
}

# How is a colour called in either region? Colour Index number in the European
# Union (Regulation 1223/2009 Annex IV), the name of 21 CFR 73 and 74 in the United
# States. From memory.
COLOUR_NAMES = (
    ("CI 77891", "Titanium Dioxide"), ("CI 77019", "Mica"), ("CI 77491", "Iron Oxides"),
    ("CI 77492", "Iron Oxides"), ("CI 77499", "Iron Oxides"), ("CI 77007", "Ultramarines"),
    ("CI 77288", "Chromium Oxide Greens"), ("CI 77289", "Chromium Hydroxide Green"),
    ("CI 77742", "Manganese Violet"), ("CI 77510", "Ferric Ferrocyanide"),
    ("CI 77947", "Zinc Oxide"), ("CI 75470", "Carmine"), ("CI 19140", "Yellow 5"),
    ("CI 15985", "Yellow 6"), ("CI 16035", "Red 40"), ("CI 42090", "Blue 1"),
)  # fmt: skip
_COLOUR_INDEX = re.compile(r"ci\s*\d{5}(:\d)?", re.IGNORECASE)
_US_COLOURS = {letters_of(us_name) for _, us_name in COLOUR_NAMES}

# Names that suppliers use for one ingredient; the first of a region is its own.
WATER_NAMES = {"us": "Water", "eu": "Aqua"}
_WATER = {letters_of(name) for name in ("Water", "Aqua", "Water (Aqua)", "Aqua (Water)")}
_FRAGRANCE = {
    letters_of(name)
    for name in ("Fragrance", "Parfum", "Perfume", "Fragrance (Parfum)", "Parfum (Fragrance)")
}


class BaseInBar(Struct, frozen=True):
    """One base in a bar; ``ingredients`` as on its shelf record, share None if not stated."""

    base: str
    mass_g: float
    ingredients: tuple[tuple[str, float | None], ...]


class StirredInBar(Struct, frozen=True):
    """One colourant or additive in a bar; mass None when it is not known.

    ``inci`` may be several names. A ``colour`` stands last whatever its mass.
    """

    name: str
    mass_g: float | None
    inci: tuple[str, ...]
    colour: bool = True


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
    line to print, with the allergens where the region requires them.
    """

    region: str
    ingredients: tuple[LabelIngredient, ...]
    allergens: tuple[str, ...]
    apart: tuple[tuple[str, tuple[str, ...]], ...]
    statement: str
    why: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the ingredients, in order."""
        return tuple(ingredient.name for ingredient in self.ingredients)


def is_colour(name: str) -> bool:
    """Whether an ingredient's name is that of a colour additive.

    Takes:  name  as written
    Gives:  True for a Colour Index number or one of the names of COLOUR_NAMES
    Source: Regulation (EC) 1223/2009 Annex IV; 21 CFR 73 and 74 (from memory)
    Checked: "CI 77891" is one, "Glycerin" is not
    """
    return bool(_COLOUR_INDEX.search(name)) or letters_of(name) in _US_COLOURS


def draft_label(
    region: str,
    bases: Sequence[BaseInBar],
    fragrance_g: float,
    stirred: Sequence[StirredInBar],
    allergens: Sequence[tuple[str, float]],
) -> LabelDraft:
    """Draft the ingredient list of a bar, merged over its bases and layers.

    Mass of an ingredient = sum over bases of (mass of base x its share); what
    is written under several names of one ingredient is one line. Descending by
    share of the bar, colours last; fragrance as one word, at its own place. Those
    of 1 % or less may stand in any order, and are kept in descending order too.

    Takes:  region       "us" or "eu"
            bases        one or more; mass > 0; shares 0 to 1, summing to no more than 1
            fragrance_g  mass of all fragrance in the bar; >= 0; 0 for none
            stirred      colourants and additives; mass >= 0, or None where it is not known
            allergens    those to be named, each with its share of the bar
    Gives:  the draft
    Fails:  FigureError if any lies outside its range
    Source: 21 CFR 701.3(a) and (f); Regulation (EC) 1223/2009 Art. 19(1)(g)
    Checked: 90 g of 60 % A, 40 % B and 10 g of 90 % B, 10 % C:
             A 54 %, B 45 %, C 1 %
    """
    if region not in REGIONS:
        raise FigureError(f'no rules for the region "{region}"; it is "us" or "eu"')
    _check_ranges(bases, fragrance_g, stirred)
    notes = list(ADVICE + REGION_NOTES[region])
    reasons: list[str] = []
    for one in stirred:
        if not one.inci:
            reasons.append(f"{one.name} has no INCI name on the shelf and is not listed")
        elif not one.colour and (one.mass_g is None or len(one.inci) > 1):
            reasons.append(
                f"how much of {one.name} is in a bar is not known: it stands after the rest"
            )
    without_shares = [base.base for base in bases if not _has_shares(base)]
    allergen_names = tuple(name for name, _ in allergens)
    if without_shares:
        reasons.insert(
            0,
            f"no merged list: {', '.join(without_shares)} has no shares for its ingredients, so "
            "each base's own list stands apart",
        )
        apart = tuple((base.base, tuple(name for name, _ in base.ingredients)) for base in bases)
        return LabelDraft(region, (), allergen_names, apart, "", tuple(reasons), tuple(notes))
    for base in bases:
        listed = math.fsum(share or 0.0 for _, share in base.ingredients)
        if listed < 1 - SHARE_SLACK:
            notes.append(
                f"the shares of {base.base} sum to {listed * 100:.3g} %: the rest is not listed"
            )
    ingredients = _merged_ingredients(region, bases, fragrance_g, stirred)
    notes.extend(_notes_on_names(region, ingredients))
    return LabelDraft(
        region,
        ingredients,
        allergen_names,
        (),
        _statement(ingredients, allergens if region == "eu" else ()),
        tuple(reasons),
        tuple(notes),
    )


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


def _has_shares(base: BaseInBar) -> bool:
    """Whether a base has ingredients and the share of each is known."""
    return bool(base.ingredients) and all(share is not None for _, share in base.ingredients)


def _ingredient_key(name: str) -> str:
    """A key that is the same for all names of one ingredient."""
    letters = letters_of(name)
    if letters in _WATER:
        return "water"
    if letters in _FRAGRANCE:
        return "fragrance"
    return letters


class _IngredientMasses(Struct):
    """The masses of one ingredient while they are collected; ``known`` if all of them are."""

    name: str
    masses_g: list[float] = field(default_factory=list)
    known: bool = True
    colour: bool = False


def _merged_ingredients(
    region: str, bases: Sequence[BaseInBar], fragrance_g: float, stirred: Sequence[StirredInBar]
) -> tuple[LabelIngredient, ...]:
    """The ingredients of all bases, the fragrance and what is stirred in, in label order."""
    total_g = math.fsum(
        [base.mass_g for base in bases]
        + [fragrance_g]
        + [one.mass_g for one in stirred if one.mass_g is not None]
    )
    lines: dict[str, _IngredientMasses] = {}

    def add(name: str, mass_g: float | None, colour: bool) -> None:
        """Add a mass to the ingredient of that name; None if it is not known."""
        line = lines.setdefault(_ingredient_key(name), _IngredientMasses(name))
        line.masses_g.append(mass_g or 0.0)
        line.known = line.known and mass_g is not None
        line.colour = line.colour or colour

    for base in bases:
        for name, share in base.ingredients:
            add(name, base.mass_g * (share or 0.0), is_colour(name))
    if fragrance_g > 0:
        add(FRAGRANCE_WORDS[region], fragrance_g, False)
    if "fragrance" in lines:
        lines["fragrance"].name = FRAGRANCE_WORDS[region]
    for one in stirred:
        for name in one.inci:
            # The split of a blend over its names is not known: with one name the mass
            # is that name's, with several only their presence is known.
            mass_g = one.mass_g if len(one.inci) == 1 else None
            add(name, mass_g, one.colour or is_colour(name))
    ingredients = [
        LabelIngredient(
            line.name, math.fsum(line.masses_g) / total_g if line.known else None, line.colour
        )
        for line in lines.values()
    ]
    return tuple(
        sorted(
            ingredients,
            key=lambda one: (
                one.colour, one.bar_share is None, -(one.bar_share or 0.0), one.name.casefold(),
            ),
        )
    )  # fmt: skip


def _statement(
    ingredients: Sequence[LabelIngredient], allergens: Sequence[tuple[str, float]]
) -> str:
    """The line to print: allergens sorted in by their own share, before the colours."""
    listed = {_ingredient_key(ingredient.name) for ingredient in ingredients}
    lines = [
        (ingredient.colour, -(ingredient.bar_share or 0.0), place, ingredient.name)
        for place, ingredient in enumerate(ingredients)
    ]
    # An allergen that is an ingredient in its own right too is written once.
    lines += [
        (False, -share, len(ingredients) + place, name)
        for place, (name, share) in enumerate(allergens)
        if _ingredient_key(name) not in listed
    ]
    lines.sort()
    return "Ingredients: " + ", ".join(name for _, _, _, name in lines) + "."


def _notes_on_names(region: str, ingredients: Sequence[LabelIngredient]) -> list[str]:
    """A note for each ingredient that the region calls by another name than the one written."""
    notes: list[str] = []
    for ingredient in ingredients:
        letters = letters_of(ingredient.name)
        if _ingredient_key(ingredient.name) == "water" and letters != letters_of(
            WATER_NAMES[region]
        ):
            notes.append(f"{ingredient.name} is written {WATER_NAMES[region]} here")
        if not ingredient.colour:
            continue
        for index, us_name in COLOUR_NAMES:
            if region == "us" and letters == letters_of(index):
                notes.append(f"{ingredient.name} is written {us_name} here")
        if region == "eu" and letters in _US_COLOURS:
            numbers = [index for index, us_name in COLOUR_NAMES if letters_of(us_name) == letters]
            notes.append(f"{ingredient.name} is written {' or '.join(numbers)} here")
    return notes
