"""The keys of the shelf and the settings, and what happens where one is missing.

The page "How we worked it out" prints them with the figures that depend on them
(``FigurePart.needs``). ``keys.csv`` lists those whose default or remark does not
follow from records and figures.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from msgspec import Struct, convert
from msgspec.structs import replace

from journal.figures.common.spec import FIGURE_ENTRIES
from journal.figures.recipe import base_properties as usual
from journal.figures.recipe.fragrance import HEAVIEST_OIL_G_ML
from journal.records.models.fields import record_in
from journal.records.models.shelf import KINDS, ShelfRecord

# Without the key: refused: the file is an error. needed: the figures cannot be derived.
# default: another value is used. shown: no figure depends on it.
MissingEffect = Literal["refused", "needed", "default", "shown"]


class KeyDefault(Struct, frozen=True):
    """The value used for a missing key; ``low`` and ``high`` are None if it has no range."""

    value: float
    low: float | None
    high: float | None
    unit: str


class Key(Struct, frozen=True):
    """One key: of a kind of the shelf ("*": of every kind), or of the settings.

    ``says`` is what replaces it, or where it is needed. A key "*" stands for names that the
    maker or supplier chose.
    """

    kind: str
    key: str
    effect: MissingEffect
    default: KeyDefault | None = None
    says: str = ""


def _default_of_range(span: usual.PropertyRange, unit: str, scale: float = 1.0) -> KeyDefault:
    """A property's usual range as a default, divided by ``scale`` to get to ``unit``."""
    return KeyDefault(span.nominal / scale, span.low / scale, span.high / scale, unit)


# The defaults that are constants of the figures; ``keys.csv`` has the others.
_CONSTANTS = {
    ("bases", "density"): _default_of_range(usual.DENSITY_KG_M3, "g/mL", 1000.0),
    ("bases", "softens"): _default_of_range(usual.SOFTENS_C, "°C"),
    ("bases", "melts"): _default_of_range(usual.MELTS_C, "°C"),
    ("bases", "latent_heat"): _default_of_range(usual.LATENT_HEAT_KJ_KG, "kJ/kg"),
    ("bases", "thermal_conductivity"): _default_of_range(usual.THERMAL_CONDUCTIVITY_W_MK, "W/mK"),
    ("bases", "heat_capacity"): _default_of_range(usual.HEAT_CAPACITY_J_KGK, "J/kgK"),
    ("fragrances", "density"): KeyDefault(HEAVIEST_OIL_G_ML, 0.85, HEAVIEST_OIL_G_ML, "g/mL"),
    ("mats", "density"): KeyDefault(usual.SILICONE.density_kg_m3 / 1000, None, None, "g/mL"),
}


def _listed_keys() -> Iterator[Key]:
    """Yield the keys that ``keys.csv`` lists."""
    with Path(__file__).with_name("keys.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            place, value = (row["kind"], row["key"]), row["value"]
            default = KeyDefault(float(value), None, None, row["unit"]) if value else None
            without = convert(row["without"], MissingEffect)
            yield Key(*place, without, default or _CONSTANTS.get(place), row["says"])


def _keys_of_kind(kind: str, record: type[ShelfRecord]) -> Iterator[Key]:
    """Yield the keys of a kind's record and of its inner records (a dot between them).

    The effect of a key that ``keys.csv`` does not list: refused if the record requires it,
    needed if a part of a figure depends on it, else shown.
    """
    listed = {entry.key: entry for entry in _LISTED if entry.kind in (kind, "*")}
    # How much there is of a thing comes last.
    for name, field in sorted(record.model_fields.items(), key=lambda item: item[0] == "on_hand"):
        key = field.alias or name
        fields = {key: field}
        inner = record_in(field.annotation)
        if f"{key}.*" in listed:
            fields[f"{key}.*"] = field
        elif inner is not None:
            fields |= {
                f"{key}.{one.alias or inner_name}": one
                for inner_name, one in inner.model_fields.items()
            }
        for path, one in fields.items():
            needed = any(part.touched_by(kind, path) for part in _PARTS)
            without: MissingEffect = (
                "refused" if one.is_required() else "needed" if needed else "shown"
            )
            yield replace(listed.get(path, Key(kind, path, without)), kind=kind)


_LISTED = tuple(_listed_keys())
_PARTS = tuple(part for entry in FIGURE_ENTRIES.values() for part in entry.parts)

KEYS: tuple[Key, ...] = (
    *(key for kind, row in KINDS.items() for key in _keys_of_kind(kind, row.record)),
    *(key for key in _LISTED if key.kind == "settings"),
)
