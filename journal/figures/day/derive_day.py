"""The day sheet of an order: its rounds as steps by the clock, from what was written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from itertools import pairwise, zip_longest

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.derive_rounds import (
    Assumed,
    Assumption,
    cavity_resource,
    derive_round,
    piece_resource,
    pot_tasks,
)
from journal.figures.day.rounds import CHILL_PLACES, PotTask
from journal.figures.day.sheet import DaySheet, plan_day
from journal.figures.day.steps import MINUTES_A_DAY, CastingRound, WorkingHours
from journal.figures.heat.pot_rates import PotRates
from journal.records.models.write_up import variant_words
from journal.records.notebook import Notebook

# When are hands there, if nobody says? Common practice, no source.
USUAL_HOURS = WorkingHours(8 * 60, 18 * 60)


def line_title(line: OrderedLine, called: Callable[[str], str] = variant_words) -> str:
    """The title of a line: its design, and its variant where it names one."""
    return ", ".join(filter(None, (line.design.title, called(line.variant.name))))


class DayClock(Struct, frozen=True):
    """The start of the first day, minutes since midnight, and the hands' hours (None: all day)."""

    start_min: int = USUAL_HOURS.opens_min
    hours: WorkingHours | None = USUAL_HOURS


class OrderDay(Struct, frozen=True):
    """An order planned by the clock.

    ``sheet`` is None, with the reason in ``why``, where the steps fit no day.
    ``days`` counts the days that the sheet covers. ``begin_by`` is the last day to begin on,
    for the order to be done the day before it is due. ``assumed`` is what stands in
    for what no write-up says. ``pots`` are those of each round, by name.
    """

    sheet: DaySheet | None
    why: str
    rounds: tuple[CastingRound, ...]
    clock: DayClock
    days: int
    begin_by: date | None
    assumed: tuple[Assumption, ...]
    pots: tuple[Mapping[str, PotTask], ...]


def derive_day(
    notebook: Notebook,
    order: OrderFigures,
    rates: PotRates,
    clock: DayClock,
    memo: Memo = in_process_memo,
) -> OrderDay:
    """Plan all rounds of an order by the clock for one pair of hands.

    ``rates`` says how fast the studio's pots cooled; ``memo`` calls the planning, which is
    slow, so that it can be cached. Where the steps fit no day the result has no sheet,
    and ``why`` is the reason.
    """
    assumed: Assumed = {}
    rounds = rounds_of_order(notebook, order.lines, rates, assumed)
    pots = tuple(
        pot_tasks(_context(notebook, line, masses.bars), masses, rates.of(line.design.id), {})
        for line in order.lines
        for masses in line.masses
    )
    try:
        capacity = tuple(capacities(notebook, order.lines).items())
        sheet = memo(plan_day_hashable, rounds, capacity, clock)
    except FigureError as error:
        return OrderDay(
            sheet=None, why=str(error), rounds=rounds, clock=clock, days=0, begin_by=None,
            assumed=tuple(assumed), pots=pots,
        )  # fmt: skip
    days = -(-max(step.end_min for step in sheet.steps) // MINUTES_A_DAY)
    begin_by = order.order.record.due - timedelta(days=days)
    return OrderDay(
        sheet=sheet, why="", rounds=rounds, clock=clock, days=days, begin_by=begin_by,
        assumed=tuple(assumed), pots=pots,
    )  # fmt: skip


def plan_day_hashable(
    rounds: tuple[CastingRound, ...], capacity: tuple[tuple[str, int], ...], clock: DayClock
) -> DaySheet:
    """Call ``plan_day`` from arguments that can be hashed: the capacity comes in pairs."""
    return plan_day(rounds, dict(capacity), start_min=clock.start_min, hours=clock.hours)


def capacities(notebook: Notebook, lines: Sequence[OrderedLine]) -> dict[str, int]:
    """The number of each resource that rounds wait for: cavities, pieces and chill places."""
    capacity: dict[str, int] = {}
    for line in lines:
        places, context = line.places, _context(notebook, line, line.bars)
        cavity, piece = cavity_resource(context, places), piece_resource(context, places)
        # Without a mould on the shelf the cavities are as many as a round asks for.
        of_mould = places.cavities if places.cavities is not None else line.casts
        capacity[cavity] = max(capacity.get(cavity, 0), of_mould * places.moulds)
        if piece is not None:
            capacity[piece] = max(capacity.get(piece, 0), places.owned or line.casts)
    if notebook.settings.chill_places is not None:
        capacity[CHILL_PLACES] = notebook.settings.chill_places
    return capacity


def _context(notebook: Notebook, line: OrderedLine, bars: int) -> RecipeContext:
    return RecipeContext(notebook.settings, notebook.shelf, line.design, line.variant, bars)


def rounds_of_order(
    notebook: Notebook, lines: Sequence[OrderedLine], rates: PotRates, assumed: Assumed
) -> tuple[CastingRound, ...]:
    """Every round of every line as steps and holds; ``assumed`` as in ``derive_round``.

    Rounds of two lines of one design, such as of two variants, take turns.
    """
    rounds: list[CastingRound] = []
    names = iter(round_names(lines))
    in_turn: dict[str, list[list[int]]] = {}
    for line in lines:
        in_turn.setdefault(line.design.id, []).append([])
        for masses in line.masses:
            context = _context(notebook, line, masses.bars)
            rate, kind = rates.of(line.design.id), f"{line.number} {masses.bars}"
            in_turn[line.design.id][-1].append(len(rounds))
            rounds.append(
                derive_round(context, masses, line.places, rate, assumed, next(names), kind)[0]
            )
    for of_design in in_turn.values():
        turns = [place for turn in zip_longest(*of_design) for place in turn if place is not None]
        if len(of_design) > 1:
            for before, place in pairwise(turns):
                rounds[place] = replace(rounds[place], follows=before)
    return tuple(rounds)


def round_names(
    lines: Sequence[OrderedLine],
    titled: Callable[[OrderedLine], str] = line_title,
    of: str = "{name}, {n} of {all}",
) -> Iterator[str]:
    """Yield the name of every round: its line's, and which of the line's rounds it is.

    Takes:  titled  what a line is called; two of one name have their numbers behind it
            of      how a name, a number and how many there are become one text
    """
    names = [titled(line) for line in lines]
    for line, name in zip(lines, names, strict=True):
        name = f"{name} ({line.number})" if names.count(name) > 1 else name
        for number in range(1, len(line.rounds) + 1):
            rounds = len(line.rounds)
            yield of.format(name=name, n=number, all=rounds) if rounds > 1 else name
