"""Allergens: the list against its reference table, groups, thresholds, dates."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.allergens import (
    RINSE_OFF_SHARE,
    OilInBar,
    allergens_of_bar,
    find_allergen,
    letters_of,
)
from journal.figures.allergens_eu import ALLERGENS, NEW, OLDER, ORIGINAL, PROHIBITED

REFERENCE = Path(__file__).parents[1] / "reference"

SAME = 1e-12


def rows() -> list[dict[str, str]]:
    with (REFERENCE / "07-eu-allergens.csv").open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert len(found) == 81
    return found


def test_the_list_is_the_reference_list() -> None:
    listed = {
        "24 original": ORIGINAL,
        "12 older entries made declarable": OLDER,
        "45 new entries": NEW,
    }
    expected = [
        (
            int(row["annex_iii_entry"]),
            row["label_or_group_name"],
            tuple(row["inci_names"].split("|")),
            tuple(row["cas"].split("|")),
            listed[row["status"]],
        )
        for row in rows()
    ]
    assert [(a.entry, a.name, a.inci, a.cas, a.listed) for a in ALLERGENS] == expected
    assert {float(row["declare_above_pct_rinse_off"]) for row in rows()} == {0.01}
    percent = RINSE_OFF_SHARE * 100
    assert percent == pytest.approx(0.01, rel=SAME)


def test_counts_of_the_regulation() -> None:
    counts = {kind: sum(a.listed == kind for a in ALLERGENS) for kind in (ORIGINAL, OLDER, NEW)}
    assert counts == {ORIGINAL: 24, OLDER: 12, NEW: 45}
    assert sum(len(a.inci) for a in ALLERGENS) == 138


@pytest.mark.parametrize("allergen", ALLERGENS, ids=lambda allergen: allergen.name)
def test_check_digits_of_the_cas_numbers(allergen: object) -> None:
    """Source: CAS registry, check digit = sum of place x digit from the right, modulo 10."""
    for number in allergen.cas:  # type: ignore[attr-defined]
        digits = number.replace("-", "")
        weighted = sum(
            place * int(digit) for place, digit in enumerate(reversed(digits[:-1]), start=1)
        )
        assert weighted % 10 == int(digits[-1]), number


@pytest.mark.parametrize(
    ("written", "entry"),
    [
        ("Linalool", 84),
        ("LINALOOL", 84),
        ("alpha-isomethyl ionone", 90),
        ("Alpha isomethyl ionone", 90),
        ("geranial", 70),
        ("Neral", 70),
        ("Damascenone", 157),
        ("Rose Ketone 4", 157),
        ("Rose Ketones", 157),
        ("Lavandula Angustifolia Oil", 360),
        ("Citrus Sinensis Peel Oil", 351),
        ("Methyl 2-octynoate", 89),
    ],
)
def test_names_as_certificates_write_them(written: str, entry: int) -> None:
    found = find_allergen(written)
    assert found is not None
    assert found.entry == entry


def test_every_name_of_the_list_is_found_again() -> None:
    for allergen in ALLERGENS:
        for name in (allergen.name, *allergen.inci):
            assert find_allergen(name) is allergen, name


def test_letters() -> None:
    assert letters_of("alpha-Isomethyl Ionone") == "alphaisomethylionone"
    assert find_allergen("Sodium Chloride") is None


ON_PAPER = [
    ("Linalool", "2 % of the oil x 3 % of the bar", 0.02, 0.03, 6e-4, True),
    ("Coumarin", "0.5 % x 2 % = 0.01 %: not above it", 0.005, 0.02, 1e-4, False),
    ("Coumarin", "0.51 % x 2 % = 0.0102 %", 0.0051, 0.02, 1.02e-4, True),
    ("Eugenol", "0.1 % x 3 %", 0.001, 0.03, 3e-5, False),
]


@pytest.mark.parametrize(("name", "inputs", "in_oil", "in_bar", "share", "named"), ON_PAPER)
def test_thresholds_on_paper(
    name: str, inputs: str, in_oil: float, in_bar: float, share: float, named: bool
) -> None:
    found = allergens_of_bar([OilInBar("cedar-bergamot", in_bar, ((name, in_oil),))])
    lines = found.named if named else found.below
    assert [line.name for line in lines] == [name], inputs
    assert lines[0].bar_share == pytest.approx(share, rel=SAME)


def test_groups_and_oils_are_summed() -> None:
    """Geranial 0.2 % and neral 0.15 % of 2 % oil are 0.007 %: below; with 0.2 % citral of a
    second oil of 2 % they are 0.011 %, named once, by the name of the group."""
    oil = OilInBar("verbena", 0.02, (("Geranial", 0.002), ("Neral", 0.0015)))
    assert not allergens_of_bar([oil]).named
    other = OilInBar("lemongrass", 0.02, (("Citral", 0.002),))
    (citral,) = allergens_of_bar([oil, other]).named
    assert (citral.name, citral.entry, citral.oils) == ("Citral", 70, ("verbena", "lemongrass"))
    assert citral.bar_share == pytest.approx(1.1e-4, rel=SAME)


def test_order_dates_and_what_is_not_on_the_list() -> None:
    found = allergens_of_bar(
        [
            OilInBar(
                "fern",
                0.03,
                (
                    ("Menthol", 0.02),
                    ("Linalool", 0.04),
                    ("Moss Absolute", 0.1),
                    ("Atranol", 0.001),
                    ("Chloroatranol", 0.0),
                ),
            )
        ]
    )
    assert [line.name for line in found.named] == ["Linalool", "Menthol"]
    linalool, menthol = found.named
    assert menthol.due == date(2026, 8, 1)
    assert menthol.due_on_all == date(2028, 8, 1)
    assert linalool.due == linalool.due_on_all < date(2020, 1, 1)
    assert found.unlisted == ("Moss Absolute",)
    assert found.prohibited == (("Atranol", "fern"),)


def test_what_is_prohibited_is_not_merely_named() -> None:
    for name in PROHIBITED:
        assert find_allergen(name) is None
        found = allergens_of_bar([OilInBar("old oil", 0.02, ((name, 0.05),))])
        assert found.prohibited == ((name, "old oil"),)
        assert not found.named


shares = st.floats(0, 1)


@given(st.lists(st.tuples(st.sampled_from(ALLERGENS), shares), max_size=8), shares)
def test_every_entry_is_either_named_or_below(
    contents: list[tuple[object, float]], in_bar: float
) -> None:
    written = tuple((entry.name, share) for entry, share in contents)  # type: ignore[attr-defined]
    found = allergens_of_bar([OilInBar("oil", in_bar, written)])
    assert {line.name for line in (*found.named, *found.below)} == {name for name, _ in written}
    assert all(line.bar_share > RINSE_OFF_SHARE for line in found.named)
    named = [line.bar_share for line in found.named]
    assert named == sorted(named, reverse=True)


@pytest.mark.parametrize(
    "oil",
    [OilInBar("oil", 1.2, ()), OilInBar("oil", 0.02, (("Linalool", 2.0),))],
)
def test_shares_that_cannot_be(oil: OilInBar) -> None:
    with pytest.raises(FigureError, match="share is 0 to 1"):
        allergens_of_bar([oil])
