"""Allergens: the list against its reference table, groups, thresholds, dates."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paths import REFERENCE

from journal.errors import FigureError
from journal.figures.label import allergens
from journal.figures.label.allergens import (
    PROHIBITED,
    RINSE_OFF_SHARE,
    OilInBar,
    allergens_of_bar,
    find_allergen,
    letters_of,
)

OWN = Path(allergens.__file__).with_name("allergens_eu.csv")

SAME = 1e-12


def rows(path: Path = REFERENCE / "07-eu-allergens.csv") -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert len(found) == 81
    return found


LISTED = rows(OWN)


def test_the_list_is_the_reference_list() -> None:
    status = {
        "24 original": "first",
        "12 older entries made declarable": "older",
        "45 new entries": "new",
    }
    expected = [
        (row["annex_iii_entry"], row["label_or_group_name"], row["inci_names"], row["cas"],
         status[row["status"]])
        for row in rows()
    ]  # fmt: skip
    columns = ("entry", "name", "inci", "cas", "listed")
    assert [tuple(row[key] for key in columns) for row in LISTED] == expected
    assert {float(row["declare_above_pct_rinse_off"]) for row in rows()} == {0.01}
    percent = RINSE_OFF_SHARE * 100
    assert percent == pytest.approx(0.01, rel=SAME)


def test_counts_of_the_regulation() -> None:
    assert Counter(row["listed"] for row in LISTED) == {"first": 24, "older": 12, "new": 45}
    assert len({row["entry"] for row in LISTED}) == 81
    assert sum(len(row["inci"].split("|")) for row in LISTED) == 138


@pytest.mark.parametrize("row", LISTED, ids=lambda row: row["name"])
def test_check_digits_of_the_cas_numbers(row: dict[str, str]) -> None:
    """Source: CAS registry, check digit = sum of place x digit from the right, modulo 10."""
    for number in row["cas"].split("|"):
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
    (name,) = (row["name"] for row in LISTED if int(row["entry"]) == entry)
    assert find_allergen(written) == name


def test_every_name_of_the_list_is_found_again() -> None:
    for row in LISTED:
        for name in (row["name"], *row["inci"].split("|")):
            assert find_allergen(name) == row["name"], name


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
    assert dict(found.named) == ({name: pytest.approx(share, rel=SAME)} if named else {}), inputs


def test_groups_and_oils_are_summed() -> None:
    """Geranial 0.2 % and neral 0.15 % of 2 % oil are 0.007 %: below; with 0.2 % citral of a
    second oil of 2 % they are 0.011 %, named once, by the name of the group."""
    oil = OilInBar("verbena", 0.02, (("Geranial", 0.002), ("Neral", 0.0015)))
    assert not allergens_of_bar([oil]).named
    other = OilInBar("lemongrass", 0.02, (("Citral", 0.002),))
    named = allergens_of_bar([oil, other]).named
    assert named == (("Citral", pytest.approx(1.1e-4, rel=SAME)),)


def test_the_order_and_what_is_not_on_the_list() -> None:
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
    assert [name for name, _ in found.named] == ["Linalool", "Menthol"]
    assert found.prohibited == (("Atranol", "fern"),)


def test_what_is_prohibited_is_not_merely_named() -> None:
    for name in PROHIBITED:
        assert find_allergen(name) is None
        found = allergens_of_bar([OilInBar("old oil", 0.02, ((name, 0.05),))])
        assert found.prohibited == ((name, "old oil"),)
        assert not found.named


shares = st.floats(0, 1)


@given(
    st.dictionaries(st.sampled_from([row["name"] for row in LISTED]), shares, max_size=8), shares
)
def test_an_entry_is_named_above_the_limit_alone(contents: dict[str, float], in_bar: float) -> None:
    named = allergens_of_bar([OilInBar("oil", in_bar, tuple(contents.items()))]).named
    for name, share in contents.items():
        in_list = name in dict(named)
        assert in_list is (share * in_bar > RINSE_OFF_SHARE * (1 + 1e-9))
    found = [share for _, share in named]
    assert found == sorted(found, reverse=True)


@pytest.mark.parametrize(
    "oil", [OilInBar("oil", 1.2, ()), OilInBar("oil", 0.02, (("Linalool", 2.0),))]
)
def test_shares_that_cannot_be(oil: OilInBar) -> None:
    with pytest.raises(FigureError, match="share is 0 to 1"):
        allergens_of_bar([oil])
