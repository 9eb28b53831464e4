"""Exact tests against SciPy, published tables, and every deal counted one by one."""

from __future__ import annotations

import csv
import itertools
import math
from collections import Counter
from fractions import Fraction

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from paths import REFERENCE

from journal.comparison import permutation
from journal.comparison.laws import convolved_counts, cumulative_counts, doubled_ranks
from journal.comparison.permutation import conditional_exact_test, rank_sum_test, signed_rank_test
from journal.errors import FigureError

EXACT = 1e-12  # the same whole numbers, divided once
LIBRARY = 1e-9  # SciPy multiplies floats up

# Every deal is counted, which takes long enough; no deadline on a busy machine.
FEW = examples(40)

# Small lattices make ties frequent.
readings = st.lists(st.integers(0, 4).map(lambda n: n / 2), min_size=1, max_size=4)
strata = st.lists(st.tuples(readings, readings), min_size=1, max_size=2)


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        found = list(csv.DictReader(lines))
    assert found
    return found


def fisher_rows() -> list[dict[str, str]]:
    return [row for row in rows("06-two-by-two.csv") if row["test"] == "fisher"]


@pytest.mark.parametrize(
    "row", fisher_rows(), ids=lambda row: f"{row['case']} {row['alternative']}"
)
def test_fisher_as_published(row: dict[str, str]) -> None:
    a, b, c, d = (int(row[cell]) for cell in "abcd")
    found = conditional_exact_test([(a, a + b, c, c + d)])
    # "greater" means more yes in the first row, so the second label has fewer.
    p = {"two-sided": found.p, "greater": found.at_most, "less": found.at_least}
    assert p[row["alternative"]] == pytest.approx(float(row["p_value"]), abs=5e-9)


def test_tea_tasting_by_hand() -> None:
    # Fisher 1935: 4 cups of each kind, all named right: 1 of 70 ways.
    assert conditional_exact_test([(4, 4, 0, 4)]).at_most == pytest.approx(1 / 70, rel=EXACT)
    assert conditional_exact_test([(3, 4, 1, 4)]).at_most == pytest.approx(17 / 70, rel=EXACT)


def test_three_of_three_against_none() -> None:
    found = conditional_exact_test([(3, 3, 0, 3)])
    assert found.p == pytest.approx(0.1, rel=EXACT)
    assert found.excess == -1.5
    assert found.least_p == pytest.approx(0.1, rel=EXACT)


def test_four_of_four_against_one_of_four() -> None:
    # 5 yes among 8: C(4,4) C(4,1) = 4 of 56 ways as far out, and 4 on the other side.
    found = conditional_exact_test([(4, 4, 1, 4)])
    assert found.p == pytest.approx(8 / 56, rel=EXACT)
    assert found.at_most == pytest.approx(4 / 56, rel=EXACT)
    # The transposed table has other margins: 4 against 4, of which 4 and 1.
    assert conditional_exact_test([(4, 5, 0, 3)]).at_most == pytest.approx(4 / 56, rel=EXACT)
    assert conditional_exact_test([(4, 5, 0, 3)]).p == pytest.approx(8 / 56, rel=EXACT)
    assert conditional_exact_test([(1, 4, 4, 4)]).excess == -found.excess > 0


def test_strata_that_cancel_favour_neither() -> None:
    # 1 less 2/3 and 1 less 4/3: a third more and a third fewer than chance, which floats
    # leave a last digit apart.
    assert conditional_exact_test([(0, 1, 1, 2), (1, 1, 1, 2)]).excess == 0


@pytest.mark.parametrize("of_a", range(1, 7))
@pytest.mark.parametrize("of_b", range(1, 7))
def test_fisher_agrees_with_scipy(of_a: int, of_b: int) -> None:
    for yes_a in range(of_a + 1):
        for yes_b in range(of_b + 1):
            found = conditional_exact_test([(yes_a, of_a, yes_b, of_b)])
            table = [[yes_a, of_a - yes_a], [yes_b, of_b - yes_b]]
            assert found.p == pytest.approx(scipy.stats.fisher_exact(table)[1], abs=LIBRARY)
            greater = scipy.stats.fisher_exact(table, alternative="greater")[1]
            assert found.at_most == pytest.approx(greater, abs=LIBRARY)


