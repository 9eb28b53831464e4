"""Number to text: each figure is rounded here, once, by the rule of ``rounding``.

Between number and unit stands a plain space and there is no thousands
separator, so that what is shown can be read again. The steps depend on the
figure before rounding; a figure that rounding carries over a limit keeps the
step that it was rounded with.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise
from typing import Final, Literal

from journal.errors import FigureError
from journal.quantities import units
from journal.quantities.rounding import (
    RoundingMode,
    decimal_of_twelve_digits,
    nice_step,
    plain_digits,
    rounded_to_step,
)

# One float division, then 12 digits: the page's script does the same.
_G_PER_OZ: Final = float(units.G_PER_OZ)
_ML_PER_FL_OZ: Final = float(units.ML_PER_FL_OZ)
_ML_PER_TSP: Final = float(units.ML_PER_TSP)
_MM_PER_IN: Final = float(units.MM_PER_IN)
_ML_PER_DROP: Final = float(units.ML_PER_DROP)

_ONE: Final = Decimal(1)
_EIGHTHS: Final = ("", " 1/8", "¼", " 3/8", "½", " 5/8", "¾", " 7/8")
# From here on grams are shown in kg and millilitres in L: five digits before the
# point are hard to read without a separator.
_LARGE: Final = Decimal(10_000)
# A measuring spoon is trusted to about 5 % (common practice, no source); a
# figure further than that from an eighth of a teaspoon is not shown in spoons.
_SPOON_ERROR: Final = Decimal("0.05")
_MOST_TSP: Final = Decimal(6)  # a fluid ounce

# How is a currency written in English? The signs of the Unicode CLDR: those of its root were read
# (CLDR::Number, releases 24 to 28); "$", "¥" and "₱", its English, are from memory. Any other
# currency has its code before the amount, or the sign that is set.
_SIGNS: Final = {
    "USD": "$", "EUR": "€", "GBP": "£", "JPY": "¥", "AUD": "A$", "BRL": "R$", "CAD": "CA$",
    "CNY": "CN¥", "HKD": "HK$", "ILS": "₪", "INR": "₹", "KRW": "₩", "MXN": "MX$", "NZD": "NZ$",
    "PHP": "₱", "TWD": "NT$", "VND": "₫",
}  # fmt: skip


# In which steps is each shown, below which size? Common practice, no source: the marks of a
# 1 mL syringe, a measuring cylinder and a jug; of a kitchen timer; of what a share is read for.
_VOLUME_STEPS: Final = (("1", "0.01"), ("100", "0.1"), ("Infinity", "1"))
_FL_OZ_STEPS: Final = (("0.1", "0.001"), ("10", "0.01"), ("Infinity", "0.1"))
_DURATION_STEPS: Final = (("10", "0.5"), ("2880", "1"), ("Infinity", "60"))
_PERCENT_STEPS: Final = (("10", "0.01"), ("Infinity", "0.1"))


def _step_of(x: Decimal, steps: Iterable[tuple[str, str]]) -> Decimal:
    """The step for a figure of the size of ``x``; ``steps`` are (upper limit, step), rising."""
    return next(Decimal(step) for limit, step in steps if abs(x) < Decimal(limit))


# A notebook shows the same temperatures, times and weights over and over. What is one number
# is one text, whether it is written 0.1 or 0.10.
@lru_cache(maxsize=16384)
def show_number(x: float | Decimal, step: Decimal, way: RoundingMode = "half_up") -> str:
    """A number rounded to ``step``, without a unit: ``0.0251``."""
    return plain_digits(rounded_to_step(x, step, way))


def mass_step_g(mass_g: float, steps_g: Sequence[float]) -> Decimal:
    """The step in which a mass is shown in grams.

    A fine scale carries little, so each scale is used for masses below a hundred
    steps of the next coarser one. With scales of 1 g and 0.1 g a mass below 100 g
    is shown to 0.1 g and any other to 1 g. The step of a scale in ounces is raised
    to the next 1, 2 or 5 times a power of ten of grams.

    Takes:  mass_g   grams; finite; scalar
            steps_g  steps of the studio's scales; grams; > 0; at least one, any order
    Gives:  grams; exact
    Fails:  FigureError if there is no step, or one is not above 0
    Source: definition
    Checked: 99.96 g with 1 g and 0.1 g gives 0.1 g; 100 g gives 1 g
    """
    return nice_step(float(_scale_step(mass_g, steps_g)))


def mass_step_oz(mass_g: float, steps_g: Sequence[float]) -> Decimal:
    """The step in which a mass is shown in ounces.

    The finest of 1, 2, 5 times a power of ten that is not finer than the scale:
    0.05 oz for a scale of 1 g, 0.005 oz for 0.1 g.

    Takes:  as ``mass_step_g``
    Gives:  ounces; exact
    Fails:  as ``mass_step_g``
    Source: definition
    Checked: 500 g with 1 g and 0.1 g gives 0.05 oz
    """
    return nice_step(float(_scale_step(mass_g, steps_g)) / _G_PER_OZ)


def _scale_step(mass_g: float, steps_g: Sequence[float]) -> Decimal:
    """The step in g of the scale that a mass is weighed on; the rule is in ``mass_step_g``."""
    steps = _sorted_steps(tuple(steps_g))
    mass = abs(decimal_of_twelve_digits(mass_g))
    for step, coarser in pairwise(steps):
        if mass < 100 * coarser:
            return step
    return steps[-1]


# A studio has one set of scales; "about" has three steps of its own.
@lru_cache(maxsize=64)
def _sorted_steps(steps_g: tuple[float, ...]) -> tuple[Decimal, ...]:
    """The steps in g, the finest first; FigureError if there is none, or one is not above 0."""
    steps = tuple(sorted(decimal_of_twelve_digits(step) for step in steps_g))
    if not steps or steps[0] <= 0:
        raise FigureError(f"the steps of the scales must be above 0, not {list(steps_g)}")
    return steps


def show_mass(mass_g: float, steps_g: Sequence[float], way: RoundingMode = "half_up") -> str:
    """A mass in the steps of the studio's scales: ``86.5 g``, ``12.345 kg``."""
    return _cached_mass_text(mass_g, tuple(steps_g), way)


