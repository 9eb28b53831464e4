"""Text of figures, dates, counts and lists, in both systems of units.

``quantities.show`` rounds every figure, once. This module puts the studio's own system
first and joins a number and its unit by a space that does not break.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Final, Literal, NamedTuple

from msgspec import Struct

from journal.figures.day.sheet import day_and_minute
from journal.figures.derive_notebook import DesignForecast
from journal.figures.label.asked import NET_WEIGHT_ASKED, AskedOfLabel
from journal.figures.label.ingredients import LabelDraft
from journal.figures.recipe.fragrance import AddingWindow
from journal.figures.shop.cost import CostGap, round_money
from journal.quantities import show
from journal.quantities.kinds import DayOrMonth, Spoon
from journal.quantities.measuring import (
    Measured,
    MeasuredAmount,
    Tools,
    Unmeasured,
    WhyNot,
    show_measured,
)
from journal.quantities.rounding import RoundingMode
from journal.quantities.units import G_PER_OZ, money_step
from journal.records.codec import digest_of
from journal.records.models.settings import USUAL_SPOONS, Settings
from journal.records.models.trim import Trim
from journal.records.models.write_up import variant_words

NO_BREAK: Final = "\u00a0"
WHOLE: Final = Decimal(1)
TENTH: Final = Decimal("0.1")
_COUNTS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip
_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


class BothUnits(NamedTuple):
    """One figure in both systems; ``second`` is empty where there is only one."""

    first: str
    second: str = ""

    def __str__(self) -> str:
        return f"{self.first} ({self.second})" if self.second else self.first


def measure_title(name: str) -> str:
    """The name of a measure as a head: "Lip", and "Fit to sell" for ``keep``."""
    return "Fit to sell" if name == "keep" else capitalised(name)


class UnitFormatter(Struct, frozen=True):
    """Writes figures in the units, steps and currency of one studio."""

    us_first: bool
    steps_g: tuple[float, ...]
    currency: str
    spoons: tuple[Spoon, ...] = USUAL_SPOONS

    @property
    def tools(self) -> Tools:
        """What the studio measures with."""
        return Tools(self.steps_g, self.spoons, self.us_first)

    def measured(self, amount: MeasuredAmount) -> BothUnits:
        """An amount as it is measured: ``3 oz``, ``85.3 g``; ``1/8 tsp for 3 rounds``; ``–``."""
        if amount.first is not None:
            second = "" if amount.second is None else measured_text(amount.second)
            return BothUnits(measured_text(amount.first), second)
        if amount.why is None or amount.why.together is None:
            return BothUnits("–")
        rounds = count_text(amount.why.rounds or 0, "round")
        return BothUnits(f"{measured_text(amount.why.together)} for {rounds}")

    def _both(self, us: str, metric: str) -> BothUnits:
        """A figure in both systems, the studio's own first."""
        us, metric = no_break(us), no_break(metric)
        return BothUnits(us, metric) if self.us_first else BothUnits(metric, us)

    @property
    def scales(self) -> tuple[str, str]:
        """The units of a scale in the two systems, the studio's own first."""
        return ("oz", "g") if self.us_first else ("g", "oz")

    def mass(self, mass_g: float, *, round_down: bool = False) -> BothUnits:
        """A mass in the steps of the studio's scales: ``3.05 oz``, ``86.5 g``."""
        steps, mode = self.steps_g, _rounding(round_down)
        us, metric = show.show_mass_us(mass_g, steps, mode), show.show_mass(mass_g, steps, mode)
        return self._both(us, metric)

    def masses(self, low_g: float, high_g: float) -> BothUnits:
        """A range of masses in both systems: ``3.6–3.8 oz``."""
        low, high = self.mass(low_g), self.mass(high_g)
        return BothUnits(*(range_text(one, other) for one, other in zip(low, high, strict=True)))

    def volume(self, volume_ml: float, *, round_down: bool = False) -> BothUnits:
        """A volume: ``1½ tsp``, ``7.4 mL``; ``round_down`` is for oils, which have limits."""
        mode = _rounding(round_down)
        us, metric = show.show_volume_us(volume_ml, way=mode), show.show_volume(volume_ml, way=mode)
        return self._both(us, metric)

    def about(self, unit: str, amount: float) -> BothUnits:
        """An estimate in a unit of the shelf (g, mL, each), in two or three figures: ``5.2 kg``."""
        if unit == "each":
            return BothUnits(show.show_number(amount, WHOLE))
        kind: Literal["mass", "volume"] = "mass" if unit == "g" else "volume"
        us, metric = (show.show_about(amount, kind, customary=one) for one in (True, False))
        return self._both(us, metric)

    def temperature(self, temperature_c: float) -> BothUnits:
        """A temperature: ``131 °F``, ``55 °C``."""
        return self._both(
            show.show_temperature_f(temperature_c), show.show_temperature_c(temperature_c)
        )

    def temperatures(self, low_c: float, high_c: float) -> BothUnits:
        """A window: ``122–132 °F``, ``50–56 °C``."""
        return self._both(
            show.show_temperatures_f(low_c, high_c), show.show_temperatures_c(low_c, high_c)
        )

    def adding_window(self, add_c: AddingWindow) -> BothUnits | None:
        """When an oil goes in: ``at 135–145 °F``, ``below 158 °F``; None where nothing says."""
        low_c, high_c = add_c
        if high_c is None:
            return None
        if low_c is None:
            word, window = "below", self.temperature(high_c)
        else:
            word, window = "at", self.temperatures(low_c, high_c)
        return BothUnits(*(f"{word} {text}" for text in window))

    def degrees(self, difference_k: float, step: Decimal = Decimal(1)) -> BothUnits:
        """A difference of temperatures, in whole degrees by default: ``7 °F``, ``4 °C``."""
        return self._both(
            f"{show.show_number(difference_k * 1.8, step)} °F",
            f"{show.show_number(difference_k, step)} °C",
        )

    def in_scale(self, temperature_c: float) -> float:
        """A temperature as a number in the studio's own scale, for a chart."""
        return temperature_c * 1.8 + 32.0 if self.us_first else temperature_c

    def other_scale(self, value: float) -> str:
        """A whole number in the other scale of temperature, from one in the studio's own."""
        other = (value - 32.0) / 1.8 if self.us_first else value * 1.8 + 32.0
        return show.show_number(other, Decimal(1))

    def mass_in_scale(self, mass_g: float) -> float:
        """A mass as a number in ``mass_unit``, for a chart."""
        return mass_g / G_PER_OZ if self.us_first else mass_g

    @property
    def mass_unit(self) -> str:
        """The unit in which charts give the mass in a pot: ``oz`` or ``g``."""
        return "oz" if self.us_first else "g"

    @property
    def degree(self) -> str:
        """The studio's own scale of temperature: ``°F`` or ``°C``."""
        return "°F" if self.us_first else "°C"

    @property
    def other_degree(self) -> str:
        """The other scale of temperature."""
        return "°C" if self.us_first else "°F"

    def length(self, length_mm: float) -> BothUnits:
        """A length: metric first in either system, since the trade cuts in millimetres."""
        return BothUnits(
            no_break(show.show_length(length_mm)), no_break(show.show_length_us(length_mm))
        )

    def size(self, width_mm: float, height_mm: float) -> BothUnits:
        """A width and a height in both systems, metric first."""
        return BothUnits(
            no_break(show.show_size(width_mm, height_mm)),
            no_break(show.show_size_us(width_mm, height_mm)),
        )

    def money(self, amount: Decimal) -> str:
        """Money in the studio's currency: ``$4.10``."""
        return no_break(show.show_money(amount, self.currency))