def test_penicillin_in_rabbits() -> None:
    # Mantel (1963), Table 1; the example of R's mantelhaen.test, which gives the
    # exact conditional p as 0.040 and 0.020 (read); further places are from memory.
    levels = [(0, 5, 0, 6), (0, 6, 3, 6), (2, 6, 6, 6), (6, 6, 5, 6), (5, 5, 2, 2)]
    levels = [(late, of_late, soon, of_soon) for late, of_late, soon, of_soon in levels]
    found = conditional_exact_test(levels)
    assert found.p == pytest.approx(0.03994, abs=5e-6)
    assert found.at_least == pytest.approx(0.01997, abs=5e-6)


def dealt(trials: int, chosen: int) -> itertools.combinations[tuple[int, ...]]:
    return itertools.combinations(range(trials), chosen)


def all_sums(
    groups: list[tuple[list[float], list[float]]], pooled_sum: bool
) -> tuple[list[Fraction], Fraction]:
    """The sum for every deal of the labels, and for the deal that was made."""
    per_stratum: list[list[Fraction]] = []
    made = Fraction(0)
    for a, b in groups:
        pooled = [*a, *b]
        sums = []
        for picks in dealt(len(pooled), len(b)):
            second = [pooled[i] for i in picks]
            first = [pooled[i] for i in range(len(pooled)) if i not in picks]
            sums.append(_sum(first, second, pooled_sum))
        per_stratum.append(sums)
        made += _sum(a, b, pooled_sum)
    return [sum(parts, Fraction(0)) for parts in itertools.product(*per_stratum)], made


def _sum(first: list[float], second: list[float], pooled_sum: bool) -> Fraction:
    if pooled_sum:
        return Fraction(sum(second))
    wins = Fraction(0)
    for x, y in itertools.product(first, second):
        wins += Fraction(1) if y > x else Fraction(1, 2) if y == x else Fraction(0)
    return wins


@FEW
@given(strata)
def test_ranks_by_every_deal(groups: list[tuple[list[float], list[float]]]) -> None:
    sums, made = all_sums(groups, pooled_sum=False)
    found = rank_sum_test(groups)
    low = sum(s <= made for s in sums) / len(sums)
    high = sum(s >= made for s in sums) / len(sums)
    assert found.at_most == pytest.approx(low, rel=EXACT)
    assert found.at_least == pytest.approx(high, rel=EXACT)
    assert found.p == pytest.approx(min(1, 2 * min(low, high)), rel=EXACT)
    mean = sum(sums, Fraction(0)) / len(sums)
    assert found.excess == pytest.approx(float(made - mean), abs=EXACT)


answers = st.lists(st.booleans(), min_size=1, max_size=4)


@FEW
@given(st.lists(st.tuples(answers, answers), min_size=1, max_size=2))
def test_counts_by_every_deal(groups: list[tuple[list[bool], list[bool]]]) -> None:
    as_numbers = [([float(x) for x in a], [float(x) for x in b]) for a, b in groups]
    sums, made = all_sums(as_numbers, pooled_sum=True)
    chance = Counter(sums)
    rare = sum(ways for ways in chance.values() if ways <= chance[made])
    found = conditional_exact_test([(sum(a), len(a), sum(b), len(b)) for a, b in groups])
    assert found.p == pytest.approx(rare / len(sums), rel=EXACT)
    assert found.at_most == pytest.approx(sum(s <= made for s in sums) / len(sums), rel=EXACT)
    assert found.at_least == pytest.approx(sum(s >= made for s in sums) / len(sums), rel=EXACT)
    assert found.least_p <= found.p + EXACT


@FEW
@given(strata)
def test_labels_swapped(groups: list[tuple[list[float], list[float]]]) -> None:
    one = rank_sum_test(groups)
    other = rank_sum_test([(b, a) for a, b in groups])
    assert other.p == one.p
    assert (other.at_most, other.at_least) == (one.at_least, one.at_most)
    assert other.excess == -one.excess


@pytest.mark.parametrize("row", rows("06-mann-whitney-critical.csv"))
def test_critical_values(row: dict[str, str]) -> None:
    n1, n2 = int(row["n1"]), int(row["n2"])
    below = cumulative_counts([((1,) * (n1 + n2), n2)])
    # Twice the pairs won is even without ties; U of them is at 2 U.
    critical = [u for u in range(n1 * n2 + 1) if 2 * below[2 * u] <= 0.05 * below[-1]]
    published = row["published_0.05"]
    assert (str(critical[-1]) if critical else "") == published
    assert 2 / below[-1] == pytest.approx(float(row["smallest_two_sided_p"]), abs=5e-7)


