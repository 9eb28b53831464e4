"""The day sheet of an order: its rounds as steps by the clock, from what was written."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from statistics import median

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.exact import round_half_up
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.day.derive_order import OrderedLine, OrderFigures
from journal.figures.day.rounds import (
    CHILL,
    CHILL_PLACES,
    DO,
    REST,
    UNMOULD,
    FollowingStep,
    LayerSteps,
    round_of,
    shared_minutes,
)
from journal.figures.day.sheet import DaySheet, plan_day
from journal.figures.day.steps import MINUTES_A_DAY, CastingRound, WorkingHours
from journal.figures.heat.cooling import time_to_cool
from journal.figures.heat.derive_heat import usual_room
from journal.figures.heat.pot_rates import RateLine, forecast_rate
from journal.figures.shop.cost import hands_on_minutes, median_or_none
from journal.figures.shop.derive_shop import tidying_minutes
from journal.records.models.readings import mark_of
from journal.records.models.settings import Settings
from journal.records.models.then import read_step
from journal.records.models.write_up import Design, HandsOn, Layer
from journal.records.notebook import Notebook

# When are hands there, if nobody says? Common practice, no source.
USUAL_HOURS = WorkingHours(8 * 60, 18 * 60)

# How long does what no write-up times take? Common practice, no source; the day
# sheet says which of these it took.
MELT_MIN = 20  # a pot from cold lumps to melted
COOL_MIN = 20  # from melted to the pour, where no pot was ever read
MELTED_C = 71.0  # 160 F, what a pot is taken off the heat at
POUR_MIN = 30  # hands-on minutes of a round
TIDY_MIN = 1.5  # a bar
SET_MIN = 15  # a detail on its mat, before anything is poured on it
UNMOULD_MIN = 12 * 60
KEEPS_MIN = 15  # a pot in its window
LEAST_KEEPS_MIN = 5  # a lid and a stir buy as much
SESSION_MIN = 90  # how long a layer may wait for the next one beyond its rests


class DayClock(Struct, frozen=True):
    """The start of the first day, minutes since midnight, and the hands' hours (None: all day)."""

    start_min: int = USUAL_HOURS.opens_min
    hours: WorkingHours | None = USUAL_HOURS


class OrderDay(Struct, frozen=True):
    """An order planned by the clock.

    ``sheet`` is None, with the reason in ``why``, where the steps fit no day.
    ``days`` counts the days that the sheet covers. ``begin_by`` is the last day to begin on,
    for the order to be done the day before it is due. ``assumed`` are sentences on what
    stands in for what no write-up says.
    """

    sheet: DaySheet | None
    why: str
    rounds: tuple[CastingRound, ...]
    clock: DayClock
    days: int
    begin_by: date | None
    assumed: tuple[str, ...]


