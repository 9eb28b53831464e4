"""True soap or a cosmetic: 21 CFR 701.20(a), by what the bases are made of and how it is sold."""

from __future__ import annotations

import pytest

from journal.figures.label.soap import (
    CleansingBase,
    SoapFinding,
    is_detergent,
    is_soap_salt,
    soap_or_cosmetic,
    us_rules,
)

SOAP = (("Aqua", 0.10), ("Sodium Cocoate", 0.45), ("Sodium Palmate", 0.25), ("Glycerin", 0.20))


@pytest.mark.parametrize(
    ("name", "soap", "detergent"),
    [
        ("Sodium Stearate", True, False),
        ("Potassium Cocoate", True, False),
        ("sodium palm kernelate", True, False),
        ("Sodium Laureth Sulfate", False, True),
        ("Sodium Cocoyl Isethionate", False, True),
        ("Cocamidopropyl Betaine", False, True),
        ("Decyl Glucoside", False, True),
        ("Sodium Sulfate", False, False),
        ("Sodium Chloride", False, False),
        ("Sodium Lactate", False, False),
        ("Glyceryl Stearate", False, False),
        ("Propylene Glycol", False, False),
    ],
)
def test_the_names_of_soaps_and_detergents(name: str, soap: bool, detergent: bool) -> None:
    assert is_soap_salt(name) is soap
    assert is_detergent(name) is detergent


def test_the_detergency_must_be_the_soaps_own() -> None:
    """701.20(a)(1): one synthetic detergent makes a cosmetic of it, however little it is."""
    with_one = CleansingBase(1.0, (*SOAP, ("Sodium Laureth Sulfate", 0.001)))
    assert soap_or_cosmetic([with_one]) == SoapFinding(
        "cosmetic", "Sodium Laureth Sulfate is a synthetic detergent"
    )
    unknown = CleansingBase(1.0, (("Sodium Laureth Sulfate", None),), true_soap=True)
    assert soap_or_cosmetic([unknown]).kind == "cosmetic"


def test_the_bulk_of_what_does_not_evaporate_must_be_soap() -> None:
    # 70 g of soap in 90 g that stay.
    assert soap_or_cosmetic([CleansingBase(1.0, SOAP)]) == SoapFinding(
        "soap", "soap is 78 % of what does not evaporate"
    )
    # 30 % soap, 40 % glycerin, 30 % water: 3 of 7.
    less = (("Water", 0.3), ("Sodium Stearate", 0.3), ("Glycerin", 0.4))
    assert soap_or_cosmetic([CleansingBase(1.0, less)]) == SoapFinding(
        "cosmetic", "soap is 43 % of what does not evaporate"
    )
    # Half is not the bulk; by mass over the bases.
    half = (("Sodium Stearate", 0.5), ("Glycerin", 0.5))
    assert soap_or_cosmetic([CleansingBase(1.0, half)]).kind == "cosmetic"
    assert soap_or_cosmetic([CleansingBase(1.0, less), CleansingBase(1.0, SOAP)]).kind == "soap"
    assert soap_or_cosmetic([CleansingBase(9.0, less), CleansingBase(1.0, SOAP)]).kind == "cosmetic"


def test_without_shares_the_supplier_is_asked() -> None:
    listed = (("Sodium Stearate", None), ("Glycerin", None))
    assert soap_or_cosmetic([CleansingBase(1.0, listed)]).kind is None
    assert soap_or_cosmetic([CleansingBase(1.0, listed, true_soap=True)]).kind == "soap"
    assert soap_or_cosmetic([CleansingBase(1.0, listed, true_soap=False)]).kind == "cosmetic"
    both = [CleansingBase(1.0, listed, true_soap=True), CleansingBase(1.0, listed)]
    assert soap_or_cosmetic(both).kind is None
    assert soap_or_cosmetic([CleansingBase(1.0, ())]).kind is None


def test_how_it_is_sold_decides_too() -> None:
    """701.20(a)(2): labelled, sold and represented only as soap."""
    soap, neither = SoapFinding("soap", "w"), SoapFinding(None, "w")
    assert us_rules(soap, "soap")[0] == "soap"
    assert us_rules(soap, "cosmetic")[0] == "cosmetic"
    assert us_rules(soap, None) == (
        "cosmetic",
        "True soap by what is in it: w. If it is sold only as soap, write sold_as: soap in"
        " journal.yaml. Drafted as a cosmetic until then",
    )
    assert us_rules(SoapFinding("cosmetic", "w"), "soap")[0] == "cosmetic"
    assert us_rules(neither, "soap")[0] == "cosmetic"
    assert "true_soap: yes or no" in us_rules(neither, "soap")[1]
