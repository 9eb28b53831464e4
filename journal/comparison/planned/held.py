"""What was done, held against the plan: where each bar lay, what was peeled and poured first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import count

from msgspec import Struct
from msgspec.structs import replace

from journal.comparison.observed import ObservedBar
from journal.comparison.planned.layout import PlannedPot, PlannedTest, laid_out
from journal.comparison.trials import level_of


class HeldPlan(Struct, frozen=True):
    """Bars of a planned test with their blocks, and where it was not kept, as ends of a sentence.

    With ``deviations`` the bars have no blocks: then the plan says nothing of their order.
    """

    bars: tuple[ObservedBar, ...]
    deviations: tuple[str, ...]


def held_against(test: PlannedTest, bars: Sequence[ObservedBar]) -> HeldPlan:
    """Hold bars against the plan of their test.

    Takes:  test  as it was planned
            bars  all that were poured since the question was asked
    """
    if test.by == "pots":
        blocks, deviations = _pots_held(test, bars)
    else:
        blocks, deviations = _bars_held(test, bars)
    if deviations:
        return HeldPlan(tuple(bars), deviations)
    # What the plan leaves free is compared with nothing.
    return HeldPlan(
        tuple(replace(bar, block=blocks.get(bar.row, f"free {bar.row}")) for bar in bars), ()
    )


def _pours(bars: Sequence[ObservedBar]) -> list[list[ObservedBar]]:
    """The bars of each pour, in the order of pouring."""
    pours: dict[str, list[ObservedBar]] = {}
    for bar in sorted(bars, key=lambda bar: (bar.poured_on, bar.row)):
        pours.setdefault(bar.pour, []).append(bar)
    return list(pours.values())


def cavities_of(bars: Sequence[ObservedBar]) -> dict[int, ObservedBar]:
    """The bars of a pour by cavity; those without a number lie in the free ones in their order."""
    placed = {bar.at: bar for bar in bars if bar.at is not None}
    free = (cavity for cavity in count(1) if cavity not in placed)
    return placed | {next(free): bar for bar in bars if placed.get(bar.at or 0) is not bar}


def pots_poured(test: PlannedTest, bars: Sequence[ObservedBar]) -> int:
    """How many pots of a test are poured, of all bars since the question was asked.

    Checked: two pours of both variants are two pots, or four where a pot holds one
    """
    return len(bars_of_pots(test, bars))


def bars_of_pots(
    test: PlannedTest, bars: Sequence[ObservedBar]
) -> tuple[dict[int, ObservedBar], ...]:
    """The bars of each pot of a test that is poured, by cavity, in the order of the plan.

    Takes:  bars  all that were poured since the question was asked
    """
    pots = [own for _, own in _whole_pots(test, bars)] if test.by == "pots" else _pours(bars)
    return tuple(cavities_of(own) for own in pots)


def _bars_held(
    test: PlannedTest, bars: Sequence[ObservedBar]
) -> tuple[dict[int, str], tuple[str, ...]]:
    """The block of each bar by its row, and deviations, where both lie in one pot."""
    pours = _pours(bars)
    blocks: dict[int, str] = {}
    deviations: list[str] = []
    for pot, own in zip(laid_out(test, len(pours)), pours, strict=True):
        lay = cavities_of(own)
        wrong: dict[int, tuple[str, str]] = {}
        for one in pot.cavities:
            bar = lay.get(one.cavity)
            if bar is None or one.block is None:
                continue
            blocks[bar.row] = f"{one.block}"
            level = level_of(bar, test.group)
            if level != one.variant:
                wrong[one.cavity] = level, one.variant
        words = [_wrong_words(wrong)] if wrong else []
        words += _wrong_peeling(pot, lay)
        if words:
            deviations.append(f"pour {own[0].pour}: {', and '.join(words)}")
    return blocks, tuple(deviations)


def _wrong_words(wrong: Mapping[int, tuple[str, str]]) -> str:
    """Which cavities had something else: "cavities 3 and 4 were swapped"."""
    if len(wrong) == 2:
        (one, of_one), (other, of_other) = wrong.items()
        if of_one == of_other[::-1]:
            return f"cavities {one} and {other} were swapped"
    if len(wrong) == 1:
        ((cavity, (had, planned)),) = wrong.items()
        return f"cavity {cavity} had {had or 'another variant'}, not {planned}"
    return f"{len(wrong)} cavities had another variant"


def _wrong_peeling(pot: PlannedPot, lay: Mapping[int, ObservedBar]) -> Iterator[str]:
    """Yield which cavity was peeled before its turn, of those whose place was noted."""
    places = [
        (bar.peeled, one.peeled, one.cavity)
        for one in pot.cavities
        if one.block is not None
        and one.peeled is not None
        and (bar := lay.get(one.cavity))
        and bar.peeled is not None
    ]
    planned = sorted((meant, cavity) for _, meant, cavity in places)
    for (_, _, was), (_, meant) in zip(sorted(places), planned, strict=True):
        if was != meant:
            yield f"cavity {was} was peeled before cavity {meant}"
            return


def _whole_pots(
    test: PlannedTest, bars: Sequence[ObservedBar]
) -> list[tuple[str, list[ObservedBar]]]:
    """The pots that hold one variant each, with its name, in the order of pouring."""
    pots: dict[tuple[str, str], list[ObservedBar]] = {}
    for bar in sorted(bars, key=lambda bar: (bar.poured_on, bar.row)):
        level = level_of(bar, test.group)
        if level in test.compared:
            pots.setdefault((bar.pour, level), []).append(bar)
    return [(level, own) for (_, level), own in pots.items()]


def _pots_held(
    test: PlannedTest, bars: Sequence[ObservedBar]
) -> tuple[dict[int, str], tuple[str, ...]]:
    """The block of each bar by its row, and deviations, where a pot holds one variant."""
    done = _whole_pots(test, bars)
    plan = laid_out(test, len(done))
    blocks = {
        bar.row: f"{planned.day}"
        for planned, (_, own) in zip(plan, done, strict=True)
        for bar in own
    }
    return blocks, tuple(_wrong_days(test, plan, done))


def _wrong_days(
    test: PlannedTest, plan: Sequence[PlannedPot], done: Sequence[tuple[str, Sequence[ObservedBar]]]
) -> Iterator[str]:
    """Yield where the pots of a day were others than planned, or came in another order."""
    for first in range(0, len(done), test.blocked):
        planned = [pot.variant for pot in plan[first : first + test.blocked]]
        had = done[first : first + test.blocked]
        day = had[0][1][0].poured_on
        if any(own[0].poured_on != day for _, own in had):
            yield f"{' and '.join(planned)} were not poured on one day ({day})"
        elif [level for level, _ in had] != planned[: len(had)]:
            yield f"on {day} {had[0][0]} came first, not {planned[0]}"