def cost_gap_text(units: UnitFormatter, gap: CostGap) -> str:
    """What a cost is without: the thing, what it costs where that is known, and the key to write.

    "Slate mica, some $0.01 to $0.02, for want of colourants/slate-mica: density"
    """
    named = gap.name or gap.part
    if gap.low is None or gap.high is None:
        return f"{named}, for want of {gap.needs}"
    ends = [units.money(round_money(end, units.currency)) for end in (gap.low, gap.high)]
    some = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    if round_money(gap.high, units.currency) == 0:
        some = f"less than {units.money(money_step(units.currency))}"
    return f"{named}, some {some}, for want of {gap.needs}"


# The regions whose label rules there are.
REGION_NAMES = {"us": "the United States", "eu": "the European Union", "uk": "the United Kingdom"}


def region_name(region: str) -> str:
    """A region as it stands in a sentence: ``the European Union``, ``Canada``."""
    return REGION_NAMES.get(region, region)


def region_code(region: str) -> str:
    """A region in short: ``EU``; a place whose rules are not known by its name."""
    return region.upper() if region in REGION_NAMES else region


# Letters of a label's version: one in a million labels has that of another.
_VERSION_LETTERS = 5


def draft_version(draft: LabelDraft) -> str:
    """The version of a label: another as soon as its draft lists anything else."""
    return digest_of(draft)[:_VERSION_LETTERS].upper()


