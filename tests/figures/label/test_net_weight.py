"""Net weight: mean and limit on paper, loss with the days, what may be declared."""

from __future__ import annotations

import math
import statistics
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.errors import FigureError
from journal.figures.label.allowances import (
    maximum_allowable_variation_g,
    tolerable_negative_error_g,
)
from journal.figures.label.net_weight import (
    G_PER_OZ,
    Weighing,
    declare,
    fit_loss,
    loss_at,
    net_weight,
    weighings_by_bar,
)

PRINTED = 5e-4  # three places in the table
SAME = 1e-9  # what the unit of writing may change, as a share
EXACT_LAW = 1e-12  # rounding of a few products


def weighed(*weights: float, day: float = 0.0) -> list[Weighing]:
    return [Weighing(f"A{place}", day, weight) for place, weight in enumerate(weights, 1)]


ON_PAPER = [
    ((96.0, 97.0, 98.0), "97 - 1 x 4.303 / sqrt(3)", 97.0, 94.516),
    ((113.4, 112.1, 113.0, 112.6), "112.775 - 0.55603 x 3.182 / sqrt(4)", 112.775, 111.890),
    ((98.0, 97.0), "97.5 - 0.70711 x 12.706 / sqrt(2)", 97.5, 91.147),
    ((96.4, 96.4, 96.4), "96.4 - 0", 96.4, 96.4),
]


@pytest.mark.parametrize(("weights", "inputs", "mean", "lower"), ON_PAPER)
def test_mean_and_limit_on_paper(
    weights: tuple[float, ...], inputs: str, mean: float, lower: float
) -> None:
    net = net_weight(weighed(*weights), 0)
    assert net.mean_g == pytest.approx(mean, abs=PRINTED), inputs
    assert net.lower_g == pytest.approx(lower, abs=PRINTED), inputs


def test_the_limit_is_that_of_handbook_133() -> None:
    """Mean less factor x s, with the factor that Table 2-1 prints for 8, 0.836 (from memory;
    tests/reference/07-us-sampling-a.csv); mean and s by Python's statistics.
    """
    weights = [113.4, 112.1, 113.0, 112.6, 113.8, 112.9, 111.9, 113.2]
    net = net_weight(weighed(*weights), 0)
    s = statistics.stdev(weights)
    assert net.mean_g == pytest.approx(statistics.mean(weights), rel=EXACT_LAW)
    assert net.lower_g == pytest.approx(statistics.mean(weights) - 0.836 * s, abs=PRINTED)


def test_loss_on_paper() -> None:
    """100 g, then 99 g on day 4 and 98 g on day 16: 1 % / 2 = 2 % / 4 = 0.5 % a root day."""
    days = [(0, 100.0), (4, 99.0), (16, 98.0)]
    fit = fit_loss([Weighing("A1", day, weight) for day, weight in days])
    assert fit is not None
    assert fit.rate_per_sqrt_day == pytest.approx(0.005, rel=EXACT_LAW)
    assert fit.rate_low == pytest.approx(fit.rate_high, abs=EXACT_LAW)
    assert fit.last_day == 16
    day_30 = loss_at(fit, 30)
    assert day_30.share == pytest.approx(0.005 * math.sqrt(30), rel=EXACT_LAW)


def test_loss_against_a_general_least_squares() -> None:
    """One slope through the origin, over losses of two bars, with numpy's solver."""
    losses = {"A1": [(0, 98.0), (7, 97.4), (30, 96.5)], "A2": [(0, 97.0), (14, 96.0)]}
    weighings = [Weighing(bar, day, weight) for bar, days in losses.items() for day, weight in days]
    fit = fit_loss(weighings)
    assert fit is not None
    roots = np.sqrt([7.0, 30.0, 14.0])
    shares = np.array([1 - 97.4 / 98, 1 - 96.5 / 98, 1 - 96 / 97])
    (rate,), (residual,), _, _ = np.linalg.lstsq(roots[:, None], shares, rcond=None)
    error = math.sqrt(residual / 2 / float(roots @ roots))
    assert fit.rate_per_sqrt_day == pytest.approx(rate, rel=1e-9)
    # Student's t(0.975, 2) = 4.302653 (table)
    assert fit.rate_high - fit.rate_per_sqrt_day == pytest.approx(4.302653 * error, rel=1e-6)


@given(
    st.floats(0.0005, 0.02),
    st.lists(st.floats(0, 60), min_size=3, max_size=6, unique_by=lambda day: round(day, 1)),
    st.floats(40, 400),
)
def test_the_law_is_found_again_from_whatever_day_a_bar_is_first_weighed(
    rate: float, days: list[float], first_g: float
) -> None:
    weighings = [Weighing("A1", day, first_g * (1 - rate * math.sqrt(day))) for day in days]
    fit = fit_loss(weighings)
    assert fit is not None
    assert fit.rate_per_sqrt_day == pytest.approx(rate, rel=1e-6)


