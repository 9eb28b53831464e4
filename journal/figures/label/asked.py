"""What a label must say by region, beside its ingredients, and which of it is still to be had."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct


class AskedOfLabel(Struct, frozen=True):
    """One thing that a label must say: ``has`` is what the draft says, "" for a blank."""

    what: str
    has: str
    rule: str


_NET, _IDENTITY, _INGREDIENTS = "net weight", "what it is", "ingredients"
NET_WEIGHT_ASKED = _NET
_RESPONSIBLE = "responsible person and address"

# What must stand on a label, and by which rule? Regulation (EC) 1223/2009 Art. 19(1) and (5);
# in Great Britain as amended by SI 2019/696 Schedule 34.
_EUROPE = (
    (_RESPONSIBLE, "Art. 19(1)(a)"),
    (_NET, "Art. 19(1)(b)"),
    ("best before, or the period after opening", "Art. 19(1)(c), from the safety report"),
    ("precautions", "Art. 19(1)(d), from the safety report"),
    ("batch", "Art. 19(1)(e)"),
    (_IDENTITY, "Art. 19(1)(f)"),
    (_INGREDIENTS, "Art. 19(1)(g)"),
)
_ASKED: Mapping[str, tuple[tuple[str, str], ...]] = {
    "cosmetic": (
        (_IDENTITY, "21 CFR 701.11"),
        (_NET, "21 CFR 701.13"),
        (_INGREDIENTS, "21 CFR 701.3"),
        (_RESPONSIBLE, "21 CFR 701.12"),
        ("contact for complaints: address, telephone or web", "FD&C Act sec. 609(a)"),
        ("batch", "common practice, no rule"),
    ),
    # Of soap the Fair Packaging and Labeling Act asks.
    "soap": (
        (_IDENTITY, "15 USC 1453(a)(1)"),
        (_NET, "15 USC 1453(a)(2)"),
        ("maker and place of business", "15 USC 1453(a)(1)"),
        ("batch", "common practice, no rule"),
    ),
    "eu": (*_EUROPE, ("the languages of the countries where it is sold", "Art. 19(5)")),
    "uk": tuple(
        ("responsible person and address in the United Kingdom" if what == _RESPONSIBLE else what,
         rule)
        for what, rule in _EUROPE
    ),
}  # fmt: skip


def asked_of_label(
    region: str, kind: str, responsible: str, ingredients: bool
) -> tuple[AskedOfLabel, ...]:
    """What a label of a region must say, with what is known; the net weight is left blank.

    Takes:  region       "us", "eu" or "uk"; of another nothing is known to be asked
            kind         "soap" or "cosmetic", for the United States
            responsible  name and address as they are to be printed; "" if not known
            ingredients  whether there is a list of ingredients
    Gives:  each thing asked for, in the order of the rules
    Source: 21 CFR 701.3, 701.11 to 701.13; FD&C Act sec. 609(a); 15 USC 1453; Regulation (EC)
            1223/2009 Art. 19
    Checked: a batch is asked for in the EU by Art. 19(1)(e)
    """
    has = {_IDENTITY: "Soap", _INGREDIENTS: "as above" if ingredients else ""}
    return tuple(
        AskedOfLabel(
            what,
            responsible
            if what.startswith(("responsible", "maker", "contact"))
            else has.get(what, ""),
            rule,
        )
        for what, rule in _ASKED.get(kind if region == "us" else region, ())
    )