def test_laws_by_hand() -> None:
    assert convolved_counts([(1, 1), (1, 1)], 4) == [1, 2, 1]
    assert doubled_ranks([5, 7, 5]) == (3, 6, 3)
    # 2 against 2: won pairs 0, 1, 2 (twice), 3, 4; doubled, and summed up.
    assert cumulative_counts([((1, 1, 1, 1), 2)]) == (1, 1, 2, 2, 4, 4, 5, 5, 6)


def test_ages_in_the_manual() -> None:
    # Example of scipy.stats.mannwhitneyu: U 17 and 3, exact p 0.1111.
    men, women = (19, 22, 16, 29, 24), (20, 11, 17, 12)
    found = rank_sum_test([(men, women)])
    assert found.p == pytest.approx(1 / 9, rel=EXACT)
    assert found.excess == 3 - 10


def test_permeability_of_membranes() -> None:
    # Hollander and Wolfe (1973) p. 69, the example of R's wilcox.test:
    # W = 35, one-sided p 0.1272 (R's output, found in public copies).
    at_term = (0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46)
    earlier = (1.15, 0.88, 0.90, 0.74, 1.21)
    theirs = scipy.stats.mannwhitneyu(at_term, earlier, method="exact", alternative="greater")
    assert (theirs.statistic, theirs.pvalue) == pytest.approx((35, 0.1272), abs=5e-5)
    found = rank_sum_test([(at_term, earlier)])
    assert found.at_most == pytest.approx(0.1272, abs=5e-5)
    assert found.excess == 15 - 25


@pytest.mark.parametrize(("n1", "n2"), [(1, 1), (1, 5), (3, 3), (4, 7), (8, 8), (12, 9)])
def test_mann_whitney_agrees_with_scipy(n1: int, n2: int) -> None:
    # A fixed order without ties for each size, and its mirror image.
    values = [math.sin(7 * k) for k in range(n1 + n2)]
    a, b = values[:n1], values[n1:]
    expected = scipy.stats.mannwhitneyu(b, a, method="exact")
    assert rank_sum_test([(a, b)]).p == pytest.approx(expected.pvalue, abs=LIBRARY)
    less = scipy.stats.mannwhitneyu(b, a, method="exact", alternative="less").pvalue
    assert rank_sum_test([(a, b)]).at_most == pytest.approx(less, abs=LIBRARY)


@pytest.mark.parametrize("n", [1, 5, 6, 9, 14])
def test_signed_ranks_agree_with_scipy(n: int) -> None:
    differences = [math.sin(5 * k) + 0.2 for k in range(1, n + 1)]
    expected = scipy.stats.wilcoxon(differences, method="exact").pvalue
    assert signed_rank_test(differences).p == pytest.approx(expected, abs=LIBRARY)


def test_depression_scale() -> None:
    # Hollander and Wolfe (1973) p. 29, the example of R's wilcox.test, paired:
    # V = 40, one-sided p 0.01953 (R's output, found in public copies).
    first = (1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30)
    second = (0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29)
    theirs = scipy.stats.wilcoxon(first, second, method="exact", alternative="greater")
    assert (theirs.statistic, theirs.pvalue) == pytest.approx((40, 0.01953), abs=5e-6)
    found = signed_rank_test([x - y for x, y in zip(first, second, strict=True)])
    assert found.at_least == pytest.approx(0.01953, abs=5e-6)
    assert found.excess == 40 - 22.5


@FEW
@given(st.lists(st.integers(-3, 3).map(lambda n: n / 2), min_size=1, max_size=7))
def test_signs_by_every_pattern(differences: list[float]) -> None:
    found = signed_rank_test(differences)
    kept = [d for d in differences if d]
    if not kept:
        assert found.p == 1
        return
    ranks = scipy.stats.rankdata([abs(d) for d in kept])
    made = sum(r for r, d in zip(ranks, kept, strict=True) if d > 0)
    sums = [
        sum(r for r, up in zip(ranks, signs, strict=True) if up)
        for signs in itertools.product((False, True), repeat=len(kept))
    ]
    low = sum(s <= made for s in sums) / len(sums)
    high = sum(s >= made for s in sums) / len(sums)
    assert found.p == pytest.approx(min(1, 2 * min(low, high)), rel=EXACT)


def test_one_pair_a_stratum_is_the_sign_test() -> None:
    pairs = [((float(k),), (k + 1.0,)) for k in range(6)]
    assert rank_sum_test(pairs).p == pytest.approx(2 / 2**6, rel=EXACT)