def derive_day(
    notebook: Notebook,
    order: OrderFigures,
    rates: RateLine,
    clock: DayClock,
    memo: Memo = in_process_memo,
) -> OrderDay:
    """Plan all rounds of an order by the clock for one pair of hands.

    ``rates`` says how fast the studio's pots cooled; ``memo`` calls the planning, which is
    slow, so that it can be cached. Where the steps fit no day the result has no sheet,
    and ``why`` is the reason.
    """
    assumed: dict[str, None] = {}
    rounds = rounds_of_order(notebook.settings, order.lines, rates, assumed)
    try:
        capacity = tuple(capacities(notebook.settings, order.lines).items())
        sheet = memo(plan_day_hashable, rounds, capacity, clock)
    except FigureError as error:
        return OrderDay(
            sheet=None, why=str(error), rounds=rounds, clock=clock, days=0, begin_by=None,
            assumed=tuple(assumed),
        )  # fmt: skip
    days = -(-max(step.end_min for step in sheet.steps) // MINUTES_A_DAY)
    begin_by = order.order.record.due - timedelta(days=days)
    return OrderDay(
        sheet=sheet, why="", rounds=rounds, clock=clock, days=days, begin_by=begin_by,
        assumed=tuple(assumed),
    )  # fmt: skip


def plan_day_hashable(
    rounds: tuple[CastingRound, ...], capacity: tuple[tuple[str, int], ...], clock: DayClock
) -> DaySheet:
    """Call ``plan_day`` from arguments that can be hashed: the capacity comes in pairs."""
    return plan_day(rounds, dict(capacity), start_min=clock.start_min, hours=clock.hours)


def capacities(settings: Settings, lines: Sequence[OrderedLine]) -> dict[str, int]:
    """The number of each resource, where it is known: cavities, pieces and chill places."""
    capacity: dict[str, int] = {}
    for line in lines:
        places = line.places
        cavity = _cavity_resource(line)
        # Without a mould on the shelf the cavities are as many as a round asks for.
        of_mould = places.cavities if places.cavities is not None else line.casts
        capacity[cavity] = max(capacity.get(cavity, 0), of_mould * places.moulds)
        if places.resource is not None and places.owned is not None:
            capacity[places.resource] = max(capacity.get(places.resource, 0), places.owned)
    if settings.chill_places is not None:
        capacity[CHILL_PLACES] = settings.chill_places
    return capacity


def rounds_of_order(
    settings: Settings, lines: Sequence[OrderedLine], rates: RateLine, assumed: dict[str, None]
) -> tuple[CastingRound, ...]:
    """Every round of every line as steps and holds.

    Each assumption that this takes is added to ``assumed`` as a sentence, a key without a
    value; the same goes for ``assumed`` in the functions below.
    """
    rounds: list[CastingRound] = []
    for line in lines:
        several = sum(other.design.id == line.design.id for other in lines) > 1
        name = f"{line.design.title} ({line.number})" if several else line.design.title
        for number, bars in enumerate(line.rounds, start=1):
            round_name = f"{name}, {number} of {len(line.rounds)}" if len(line.rounds) > 1 else name
            rounds.append(_round(settings, line, round_name, bars, rates, assumed))
    return tuple(rounds)


def _round(
    settings: Settings,
    line: OrderedLine,
    name: str,
    bars: int,
    rates: RateLine,
    assumed: dict[str, None],
) -> CastingRound:
    """One round of a line, of so many bars, as steps and holds."""
    places = line.places
    pour_min, tidy_min = _hands_on_minutes(line, bars, assumed)
    share = bars / line.bars
    layers = [
        (layer, _steps_after_pour(line, number, assumed))
        for number, layer in enumerate(line.variant.recipe.layers)
    ]
    if settings.chill_places is None and any(
        then.kind == CHILL for _, thens in layers for then in thens
    ):
        assumed["the chiller holds all bars: the settings do not say how many"] = None
    pots = len({layer.pot_name for layer, _ in layers})
    tasks = pots + len(layers) + sum(then.kind == DO for _, thens in layers for then in thens)
    minutes = iter(shared_minutes(pour_min, tasks))
    steps: list[LayerSteps] = []
    hot: set[str] = set()
    keeps: list[int] = []
    for layer, thens in layers:
        pot = layer.pot_name
        melt_g = share * next(one.melt_g for one in line.figures.masses.pots if one.name == pot)
        room_c = usual_room(settings)
        set_min = melt_min = 0
        if pot not in hot:
            cooling_min = _cooling_minutes(line.design, layer, melt_g, room_c, rates, assumed)
            set_min, melt_min = next(minutes), MELT_MIN + cooling_min
        hot.add(pot)
        keeps.append(_keeping_minutes(layer, melt_g, room_c, rates))
        own_min = next(minutes)
        following = tuple(
            FollowingStep(DO, then.text, next(minutes)) if then.kind == DO else then
            for then in thens
        )
        steps.append(LayerSteps(layer.name, pot, set_min, melt_min, own_min, following))
    assumed[f"a pot takes {MELT_MIN} min to melt"] = None
    cavities = -(-bars // places.bars_each)
    return round_of(
        name,
        f"{line.number} {bars}",
        steps,
        tidy_min=tidy_min,
        cavity=_cavity_resource(line),
        cavities=cavities,
        piece=places.resource,
        chilled=bars,
        chill_places=settings.chill_places,
        keeps_min=min(keeps),
        session_min=SESSION_MIN,
    )


def _cavity_resource(line: OrderedLine) -> str:
    return f"cavities of {line.places.mould or line.design.title}"


def _hands_on_minutes(line: OrderedLine, bars: int, assumed: dict[str, None]) -> tuple[int, int]:
    """Whole hands-on minutes of one round of ``bars``: (pouring, unmoulding and tidying)."""
    recipe = line.variant.recipe
    hands_on = recipe.minutes or HandsOn()
    title = line.design.title
    if hands_on.pour is None:
        assumed[f"{title}: {POUR_MIN} min of pouring a round, since none is written"] = None
    a_round = line.places.bars_a_round
    written_rounds = 1 if a_round is None else -(-recipe.bars // a_round)
    measured = median_or_none(tidying_minutes(line.design, line.variant.name))
    if measured is None and hands_on.tidy is None:
        assumed[f"{title}: {TIDY_MIN} min of tidying a bar, since none was timed"] = None
    tidy = hands_on.tidy if hands_on.tidy is not None else TIDY_MIN * recipe.bars
    pour = hands_on.pour if hands_on.pour is not None else float(POUR_MIN * written_rounds)
    pour_min, tidy_min = hands_on_minutes(
        bars=bars,
        rounds=1,
        written_bars=recipe.bars,
        written_rounds=written_rounds,
        written_pour_min=pour,
        written_tidy_min=tidy,
        measured_tidy_min_a_bar=measured,
    )
    return _whole_minutes(pour_min), _whole_minutes(tidy_min)


def _whole_minutes(minutes: Fraction) -> int:
    """The minutes rounded to whole ones, half up."""
    return int(round_half_up(minutes, Fraction(1)))


def _steps_after_pour(
    line: OrderedLine, number: int, assumed: dict[str, None]
) -> tuple[FollowingStep, ...]:
    """The rests, chills, tasks and unmoulding that follow the pour of layer ``number``, from 0.

    They come from the layer's ``then``. Tasks between two waits are joined to one. Tasks after
    the last wait of the last layer, and all after an unmoulding, are left to the tidying.
    """
    layers = line.variant.recipe.layers
    layer = layers[number]
    last = number == len(layers) - 1
    steps: list[FollowingStep] = []
    tasks: list[str] = []
    for step in map(read_step, layer.then):
        is_wait = step.kind != "other" and step.minutes is not None
        if not is_wait and step.kind != "unmould":
            tasks.append(step.text)
            continue
        if tasks:
            steps.append(FollowingStep(DO, "; ".join(tasks), 0))
            tasks = []
        if step.kind == "unmould":
            minutes = math.ceil(step.minutes) if step.minutes is not None else UNMOULD_MIN
            steps.append(FollowingStep(UNMOULD, "set in the mould", minutes))
            break
        assert step.minutes is not None
        kind = CHILL if step.kind == "chill" else REST
        steps.append(FollowingStep(kind, step.text, math.ceil(step.minutes)))
    else:
        if tasks and not last:
            steps.append(FollowingStep(DO, "; ".join(tasks), 0))
    if last and not any(then.kind == UNMOULD for then in steps):
        steps.append(FollowingStep(UNMOULD, "set in the mould", UNMOULD_MIN))
        assumed[f"{line.design.title}: unmoulded after {UNMOULD_MIN // 60} h"] = None
    never_waits = all(then.kind == DO for then in steps)
    if number == 0 and not last and line.variant.recipe.mat is not None and never_waits:
        steps.insert(0, FollowingStep(REST, f"rest {SET_MIN} min", SET_MIN))
        assumed[f"{line.design.title}: the {layer.name} rests {SET_MIN} min"] = None
    return tuple(steps)


def _cooling_minutes(
    design: Design,
    layer: Layer,
    melt_g: float,
    room_c: float,
    rates: RateLine,
    assumed: dict[str, None],
) -> int:
    """Minutes from melted to the pour: as read in this design, else as the studio's pots cool.

    Without a reading: 0 where the layer has no pour window, or one that a hot pot does not
    cool to.
    """
    read_min = _read_minutes(design, layer.pot_name)
    if read_min:
        return math.ceil(median(read_min))
    if layer.pour is None or layer.pour[1] >= MELTED_C or layer.pour[1] <= room_c:
        return 0
    forecast = forecast_rate(rates, melt_g)
    if forecast is None:
        assumed[f"a pot takes {COOL_MIN} min from melted to its pour, since none was read"] = None
        return COOL_MIN
    minutes = time_to_cool(MELTED_C, room_c, forecast.rate_per_min, layer.pour[1])
    return math.ceil(minutes)


def _read_minutes(design: Design, pot: str) -> list[float]:
    """Minutes from the pot's first reading to its last marked as poured, of each pour with both."""
    minutes = []
    for pour in design.pours:
        of_pot = [reading for reading in pour.readings if reading.pot == pot]
        poured = [reading for reading in of_pot if mark_of(reading) == "poured"]
        if poured:
            minutes.append(poured[-1].minutes - of_pot[0].minutes)
    return minutes


def _keeping_minutes(layer: Layer, melt_g: float, room_c: float, rates: RateLine) -> int:
    """Whole minutes from the top of the layer's pour window to its bottom; else a usual time."""
    forecast = forecast_rate(rates, melt_g)
    if layer.pour is None or forecast is None or layer.pour[0] <= room_c:
        return KEEPS_MIN
    low, high = layer.pour
    minutes = time_to_cool(high, room_c, forecast.rate_per_min, low)
    return max(LEAST_KEEPS_MIN, math.floor(minutes))
