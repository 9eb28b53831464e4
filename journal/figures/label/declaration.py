"""The net weight on a label: its wording, the height of its letters and its place.

The numbers of a declaration are rounded down, never up: a label may understate what
is in the wrapper, not overstate it.
"""

from __future__ import annotations

import math
from fractions import Fraction

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.exact import ExactNumber, exact_above, floor_to_step

# What is an ounce in grams on a label? The factor of 16 CFR 500.19(a), which
# allows "none others"; it is a hair below the exact 28.349523125 g.
LABEL_G_PER_OZ = Fraction("28.3495")

OZ_PER_LB = 16
OUNCE_STEP = Fraction(1, 10)
GRAM_STEP = Fraction(1)
# The form with pounds in parentheses runs from one pound to below four.
POUND_FORM_FROM_LB = 1
POUND_FORM_TO_LB = 4

MM_PER_IN = Fraction("25.4")
MM2_PER_IN2 = MM_PER_IN**2

# How high must the net weight be lettered? 21 CFR 701.13(i), 16 CFR 500.21(b):
# (panel up to so many square inches, height in inches). 21 CFR stops at 1/4 in; that 16 CFR
# goes on to 1/2 in above 400 in2 is unconfirmed, from memory.
US_TYPE_HEIGHTS = (
    (Fraction(5), Fraction(1, 16)),
    (Fraction(25), Fraction(1, 8)),
    (Fraction(100), Fraction(3, 16)),
    (Fraction(400), Fraction(1, 4)),
)
US_TYPE_HEIGHT_BEYOND = Fraction(1, 2)
# On a panel of this size or less the place of the declaration is free.
SMALL_PANEL_IN2 = Fraction(5)
DECLARATION_BAND = Fraction(30, 100)

# How high must the figures of the nominal weight be? Directive 76/211/EEC
# Annex I 3.1: (up to so many grams, mm).
EU_FIGURE_HEIGHTS = ((Fraction(50), 2), (Fraction(200), 3), (Fraction(1000), 4))
EU_FIGURE_HEIGHT_BEYOND = 6

# How high must the ingredients be lettered? 21 CFR 701.3(b): 1/16 in, or 1/32 in
# where the whole surface for labelling is under 12 in2.
INGREDIENT_TYPE_IN = Fraction(1, 16)
INGREDIENT_TYPE_SMALL_IN = Fraction(1, 32)
INGREDIENT_SMALL_SURFACE_IN2 = Fraction(12)


def round_down_to_figures(value: Fraction, figures: int) -> Fraction:
    """Round a value down to so many significant figures.

    Takes:  value    > 0
            figures  >= 1
    Fails:  FigureError if value is not above 0 or figures is below 1
    Checked: 96.388 to three figures gives 96.3
    """
    if value <= 0 or figures < 1:
        raise FigureError(f"{value} cannot be cut down to {figures} figures")
    places = len(str(math.floor(value))) if value >= 1 else 0
    while value < 1 and value * Fraction(10) ** (1 - places) < 1:
        places -= 1
    return floor_to_step(value, Fraction(10) ** (places - figures))


def plain_decimal(value: Fraction) -> str:
    """A number in plain decimals, without a final zero after the point.

    Takes:  value  >= 0, with a finite decimal form
    Gives:  text
    Fails:  FigureError if the decimal form does not end within 12 places
    Source: 16 CFR 500.19(b) for the final zero
    Checked: 7/2 gives "3.5", 4 gives "4"
    """
    scaled = value * 10**12
    if value < 0 or scaled.denominator != 1:
        raise FigureError(f"{value} has no short decimal form")
    whole, rest = divmod(int(scaled), 10**12)
    decimals = f"{rest:012d}".rstrip("0")
    return f"{whole}.{decimals}" if decimals else str(whole)


def metric_words(grams: Fraction) -> str:
    """The metric half of a declaration, rounded down to three figures, or two below 100 g.

    Takes:  grams  > 0
    Gives:  "96 g", "113 g", "1.13 kg"
    Fails:  FigureError if grams is not above 0
    Source: 16 CFR 500.19(b)
    Checked: 96.388 gives "96 g"
    """
    figures = 3 if grams >= 100 else 2
    if grams >= 1000:
        return f"{plain_decimal(round_down_to_figures(grams / 1000, figures))} kg"
    return f"{plain_decimal(round_down_to_figures(grams, figures))} g"


