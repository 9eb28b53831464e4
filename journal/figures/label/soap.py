"""True soap or a cosmetic: which rules of the United States a bar is sold by."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from journal.figures.label.allergens import letters_of

# Names of salts of fatty acids, and of synthetic detergents, as suppliers of bases write them.
# Common practice, no source.
_SOAP_SALT = re.compile(
    r"(sodium|potassium)(hydrogenated)?(stearate|laurate|myristate|palmitate|oleate|ricinoleate"
    r"|linoleate|behenate|caprate|caprylate|cocoate|cocoyate|palmate|palmkernelate|tallowate"
    r"|lardate|olivate|castorate|canolate|rapeseedate|soyate|soybeanate|sunflowerate"
    r"|safflowerate|sheabutterate|cocoabutterate|mangobutterate|babassuate|almondate)"
)
_DETERGENT = re.compile(
    r".*(sulfate|sulphate|sulfonate|sulphonate|sulfosuccinate|sulfoacetate|isethionate|betaine"
    r"|sultaine|glucoside|taurate|sarcosinate|glutamate|amphoacetate|amphodiacetate|amineoxide)"
)
_NO_DETERGENT = re.compile(r"(sodium|potassium|magnesium|calcium|zinc|barium)sul(f|ph)ate")
# What evaporates from a bar; a base holds no other that is volatile. Common practice, no source.
_VOLATILE = frozenset(
    map(letters_of, ("Water", "Aqua", "Alcohol", "Alcohol Denat.", "Fragrance", "Parfum"))
)
# "The bulk" of the nonvolatile matter (21 CFR 701.20(a)(1)): read as more than half.
BULK = 0.5

SoapKind = Literal["soap", "cosmetic"]


class CleansingBase(Struct, frozen=True):
    """A base by its mass in the bar: ingredients with shares, and its supplier's word.

    ``true_soap`` is whether its supplier calls it true soap; None if he does not say.
    """

    mass_g: float
    ingredients: tuple[tuple[str, float | None], ...]
    true_soap: bool | None = None


class SoapFinding(Struct, frozen=True):
    """What a bar is by its composition, None where that is not known, and why."""

    kind: SoapKind | None
    why: str


def is_soap_salt(name: str) -> bool:
    """Whether a name is that of an alkali salt of fatty acids.

    Takes:  name  as written
    Source: 21 CFR 701.20(a)(1); the names are common practice, no source
    Checked: Sodium Stearate is one, Sodium Laureth Sulfate is not
    """
    return bool(_SOAP_SALT.fullmatch(letters_of(name)))


def is_detergent(name: str) -> bool:
    """Whether a name is that of a synthetic detergent.

    Takes:  name  as written
    Source: FDA, "Frequently Asked Questions on Soap"; the names are common practice, no source
    Checked: Sodium Laureth Sulfate is one, Sodium Stearate and Sodium Sulfate are not
    """
    letters = letters_of(name)
    return bool(_DETERGENT.fullmatch(letters)) and not _NO_DETERGENT.fullmatch(letters)


def soap_or_cosmetic(bases: Sequence[CleansingBase]) -> SoapFinding:
    """What a bar is by what its bases are made of; how it is sold is the third condition.

    Takes:  bases  masses > 0; shares 0 to 1, None where they are not known
    Gives:  "cosmetic" if a detergent is listed, or soap is at most half of what does not
            evaporate; "soap" if none is and it is more; else the suppliers' word; else None
    Source: 21 CFR 701.20(a)
    Checked: 30 % soap, 40 % glycerin and 30 % water: 3/7 of 70 %, a cosmetic
    """
    names = dict.fromkeys(name for base in bases for name, _ in base.ingredients)
    detergents = [name for name in names if is_detergent(name)]
    if detergents:
        return SoapFinding("cosmetic", f"{detergents[0]} is a synthetic detergent")
    if bases and all(base.ingredients for base in bases):
        shares = [
            (name, base.mass_g * share)
            for base in bases
            for name, share in base.ingredients
            if share is not None and letters_of(name) not in _VOLATILE
        ]
        known = all(share is not None for base in bases for _, share in base.ingredients)
        solid = math.fsum(mass for _, mass in shares)
        if known and solid > 0:
            part = math.fsum(mass for name, mass in shares if is_soap_salt(name)) / solid
            kind: SoapKind = "soap" if part > BULK else "cosmetic"
            return SoapFinding(kind, f"soap is {100 * part:.0f} % of what does not evaporate")
    words = [base.true_soap for base in bases]
    if False in words:
        return SoapFinding("cosmetic", "by the word of the base's supplier")
    if words and None not in words:
        return SoapFinding("soap", "by the word of the base's supplier")
    return SoapFinding(None, "the bases' shares are not all known")


def us_rules(finding: SoapFinding, sold_as: str | None) -> tuple[str, str]:
    """Which rules of the United States apply, and what is still to be said.

    Takes:  finding  of soap_or_cosmetic
            sold_as  "soap" or "cosmetic"; None if the studio has not said
    Gives:  "soap" or "cosmetic", and a sentence
    Source: 21 CFR 701.20
    Checked: soap by composition that is sold as a cosmetic is a cosmetic
    """
    if finding.kind == "cosmetic":
        return "cosmetic", (
            f"A cosmetic: {finding.why} (21 CFR 701.20(b)). It may still be called soap"
        )
    if sold_as == "cosmetic":
        return "cosmetic", "A cosmetic, as it is sold as one (21 CFR 701.20(a)(2))"
    if finding.kind is None:
        return "cosmetic", (
            f"True soap or a cosmetic is not known: {finding.why}. Ask the supplier, and write"
            " true_soap: yes or no on the base. Drafted as a cosmetic until then"
        )
    if sold_as is None:
        return "cosmetic", (
            f"True soap by what is in it: {finding.why}. If it is sold only as soap, write sold_as:"
            " soap in journal.yaml. Drafted as a cosmetic until then"
        )
    return "soap", (
        f"True soap, sold only as soap: {finding.why} (21 CFR 701.20(a)). The FDA's rules for"
        " cosmetics do not apply; the list of ingredients is voluntary"
    )
