"""Intervals against published tables, libraries, and the tests that they invert."""

from __future__ import annotations

import bisect
import csv
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from long_run import examples
from paths import REFERENCE
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from journal.comparison import intervals
from journal.comparison.intervals import (
    Interval,
    newcombe_interval,
    paired_difference,
    shares_difference,
    shift_difference,
    wilson_interval,
)
from journal.comparison.permutation import rank_sum_test, signed_rank_test
from journal.errors import FigureError

PRINTED = 5e-5  # four decimals
COMPUTED = 6e-7  # six decimals
LIBRARY = 1e-9
FEW = examples(60)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found
    return found


@pytest.mark.parametrize("row", rows("06-proportion-ci.csv"))
def test_wilson_as_published(row: dict[str, str]) -> None:
    found = wilson_interval(int(row["x"]), int(row["n"]))
    assert found.low == pytest.approx(float(row["wilson_low"]), abs=COMPUTED)
    assert found.high == pytest.approx(float(row["wilson_high"]), abs=COMPUTED)
    if row["published_wilson"]:
        low, high = map(float, row["published_wilson"].split())
        assert found.low == pytest.approx(low, abs=PRINTED)
        assert found.high == pytest.approx(high, abs=PRINTED)


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95, 0.99])
def test_wilson_agrees_with_statsmodels(confidence: float) -> None:
    for trials in range(1, 9):
        for yes in range(trials + 1):
            low, high = proportion_confint(yes, trials, 1 - confidence, "wilson")
            found = wilson_interval(yes, trials, confidence)
            assert found.low == pytest.approx(low, abs=LIBRARY)
            assert found.high == pytest.approx(high, abs=LIBRARY)


@pytest.mark.parametrize("row", rows("06-diff-proportion-ci.csv"))
def test_newcombe_as_published(row: dict[str, str]) -> None:
    x1, n1, x2, n2 = (int(row[cell]) for cell in ("x1", "n1", "x2", "n2"))
    # The table is first less second; ours is second less first.
    found = newcombe_interval(x2, n2, x1, n1)
    assert found.low == pytest.approx(float(row["newcombe10_low"]), abs=COMPUTED)
    assert found.high == pytest.approx(float(row["newcombe10_high"]), abs=COMPUTED)
    if row["pub10_low"]:
        assert found.low == pytest.approx(float(row["pub10_low"]), abs=PRINTED)
        assert found.high == pytest.approx(float(row["pub10_high"]), abs=PRINTED)


@given(st.integers(1, 30), st.integers(1, 30), st.data())
@FEW
def test_newcombe_agrees_with_statsmodels(of_a: int, of_b: int, data: st.DataObject) -> None:
    yes_a = data.draw(st.integers(0, of_a))
    yes_b = data.draw(st.integers(0, of_b))
    found = newcombe_interval(yes_a, of_a, yes_b, of_b)
    # statsmodels divides by a share of zero; its own interval is not touched by it.
    low, high = confint_proportions_2indep(
        yes_b, of_b, yes_a, of_a, method="newcomb", compare="diff", correction=False
    )
    assert found.low == pytest.approx(low, abs=LIBRARY)
    assert found.high == pytest.approx(high, abs=LIBRARY)


def test_asymmetric_table_the_right_way_round() -> None:
    # 4 of 4 against 1 of 4: the second has fewer, whichever way the table is drawn.
    found = shares_difference([(4, 4, 1, 4)])
    assert found.estimate == -0.75
    wilson_4, wilson_1 = wilson_interval(4, 4), wilson_interval(1, 4)
    low = -0.75 - math.hypot(0.25 - wilson_1.low, wilson_4.high - 1)
    high = -0.75 + math.hypot(wilson_1.high - 0.25, 1 - wilson_4.low)
    assert found.intervals[0] == Interval(pytest.approx(low), pytest.approx(high))  # type: ignore[arg-type]


