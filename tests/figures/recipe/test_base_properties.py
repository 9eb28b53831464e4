"""The table of usual properties, its stand-ins, and the mixture rules behind it."""

from __future__ import annotations

import csv
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.recipe import base_properties as table
from journal.figures.recipe.base_properties import (
    BaseProperties,
    PropertyRange,
    base_properties,
    blend,
)

# The mixtures of 04-mixture.csv took the ingredients rounded to whole kg/m3 and J/kgK and to
# 0.001 W/mK.
ROUNDED = 1e-4
ROUNDED_CONDUCTIVITY = 5e-4


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found, name
    return found


def exactly(value: float) -> PropertyRange:
    return PropertyRange(value, value, value)


def ingredient(name: str) -> BaseProperties:
    """An ingredient at 25 C as the properties file has it; it does not melt here."""
    found = {}
    for row in rows("04-properties.csv"):
        if row["material"].startswith(name) and row["T_degC"] in ("25", "20", ""):
            found.setdefault((row["property"], row["T_degC"]), float(row["nominal"]))

    def value(what: str) -> float:
        return next(found[what, at] for at in ("25", "20") if (what, at) in found)

    return BaseProperties(
        exactly(value("density")),
        exactly(value("specific heat")),
        exactly(value("thermal conductivity")),
        exactly(0.0),
        exactly(45.0),
        exactly(55.0),
        exactly(45.0),
    )


NAMES = {
    "soap": "fatty-acid sodium soap (toilet bar",
    "polyol": "glycerol",
    "glycerol": "glycerol",
    "propylene glycol": "propylene glycol",
    "sorbitol soln": "sorbitol solution",
    "water": "water",
}


# Mixture rules by mass; 04-mixture.csv was recomputed there with exact fractions
@pytest.mark.parametrize("row", rows("04-mixture.csv"), ids=lambda r: r["mixture_mass_percent"])
def test_a_blend_keeps_to_the_mixture_rules(row: dict[str, str]) -> None:
    parts = re.findall(r"([a-z ]+?) (\d+)(?: / |$)", row["mixture_mass_percent"])
    found = blend(tuple((float(share), ingredient(NAMES[name.strip()])) for name, share in parts))
    assert found.density_kg_m3.nominal == pytest.approx(float(row["density_kg_m3"]), rel=ROUNDED)
    assert found.heat_capacity_j_kgk.nominal == pytest.approx(float(row["cp_J_kgK"]), rel=ROUNDED)
    assert found.thermal_conductivity_w_mk.nominal == pytest.approx(
        float(row["k_geometric"]), rel=ROUNDED_CONDUCTIVITY
    )
    assert (
        float(row["k_series"]) < found.thermal_conductivity_w_mk.nominal < float(row["k_parallel"])
    )


def test_the_usual_base_lies_among_mixtures_of_what_it_is_made_of() -> None:
    for row in rows("04-mixture.csv"):
        for span, name in (
            (table.DENSITY_KG_M3, "density_kg_m3"),
            (table.HEAT_CAPACITY_J_KGK, "cp_J_kgK"),
            (table.THERMAL_CONDUCTIVITY_W_MK, "k_geometric"),
        ):
            assert span.low <= float(row[name]) <= span.high


# 04-properties.csv: the ranges that were gathered for a base and for silicone
@pytest.mark.parametrize(
    ("material", "what", "span"),
    [
        ("melt-and-pour base", "density (solid 25)", table.DENSITY_KG_M3),
        ("melt-and-pour base", "specific heat", table.HEAT_CAPACITY_J_KGK),
        ("melt-and-pour base", "thermal conductivity", table.THERMAL_CONDUCTIVITY_W_MK),
        ("melt-and-pour base", "heat of setting (spread over the range)", table.LATENT_HEAT_KJ_KG),
        (
            "silicone rubber (mould grade)",
            "thermal conductivity",
            table.SILICONE.thermal_conductivity_w_mk,
        ),
        ("wood", "thermal conductivity", table.WOOD.thermal_conductivity_w_mk),
    ],
)
def test_the_table_agrees_with_what_was_gathered(
    material: str, what: str, span: PropertyRange
) -> None:
    row = next(
        r for r in rows("04-properties.csv") if r["material"] == material and r["property"] == what
    )
    assert (span.low, span.high) == (float(row["low"]), float(row["high"]))


