"""The weight by which a single bar may fall short of its label.

Two systems: NIST Handbook 133 in the United States, Directive 76/211/EEC in
the European Union.
"""

from __future__ import annotations

import math
from fractions import Fraction

from journal.errors import FigureError
from journal.figures.common.exact import ExactNumber, exact_above, exact_fraction

# Exact: 21 CFR and Handbook 133 speak of the avoirdupois pound, NIST SP 811 App. B.
G_PER_LB = Fraction("453.59237")

# By how much may one package labelled by weight fall short?
# NIST Handbook 133 Table 2-5: (label in lb, from and including; allowance in lb).
# Below the first row the allowance is 10 % of the label; the table is used up
# to LAST_LABEL_LB. Unconfirmed: from memory, no copy of the table could be read; of two labels
# the allowance was found quoted (113 g: 7 g; 3 oz: 0.25 oz).
MAXIMUM_ALLOWABLE_VARIATIONS_LB = tuple(
    (Fraction(label), Fraction(allowance)) for label, allowance in (
        ("0.08", "0.008"), ("0.12", "0.012"), ("0.18", "0.016"), ("0.26", "0.020"),
        ("0.34", "0.024"), ("0.46", "0.028"), ("0.58", "0.032"), ("0.70", "0.036"),
        ("0.84", "0.040"), ("0.94", "0.044"), ("1.08", "0.048"), ("1.26", "0.052"),
        ("1.40", "0.056"), ("1.54", "0.060"), ("1.70", "0.064"), ("1.88", "0.070"),
        ("2.14", "0.078"), ("2.48", "0.086"), ("2.76", "0.094"), ("3.20", "0.110"),
    )
)  # fmt: skip
LIGHT_LABEL_SHARE = Fraction(1, 10)
LAST_LABEL_LB = Fraction("3.90")
assert list(MAXIMUM_ALLOWABLE_VARIATIONS_LB) == sorted(MAXIMUM_ALLOWABLE_VARIATIONS_LB)

# What negative error is tolerable in one prepackage?
# Directive 76/211/EEC Annex I 2.4: (nominal quantity in g, up to; share of it or
# None; g or None). At each bound both neighbours give the same.
TOLERABLE_NEGATIVE_ERRORS = (
    (Fraction(50), Fraction(9, 100), None),
    (Fraction(100), None, Fraction("4.5")),
    (Fraction(200), Fraction(45, 1000), None),
    (Fraction(300), None, Fraction(9)),
    (Fraction(500), Fraction(3, 100), None),
    (Fraction(1000), None, Fraction(15)),
    (Fraction(10000), Fraction(15, 1000), None),
)
LEAST_NOMINAL_G = 5
TENTH_OF_A_GRAM = Fraction(1, 10)


def maximum_allowable_variation_g(label_g: ExactNumber) -> Fraction:
    """The weight by which one package may fall short of its label in the United States.

    Takes:  label_g  declared weight; grams; 0 < label up to 3.90 lb; scalar
    Gives:  grams; exact
    Fails:  FigureError outside the table
    Source: NIST Handbook 133 Table 2-5 (unconfirmed: from memory, two values found)
    Checked: label 4 oz gives 0.016 lb = 7.2575 g
    """
    label_lb = exact_above(label_g, 0, "the declared weight") / G_PER_LB
    if label_lb >= LAST_LABEL_LB:
        raise FigureError(
            f"a label of {label_g} g is beyond the table of allowable variations "
            f"(below {LAST_LABEL_LB * G_PER_LB // 1} g)"
        )
    allowance_lb = label_lb * LIGHT_LABEL_SHARE
    for from_lb, variation_lb in MAXIMUM_ALLOWABLE_VARIATIONS_LB:
        if label_lb >= from_lb:
            allowance_lb = variation_lb
    return allowance_lb * G_PER_LB


def tolerable_negative_error_g(nominal_g: ExactNumber) -> Fraction:
    """The weight by which one prepackage may fall short in the European Union.

    A percentage of the table is worked out in grams and rounded up to a tenth of a gram.

    Takes:  nominal_g  declared weight; grams; 5 to 10000; scalar
    Gives:  grams; exact
    Fails:  FigureError outside the table
    Source: Directive 76/211/EEC Annex I 2.4
    Checked: 113 g gives 5.1 g; 75 g gives 4.5 g
    """
    nominal = exact_fraction(nominal_g, "the nominal weight")
    if nominal < LEAST_NOMINAL_G:
        raise FigureError(
            f"a nominal weight of {nominal_g} g is below the {LEAST_NOMINAL_G} g "
            "at which the table of tolerable errors begins"
        )
    for up_to, share, grams in TOLERABLE_NEGATIVE_ERRORS:
        if nominal <= up_to:
            if grams is not None:
                return grams
            assert share is not None
            return math.ceil(nominal * share / TENTH_OF_A_GRAM) * TENTH_OF_A_GRAM
    raise FigureError(
        f"a nominal weight of {nominal_g} g is beyond the table of tolerable errors (10000 g)"
    )
