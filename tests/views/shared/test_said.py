"""How figures, dates and counts are said."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from journal.quantities.measuring import AskedAmount, measure
from journal.records.models.settings import Settings
from journal.records.yaml.source import parse_yaml
from journal.records.yaml.tree import WrittenTable
from journal.views.design.differs import deviations_text
from journal.views.shared.on_design import typeset_quantity
from journal.views.shared.words import (
    UnitFormatter,
    capitalised,
    count_in_words,
    count_text,
    list_text,
    long_date,
    measure_value,
    minutes,
    no_break,
    number_in_words,
    range_text,
    units_of,
    unmeasured_text,
)

US = UnitFormatter(True, (1.0, 0.1), "USD")
METRIC = UnitFormatter(False, (1.0, 0.1), "EUR")


def plain(text: object) -> str:
    return str(text).replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("us", "metric"),
    [
        (US.mass(500.0), METRIC.mass(500.0)),
        (US.volume(7.39), METRIC.volume(7.39)),
        (US.temperature(55.0), METRIC.temperature(55.0)),
        (US.temperatures(50.0, 55.56), METRIC.temperatures(50.0, 55.56)),
        (US.degrees(4.0), METRIC.degrees(4.0)),
    ],
)
def test_the_studios_own_system_comes_first(us: object, metric: object) -> None:
    assert (us.first, us.second) == (metric.second, metric.first)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("said", "text"),
    [
        (US.mass(500.0), "1 lb 1.65 oz (500 g)"),
        (METRIC.mass(500.0), "500 g (1 lb 1.65 oz)"),
        (US.mass(6.98, round_down=True), "0.245 oz (6.9 g)"),
        (METRIC.volume(7.39), "7.4 mL (1½ tsp)"),
        (METRIC.volume(7.39, round_down=True), "7.3 mL (0.24 fl oz)"),
        (US.temperatures(50.0, 55.56), "122–132 °F (50–56 °C)"),
        (US.degrees(4.0), "7 °F (4 °C)"),
        (US.length(3.0), "3 mm (0.12 in)"),
        (US.size(70.0, 50.0), "70 × 50 mm (2.76 × 1.97 in)"),
        (US.masses(102.06, 107.73), "3.6–3.8 oz (102–108 g)"),
        (METRIC.money(Decimal("7.05")), "€7.05"),
    ],
)
def test_figures_in_both_systems(said: object, text: str) -> None:
    assert plain(said) == text


def test_a_figure_and_its_unit_stay_on_one_line() -> None:
    assert " " not in US.mass(500.0).first
    assert " " not in no_break("12 drops")


def test_settings_say_which_system_comes_first() -> None:
    assert units_of(Settings(studio="A", units="metric")).us_first is False
    assert units_of(Settings(studio="A")).us_first is True


@pytest.mark.parametrize(
    ("said", "text"),
    [
        (long_date(date(2026, 4, 8)), "8 April 2026"),
        (count_text(1, "bar"), "1 bar"),
        (count_text(14, "bar"), "14 bars"),
        (count_in_words(9, "bar"), "nine bars"),
        (count_in_words(14, "bar"), "14 bars"),
        (count_in_words(6, "cavity", "cavities"), "six cavities"),
        (number_in_words(0), "none"),
        (number_in_words(3), "three"),
        (number_in_words(30), "30"),
        (list_text(["a", "b", "c"]), "a, b and c"),
        (list_text(["a"]), "a"),
        (list_text([]), ""),
        (range_text("3.6 oz", "3.8 oz"), "3.6–3.8 oz"),
        (minutes(0.8), "1 min"),
        (minutes(5.6), "5.5 min"),
        (minutes(75.2), "1 h 15 min"),
        (capitalised("set aside"), "Set aside"),
        (capitalised(""), ""),
        (measure_value(1.5, "length"), "1.5 mm"),
        (measure_value(True, "yes-no"), "yes"),
        (measure_value(4.0, "rating"), "4 of 5"),
        (measure_value(98.3, "mass"), "98.3 g"),
        (measure_value(2.0, "count"), "2"),
    ],
)
def test_dates_counts_and_measures(said: str, text: str) -> None:
    assert plain(said) == text


@pytest.mark.parametrize(
    ("written", "printed"),
    [
        ("chill 10 min at 39 F", "chill 10 min at 39 °F"),
        ("3.6-3.8 oz", "3.6–3.8 oz"),
        ("3/4 tsp/lb", "¾ tsp/lb"),
        ("2 1/2 tsp", "2½ tsp"),
        ("11/4 days", "11/4 days"),
        ("clean the ends", "clean the ends"),
        ("1900-2000 J/kgK", "1900–2000 J/kgK"),
        ("2 %, certificate of 2026-01-15", "2 %, certificate of 2026-01-15"),
        ("39 °F", "39 °F"),
        ("a 5 F-stop", "a 5 °F-stop"),
    ],
)
def test_quantities_as_they_were_written_in_print(written: str, printed: str) -> None:
    assert plain(typeset_quantity(written)) == printed


def test_what_was_done_otherwise() -> None:
    did = parse_yaml(
        "layers: {body: {fragrance: {dose: 1.5 mL}, pour: 130-140 F}}\ntrim: close\n", "x"
    )
    assert isinstance(did, WrittenTable)
    assert plain(deviations_text(did)) == (
        "fragrance dose of the body: 1.5 mL; pour of the body: 130–140 °F; trim: close"
    )


@pytest.mark.parametrize(
    ("asked", "said", "why"),
    [
        (AskedAmount("base", 85.3), "3 oz (85.3 g)", ""),
        (AskedAmount("powder", 0.9, 2.0 * 1.54), "1/2 tsp + 1/8 tsp", ""),
        (
            AskedAmount("powder", 0.09, 0.2),
            "1/8 tsp for 3 rounds",
            "less than the smallest spoon: mix it for 3 rounds at once",
        ),
        (
            AskedAmount("powder", None, 0.92),
            "1/4 tsp + 1/8 tsp for 2 rounds",
            "between two spoons: mix it for 2 rounds at once",
        ),
        (AskedAmount("base", 0.01), "–", "too little for the scales"),
    ],
)
def test_an_amount_by_its_tools(asked: AskedAmount, said: str, why: str) -> None:
    amount = measure(asked, US.tools)
    assert plain(US.measured(amount)) == said
    assert plain(unmeasured_text(amount.why) if amount.why else "") == why


def test_a_line_breaks_between_two_spoons_alone() -> None:
    amount = US.measured(measure(AskedAmount("powder", None, 3.08), US.tools))
    assert amount.first == "1/2\u00a0tsp +\u00a01/8\u00a0tsp"
