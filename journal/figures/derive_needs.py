"""The keys of the shelf and the settings, and the default for each that is missing.

The page "How the figures are made" prints them with the figures that depend on them
(``Part.needs``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.figures.day.derive_order import ORDER_PARTS
from journal.figures.recipe.base_properties import (
    DENSITY_KG_M3,
    HEAT_CAPACITY_J_KGK,
    LATENT_HEAT_KJ_KG,
    MELTS_C,
    SILICONE,
    SOFTENS_C,
    THERMAL_CONDUCTIVITY_W_MK,
    PropertyRange,
)
from journal.figures.recipe.fragrance import HEAVIEST_OIL_G_ML
from journal.figures.registry import FIGURES
from journal.records.models.fields import record_in
from journal.records.models.shelf import KINDS, ShelfRecord

# Without the key: refused: the file is an error. needed: the figures cannot be derived.
# default: another value is used. shown: no figure depends on it.
MissingEffect = Literal["refused", "needed", "default", "shown"]


class KeyDefault(Struct, frozen=True):
    """The value used for a missing key, with the ends of its range if it has any."""

    value: float
    low: float | None
    high: float | None
    unit: str


class Key(Struct, frozen=True):
    """One key: of a kind of the shelf, or of the settings.

    ``says`` is what replaces it, or where it is needed. A key "*" stands for names that the
    maker or supplier chose.
    """

    kind: str
    key: str
    without: MissingEffect
    default: KeyDefault | None = None
    says: str = ""


def _default(span: PropertyRange, unit: str, scale: float = 1.0) -> KeyDefault:
    """The usual value of a property as a default, divided by ``scale``."""
    return KeyDefault(span.nominal / scale, span.low / scale, span.high / scale, unit)


_ALL_TO_BUY = "all that an order takes is to be bought"

# Of every kind.
COMMON_KEYS = (
    Key("*", "supplier", "shown", says="the studio's edition alone"),
    Key("*", "private", "shown", says="the studio's edition alone"),
)
# Keys of the shelf that need more than is known from their records and figures.
SHELF_NOTES = (
    Key("bases", "density", "default", _default(DENSITY_KG_M3, "g/mL", 1000.0)),
    Key("bases", "softens", "default", _default(SOFTENS_C, "°C"), "sets stands in first"),
    Key("bases", "sets", "default", says="it sets where it softens"),
    Key("bases", "melts", "default", _default(MELTS_C, "°C")),
    Key("bases", "scorches", "shown", says="on the card"),
    Key("bases", "latent_heat", "default", _default(LATENT_HEAT_KJ_KG, "kJ/kg")),
    Key("bases", "thermal_conductivity", "default", _default(THERMAL_CONDUCTIVITY_W_MK, "W/mK")),
    Key("bases", "heat_capacity", "default", _default(HEAT_CAPACITY_J_KGK, "J/kgK")),
    Key("bases", "ingredients.share", "needed",
        says="without it each base's own list, and no merged one"),
    Key("bases", "on_hand", "default", says=_ALL_TO_BUY),
    Key("fragrances", "density", "default",
        KeyDefault(HEAVIEST_OIL_G_ML, 0.85, HEAVIEST_OIL_G_ML, "g/mL"),
        "the heavy end, so that no bar looks weaker than it is"),
    Key("fragrances", "limit", "needed", says="a warning until it is there"),
    Key("fragrances", "flash_point", "shown", says="with the cautions"),
    Key("fragrances", "allergens", "default", says="none are named"),
    Key("fragrances", "allergens.*", "default", says="it is not named"),
    Key("fragrances", "certificate", "shown", says="beside the limit"),
    Key("fragrances", "on_hand", "default", says=_ALL_TO_BUY),
    Key("colourants", "density", "needed",
        says="the mass of a dose in spoons or drops, the volume of one by mass"),
    Key("colourants", "bleeds", "shown", says="on its page"),
    Key("colourants", "same_as", "default", says="a colour of its own"),
    Key("colourants", "on_hand", "default", says=_ALL_TO_BUY),
    Key("additives", "density", "needed",
        says="the mass of a dose in spoons or drops, the volume of one by mass"),
    Key("additives", "most", "shown", says="a dose above it is a warning"),
    Key("additives", "on_hand", "default", says=_ALL_TO_BUY),
    Key("moulds", "cavities", "needed", says="without it all bars are one round"),
    Key("moulds", "face", "needed", says="the fill only where holds is not there"),
    Key("moulds", "corner_radius", "default",
        KeyDefault(0.0, None, None, "mm"), "the fill only where holds is not there"),
    Key("moulds", "depth", "needed", says="only where holds is not there"),
    Key("moulds", "holds", "default", says="face × depth less the corners"),
    Key("moulds", "bars_each", "default", KeyDefault(1, None, None, "bar")),
    Key("moulds", "on_hand", "default", KeyDefault(1, None, None, "mould")),
    Key("mats", "thickness", "needed", says="the fill only where no piece is weighed"),
    Key("mats", "relief", "default", says="detail spread over the motif"),
    Key("mats", "relief_volume", "default", KeyDefault(0.0, None, None, "mL"),
        "only where no piece is weighed"),
    Key("mats", "density", "default",
        KeyDefault(SILICONE.density_kg_m3 / 1000, None, None, "g/mL"),
        "only where a piece is weighed"),
    Key("mats", "piece_weight", "default", says="outline × thickness less the relief"),
    Key("mats", "motif", "default", says="a piece as large as the cavity lets it be"),
    Key("mats", "on_hand", "default", says=_ALL_TO_BUY),
    Key("pieces", "mat", "needed", says="without it it fits only a recipe that names it"),
    Key("pieces", "mould", "default", says="it fits only a recipe that names it"),
    Key("pieces", "trim", "default", says="it fits only a recipe that names it"),
    Key("pieces", "size", "default", says="as its trim is cut"),
    Key("pieces", "weight", "default", says="the mat's piece_weight"),
    Key("pieces", "casts_before", "default", KeyDefault(0, None, None, "casts")),
    Key("pieces", "on_hand", "default", says="as many as there are cavities; worn as one"),
    Key("packaging", "each", "default", KeyDefault(1, None, None, "bar")),
    Key("packaging", "on_hand", "default", says=_ALL_TO_BUY),
    Key("leftovers", "base.*", "refused"),
    Key("leftovers", "amount", "default", says="on_hand, else an order draws nothing"),
    Key("leftovers", "on_hand", "default", says="only where amount is not there"),
    Key("leftovers", "tinted", "default", says="no"),
    Key("leftovers", "scented", "default", says="no"),
    Key("leftovers", "melted_times", "shown", says="where an order draws on it"),
)  # fmt: skip

SETTINGS = (
    Key("settings", "studio", "refused"),
    Key("settings", "currency", "default", says="USD"),
    Key("settings", "units", "shown", says="us: ounces and °F first"),
    Key("settings", "paper", "shown", says="letter"),
    Key("settings", "theme", "shown"),
    Key("settings", "language", "shown"),
    Key("settings", "labour", "needed"),
    Key("settings", "waste", "default", KeyDefault(0.0, None, None, "%")),
    Key("settings", "waste.share", "default", KeyDefault(0.0, None, None, "%")),
    Key("settings", "waste.least", "default", KeyDefault(0.0, None, None, "g")),
    Key("settings", "scales", "shown", says="1 g and 0.1 g"),
    Key("settings", "margin", "needed", says="for the price"),
    Key("settings", "fixed_costs", "needed", says="for the break-even"),
    Key("settings", "region", "default", says="us"),
    Key("settings", "measures", "default",
        says="the built-in ones; an error where a bar has another"),
    Key("settings", "measures.*", "default", says="an error where a bar has it"),
    Key("settings", "measures.*.kind", "refused"),
    Key("settings", "measures.*.of", "default", KeyDefault(5, None, None, "")),
    Key("settings", "measures.*.better", "refused"),
    Key("settings", "measures.*.says", "refused"),
    Key("settings", "measures.*.matters", "default", says="the usual difference of its kind"),
    Key("settings", "symptoms", "shown", says="an error where a write-up names one"),
    Key("settings", "symptoms.*", "shown", says="an error where a write-up names it"),
    Key("settings", "room", "default",
        KeyDefault(21.0, None, None, "°C"),
        "the pour's own room goes first; a cooling without either is fitted"),
    Key("settings", "chill_at", "default", KeyDefault(4.0, None, None, "°C"),
        "what a step says goes first"),
    Key("settings", "chill_places", "default", says="as many as are wanted"),
    Key("settings", "address", "shown", says="the public edition alone"),
    Key("settings", "sale_day", "default", KeyDefault(30, None, None, "days")),
    Key("settings", "label_step", "default", says="0.1 oz, 1 g"),
)  # fmt: skip


def _of_kind(kind: str, record: type[ShelfRecord]) -> Iterator[Key]:
    """The keys of a kind, and those below them: what a record has no default for is refused."""
    said = {entry.key: entry for entry in (*COMMON_KEYS, *SHELF_NOTES) if entry.kind in (kind, "*")}
    # How much there is of a thing comes last.
    for name, field in sorted(record.model_fields.items(), key=lambda item: item[0] == "on_hand"):
        key = field.alias or name
        keys = {key: field}
        inner = record_in(field.annotation)
        if f"{key}.*" in said:
            keys[f"{key}.*"] = field
        elif inner is not None:
            keys |= {f"{key}.{one.alias or own}": one for own, one in inner.model_fields.items()}
        for path, one in keys.items():
            wanted = any(part.touched_by(kind, path) for part in _PARTS)
            without: MissingEffect = (
                "refused" if one.is_required() else "needed" if wanted else "shown"
            )
            found = said.get(path, Key(kind, path, without))
            yield replace(found, kind=kind)


_PARTS = (*(part for spec in FIGURES for part in spec.parts), *ORDER_PARTS)

KEYS: tuple[Key, ...] = (
    *(key for kind, row in KINDS.items() for key in _of_kind(kind, row.record)), *SETTINGS,
)  # fmt: skip