@pytest.mark.parametrize(
    "weighings",
    [
        [],
        weighed(98, 97, 96),
        [Weighing("A1", 0, 98), Weighing("A1", 30, 96.5)],
        [*weighed(98, 97, 96), Weighing("A1", 30, 96.5)],
    ],
    ids=["none", "each once", "one loss", "one loss among three"],
)
def test_below_three_weigh_ins_of_bars_weighed_again_there_is_no_loss(
    weighings: list[Weighing],
) -> None:
    assert fit_loss(weighings) is None
    if weighings:
        net = net_weight(weighings, 0)
        assert any(reason.startswith("no loss forecast") for reason in net.why)
        assert not net.forecast


def test_weights_move_to_the_day_of_sale() -> None:
    """Each bar from the weigh-in nearest to the day: day 16, 98 g, moved to day 25."""
    weighings = []
    for bar, first in (("A1", 100.0), ("A2", 101.0)):
        weighings += [
            Weighing(bar, day, first * (1 - 0.005 * math.sqrt(day))) for day in (0, 4, 16)
        ]
    net = net_weight(weighings, 25)
    assert net.forecast
    assert net.at_sale_g == pytest.approx((97.5, 98.475), rel=EXACT_LAW)
    assert net.mean_g == pytest.approx(100.5)
    assert "day 25 lies beyond the last weigh-in, day 16" in net.why
    on_day_4 = net_weight(weighings, 4)
    assert on_day_4.at_sale_g == pytest.approx((99.0, 99.99), rel=EXACT_LAW)
    assert not on_day_4.forecast


def test_the_doubt_of_the_loss_widens_the_limit() -> None:
    days = [(0, 100.0), (4, 99.2), (16, 98.0)]
    weighings = [Weighing("A1", day, weight) for day, weight in days]
    weighings += [Weighing("A2", day, weight + 0.1) for day, weight in days]
    near, far = net_weight(weighings, 16), net_weight(weighings, 64)
    assert near.lower_g is not None
    assert far.lower_g is not None
    assert far.mean_at_sale_g - far.lower_g > near.mean_at_sale_g - near.lower_g


def test_a_gain_is_not_counted_on() -> None:
    days = [(0, 100.0), (9, 100.6), (25, 101.0)]
    net = net_weight([Weighing("A1", day, weight) for day, weight in days], 49)
    assert net.loss is not None
    assert net.loss.rate_per_sqrt_day < 0
    assert net.at_sale_g == (101.0,)
    assert "the bars gained weight; a gain is not counted on" in net.why


def test_a_bar_weighed_twice_a_day_counts_once() -> None:
    bars = weighings_by_bar([Weighing("A1", 0, 98), Weighing("A1", 0, 97), Weighing("A1", 3, 96)])
    assert [(w.day, w.weight_g) for w in bars[0]] == [(0, 97.5), (3, 96)]


DECLARED_ON_PAPER = [
    ((96.4, 96.4, 96.4), "us", "96.4 g is 3.40042 oz", "Net Wt 3.4 oz (96 g)"),
    ((96.4, 96.4, 96.4), "eu", "96.4 g", "96 g"),
    ((96.0, 97.0, 98.0), "us", "94.516 g is 3.33396 oz", "Net Wt 3.3 oz (93 g)"),
    ((96.0, 97.0, 98.0), "eu", "94.516 g", "94 g"),
    ((461.0, 461.0), "us", "461 g is 16.2613 oz", "Net Wt 16.2 oz (1 lb 0.2 oz) 459 g"),
]


@pytest.mark.parametrize(("weights", "system", "inputs", "words"), DECLARED_ON_PAPER)
def test_declarations_on_paper(
    weights: tuple[float, ...], system: str, inputs: str, words: str
) -> None:
    assert declare(net_weight(weighed(*weights), 0), system).text == words, inputs


def test_four_ounces_are_four_ounces_through_grams() -> None:
    four = 4 * 28.349523125
    found = declare(net_weight(weighed(four, four), 0), "us")
    assert found.text == "Net Wt 4 oz (113 g)"
    assert found.declared_g == pytest.approx(four, rel=SAME)