def test_the_usual_melting_range_lies_within_what_was_gathered() -> None:
    row = next(r for r in rows("04-properties.csv") if r["property"] == "setting / softening range")
    # Practice pours at 50 C, so the cool end reaches a little below the gathered 45.
    assert table.SOFTENS_C.low >= float(row["low"]) - 5.0
    assert table.MELTS_C.high <= float(row["high"])


def test_a_bare_record_gives_the_table_and_says_so() -> None:
    base = base_properties()
    assert base.softens_c == table.SOFTENS_C
    assert base.melts_c == table.MELTS_C
    assert base.sets_c == table.SOFTENS_C
    assert base.assumed == (
        "density", "heat_capacity", "thermal_conductivity", "latent_heat", "softens", "melts",
    )  # fmt: skip


def test_what_is_stated_is_used_and_not_called_assumed() -> None:
    base = base_properties(
        density_g_ml=(1.02, 1.06), latent_heat_kj_kg=(30.0, 60.0), sets_c=(44.0, 44.0)
    )
    assert base.density_kg_m3 == PropertyRange(1020.0, 1040.0, 1060.0)
    assert base.latent_heat_kj_kg == PropertyRange(30.0, 45.0, 60.0)
    assert base.softens_c == exactly(44.0)
    assert base.assumed == ("heat_capacity", "thermal_conductivity", "melts")


def test_one_end_of_the_melting_range_brings_the_other() -> None:
    assert base_properties(softens_c=(48.0, 48.0)).melts_c == PropertyRange(56.0, 57.0, 59.0)
    assert base_properties(melts_c=(60.0, 60.0)).softens_c == PropertyRange(49.0, 51.0, 52.0)
    both = base_properties(softens_c=(48.0, 48.0), sets_c=(45.0, 45.0), melts_c=(54.0, 54.0))
    assert (both.softens_c.nominal, both.sets_c.nominal, both.melts_c.nominal) == (48, 45, 54)


@given(st.lists(st.tuples(st.floats(0.01, 100.0), st.floats(30.0, 60.0)), min_size=1, max_size=5))
def test_a_blend_lies_between_its_bases_and_halving_all_shares_changes_nothing(
    parts: list[tuple[float, float]],
) -> None:
    bases = tuple((share, base_properties(softens_c=(at, at))) for share, at in parts)
    found = blend(bases)
    values = [at for _, at in parts]
    assert min(values) - 1e-9 <= found.softens_c.nominal <= max(values) + 1e-9
    halved = blend(tuple((share / 2, base) for share, base in bases))
    assert halved.softens_c.nominal == pytest.approx(found.softens_c.nominal, rel=1e-12)
    assert halved.thermal_conductivity_w_mk.nominal == pytest.approx(0.30, rel=1e-12)


def test_a_blend_of_one_base_is_that_base() -> None:
    base = base_properties(softens_c=(48.0, 48.0))
    found = blend(((0.3, base),))
    assert found.melts_c.nominal == pytest.approx(57.0)
    assert found.density_kg_m3.high == pytest.approx(1120.0)
    assert found.assumed == base.assumed


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (
            lambda: PropertyRange(1.0, 0.5, 2.0),
            "the ends of a property are out of order: PropertyRange",
        ),
        (lambda: exactly(math.nan), "a property must be finite, not PropertyRange"),
        (
            lambda: base_properties(density_g_ml=(0.0, 1.0)),
            "the density of a base must be above 0, not 0.0",
        ),
        (
            lambda: base_properties(latent_heat_kj_kg=(-5.0, 5.0)),
            "the latent heat of a base must be above 0, not -5.0",
        ),
        (
            lambda: base_properties(thermal_conductivity_w_mk=(0.3, 0.2)),
            "the ends of a property are out of order: PropertyRange",
        ),
        (
            lambda: base_properties(softens_c=(60.0, 60.0), melts_c=(54.0, 54.0)),
            "a base that softens at 60.0 C cannot melt at 54.0 C",
        ),
        (lambda: blend(()), "a blend needs at least one base"),
        (
            lambda: blend(((0.0, base_properties()),)),
            "the share of a base must be above 0, not 0.0",
        ),
        (
            lambda: blend(((math.inf, base_properties()),)),
            "the share of a base must be above 0, not inf",
        ),
    ],
)
def test_what_cannot_be_is_refused(wrong: object, said: str) -> None:
    with pytest.raises(FigureError, match=said):
        wrong()  # type: ignore[operator]