@pytest.mark.parametrize("copies", [2, 5])
def test_like_strata_are_one_large_one(copies: int) -> None:
    split = shares_difference([(1, 4, 3, 5)] * copies)
    whole = shares_difference([(copies, 4 * copies, 3 * copies, 5 * copies)])
    assert split.estimate == pytest.approx(whole.estimate, abs=1e-15)
    assert split.intervals[0] is not None
    assert whole.intervals[0] is not None
    assert split.intervals[0].low == pytest.approx(whole.intervals[0].low, abs=1e-12)
    assert split.intervals[0].high == pytest.approx(whole.intervals[0].high, abs=1e-12)


def test_mantel_haenszel_difference_by_hand() -> None:
    # Weights 3 x 3 / 6 = 1.5 and 2 x 4 / 6 = 4/3; differences -1/3 and 1/4.
    found = shares_difference([(2, 3, 1, 3), (1, 2, 3, 4), (1, 5, 0, 0)])
    expected = (1.5 * (-1 / 3) + 4 / 3 * 0.25) / (1.5 + 4 / 3)
    assert found.estimate == pytest.approx(expected, abs=1e-15)


tables = st.lists(
    st.tuples(st.integers(1, 6), st.integers(1, 6)).flatmap(
        lambda n: st.tuples(
            st.integers(0, n[0]), st.just(n[0]), st.integers(0, n[1]), st.just(n[1])
        )
    ),
    min_size=1,
    max_size=5,
)


@given(tables)
@FEW
def test_shares_interval_holds_the_difference(cells: list[tuple[int, int, int, int]]) -> None:
    found = shares_difference(cells, (0.95, 0.9))
    wide, narrow = found.intervals
    assert wide is not None
    assert narrow is not None
    assert -1 <= wide.low <= narrow.low <= found.estimate <= narrow.high <= wide.high <= 1
    mirrored = shares_difference([(xb, nb, xa, na) for xa, na, xb, nb in cells])
    assert mirrored.estimate == -found.estimate
    assert mirrored.intervals[0] is not None
    assert mirrored.intervals[0].low == pytest.approx(-wide.high, abs=1e-12)


def test_permeability_of_membranes() -> None:
    # Hollander and Wolfe (1973) p. 69, R's wilcox.test with conf.int: shift 0.305,
    # 95 % interval -0.15 to 0.76 (values from memory).
    at_term = (0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46)
    earlier = (1.15, 0.88, 0.90, 0.74, 1.21)
    found = shift_difference([(earlier, at_term)])
    assert found.estimate == pytest.approx(0.305, abs=1e-12)
    assert found.intervals[0] == Interval(-0.15, 0.76)


def test_depression_scale() -> None:
    # Hollander and Wolfe (1973) p. 29; the ends are the 6th of 45 ordered means from
    # either end, for P(V <= 5) = 0.0195 and P(V <= 6) = 0.0273 with nine pairs.
    first = (1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30)
    second = (0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29)
    differences = [x - y for x, y in zip(first, second, strict=True)]
    means = sorted((x + y) / 2 for i, x in enumerate(differences) for y in differences[i:])
    found = paired_difference(differences)
    assert found.estimate == pytest.approx(means[22], abs=1e-9)
    assert found.intervals[0] is not None
    assert found.intervals[0].low == pytest.approx(means[5], abs=1e-9)
    assert found.intervals[0].high == pytest.approx(means[-6], abs=1e-9)


def test_three_against_three_has_no_95() -> None:
    found = shift_difference([((1, 2, 3), (4, 5, 6))], (0.95, 0.90))
    # 1 of 20 deals is as extreme: above a tail of 2.5 %, not above one of 5 %.
    assert found.intervals == (None, Interval(1.0, 5.0))
    assert found.estimate == 3


def test_five_pairs_have_no_95() -> None:
    found = paired_difference([1, 2, 3, 4, 5], (0.95, 0.90))
    assert found.intervals == (None, Interval(1.0, 5.0))
    assert paired_difference([1, 2, 3, 4, 5, 6]).intervals == (Interval(1.0, 6.0),)