def still_to_fill_in(asked: Iterable[AskedOfLabel], net: str) -> tuple[str, ...]:
    """What a label must say that a draft does not, each with its rule; ``net`` is its weight."""
    return tuple(
        f"{one.what} ({one.rule})"
        for one in asked
        if not one.has and not (net and one.what == NET_WEIGHT_ASKED)
    )


def _rounding(round_down: bool) -> RoundingMode:
    """The rounding mode: down, or else half up."""
    return "down" if round_down else "half_up"


# Why can an amount not be measured?
_WHY_NOT: Mapping[WhyNot, str] = {
    "scale": "too little for the scales",
    "spoon": "less than the smallest spoon",
    "between spoons": "between two spoons",
    "drop": "less than a drop",
    "tool": "no spoons for it, and no density to weigh it by",
}


def unmeasured_text(why: Unmeasured) -> str:
    """Why an amount cannot be measured, and what helps."""
    if why.rounds is None:
        return _WHY_NOT[why.why]
    return f"{_WHY_NOT[why.why]}: mix it for {count_text(why.rounds, 'round')} at once"


def measured_text(measured: Measured) -> str:
    """What one tool gives; a line may break between two spoons."""
    return no_break(show_measured(measured)).replace(f"{NO_BREAK}+", " +")


def units_of(settings: Settings) -> UnitFormatter:
    """The formatter for figures of the studio with these settings."""
    us_first = settings.units == "us"
    return UnitFormatter(us_first, settings.scales, settings.currency, settings.spoons)


def no_break(text: str) -> str:
    """``text`` with spaces that do not break, so that it stays on one line."""
    return text.replace(" ", NO_BREAK)


def range_text(low: str, high: str) -> str:
    """Two formatted figures as a range, their unit once: ``3.6–3.8 oz``."""
    return no_break(show.show_range(low.replace(NO_BREAK, " "), high.replace(NO_BREAK, " ")))


def percent(share: float, *, whole: bool = False, round_down: bool = False) -> str:
    """A share in per cent, on one line: ``1.09 %``."""
    return no_break(show.show_percent(share, WHOLE if whole else None, _rounding(round_down)))


def duration(minutes: float) -> str:
    """A duration, on one line: ``1 h 20 min``."""
    return no_break(show.show_duration(minutes))


def minutes(time_min: float) -> str:
    """The time of a pot, on one line: to half a minute below 10, else to a minute."""
    step = Decimal("0.5") if abs(time_min) < 10 else Decimal(1)
    return no_break(show.show_duration(time_min, step))


def long_date(day: date) -> str:
    """A date: ``18 April 2026``."""
    return no_break(f"{day.day} {_MONTHS[day.month - 1]}") + f" {day.year}"