def us_declaration(ounces: Fraction) -> str:
    """The net weight as a United States label words it, in both systems.

    Below a pound in ounces; from one pound to below four in ounces, followed
    in parentheses by pounds and ounces; from four pounds in pounds and
    ounces. The grams follow from the ounces by the label factor, cut down.

    Takes:  ounces  avoirdupois; > 0; a multiple of the label's step
    Gives:  text
    Fails:  FigureError if ounces is not above 0
    Source: 21 CFR 701.13(j) (form from one pound on as the FDA's guide has it, from
            four pounds on unconfirmed); 16 CFR 500.19 and 500.27(a) for the metric half
    Checked: 4 oz gives "Net Wt 4 oz (113 g)"; 24 oz gives
             "Net Wt 24 oz (1 lb 8 oz) 680 g"
    """
    if ounces <= 0:
        raise FigureError(f"{ounces} oz cannot be declared; it must be above 0")
    metric = metric_words(ounces * LABEL_G_PER_OZ)
    pounds = int(ounces // OZ_PER_LB)
    if pounds < POUND_FORM_FROM_LB:
        return f"Net Wt {plain_decimal(ounces)} oz ({metric})"
    rest = ounces - pounds * OZ_PER_LB
    in_pounds = f"{pounds} lb" + (f" {plain_decimal(rest)} oz" if rest else "")
    if pounds < POUND_FORM_TO_LB:
        return f"Net Wt {plain_decimal(ounces)} oz ({in_pounds}) {metric}"
    return f"Net Wt {in_pounds} ({metric})"


def eu_declaration(grams: Fraction) -> str:
    """The net weight as a European label words it.

    Takes:  grams  > 0; a multiple of the label's step
    Gives:  "96 g"; the unit in full grams to 1 kg, then in kilograms
    Fails:  FigureError if grams is not above 0
    Source: Regulation (EC) 1223/2009 Art. 19(1)(b); Directive 76/211/EEC Annex I 3.1
    Checked: 96 gives "96 g"
    """
    if grams <= 0:
        raise FigureError(f"{grams} g cannot be declared; it must be above 0")
    if grams >= 1000:
        return f"{plain_decimal(grams / 1000)} kg"
    return f"{plain_decimal(grams)} g"


def panel_of_box_mm2(height_mm: ExactNumber, width_mm: ExactNumber) -> Fraction:
    """Area of a flat principal display panel.

    Takes:  height_mm, width_mm  > 0; scalars
    Gives:  mm2; exact
    Fails:  FigureError if either is not above 0
    Source: 16 CFR 500.21(a)
    Checked: 2 x 3.5 in gives 7 in2
    """
    return exact_above(height_mm, 0, "the panel's height") * exact_above(
        width_mm, 0, "the panel's width"
    )


def panel_of_cylinder_mm2(height_mm: ExactNumber, around_mm: ExactNumber) -> Fraction:
    """Area that counts as the panel of something round, a band or a tin.

    Takes:  height_mm  > 0; scalar
            around_mm  circumference; > 0; scalar
    Gives:  mm2; 40 % of height x circumference
    Fails:  FigureError if either is not above 0
    Source: 16 CFR 500.21(a)
    Checked: 2 in high and 10 in around gives 8 in2
    """
    return panel_of_box_mm2(height_mm, around_mm) * Fraction(2, 5)


class DeclarationPlace(Struct, frozen=True):
    """The height of the net weight's letters, and the band at the panel's foot that it stands in.

    ``within_bottom_mm`` is the band's height; None where the panel is so small that the
    place is free.
    """

    type_height_mm: Fraction
    within_bottom_mm: Fraction | None


def us_declaration_place(panel_mm2: ExactNumber, panel_height_mm: ExactNumber) -> DeclarationPlace:
    """The place of the net weight on a panel in the United States, and the height of its letters.

    Takes:  panel_mm2        area of the principal display panel; > 0; scalar
            panel_height_mm  its height; > 0; scalar
    Gives:  height of type, and the band at the foot of the panel (30 % of its
            height), both in mm; exact
    Fails:  FigureError if either is not above 0
    Source: 21 CFR 701.13(f) and (i); 16 CFR 500.21(b)
    Checked: 7 in2 gives 1/8 in = 3.175 mm
    """
    area_in2 = exact_above(panel_mm2, 0, "the panel's area") / MM2_PER_IN2
    height = exact_above(panel_height_mm, 0, "the panel's height")
    type_in = next(
        (inches for up_to_in2, inches in US_TYPE_HEIGHTS if area_in2 <= up_to_in2),
        US_TYPE_HEIGHT_BEYOND,
    )
    band = None if area_in2 <= SMALL_PANEL_IN2 else height * DECLARATION_BAND
    return DeclarationPlace(type_in * MM_PER_IN, band)


def eu_figure_height_mm(nominal_g: ExactNumber) -> int:
    """The least height of the digits of the nominal weight in the European Union.

    Takes:  nominal_g  > 0; scalar
    Gives:  mm
    Fails:  FigureError if nominal_g is not above 0
    Source: Directive 76/211/EEC Annex I 3.1
    Checked: 96 g gives 3 mm
    """
    nominal = exact_above(nominal_g, 0, "the nominal weight")
    return next(
        (height for up_to, height in EU_FIGURE_HEIGHTS if nominal <= up_to), EU_FIGURE_HEIGHT_BEYOND
    )


def us_ingredient_type_height_mm(surface_mm2: ExactNumber) -> Fraction:
    """The least height of the letters of the ingredients in the United States.

    Takes:  surface_mm2  whole surface that can carry the label; > 0; scalar
    Gives:  mm; exact
    Fails:  FigureError if surface_mm2 is not above 0
    Source: 21 CFR 701.3(b)
    Checked: 12 in2 gives 1/16 in = 1.5875 mm; below it 1/32 in
    """
    surface_in2 = exact_above(surface_mm2, 0, "the surface") / MM2_PER_IN2
    small = surface_in2 < INGREDIENT_SMALL_SURFACE_IN2
    return (INGREDIENT_TYPE_SMALL_IN if small else INGREDIENT_TYPE_IN) * MM_PER_IN