@lru_cache(maxsize=4096)
def _cached_mass_text(mass_g: float, steps_g: tuple[float, ...], way: RoundingMode) -> str:
    """The text of ``show_mass``, cached: a tuple of steps can be a key, a list cannot."""
    return rounded_mass_text(rounded_to_step(mass_g, mass_step_g(mass_g, steps_g), way))


def rounded_mass_text(grams: Decimal) -> str:
    """A mass that is rounded already, in g: ``86.5 g``, ``12.345 kg``."""
    return _in_large_unit(grams, "g", "kg")


def _in_large_unit(rounded: Decimal, unit: str, thousand: str) -> str:
    """A rounded figure in its unit, or in the one that is a thousand times as large."""
    if abs(rounded) >= _LARGE:
        return f"{plain_digits(rounded / 1000)} {thousand}"
    return f"{plain_digits(rounded)} {unit}"


def show_mass_us(mass_g: float, steps_g: Sequence[float], way: RoundingMode = "half_up") -> str:
    """A mass in customary units: ``3.05 oz``, ``4 lb 5.2 oz``."""
    return _cached_mass_text_us(mass_g, tuple(steps_g), way)


@lru_cache(maxsize=4096)
def _cached_mass_text_us(mass_g: float, steps_g: tuple[float, ...], way: RoundingMode) -> str:
    """The text of ``show_mass_us``, cached."""
    return rounded_mass_text_us(
        rounded_to_step(mass_g / _G_PER_OZ, mass_step_oz(mass_g, steps_g), way)
    )


def rounded_mass_text_us(ounces: Decimal) -> str:
    """A mass that is rounded already, in oz: ``3.05 oz``, ``4 lb 5.2 oz``."""
    pounds, rest = divmod(abs(ounces), 16)
    sign = "−" if ounces < 0 else ""
    if not pounds:
        return f"{sign}{plain_digits(rest)} oz"
    return f"{sign}{plain_digits(pounds)} lb" + (f" {plain_digits(rest)} oz" if rest else "")