def test_one_short_bar_holds_the_declaration_down() -> None:
    """Many bars of 113 and one of 104: the mean allows 3.9 oz, but 110.56 g less 7.26 g is
    103.31 g, so 104 g passes; one of 103 g only at 3.8 oz, 107.73 g less 7.26 g."""
    bars = [113.0] * 120
    passes = declare(net_weight(weighed(*bars, 104.0), 0), "us")
    assert passes.quantity == Fraction("3.9")
    held = declare(net_weight(weighed(*bars, 103.0), 0), "us")
    assert held.quantity == Fraction("3.8")
    # 112 g less 5.1 g (4.5 %, rounded up) is 106.9 g; 103 g passes at 107 g only (4.9 g).
    europe = declare(net_weight(weighed(*bars, 103.0), 0), "eu")
    assert europe.quantity is not None
    assert europe.quantity - tolerable_negative_error_g(europe.quantity) <= 103
    above = europe.quantity + 1
    assert above - tolerable_negative_error_g(above) > 103


def test_steps_and_systems() -> None:
    net = net_weight(weighed(96.4, 96.4), 0)
    assert declare(net, "us", Fraction(1, 4)).text == "Net Wt 3.25 oz (92 g)"
    assert declare(net, "eu", Fraction(5)).text == "95 g"
    assert declare(net, "uk", Fraction(5)).text == "95 g"
    with pytest.raises(FigureError, match="no rules"):
        declare(net, "ch")


def test_one_bar_has_no_limit_and_no_declaration() -> None:
    net = net_weight(weighed(96.4), 0)
    assert net.lower_g is None
    assert net.mean_g == 96.4
    found = declare(net, "us")
    assert found.quantity is None
    assert "it needs two weighed bars" in found.why


@pytest.mark.parametrize(
    ("weights", "system", "why"),
    [
        ((96.0, 40.0), "us", "differ too much"),
        ((2000.0, 2000.0), "us", "beyond the table"),
        ((12000.0, 12000.0), "eu", "beyond the table"),
        ((4.8, 4.8), "eu", "below 5 g"),
    ],
)
def test_no_declaration_says_why(weights: tuple[float, ...], system: str, why: str) -> None:
    found = declare(net_weight(weighed(*weights), 0), system)
    assert found.quantity is None
    assert found.text == ""
    assert why in found.why


weights_of_a_batch = st.lists(st.floats(60, 130), min_size=2, max_size=12)


@given(weights_of_a_batch)
@examples(60)
def test_what_is_declared_passes_the_inspector(weights: list[float]) -> None:
    net = net_weight(weighed(*weights), 0)
    assert net.lower_g is not None
    assert net.lower_g <= net.mean_g
    us = declare(net, "us")
    if us.declared_g is not None:
        assert us.declared_g <= net.lower_g * (1 + SAME)
        assert us.declared_g <= net.mean_g * (1 + SAME)
        assert (
            min(weights)
            >= us.declared_g - float(maximum_allowable_variation_g(us.declared_g)) - 1e-9
        )
    eu = declare(net, "eu")
    if eu.declared_g is not None:
        assert eu.declared_g <= net.lower_g * (1 + SAME)
        assert eu.declared_g <= net.mean_g * (1 + SAME)
        assert (
            min(weights) >= eu.declared_g - float(tolerable_negative_error_g(eu.declared_g)) - 1e-9
        )


@given(weights_of_a_batch)
@examples(60)
def test_the_unit_of_writing_changes_nothing(weights: list[float]) -> None:
    in_ounces = [weight / float(G_PER_OZ) for weight in weights]
    again = [ounces * float(G_PER_OZ) for ounces in in_ounces]
    one, other = net_weight(weighed(*weights), 0), net_weight(weighed(*again), 0)
    assert other.mean_g == pytest.approx(one.mean_g, rel=SAME)
    assert other.lower_g == pytest.approx(one.lower_g, rel=SAME, abs=SAME)


@pytest.mark.parametrize(
    "weighing",
    [
        Weighing("A1", -1, 96),
        Weighing("A1", math.nan, 96),
        Weighing("A1", 0, 0),
        Weighing("A1", 0, math.inf),
    ],
)
def test_weigh_ins_that_cannot_be(weighing: Weighing) -> None:
    with pytest.raises(FigureError, match="A1"):
        net_weight([weighing], 0)


def test_days_that_cannot_be() -> None:
    with pytest.raises(FigureError, match="no bar"):
        net_weight([], 0)
    with pytest.raises(FigureError, match="day of sale"):
        net_weight(weighed(96), -1)
    fast = fit_loss([Weighing("A1", day, weight) for day, weight in ((0, 100), (1, 50), (2, 29))])
    assert fast is not None
    with pytest.raises(FigureError, match="leave nothing"):
        loss_at(fast, 9)
    with pytest.raises(FigureError, match="day -1"):
        loss_at(fast, -1)