def test_same_shift_twice_is_a_tie() -> None:
    # They differ in their last bit.
    assert 1.5 - 1.2 != 0.3
    assert signed_rank_test([1.5 - 1.2, -0.3]).excess == 0


def test_dealt_at_random_beyond_the_limit() -> None:
    a = [math.sin(7 * k) for k in range(61)]
    b = [math.sin(7 * k + 3) + 0.45 for k in range(61)]
    assert len(a) * len(b) > permutation.MOST_PAIRS_EXACT
    found = rank_sum_test([(a, b)])
    assert found == rank_sum_test([(a, b)])
    assert found.error is not None
    assert 0 < found.error < 0.005
    exact = scipy.stats.mannwhitneyu(a, b, method="exact").pvalue
    # Four standard errors: the seed is fixed, so that this cannot come and go.
    assert found.p == pytest.approx(exact, abs=4 * found.error)
    assert rank_sum_test([(a[:60], b[:60])]).error is None


def test_strata_dealt_at_random_agree_with_counting(monkeypatch: pytest.MonkeyPatch) -> None:
    groups = [((1.0, 2.5, 2.5, 0.5), (2.0, 3.0, 2.5)), ((0.5, 1.0), (1.0, 2.0, 0.0))]
    exact = rank_sum_test(groups)
    monkeypatch.setattr(permutation, "MOST_PAIRS_EXACT", 1)
    found = rank_sum_test(groups)
    assert found.error is not None
    assert found.p == pytest.approx(exact.p, abs=4 * found.error)
    assert found.excess == exact.excess
    # A tail's error is half of that of p, at most half of 1 / sqrt(19 999).
    for tail in ("at_most", "at_least"):
        assert getattr(found, tail) == pytest.approx(getattr(exact, tail), abs=4 * 0.0036)
    # What was seen counts as one of 20 000 deals: no p is below twice that.
    assert found.least_p == pytest.approx(1e-4, rel=EXACT)


def test_the_rarest_deal_of_all() -> None:
    low, high = list(range(61)), list(range(100, 161))
    found = rank_sum_test([(low, high)])
    assert (found.p, found.at_least, found.at_most) == pytest.approx((1e-4, 5e-5, 1.0), rel=EXACT)
    # 2 sqrt(t (1 - t) / 19 999) with t = 1 / 20 000.
    assert found.error == pytest.approx(1.0e-4, rel=1e-4)
    # All 61 x 61 pairs are won, of which chance wins half.
    assert found.excess == 61 * 61 / 2
    level = rank_sum_test([([1.0] * 61, [1.0] * 61)])
    assert (level.p, level.at_least, level.at_most, level.error) == (1, 1, 1, 0)


def test_signs_dealt_at_random_beyond_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    differences = [math.sin(5 * k) + 0.2 for k in range(1, 41)]
    exact = signed_rank_test(differences)
    assert exact.error is None
    monkeypatch.setattr(permutation, "MOST_SIGNS_EXACT", 39)
    found = signed_rank_test(differences)
    assert found.error is not None
    assert found.p == pytest.approx(exact.p, abs=4 * found.error)
    assert found.excess == exact.excess
    assert found == signed_rank_test(differences)


def test_a_stratum_with_one_label_says_nothing() -> None:
    both = ((1.0, 2.0), (3.0, 4.0))
    assert rank_sum_test([both, ((), (9.0,)), ((9.0,), ())]) == rank_sum_test([both])
    assert conditional_exact_test([(1, 2, 2, 2), (0, 0, 3, 3)]) == conditional_exact_test(
        [(1, 2, 2, 2)]
    )


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: rank_sum_test([]), "no stratum holds both of what is compared"),
        (lambda: rank_sum_test([((1.0,), ())]), "no stratum holds both of what is compared"),
        (lambda: rank_sum_test([((1.0,), (math.nan,))]), "a value of nan cannot be compared"),
        (lambda: conditional_exact_test([]), "no stratum holds both of what is compared"),
        (lambda: conditional_exact_test([(1, 0, 1, 1)]), "1 of 0 against 1 of 1 cannot be"),
        (
            lambda: conditional_exact_test([(0, 0, 1, 1)]),
            "no stratum holds both of what is compared",
        ),
        (lambda: signed_rank_test([]), "there is no difference to test"),
        (lambda: signed_rank_test([math.inf]), "a value of inf cannot be compared"),
    ],
)
def test_refused(call: object, said: str) -> None:
    assert callable(call)
    with pytest.raises(FigureError, match=said):
        call()