def show_volume(
    volume_ml: float, way: RoundingMode = "half_up", step: Decimal | None = None
) -> str:
    """A volume in mL: to 0.01 below 1 mL, 0.1 below 100 mL, else 1 mL.

    These are the marks of a 1 mL syringe, a measuring cylinder, a jug.
    """
    return rounded_volume_text(rounded_to_step(volume_ml, step or volume_step_ml(volume_ml), way))


def volume_step_ml(volume_ml: float) -> Decimal:
    """The step in mL in which a volume is shown, by the rule of ``show_volume``."""
    return _step_of(decimal_of_twelve_digits(volume_ml), _VOLUME_STEPS)


def rounded_volume_text(millilitres: Decimal) -> str:
    """A volume that is rounded already, in mL: ``7.4 mL``, ``12.345 L``."""
    return _in_large_unit(millilitres, "mL", "L")


def show_volume_us(volume_ml: float, way: RoundingMode = "half_up") -> str:
    """A volume in customary units: ``1½ tsp``, ``7/8 tsp``, else ``0.35 fl oz``.

    Spoons are used below 6 tsp where an eighth of a teaspoon lies within 5 %.
    A fluid ounce is shown to 0.001 below 0.1, to 0.01 below 10, else to 0.1.
    """
    tsp = decimal_of_twelve_digits(volume_ml / _ML_PER_TSP)
    eighths = int(rounded_to_step(tsp * 8, _ONE, way))
    if eighths > 0 and tsp < _MOST_TSP and abs(Decimal(eighths) / 8 - tsp) <= _SPOON_ERROR * tsp:
        whole, part = divmod(eighths, 8)
        return f"{whole or ''}{_EIGHTHS[part]} tsp".lstrip()
    ounces = decimal_of_twelve_digits(volume_ml / _ML_PER_FL_OZ)
    return f"{show_number(ounces, _step_of(ounces, _FL_OZ_STEPS), way)} fl oz"


# What an estimate is shown in, the larger unit first, with how much of g or mL it is.
_ABOUT: Final = {
    ("mass", False): (("kg", 1000.0), ("g", 1.0)),
    ("mass", True): (("lb", float(units.G_PER_LB)), ("oz", _G_PER_OZ)),
    ("volume", False): (("L", 1000.0), ("mL", 1.0)),
    ("volume", True): (("fl oz", _ML_PER_FL_OZ),),
}


def show_about(amount: float, kind: Literal["mass", "volume"], *, customary: bool) -> str:
    """An estimate in two or three figures, the third after a 1: ``5.2 kg``, ``13.4 lb``.

    Takes:  amount     g or mL; >= 0
            customary  whether in US units
    """
    sizes = _ABOUT[kind, customary]
    unit, size = next((one for one in sizes if amount >= one[1]), sizes[-1])
    number = decimal_of_twelve_digits(amount / size)
    if not number:
        return f"0 {unit}"
    first = number.adjusted()
    figures = 3 if number.scaleb(-first) < 2 else 2
    return f"{show_number(number, Decimal(1).scaleb(first - figures + 1))} {unit}"


def drops_text(drops: Decimal) -> str:
    """A whole number of drops: ``1 drop``, ``12 drops``."""
    return f"{plain_digits(drops)} {'drop' if drops == 1 else 'drops'}"