def day_or_month(when: DayOrMonth) -> str:
    """A date, or a month: ``18 April 2026``, ``April 2026``."""
    if not when.is_month:
        return long_date(when.first)
    return no_break(f"{_MONTHS[when.first.month - 1]} {when.first.year}")


def short_date(day: date) -> str:
    """A date for tables: ``18 Apr 2026``."""
    return no_break(f"{day.day} {_MONTHS[day.month - 1][:3]} {day.year}")


def count_text(number: int, word: str, plural: str = "") -> str:
    """A count in figures, on one line: ``1 bar``, ``2 bars``."""
    return no_break(f"{number} {word if number == 1 else plural or word + 's'}")


def count_in_words(number: int, word: str, plural: str = "") -> str:
    """A count, in words up to twelve: ``one bar``, ``nine bars``, ``14 bars``."""
    return f"{_in_words(number)} {word if number == 1 else plural or word + 's'}"


def number_in_words(number: int) -> str:
    """A number, in words up to twelve: ``none``, ``one``, ``nine``, ``14``."""
    return _in_words(number) if number else "none"


def _in_words(number: int) -> str:
    """A number before a noun, in words up to twelve: ``no``, ``one``, ``14``."""
    return _COUNTS[number] if 0 <= number < len(_COUNTS) else str(number)


def capitalised(text: str) -> str:
    """``text`` with its first letter a capital."""
    return text[:1].upper() + text[1:]


def list_text(names: Sequence[str], last: str = "and") -> str:
    """Names as a list: ``a``, ``a and b``, ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def variants_text(names: Sequence[str], every: Sequence[str] = ()) -> str:
    """Variants as a list: ``close trim, dye; straight trim, dye``.

    Where they are all those of ``every`` with one choice, that choice says it: ``dye``.
    """
    for choice in names[0].split("/") if names else ():
        if {name for name in every if choice in name.split("/")} == set(names):
            return variant_words(choice)
    said = [variant_words(name) for name in names]
    return "; ".join(said) if any("," in one for one in said) else list_text(said)


def measure_value(value: float | bool, kind: str, of: int = 5) -> str:
    """One value of a bar's measure as it is shown: ``1.5 mm``, ``yes``, ``4 of 5``, ``4 min``."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if kind == "time":
        return duration(value)
    unit = {"length": " mm", "mass": " g", "rating": f" of {of}"}.get(kind, "")
    return no_break(f"{show.show_number(value, TENTH)}{unit}")


class ForecastText(Struct, frozen=True):
    """The forecast of a pot as it is shown: ``big`` is the minutes, ``says`` what they stand for.

    A page is rendered again only if this text changes: most new readings move a forecast by
    less than its rounding.
    """

    big: str
    says: str


def forecast_text(units: UnitFormatter, design: DesignForecast) -> ForecastText:
    """The forecast of a design's pot as it is printed."""
    forecast, whose = design.forecast, "design" if design.from_own_pots else "studio"
    start, target = (units.temperature(c).first for c in (forecast.start_c, forecast.target_c))
    interval = ""
    if forecast.interval_min is not None:
        interval = f" ({range_text(*map(minutes, forecast.interval_min))})"
    says = (
        f"to expect from {start} to {target}{interval} for {units.mass(forecast.mass_g).first},"
        f" as this {whose}'s pots cooled."
    )
    return ForecastText(minutes(forecast.minutes), says)


def clock_text(minute: int) -> str:
    """The time of day at a minute of the plan: ``9:05``."""
    _, rest = day_and_minute(minute)
    return f"{rest // 60}:{rest % 60:02}"


def template_trim_text(trim: Trim | None) -> str:
    """A trim in words, such as ``straight, 3 mm outside the motif``; None is the whole cavity."""
    if trim is None:
        return "as large as the cavity allows"
    if trim.kind == "close":
        return "close to the motif"
    margin = "" if trim.margin_mm is None else f", {show.show_length(trim.margin_mm)}"
    return f"straight{margin} outside the motif"
