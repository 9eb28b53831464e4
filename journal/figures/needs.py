"""Which keys of the shelf and the settings does a figure need, and what if one is not there?

The table that the page "How the figures are made" prints. tests/figures/test_needs.py
takes every key off the demo's shelf and checks that what is named here changes, and
nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct

from journal.figures.base_properties import (
    DENSITY_KG_M3,
    HEAT_CAPACITY_J_KGK,
    LATENT_HEAT_KJ_KG,
    MELTS_C,
    SILICONE,
    SOFTENS_C,
    THERMAL_CONDUCTIVITY_W_MK,
    Span,
)
from journal.figures.fragrance import HEAVIEST_OIL_G_ML

# refused: the file is an error without it. needed: the figures cannot be had. default:
# a value, or something else that is there, stands in. shown: no figure is made from it.
Without = Literal["refused", "needed", "default", "shown"]

# What figures are there that a key can touch? Name -> how a maker calls it.
FIGURES: Mapping[str, str] = {
    "melt": "base to melt",
    "volume": "volume of a layer",
    "oils": "amounts of oil",
    "concentration": "load and concentration of oil",
    "limit": "whether the oil is within its limit",
    "colours": "amounts of colour",
    "fill": "fill of the cavity",
    "proud": "how far the bar stands proud",
    "cut": "cut plan of the mat",
    "cost": "cost and price",
    "net weight": "net weight",
    "ingredients": "ingredients of the label",
    "allergens": "allergens of the label",
    "bond": "bond window",
    "cooling": "cooling of the pots",
    "comparisons": "variants compared",
    "left behind": "what a pot leaves behind",
    "casts": "casts of a piece",
    "fits": "moulds that a piece fits",
    "rounds": "an order's rounds",
    "order takes": "what an order takes",
    "order draws": "what an order draws from leftovers",
    "order buys": "what an order is to buy",
    "order wears": "casts that an order takes of its pieces",
    "day sheet": "an order's day sheet",
}
# Cost goes on into the order's, so does what it takes into what is to buy.
_COST = ("cost",)
_ORDER = ("rounds", "day sheet", "order wears", "order takes", "order buys")


class Default(Struct, frozen=True):
    """What is taken for a key that is not there, with the ends of its range if it has any."""

    value: float
    low: float | None
    high: float | None
    unit: str


class Key(Struct, frozen=True):
    """One key: of a kind of the shelf, or of the settings.

    ``touches`` are names of ``FIGURES``; ``says`` is what stands in for it, or where it
    is wanted. A key "*" stands for names that the maker or supplier gave.
    """

    kind: str
    key: str
    without: Without
    touches: tuple[str, ...] = ()
    default: Default | None = None
    says: str = ""


def _taken(span: Span, unit: str, scale: float = 1.0) -> Default:
    return Default(span.nominal / scale, span.low / scale, span.high / scale, unit)


def _every(kind: str) -> tuple[Key, ...]:
    """What every record may have, beside its name."""
    return (
        Key(kind, "name", "refused"),
        Key(kind, "supplier", "shown", says="the studio's edition alone"),
        Key(kind, "private", "shown", says="the studio's edition alone"),
    )


_ALL_TO_BUY = "all that an order takes is to be bought"

BASES = (
    *_every("bases"),
    Key("bases", "price", "needed", _COST),
    Key("bases", "density", "default", ("volume", "fill", "proud", "bond"),
        _taken(DENSITY_KG_M3, "g/mL", 1000.0)),
    Key("bases", "softens", "default", ("bond",), _taken(SOFTENS_C, "°C"), "sets stands in first"),
    Key("bases", "sets", "default", ("bond",), says="it sets where it softens"),
    Key("bases", "melts", "default", ("bond",), _taken(MELTS_C, "°C")),
    Key("bases", "scorches", "shown", says="on the card"),
    Key("bases", "latent_heat", "default", ("bond",), _taken(LATENT_HEAT_KJ_KG, "kJ/kg")),
    Key("bases", "thermal_conductivity", "default", ("bond",),
        _taken(THERMAL_CONDUCTIVITY_W_MK, "W/mK")),
    Key("bases", "heat_capacity", "default", ("bond",), _taken(HEAT_CAPACITY_J_KGK, "J/kgK")),
    Key("bases", "ingredients", "needed", ("ingredients",)),
    Key("bases", "ingredients.inci", "refused"),
    Key("bases", "ingredients.share", "needed", ("ingredients",),
        says="without it each base's own list, and no merged one"),
    Key("bases", "lot", "shown"),
    Key("bases", "on_hand", "default", ("order buys",), says=_ALL_TO_BUY),
)  # fmt: skip

FRAGRANCES = (
    *_every("fragrances"),
    Key("fragrances", "density", "default",
        ("oils", "volume", "fill", "proud", "bond", "concentration", "limit", "cost",
         "ingredients", "allergens", "left behind", "order takes", "order buys", "order draws"),
        Default(HEAVIEST_OIL_G_ML, 0.85, HEAVIEST_OIL_G_ML, "g/mL"),
        "the heavy end, so that no bar looks weaker than it is"),
    Key("fragrances", "price", "needed", _COST),
    Key("fragrances", "limit", "needed", ("limit", "order draws"),
        says="a warning until it is there"),
    Key("fragrances", "flash_point", "shown", says="with the cautions"),
    Key("fragrances", "allergens", "default", ("allergens",), says="none are named"),
    Key("fragrances", "allergens.*", "default", ("allergens",), says="it is not named"),
    Key("fragrances", "certificate", "shown", says="beside the limit"),
    Key("fragrances", "on_hand", "default", ("order buys",), says=_ALL_TO_BUY),
)  # fmt: skip

COLOURANTS = (
    *_every("colourants"),
    Key("colourants", "kind", "shown"),
    Key("colourants", "density", "needed",
        ("colours", "volume", "fill", "proud", "bond", "concentration", "limit", "cost",
         "ingredients", "left behind", "order takes", "order buys", "order draws"),
        says="the mass of a dose in spoons or drops, the volume of one by mass"),
    Key("colourants", "price", "needed", _COST),
    Key("colourants", "inci", "needed", ("ingredients",)),
    Key("colourants", "bleeds", "shown", says="on its page"),
    Key("colourants", "lot", "shown"),
    Key("colourants", "same_as", "default", ("order draws", "order buys"),
        says="a colour of its own"),
    Key("colourants", "on_hand", "default", ("order buys",), says=_ALL_TO_BUY),
)  # fmt: skip

MOULDS = (
    *_every("moulds"),
    Key("moulds", "cavities", "needed",
        ("cost", "rounds", "day sheet", "order takes", "order buys"),
        says="without it all bars are one round"),
    Key("moulds", "face", "needed", ("cut", "cost", "bond", "proud", "fill", "fits",
                                     "order takes", "order buys"),
        says="the fill only where holds is not there"),
    Key("moulds", "corner_radius", "default", ("bond", "fill", "proud", "fits"),
        Default(0.0, None, None, "mm"), "the fill only where holds is not there"),
    Key("moulds", "depth", "needed", ("fill", "proud"), says="only where holds is not there"),
    Key("moulds", "holds", "default", ("fill", "proud"), says="face × depth less the corners"),
    Key("moulds", "bars_each", "default", ("fill", "proud", "cost", "rounds", "day sheet"),
        Default(1, None, None, "bar")),
    Key("moulds", "price", "needed", _COST),
    Key("moulds", "life", "needed", _COST),
    Key("moulds", "on_hand", "default", ("day sheet",), Default(1, None, None, "mould")),
)  # fmt: skip

MATS = (
    *_every("mats"),
    Key("mats", "sheet", "needed", ("cut", "cost", "order takes", "order buys")),
    Key("mats", "thickness", "needed", ("bond", "fill", "proud"),
        says="the fill only where no piece is weighed"),
    Key("mats", "relief", "default", ("bond",), says="detail spread over the motif"),
    Key("mats", "relief_volume", "default", ("fill", "proud"), Default(0.0, None, None, "mL"),
        "only where no piece is weighed"),
    Key("mats", "density", "default", ("fill", "proud"),
        Default(SILICONE.density_kg_m3 / 1000, None, None, "g/mL"),
        "only where a piece is weighed"),
    Key("mats", "piece_weight", "default", ("fill", "proud"),
        says="outline × thickness less the relief"),
    Key("mats", "motif", "default", ("cut", "cost", "fill", "proud", "bond", "fits",
                                     "order takes", "order buys"),
        says="a piece as large as the cavity lets it be"),
    Key("mats", "motif.size", "refused"),
    Key("mats", "motif.pitch", "needed", ("cut", "cost", "order takes", "order buys")),
    Key("mats", "motif.offset", "needed", ("cut", "cost", "order takes", "order buys")),
    Key("mats", "price", "needed", _COST),
    Key("mats", "life", "needed", ("cost", "casts", "order wears")),
    Key("mats", "on_hand", "default", ("order buys",), says=_ALL_TO_BUY),
)  # fmt: skip

PIECES = (
    *_every("pieces"),
    Key("pieces", "mat", "needed", ("casts", "fits", "cost", *_ORDER),
        says="without it it fits only a recipe that names it"),
    Key("pieces", "mould", "default", ("fits", "cost", *_ORDER),
        says="it fits only a recipe that names it"),
    Key("pieces", "trim", "default", ("fits", "cost", *_ORDER),
        says="it fits only a recipe that names it"),
    Key("pieces", "size", "default", ("fill", "proud", "fits"), says="as its trim is cut"),
    Key("pieces", "weight", "default", ("fill", "proud"), says="the mat's piece_weight"),
    Key("pieces", "cut", "shown"),
    Key("pieces", "casts_before", "default", ("casts", "order wears"),
        Default(0, None, None, "casts")),
    Key("pieces", "on_hand", "default", ("casts", "cost", "rounds", "day sheet", "order wears"),
        says="as many as there are cavities; worn as one"),
)  # fmt: skip

PACKAGING = (
    *_every("packaging"),
    Key("packaging", "price", "needed", _COST),
    Key("packaging", "each", "default", ("cost", "order takes", "order buys"),
        Default(1, None, None, "bar")),
    Key("packaging", "on_hand", "default", ("order buys",), says=_ALL_TO_BUY),
)  # fmt: skip

LEFTOVERS = (
    *_every("leftovers"),
    Key("leftovers", "base", "needed",
        ("melt", "volume", "fill", "proud", "bond", "cost", "ingredients", "left behind",
         "order draws", "order buys")),
    Key("leftovers", "base.*", "refused"),
    Key("leftovers", "amount", "default", ("order draws", "order buys"),
        says="on_hand, else an order draws nothing"),
    Key("leftovers", "on_hand", "default", ("order draws", "order buys"),
        says="only where amount is not there"),
    Key("leftovers", "tinted", "default", ("ingredients", "left behind", "order draws"),
        says="no"),
    Key("leftovers", "scented", "default",
        ("oils", "concentration", "limit", "ingredients", "allergens", "left behind",
         "order draws"), says="no"),
    Key("leftovers", "scented.oil", "refused"),
    Key("leftovers", "scented.concentration", "refused"),
    Key("leftovers", "from", "shown"),
    Key("leftovers", "melted_times", "shown", says="where an order draws on it"),
)  # fmt: skip

_WASTE = (
    "melt", "volume", "oils", "colours", "concentration", "limit", "fill", "proud", "bond",
    "cost", "left behind", "order takes", "order buys", "order draws",
)  # fmt: skip

SETTINGS = (
    Key("settings", "studio", "refused"),
    Key("settings", "currency", "default", _COST, says="USD"),
    Key("settings", "units", "shown", says="us: ounces and °F first"),
    Key("settings", "paper", "shown", says="letter"),
    Key("settings", "theme", "shown"),
    Key("settings", "language", "shown"),
    Key("settings", "labour", "needed", _COST),
    Key("settings", "waste", "default", _WASTE, Default(0.0, None, None, "%")),
    Key("settings", "waste.share", "default", _WASTE, Default(0.0, None, None, "%")),
    Key("settings", "waste.least", "default", _WASTE, Default(0.0, None, None, "g")),
    Key("settings", "scales", "shown", says="1 g and 0.1 g"),
    Key("settings", "margin", "needed", _COST, says="for the price"),
    Key("settings", "fixed_costs", "needed", _COST, says="for the break-even"),
    Key("settings", "region", "default", ("ingredients", "allergens", "net weight"), says="us"),
    Key("settings", "measures", "default", ("comparisons",),
        says="the built-in ones; an error where a bar has another"),
    Key("settings", "measures.*", "default", ("comparisons",), says="an error where a bar has it"),
    Key("settings", "measures.*.kind", "refused"),
    Key("settings", "measures.*.of", "default", ("comparisons",), Default(5, None, None, "")),
    Key("settings", "measures.*.better", "refused"),
    Key("settings", "measures.*.says", "refused"),
    Key("settings", "measures.*.matters", "default", ("comparisons",),
        says="the usual difference of its kind"),
    Key("settings", "symptoms", "shown", says="an error where a write-up names one"),
    Key("settings", "symptoms.*", "shown", says="an error where a write-up names it"),
    Key("settings", "room", "default", ("bond", "cooling", "day sheet"),
        Default(21.0, None, None, "°C"),
        "the pour's own room goes first; a cooling without either is fitted"),
    Key("settings", "chill_at", "default", ("bond",), Default(4.0, None, None, "°C"),
        "what a step says goes first"),
    Key("settings", "chill_places", "default", ("day sheet",), says="as many as are wanted"),
    Key("settings", "address", "shown", says="the public edition alone"),
    Key("settings", "sale_day", "default", ("net weight",), Default(30, None, None, "days")),
    Key("settings", "label_step", "default", ("net weight",), says="0.1 oz, 1 g"),
)  # fmt: skip

KEYS: tuple[Key, ...] = (
    *BASES, *FRAGRANCES, *COLOURANTS, *MOULDS, *MATS, *PIECES, *PACKAGING, *LEFTOVERS, *SETTINGS,
)  # fmt: skip


def key_of(kind: str, path: tuple[str, ...]) -> Key:
    """The entry of the table for a key as it is written.

    Takes:  kind  of the shelf, or "settings"
            path  the key, and the keys below it: ("motif", "pitch")
    Gives:  the entry; one with "*" where a name of the maker's or supplier's stands
    Fails:  KeyError if there is none
    Source: definition
    """
    for entry in KEYS:
        steps = entry.key.split(".")
        if (
            entry.kind == kind
            and len(steps) == len(path)
            and all(step in ("*", own) for step, own in zip(steps, path, strict=True))
        ):
            return entry
    raise KeyError(f"{kind}: {'.'.join(path)}")