def show_times(number: int) -> str:
    """How often: ``once``, ``twice``, ``3 times``."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def show_temperature_f(temperature_c: float) -> str:
    """A temperature in whole degrees Fahrenheit: ``131 °F``."""
    return f"{show_number(units.c_to_f(temperature_c), _ONE)} °F"


def show_temperature_c(temperature_c: float) -> str:
    """A temperature in whole degrees Celsius: ``55 °C``."""
    return f"{show_number(temperature_c, _ONE)} °C"


def show_temperatures_f(low_c: float, high_c: float) -> str:
    """A window in whole degrees Fahrenheit, both ends half up: ``122–132 °F``.

    Rounding inwards could close a narrow window, and half a degree is less
    than a thermometer tells.
    """
    return show_range(show_temperature_f(low_c), show_temperature_f(high_c))


def show_temperatures_c(low_c: float, high_c: float) -> str:
    """A window in whole degrees Celsius, both ends half up: ``50–56 °C``."""
    return show_range(show_temperature_c(low_c), show_temperature_c(high_c))


def show_length(length_mm: float, step: Decimal = Decimal("0.1")) -> str:
    """A length in mm: ``1.5 mm``."""
    return f"{show_number(length_mm, step)} mm"


def show_length_us(length_mm: float, step: Decimal = Decimal("0.01")) -> str:
    """A length in inches: ``3.15 in``."""
    return f"{show_number(length_mm / _MM_PER_IN, step)} in"


def show_size(width_mm: float, height_mm: float) -> str:
    """Width and height: ``80 × 55 mm``."""
    return f"{show_length(width_mm).removesuffix(' mm')} × {show_length(height_mm)}"


def show_size_us(width_mm: float, height_mm: float) -> str:
    """Width and height: ``3.15 × 2.17 in``."""
    return f"{show_length_us(width_mm).removesuffix(' in')} × {show_length_us(height_mm)}"


def show_duration(minutes: float, step: Decimal | None = None) -> str:
    """A duration: ``45 s``, ``5.5 min``, ``1 h 20 min``, ``3 days 4 h``.

    To a second below 1 min, half a minute below 10 min, a minute below 48 h,
    else to an hour; ``step`` is another step, in minutes.
    """
    exact = decimal_of_twelve_digits(minutes)
    if step is None and abs(exact) < 1:
        seconds = rounded_to_step(minutes * 60, _ONE)
        if 0 < abs(seconds) < 60:
            return f"{plain_digits(seconds)} s"
    shown = rounded_to_step(minutes, step or _step_of(exact, _DURATION_STEPS))
    sign = "−" if shown < 0 else ""
    # Whole numbers are divided as such: of longer ones than its precision Decimal has no rest.
    whole = int(abs(shown))
    hours, odd_minutes = divmod(whole, 60)
    days, odd_hours = divmod(hours, 24)
    rest = odd_minutes + (abs(shown) - whole)
    if abs(shown) >= 2880 and not rest:
        parts = [f"{days} days", f"{odd_hours} h" if odd_hours else ""]
    else:
        parts = [f"{hours} h" if hours else "", f"{plain_digits(rest)} min" if rest else ""]
    return sign + (" ".join(filter(None, parts)) or "0 min")


def show_percent(share: float, step: Decimal | None = None, way: RoundingMode = "half_up") -> str:
    """A share in per cent: ``33.3 %``, ``2.91 %``, ``0.0123 %``.

    To 0.1 from 10 %, to 0.01 from 0.1 %, below that to three digits, but never
    finer than 0.000001: the limits for allergens are small. ``step`` is another step, in per cent.
    """
    exact = decimal_of_twelve_digits(share * 100)
    if step is None:
        step = _step_of(exact, _PERCENT_STEPS)
        if 0 < abs(exact) < Decimal("0.1"):
            step = Decimal((0, (1,), max(exact.adjusted() - 2, -6)))
    return f"{show_number(exact, step, way)} %"


def show_money(amount: Decimal, currency: str) -> str:
    """Money as English writes its currency: ``$4.10``, ``−£0.43``, ``CHF 1.20``."""
    value = rounded_to_step(amount, units.money_step(currency))
    sign = _SIGNS.get(currency, f"{currency} " if currency.isalpha() else currency)
    return f"{'−' if value < 0 else ''}{sign}{abs(value):f}"


def show_range(low: str, high: str) -> str:
    """Two shown figures as one: ``3.6–3.8 oz``, ``1 lb to 1 lb 2 oz``.

    One figure alone where both are shown alike.
    """
    if low == high:
        return low
    low_number, _, low_unit = low.partition(" ")
    high_number, _, high_unit = high.partition(" ")
    if low_unit != high_unit or "−" in low + high or " " in low_unit.removeprefix("fl "):
        return f"{low} to {high}"
    return f"{low_number}–{high_number}" + (f" {low_unit}" if low_unit else "")