@pytest.mark.parametrize(("n1", "n2", "place"), [(4, 4, 1), (5, 6, 4), (8, 8, 14), (10, 10, 24)])
def test_ends_are_ordered_differences(n1: int, n2: int, place: int) -> None:
    # Without ties the ends are the (U_crit + 1)-th differences from either side, U_crit
    # from the published tables of critical values.
    a = [math.sin(7 * k) for k in range(n1)]
    b = [math.sin(7 * k + 3) for k in range(n2)]
    ordered = sorted(y - x for x in a for y in b)
    found = shift_difference([(a, b)]).intervals[0]
    assert found is not None
    assert found.low == pytest.approx(ordered[place - 1], abs=1e-8)
    assert found.high == pytest.approx(ordered[-place], abs=1e-8)


def test_large_samples_take_the_order_of_the_differences(monkeypatch: pytest.MonkeyPatch) -> None:
    a = [math.sin(7 * k) for k in range(18)]
    b = [math.sin(7 * k + 3) + 0.2 for k in range(18)]
    assert len(a) * len(b) > intervals.MOST_PAIRS_INVERTED
    by_order = shift_difference([(a, b)], (0.95, 0.90))
    monkeypatch.setattr(intervals, "MOST_PAIRS_INVERTED", 1000)
    inverted = shift_difference([(a, b)], (0.95, 0.90))
    assert by_order == inverted
    monkeypatch.setattr(intervals, "MOST_PAIRS_INVERTED", 1)
    monkeypatch.setattr(intervals, "MOST_PAIRS_EXACT", 1)
    normal = shift_difference([(a, b)], (0.95, 0.90))
    ordered = sorted(y - x for x in a for y in b)
    for one, other in zip(normal.intervals, by_order.intervals, strict=True):
        assert one is not None
        assert other is not None
        places = [
            min(range(324), key=lambda i: abs(ordered[i] - end)) for end in (one.low, other.low)
        ]
        # The normal law puts the end within two places of the exact one.
        assert abs(places[0] - places[1]) <= 2


def test_many_pairs_take_the_order_of_their_means(monkeypatch: pytest.MonkeyPatch) -> None:
    differences = [math.sin(5 * k) + 0.2 for k in range(1, 24)]
    by_order = paired_difference(differences, (0.95, 0.90))
    monkeypatch.setattr(intervals, "MOST_PAIRS_INVERTED", 1000)
    assert by_order == paired_difference(differences, (0.95, 0.90))
    monkeypatch.setattr(intervals, "MOST_PAIRS_INVERTED", 1)
    monkeypatch.setattr(intervals, "MOST_SIGNS_EXACT", 1)
    normal = paired_difference(differences, (0.95, 0.90))
    means = sorted((x + y) / 2 for i, x in enumerate(differences) for y in differences[i:])
    for one, other in zip(normal.intervals, by_order.intervals, strict=True):
        assert one is not None
        assert other is not None
        places = [bisect.bisect_left(means, end - 1e-8) for end in (one.low, other.low)]
        assert abs(places[0] - places[1]) <= 2


def test_too_few_for_an_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(intervals, "MOST_PAIRS_INVERTED", 1)
    assert shift_difference([((1, 2, 3), (4, 5, 6))], (0.95, 0.90)).intervals == (
        None,
        Interval(1.0, 5.0),
    )


readings = st.lists(st.integers(0, 12).map(lambda n: n / 4), min_size=1, max_size=5)
strata = st.lists(st.tuples(readings, readings), min_size=1, max_size=3)


