"""Colour: sRGB codes, light, CIE Lab, differences of colours, and colours in plain words.

sRGB is IEC 61966-2-1; Lab is CIE 1976 L*a*b* with the white D65 (2 degrees). The Lab
of style sheets has another white (D50): values from here must not be written into it.
Codes run from 0 to 255 and need not be whole; light runs from 0 (none) to 1 (paper white).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from journal.errors import FigureError

Triple = tuple[float, float, float]
"""Three numbers of one colour: codes, light, XYZ or Lab."""

# White and primaries of sRGB. IEC 61966-2-1: red (0.64, 0.33), green (0.30, 0.60),
# blue (0.15, 0.06), white D65 (0.3127, 0.3290). The digits are computed from these eight
# numbers; tests/figures/colour/test_colour.py computes them again.
WHITE_XYZ: Triple = (0.9504559270516716, 1.0, 1.0890577507598784)
_TO_XYZ = (
    (0.41239079926595934, 0.357584339383878, 0.1804807884018343),
    (0.21263900587151027, 0.715168678767756, 0.07219231536073371),
    (0.01933081871559182, 0.11919477979462598, 0.9505321522496607),
)

# CIE 15: the exact fractions of the bend of L*, (6/29)^3 and (29/3)^3.
_EPSILON = 216 / 24389
_KAPPA = 24389 / 27

_LAB_BOUND = 1000.0  # far outside every real colour; keeps the seventh powers finite


def _checked_triple(values: Sequence[float], name: str) -> Triple:
    """The three numbers as floats; FigureError, naming them by ``name``, if one is not finite."""
    if len(values) != 3 or not all(math.isfinite(v) for v in values):
        raise FigureError(f"{name} is three finite numbers, not {tuple(values)!r}")
    first, second, third = (float(v) for v in values)
    return first, second, third


def _checked_lab(lab: Sequence[float], name: str) -> Triple:
    """The Lab colour; FigureError, naming it by ``name``, if it lies far outside real colours."""
    result = _checked_triple(lab, name)
    if max(map(abs, result)) > _LAB_BOUND:
        raise FigureError(f"{name} lies outside every colour: {result}")
    return result


def srgb_to_linear(code: float) -> float:
    """Light of one channel, from its sRGB code.

    Takes:  code  0 to 255, need not be whole; scalar
    Gives:  0 to 1; not rounded
    Fails:  FigureError if the code lies outside its range
    Source: IEC 61966-2-1
    Checked: code 10 gives 10 / 255 / 12.92; code 255 gives 1
    """
    if not 0.0 <= code <= 255.0:
        raise FigureError(f"an sRGB code lies between 0 and 255, not at {code}")
    share = code / 255.0
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def linear_to_srgb(light: float) -> float:
    """SRGB code of one channel, from its light; light beyond what sRGB holds is cut off.

    Takes:  light  finite; below 0 counts as 0, above 1 as 1; scalar
    Gives:  0 to 255; not rounded
    Fails:  FigureError if the light is not finite
    Source: IEC 61966-2-1
    """
    if not math.isfinite(light):
        raise FigureError(f"light is a finite number, not {light}")
    light = min(max(light, 0.0), 1.0)
    share = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    return 255.0 * share


def linear_to_xyz(light: Sequence[float]) -> Triple:
    """CIE XYZ (D65, white has Y = 1), from the light of red, green and blue.

    Takes:  light  3 finite numbers, 0 to 1 for colours that sRGB holds
    Gives:  3 numbers
    Fails:  FigureError if one is not finite
    Source: IEC 61966-2-1 (primaries and white; matrix computed from them)
    """
    red, green, blue = _checked_triple(light, "light")
    x, y, z = (row[0] * red + row[1] * green + row[2] * blue for row in _TO_XYZ)
    return x, y, z


def xyz_to_lab(xyz: Sequence[float]) -> Triple:
    """CIE 1976 L*, a*, b* with the white D65, from CIE XYZ.

    Takes:  xyz  3 finite numbers, white has Y = 1
    Gives:  L* (0 black, 100 white), a*, b*
    Fails:  FigureError if one is not finite
    Source: CIE 15 (CIE 1976 L*a*b*)
    """
    bent = []
    for value, white in zip(_checked_triple(xyz, "XYZ"), WHITE_XYZ, strict=True):
        ratio = value / white
        bent.append(math.cbrt(ratio) if ratio > _EPSILON else (_KAPPA * ratio + 16.0) / 116.0)
    fx, fy, fz = bent
    return 116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)


def linear_to_lab(light: Sequence[float]) -> Triple:
    """CIE Lab (D65), from the light of red, green and blue.

    Takes:  light  3 finite numbers, 0 to 1 for colours that sRGB holds
    Gives:  L*, a*, b*
    Fails:  FigureError if one is not finite
    Source: IEC 61966-2-1, CIE 15
    Checked: the light of the codes 255, 0, 0 gives 53.2371, 80.0901, 67.2033
    """
    return xyz_to_lab(linear_to_xyz(light))


def relative_luminance(codes: Sequence[float]) -> float:
    """Relative luminance of an sRGB colour, by the weights of the accessibility guidelines.

    Takes:  codes  3 numbers, 0 to 255
    Gives:  0 to 1
    Fails:  FigureError if a code lies outside its range
    Source: W3C, WCAG 2.2, "relative luminance" (weights 0.2126, 0.7152, 0.0722)
    """
    red, green, blue = _checked_triple(codes, "an sRGB colour")
    return (
        0.2126 * srgb_to_linear(red)
        + 0.7152 * srgb_to_linear(green)
        + 0.0722 * srgb_to_linear(blue)
    )


def contrast(one: Sequence[float], other: Sequence[float]) -> float:
    """Contrast ratio of two sRGB colours; to be compared with a limit unrounded.

    Takes:  one, other  3 codes each, 0 to 255
    Gives:  1 to 21
    Fails:  FigureError if a code lies outside its range
    Source: W3C, WCAG 2.2, "contrast ratio"
    Checked: black on white gives 21
    """
    dark, light = sorted((relative_luminance(one), relative_luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _hue_degrees(a: float, b: float) -> float:
    """Hue angle of Lab, 0 to 360 degrees; 0 for a grey."""
    if a == 0.0 and b == 0.0:
        return 0.0
    return math.degrees(math.atan2(b, a)) % 360.0


def ciede2000(one: Sequence[float], other: Sequence[float]) -> float:
    """Difference of two colours as the eye sees it, CIEDE2000 with k_L = k_C = k_H = 1.

    About 1 is the least that is seen side by side. The formula has three breaks (a hue
    of grey, hues exactly opposite), handled as the paper says; hues within rounding of
    opposite may therefore fall on either side.

    Takes:  one, other  L*, a*, b* with one white; finite
    Gives:  0 and up; the same when the two are exchanged
    Fails:  FigureError if a value is not finite or beyond every colour
    Source: Sharma, Wu & Dalal, Color Research & Application 30 (2005) 21-30; equation
            numbers are theirs
    Checked: their Table 1, 34 pairs, to 0.0001
    """
    l_1, a_1, b_1 = _checked_lab(one, "the first Lab")
    l_2, a_2, b_2 = _checked_lab(other, "the second Lab")
    mean_c = (math.hypot(a_1, b_1) + math.hypot(a_2, b_2)) / 2.0  # (2), (3)
    g = 0.5 * (1.0 - math.sqrt(mean_c**7 / (mean_c**7 + 25.0**7)))  # (4)
    a_1, a_2 = (1.0 + g) * a_1, (1.0 + g) * a_2  # (5)
    c_1, c_2 = math.hypot(a_1, b_1), math.hypot(a_2, b_2)  # (6)
    h_1, h_2 = _hue_degrees(a_1, b_1), _hue_degrees(a_2, b_2)  # (7)

    grey = c_1 * c_2 == 0.0
    apart = h_2 - h_1
    if grey:  # (10)
        delta_h = 0.0
    elif apart > 180.0:
        delta_h = apart - 360.0
    elif apart < -180.0:
        delta_h = apart + 360.0
    else:
        delta_h = apart
    delta_l = l_2 - l_1  # (8)
    delta_c = c_2 - c_1  # (9)
    delta_big_h = 2.0 * math.sqrt(c_1 * c_2) * math.sin(math.radians(delta_h) / 2.0)  # (11)

    mean_l = (l_1 + l_2) / 2.0  # (12)
    mean_c = (c_1 + c_2) / 2.0  # (13)
    if grey:  # (14)
        mean_h = h_1 + h_2
    elif abs(apart) <= 180.0:
        mean_h = (h_1 + h_2) / 2.0
    elif h_1 + h_2 < 360.0:
        mean_h = (h_1 + h_2 + 360.0) / 2.0
    else:
        mean_h = (h_1 + h_2 - 360.0) / 2.0
    t = (  # (15)
        1.0
        - 0.17 * math.cos(math.radians(mean_h - 30.0))
        + 0.24 * math.cos(math.radians(2.0 * mean_h))
        + 0.32 * math.cos(math.radians(3.0 * mean_h + 6.0))
        - 0.20 * math.cos(math.radians(4.0 * mean_h - 63.0))
    )
    delta_theta = 30.0 * math.exp(-(((mean_h - 275.0) / 25.0) ** 2))  # (16)
    r_c = 2.0 * math.sqrt(mean_c**7 / (mean_c**7 + 25.0**7))  # (17)
    s_l = 1.0 + 0.015 * (mean_l - 50.0) ** 2 / math.sqrt(20.0 + (mean_l - 50.0) ** 2)  # (18)
    s_c = 1.0 + 0.045 * mean_c  # (19)
    s_h = 1.0 + 0.015 * mean_c * t  # (20)
    r_t = -math.sin(math.radians(2.0 * delta_theta)) * r_c  # (21)
    lightness, colourfulness, hue = delta_l / s_l, delta_c / s_c, delta_big_h / s_h
    square = lightness**2 + colourfulness**2 + hue**2 + r_t * colourfulness * hue  # (22)
    return math.sqrt(max(square, 0.0))  # the form is positive; rounding may leave -1e-17


# Which hue word is meant by an angle of Lab? Own bands, drawn by looking at soap: the upper
# end of each, in degrees. Blue's upper end moves with the chroma (_blue_ends): in Lab a blue
# turns towards violet as it grows stronger (sRGB's pure blue lies at 306 degrees).
_HUES = (
    (48.0, "red"),
    (72.0, "orange"),
    (103.0, "yellow"),
    (125.0, "yellow-green"),
    (170.0, "green"),
    (215.0, "blue-green"),
    (292.0, "blue"),
    (328.0, "violet"),
    (352.0, "red-violet"),
    (360.0, "red"),
)
_BLUE_BEND = 0.12  # degrees for each unit of chroma

# How light is light? Own bands of L*; the lower end of each.
_GREYS = ((90.0, "white"), (70.0, "light grey"), (45.0, "grey"), (15.0, "deep grey"))
_LIGHT = 70.0
_DEEP = 45.0
# How grey is grey? Own bands of C*ab; the upper end of each. A white shows less of its tint.
_NO_TINT = 3.0
_TOUCH = 8.0
_TOUCH_ON_WHITE = 12.0
_GREYISH = 24.0


def _hue_word(a: float, b: float) -> str:
    """The word for a hue of Lab."""
    angle, strength = _hue_degrees(a, b), math.hypot(a, b)
    for end, word in _HUES:
        if angle < end + (_BLUE_BEND * strength if word == "blue" else 0.0):
            return word
    return "red"


def plain_words(lab: Sequence[float]) -> str:
    """A colour in plain words: a hue with light, deep or grey, such as "deep grey-blue".

    The bands are our own and coarse on purpose: two bars with one name may still differ,
    which is what ciede2000 is for.

    Takes:  lab  L*, a*, b*; finite
    Gives:  one to seven words
    Fails:  FigureError if a value is not finite or beyond every colour
    Source: own bands, from memory of how such colours are spoken of; no published list
    """
    lightness, a, b = _checked_lab(lab, "Lab")
    strength = math.hypot(a, b)
    neutral = next((word for low, word in _GREYS if lightness >= low), "black")
    if strength < _NO_TINT:
        return neutral
    hue = _hue_word(a, b)
    if strength < (_TOUCH_ON_WHITE if neutral == "white" else _TOUCH):
        return f"{neutral} with a touch of {hue}"
    depth = "light " if lightness >= _LIGHT else "deep " if lightness < _DEEP else ""
    if strength < _GREYISH:
        return f"{depth}grey{' ' if '-' in hue else '-'}{hue}"
    return f"{depth}{hue}"


# How is a CIEDE2000 spoken of? Own bands; the upper end of each. Two patches that touch can
# be told apart from about 1 up (common practice, no source).
_DIFFERENCES = (
    (0.5, "not to be seen"),
    (1.5, "hardly to be seen"),
    (3.0, "seen side by side"),
    (6.0, "plain to see"),
    (12.0, "a different tint"),
)


def difference_words(delta_e: float) -> str:
    """A CIEDE2000 difference in words.

    Below 0.5 "not to be seen", to 1.5 "hardly to be seen", to 3 "seen side by side",
    to 6 "plain to see", to 12 "a different tint", from 12 "another colour".

    Takes:  delta_e  CIEDE2000; finite, >= 0; scalar
    Gives:  two to four words
    Fails:  FigureError if it is negative or not finite
    Source: own bands; common practice, no source
    """
    if not (math.isfinite(delta_e) and delta_e >= 0.0):
        raise FigureError(f"a colour difference is a number from 0 up, not {delta_e}")
    return next((word for end, word in _DIFFERENCES if delta_e < end), "another colour")


_SAME = 1.0  # CIEDE2000; less is the same to the eye
_SHIFT = 1.5  # of L*, of C* or of the warm direction; less is not worth a word
_TINTED = 5.0  # C*ab from which a colour has a hue that can turn
_WARM = (math.cos(math.radians(60.0)), math.sin(math.radians(60.0)))  # towards orange


def shift_words(before: Sequence[float], after: Sequence[float]) -> str:
    """The change of a colour in words: paler or deeper, greyer or stronger, warmer or cooler.

    A change is split into lightness, distance from grey, and a turn of the hue, which is
    warmer when it goes towards orange. Between colours that are nearly grey there is no hue
    to turn: there the whole move counts as warmer or cooler.

    Takes:  before, after  L*, a*, b* with one white; finite
    Gives:  words joined with "and", or "the same to the eye"
    Fails:  FigureError if a value is not finite or beyond every colour
    Source: own bands; common practice, no source
    """
    l_1, a_1, b_1 = _checked_lab(before, "the first Lab")
    l_2, a_2, b_2 = _checked_lab(after, "the second Lab")
    if ciede2000(before, after) < _SAME:
        return "the same to the eye"
    words = []
    if abs(l_2 - l_1) >= _SHIFT:
        words.append("paler" if l_2 > l_1 else "deeper")
    turn_a, turn_b = a_2 - a_1, b_2 - b_1
    c_1, c_2 = math.hypot(a_1, b_1), math.hypot(a_2, b_2)
    if max(c_1, c_2) >= _TINTED:
        if abs(c_2 - c_1) >= _SHIFT:
            words.append("stronger" if c_2 > c_1 else "greyer")
        # what is left of the move when the nearer-to-grey colour is drawn out to the other
        share = min(c_1, c_2)
        if share > 0.0:
            turn_a = share * (a_2 / c_2 - a_1 / c_1)
            turn_b = share * (b_2 / c_2 - b_1 / c_1)
        else:
            turn_a = turn_b = 0.0
    warmth = turn_a * _WARM[0] + turn_b * _WARM[1]
    if abs(warmth) >= _SHIFT:
        words.append("warmer" if warmth > 0.0 else "cooler")
    if not words:
        return "of another tint"
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
