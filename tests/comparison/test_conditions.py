"""Conditions that went with failures: exact tests beside scipy's, and how often they are wrong."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from demo import BARLEY, MOTH
from long_run import LONG
from paths import CONTENT
from scipy import stats

from journal.comparison.failures import conditions
from journal.comparison.failures.conditions import FailurePot, conditions_of_failures
from journal.comparison.failures.derive import failure_pots, notebook_conditions
from journal.records.notebook import read_notebook

HOT = (55.0, 56.0, 57.0, 58.0, 59.0)
COOL = (50.0, 51.0, 52.0, 53.0, 54.0)


def pot(
    day: int,
    failed: bool | None,
    pour: float | None = None,
    base: str = "",
    season: str = "",
    design: str = "kelp",
    symptom: str = "lifted",
) -> FailurePot:
    return FailurePot(
        design,
        f"2026-04-{day:02d}",
        () if pour is None else (("pour", pour),),
        tuple((name, own) for name, own in (("base", base), ("season", season)) if own),
        () if failed is None else ((symptom, failed),),
    )


def test_a_number_is_tested_as_mann_and_whitney_do() -> None:
    failed, sound = (55.0, 57.0, 58.0, 59.0, 53.0), (50.0, 51.0, 52.0, 54.0, 56.0)
    pots = [pot(day, True, at) for day, at in enumerate(failed, 1)]
    pots += [pot(day, False, at) for day, at in enumerate(sound, 11)]
    (found,) = conditions_of_failures(pots)
    wanted = stats.mannwhitneyu(failed, sound, method="exact").pvalue
    assert found.p == pytest.approx(wanted)
    assert found.p_adjusted == found.p
    # The middle of all ten is 54.5: four of the five above it failed, one of the five below.
    assert found.cut == 54.5
    assert (found.above.failed, found.above.pots) == (4, 5)
    assert (found.below.failed, found.below.pots) == (1, 5)
    assert found.more_above
    assert not found.is_told


def test_kinds_are_tested_as_fisher_does_by_the_first_pot_of_each_design() -> None:
    bases = ("clear",) * 6 + ("white",) * 6
    had = (True, True, True, True, True, False, True, False, False, False, False, False)
    pots = [
        pot(day, one, base=base, design=f"design {number}")
        for number, (base, one) in enumerate(zip(bases, had, strict=True))
        # What a design had on later days does not count.
        for day, one in ((1, one), (2, not one), (3, not one))
    ]
    found = {entry.value: entry for entry in conditions_of_failures(pots)}
    assert set(found) == {"clear", "white"}
    wanted = stats.fisher_exact([[5, 1], [1, 5]]).pvalue
    assert found["clear"].p == pytest.approx(wanted)
    assert (found["clear"].above.failed, found["clear"].above.pots) == (5, 6)
    assert found["clear"].of_design


def test_within_designs_it_is_every_way_in_which_the_pots_of_each_could_have_failed() -> None:
    """All permutations by hand, and none between designs."""
    values = {"a": (50.0, 52.0, 54.0, 58.0), "b": (60.0, 61.0, 63.0, 66.0, 67.0)}
    failed = {"a": (2, 3), "b": (3, 4)}
    pots = [
        pot(day, day in failed[name], at, design=name)
        for name, own in values.items()
        for day, at in enumerate(own)
    ]

    def wins(name: str, chosen: tuple[int, ...]) -> int:
        own = values[name]
        return sum(own[i] > own[j] for i in chosen for j in range(len(own)) if j not in chosen)

    def every(name: str) -> list[int]:
        return [wins(name, one) for one in combinations(range(len(values[name])), 2)]

    sums = [a + b for a in every("a") for b in every("b")]
    seen = sum(wins(name, failed[name]) for name in values)
    tail = min(sum(s >= seen for s in sums), sum(s <= seen for s in sums))
    (found,) = conditions_of_failures(pots)
    assert found.p == pytest.approx(min(1, 2 * tail / len(sums)))


def test_many_pots_go_by_the_normal_law(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = np.random.default_rng(7)
    pots = [
        pot(day, bool(chance.random() < 0.4), round(float(at)), season=f"{at > 52}")
        for day, at in enumerate(chance.normal(52, 2, 40))
    ]  # fmt: skip
    exact = {entry.condition: entry for entry in conditions_of_failures(pots)}
    assert all(entry.exact for entry in exact.values())
    monkeypatch.setattr(conditions, "MOST_PAIRS", 10)
    near = {entry.condition: entry for entry in conditions_of_failures(pots)}
    assert not any(entry.exact for entry in near.values())
    for name, entry in near.items():
        if name != "season":
            assert entry.p == pytest.approx(exact[name].p, abs=0.02)
    had = [dict(one.failed)["lifted"] for one in pots]
    at = [dict(one.numbers)["pour"] for one in pots]
    sides = [[value for value, one in zip(at, had, strict=True) if one == side] for side in (1, 0)]
    wanted = stats.mannwhitneyu(*sides, method="asymptotic", use_continuity=False).pvalue
    assert near["pour"].p == pytest.approx(wanted)


def test_what_could_never_tell_is_not_looked_at() -> None:
    # 3 against 3 has 2 of 20 at the clearest; 4 against 4 has 2 of 70.
    few = [pot(day, day > 3, 50.0 + day) for day in range(1, 7)]
    assert conditions_of_failures(few) == ()
    assert len(conditions_of_failures([pot(day, day > 4, 50.0 + day) for day in range(1, 9)])) == 1
    # Nobody looked, or the temperature was not noted, or all are alike.
    assert conditions_of_failures([pot(day, None, 50.0 + day) for day in range(9)]) == ()
    assert conditions_of_failures([pot(day, day > 4) for day in range(9)]) == ()
    assert conditions_of_failures([pot(day, day > 4, 50.0) for day in range(9)]) == ()


def test_holm_is_over_all_that_was_looked_at() -> None:
    pots = [pot(day, day > 4, 50.0 + day) for day in range(1, 9)]
    pots += [pot(day, day > 4, 50.0 + day, symptom="bubbles") for day in range(11, 19)]
    pots += [pot(day, day % 2 > 0, 50.0 + day, symptom="bubbles") for day in range(1, 9)]
    found = conditions_of_failures(pots)
    lifted = next(entry for entry in found if entry.symptom == "lifted")
    assert lifted.p == pytest.approx(2 / 70)
    assert lifted.p_adjusted == pytest.approx(2 * 2 / 70)


def test_pots_of_a_day_count_with_the_first() -> None:
    """Two pots a day that fail alike are no more than one."""
    once = [pot(day, day > 4, 50.0 + day) for day in range(1, 9)]
    assert conditions_of_failures([*once, *once]) == conditions_of_failures(once)


def false_answers(rounds: int, seed: int) -> float:
    """How often a notebook of ten designs says something where nothing matters.

    Designs differ in how often they fail, in how hot they are poured, and drift with the season.
    """
    chance = np.random.default_rng(seed)
    told = 0
    for _ in range(rounds):
        pots = []
        for design in range(10):
            level, heat = chance.random(), chance.normal(52, 3)
            base = ("clear", "white", "goat")[int(chance.integers(3))]
            load = float(chance.random())
            for day in range(1, int(chance.integers(3, 10))):
                numbers = {
                    "pour": heat + chance.normal(0, 1.5), "room": chance.normal(20, 2),
                    "first layer": chance.normal(77, 1), "humidity": chance.random(),
                    "stood": chance.random() * 40, "load": load,
                }  # fmt: skip
                season = ("spring", "summer", "autumn")[int(chance.integers(3))]
                failed = {name: bool(chance.random() < level) for name in ("lip", "lifted", "run")}
                pots.append(
                    FailurePot(
                        f"{design}", f"{day}",
                        tuple((name, round(float(v), 2)) for name, v in numbers.items()),
                        (("base", base), ("season", season)), tuple(failed.items()),
                    )
                )  # fmt: skip
        told += any(entry.is_told for entry in conditions_of_failures(pots))
    return told / rounds


def test_seldom_says_anything_of_a_notebook_where_nothing_matters() -> None:
    rounds = 1000 if LONG else 40
    allowed = 0.05 + 2.5 * (0.05 * 0.95 / rounds) ** 0.5
    assert false_answers(rounds, 20260418) <= allowed


def test_pots_of_the_demo() -> None:
    """By hand from the write-ups: what a pot had, what was noted of it, and what is not clear."""
    notebook = read_notebook(CONTENT)
    pots = {
        name: failure_pots(notebook.settings, notebook.shelf, notebook.designs[name])
        for name in (MOTH, BARLEY)
    }
    moth = pots[MOTH]
    assert [one.day for one in moth] == sorted(one.day for one in moth)
    # Speckling is of bar B2 alone, softness of C3; the dye that bled has no pour of its own.
    assert [dict(one.failed).get("speckling") for one in moth] == [False, True, *[False] * 4]
    assert [dict(one.failed).get("soft") for one in moth] == [*[False] * 2, True, *[False] * 3]
    assert all(dict(one.failed)["lip"] for one in moth)
    assert {dict(one.kinds)["season"] for one in moth} == {"summer"}
    assert {dict(one.kinds)["base"] for one in moth} == {"clear-glycerine"}
    # The night pot of pour F: melted at 0, poured at 33 min, at 126 F.
    numbers = dict(moth[-1].numbers)
    assert numbers["first layer"] == pytest.approx((169 - 32) / 1.8)
    assert numbers["stood"] == 33
    assert numbers["pour"] == pytest.approx((126 - 32) / 1.8)
    assert numbers["humidity"] == 0.61
    found = notebook_conditions([*moth, *pots[BARLEY]])
    assert all(entry.symptom == name for name, own in found.items() for entry in own)