@given(strata)
@FEW
def test_interval_inverts_the_test(groups: list[tuple[list[float], list[float]]]) -> None:
    found = shift_difference(groups)
    interval = found.intervals[0]
    if interval is None:
        assert rank_sum_test(groups).least_p > 0.05
        return
    assert interval.low <= found.estimate <= interval.high
    for shift in (interval.low - 0.01, interval.high + 0.01, interval.low - 9, interval.high + 9):
        moved = [(a, [y - shift for y in b]) for a, b in groups]
        assert rank_sum_test(moved).p <= 0.05
    # A difference that the test does not refuse is never left outside.
    if rank_sum_test(groups).p > 0.05:
        assert interval.low <= 0 <= interval.high
    for end in (interval.low, interval.high):
        inward = 0.01 if end == interval.low else -0.01
        at_end = [
            rank_sum_test([(a, [y - s for y in b]) for a, b in groups]).p
            for s in (end, end + inward)
        ]
        assert max(at_end) > 0.05


@given(st.lists(st.integers(-8, 8).map(lambda n: n / 4), min_size=6, max_size=10))
@FEW
def test_paired_interval_inverts_the_test(differences: list[float]) -> None:
    found = paired_difference(differences)
    interval = found.intervals[0]
    assert interval is not None
    assert interval.low <= found.estimate <= interval.high
    for shift in (interval.low - 0.01, interval.high + 0.01):
        assert signed_rank_test([d - shift for d in differences]).p <= 0.05
    if signed_rank_test(differences).p > 0.05:
        assert interval.low <= 0 <= interval.high


@given(strata, st.integers(-6, 6).map(lambda n: n / 4))
@FEW
def test_interval_moves_with_the_values(
    groups: list[tuple[list[float], list[float]]], by: float
) -> None:
    one = shift_difference(groups)
    other = shift_difference([(a, [y + by for y in b]) for a, b in groups])
    assert other.estimate == pytest.approx(one.estimate + by, abs=1e-12)
    mirrored = shift_difference([(b, a) for a, b in groups])
    assert mirrored.estimate == pytest.approx(-one.estimate, abs=1e-12)
    if one.intervals[0] is None:
        assert other.intervals[0] is None
        assert mirrored.intervals[0] is None
        return
    assert other.intervals[0] is not None
    assert mirrored.intervals[0] is not None
    assert other.intervals[0].low == pytest.approx(one.intervals[0].low + by, abs=1e-12)
    assert mirrored.intervals[0].low == pytest.approx(-one.intervals[0].high, abs=1e-12)


def test_estimate_is_the_median_of_pairs_within_strata() -> None:
    # Pairs within: 2 - 1, 3 - 1 and 10 - 6: the pots' own levels drop out.
    assert shift_difference([((1,), (2, 3)), ((6,), (10,))]).estimate == 2


@given(st.integers(0, 40), st.integers(1, 40))
@FEW
def test_wilson_holds_the_share(yes: int, trials: int) -> None:
    assume(yes <= trials)
    found = wilson_interval(yes, trials)
    assert 0 <= found.low <= yes / trials <= found.high <= 1
    assert (found.low == 0) == (yes == 0)
    assert (found.high == 1) == (yes == trials)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: wilson_interval(1, 0), "1 of 0 is no share"),
        (lambda: wilson_interval(3, 2), "3 of 2 is no share"),
        (lambda: wilson_interval(-1, 2), "-1 of 2 is no share"),
        (lambda: wilson_interval(1, 2, 1.0), "a confidence of 1.0 is not between 0 and 1"),
        (lambda: newcombe_interval(2, 1, 0, 1), "2 of 1 against 0 of 1 cannot be"),
        (lambda: newcombe_interval(0, 0, 0, 1), "no stratum holds both of what is compared"),
        (lambda: shift_difference([((1,), ())]), "no stratum holds both of what is compared"),
        (
            lambda: shift_difference([((1,), (2,))], (1.5,)),
            "a confidence of 1.5 is not between 0 and 1",
        ),
        (lambda: shift_difference([((1,), (math.inf,))]), "a value of inf cannot be compared"),
        (lambda: paired_difference([]), "there is no difference to estimate"),
        (lambda: paired_difference([1.0], (0.0,)), "a confidence of 0.0 is not between 0 and 1"),
    ],
)
def test_refused(call: object, said: str) -> None:
    assert callable(call)
    with pytest.raises(FigureError, match=said):
        call()
