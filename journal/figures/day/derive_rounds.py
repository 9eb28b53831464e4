"""The steps of a round of a recipe, from what was written."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from itertools import product
from typing import Literal

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.exact import round_half_up
from journal.figures.day import rounds
from journal.figures.day.sheet import DaySheet, plan_round
from journal.figures.day.steps import CastingRound, StepKind
from journal.figures.heat.derive_heat import usual_room
from journal.figures.heat.pot_rates import RateLine, forecast_rate
from journal.figures.pieces.derive_pieces import CastingPlaces, things_owned
from journal.figures.recipe.derive_layers import (
    RecipeMasses,
    adding_window,
    layer_bases,
    recipe_masses,
)
from journal.figures.recipe.derive_leftovers import held_g, overpour_g
from journal.figures.recipe.layers import most_poured_g
from journal.figures.shop.cost import hands_on_minutes, median_or_none
from journal.figures.shop.derive_shop import tidying_minutes
from journal.records.models.then import WaitStep, read_step, says
from journal.records.models.write_up import HandsOn, Layer

# How long does what no write-up times take? Common practice, no source; the day
# sheet says which of these it took.
MELT_MIN = 20  # a pot from cold lumps to melted
MELTED_C = 71.0  # 160 F, what a pot is taken off the heat at
POUR_MIN = 30  # hands-on minutes of a round
TIDY_MIN = 1.5  # a bar
SET_MIN = 15  # a detail on its mat, before anything is poured on it
UNMOULD_MIN = 12 * 60
SESSION_MIN = 90  # how long a layer may wait for the next one beyond its rests


class Assumption(Struct, frozen=True):
    """What a plan takes for want of something written: of which design and layer, how long.

    What goes for all designs has no ``title``.
    """

    what: Literal[
        "chiller", "melt", "waits", "reheat", "pour", "tidy", "cool", "rest", "unmould"
    ]  # fmt: skip
    title: str = ""
    layer: str = ""
    minutes: float = 0.0


Assumed = dict[Assumption, None]


def derive_round(
    context: RecipeContext,
    masses: RecipeMasses,
    places: CastingPlaces,
    rates: RateLine,
    assumed: Assumed,
    name: str = "",
    kind: str = "",
    dew_min: int = 0,
) -> tuple[CastingRound, DaySheet]:
    """The steps and holds of one round of a recipe, and the plan of it alone.

    Takes:  masses   of the bars of this round
            rates    how fast the pots cooled that speak for this design
            assumed  what stands in for what is not written is added as keys
            dew_min  minutes that a chilled piece stands until no dew is left on it
    """
    bars = masses.bars
    pour_min, tidy_min = _hands_on_minutes(context, places, bars, assumed)
    casts = -(-bars // places.bars_each)
    layers = tuple(_layer_tasks(context, casts, dew_min, assumed))
    if context.settings.chill_places is None and any(
        then.kind == "chill" for layer in layers for then in layer.then
    ):
        assumed[Assumption("chiller")] = None
    pots = pot_tasks(context, masses, rates, assumed)
    assumed[Assumption("melt", minutes=float(MELT_MIN))] = None
    build = partial(
        rounds.round_of,
        name or context.design.title,
        kind or context.design.id,
        layers,
        pots,
        tuple(_ends(context, places.bars_each)),
        rounds.RoundPlaces(
            cavity=cavity_resource(context, places), cavities=casts,
            piece=piece_resource(context, places),
            chilled=casts, chill_places=context.settings.chill_places,
        ),
        pour_min=pour_min, tidy_min=tidy_min, session_min=SESSION_MIN,
    )  # fmt: skip
    title = context.design.title
    # The first that can be followed: what takes hours to set out may wait for them; so small a
    # pot that it is out of its window before the hands are there is warmed again.
    for in_windows, long_waits in product((True, False), (False, True)):
        one = build(in_windows=in_windows, long_waits=long_waits)
        try:
            sheet = plan_round(one)
        except FigureError:
            continue
        if long_waits:
            assumed[Assumption("waits", title, minutes=float(SESSION_MIN))] = None
        if not in_windows:
            assumed[Assumption("reheat", title)] = None
        return one, sheet
    raise AssertionError("any round can be followed that may wait and be out of its windows")


class RoundLimit(Struct, frozen=True):
    """Bars of a full round, None without a limit; what limits them: "cavities", "pieces", "jugs",
    or "embeds", the cavities of the mould of an embed.

    ``jug_bars`` are the bars that the largest jug holds the base of, None where no jug is written;
    ``with_pieces`` those of a full round if pieces were no limit, None without another.
    """

    bars: int | None
    by: str
    jug_bars: int | None = None
    with_pieces: int | None = None


def round_limit(context: RecipeContext, places: CastingPlaces) -> RoundLimit:
    """How many bars a round may have: by its cavities, those of its embeds, pieces and jugs."""
    limits = {
        "cavities": places.cavities and places.cavities * places.bars_each,
        "pieces": places.owned and places.owned * places.bars_each,
        "embeds": _bars_of_embeds(context),
    }
    jug_bars = None
    if context.settings.jugs:
        jug_bars = max(1, math.floor(_bars_in_jug(context, max(context.settings.jugs))))
        limits["jugs"] = jug_bars
    known = {by: bars for by, bars in limits.items() if bars}
    if not known:
        return RoundLimit(None, "", jug_bars)
    by = min(known, key=lambda one: known[one])
    others = [bars for one, bars in known.items() if one != "pieces"]
    return RoundLimit(known[by], by, jug_bars, min(others, default=None))


def _bars_of_embeds(context: RecipeContext) -> int | None:
    """How many bars the moulds of embeds fill at once; None without such a mould."""
    moulds = (context.shelf.moulds.get(layer.mould or "") for layer in context.recipe.layers)
    known = [
        mould.bars * max(1, things_owned(mould))
        for mould in moulds
        if mould is not None and mould.bars is not None
    ]
    return min(known, default=None)


def _bars_in_jug(context: RecipeContext, jug_ml: float) -> float:
    """How many bars each pot can be poured for out of a jug that holds its melt."""
    masses, waste = recipe_masses(context), context.settings.waste
    found = []
    for pot in masses.pots:
        layers = [masses.layer(name) for name in pot.layers]
        base_g = sum(layer.base_g_per_bar for layer in layers)
        melt_g = jug_ml * base_g / sum(layer.volume_ml_per_bar for layer in layers)
        poured_g = base_g + overpour_g(context.recipe, pot.name, 1)
        found.append(most_poured_g(melt_g, waste.share, waste.least) / poured_g)
    # Seven bars are seven, if a float has it a last digit below.
    return min(found) + 1e-9


def cavity_resource(context: RecipeContext, places: CastingPlaces) -> str:
    """The name of the cavities that rounds of a recipe wait for."""
    return f"cavities of {places.mould or context.design.title}"


def piece_resource(context: RecipeContext, places: CastingPlaces) -> str | None:
    """The name of the pieces that rounds of a recipe wait for; None without a mat."""
    mat = context.recipe.mat
    return None if mat is None else places.resource or f"pieces of {mat} for {context.design.title}"


def _hands_on_minutes(
    context: RecipeContext, places: CastingPlaces, bars: int, assumed: Assumed
) -> tuple[int, int]:
    """Whole hands-on minutes of one round of ``bars``: (pouring, unmoulding and tidying)."""
    recipe, title = context.recipe, context.design.title
    hands_on = recipe.minutes or HandsOn()
    if hands_on.pour is None:
        assumed[Assumption("pour", title, minutes=float(POUR_MIN))] = None
    a_round = places.bars_a_round
    written_rounds = 1 if a_round is None else -(-recipe.bars // a_round)
    measured = median_or_none(tidying_minutes(context.design, context.variant.name))
    if measured is None and hands_on.tidy is None:
        assumed[Assumption("tidy", title, minutes=float(TIDY_MIN))] = None
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


def pot_tasks(
    context: RecipeContext, masses: RecipeMasses, rates: RateLine, assumed: Assumed
) -> dict[str, rounds.PotTask]:
    """How each pot of a round melts and cools; arguments as of ``derive_round``."""
    return {
        pot.name: _pot_task(
            context, pot.name,
            held_g(context.settings, context.recipe, pot, masses.bars), rates, assumed,
        )
        for pot in masses.pots
    }  # fmt: skip


def _pot_task(
    context: RecipeContext, pot: str, mass_g: float, rates: RateLine, assumed: Assumed
) -> rounds.PotTask:
    """How a pot melts and cools: to the top of its hottest window, and by the pots that were read.

    It is never melted hotter than the least temperature at which one of its bases scorches.
    """
    layers = [layer for layer in context.recipe.layers if layer.pot_name == pot]
    tops = [layer.pour[1] for layer in layers if layer.pour is not None]
    windows = [adding_window(context.shelf, oil) for la in layers for oil in la.fragrance]
    tops += [high for low, high in windows if low is not None and high is not None]
    melted_c = min([max([MELTED_C, *tops]), *scorching_c(context, layers)])
    rate = forecast_rate(rates, mass_g)
    if rate is None:
        assumed[Assumption("cool", minutes=float(rounds.COOL_MIN))] = None
    return rounds.PotTask(
        pot, MELT_MIN, melted_c, usual_room(context.settings), rate.rate_per_min if rate else None
    )


def scorching_c(context: RecipeContext, layers: list[Layer]) -> list[float]:
    """The temperatures in °C at which the bases of some layers begin to scorch, those known."""
    bases = {base for layer in layers for base, _ in layer_bases(context, layer)}
    ranges = (context.shelf.bases[base].scorches for base in sorted(bases))
    return [ends[0] for ends in ranges if ends is not None]


def last_in_relief(context: RecipeContext) -> int:
    """The place of the last layer that is poured into the relief; -1 if none is, or no mat."""
    layers = context.recipe.layers
    if context.recipe.mat is None or len(layers) < 2:
        return -1
    for number, layer in enumerate(layers[:-1]):
        if any(says(text, "place") for text in layer.then) and layer.mould is None:
            return number
    return next((number for number, layer in enumerate(layers) if layer.mould is None), -1)


def _layer_tasks(
    context: RecipeContext, casts: int, dew_min: int, assumed: Assumed
) -> Iterator[rounds.LayerTask]:
    """The layers of the recipe as tasks of a round."""
    layers, in_relief = context.recipe.layers, last_in_relief(context)
    for number, layer in enumerate(layers):
        before = layers[number - 1] if number else None
        stirrings = [rounds.Stirring("stir", place) for place in range(len(layer.dosed))]
        stirrings += [
            rounds.Stirring("scent", place, adding_window(context.shelf, oil))
            for place, oil in enumerate(layer.fragrance)
        ]
        yield rounds.LayerTask(
            number=number,
            pot=layer.pot_name,
            pour_c=layer.pour,
            stirrings=tuple(stirrings),
            then=tuple(_steps_after_pour(context, number, dew_min, assumed)),
            casts=casts,
            in_relief=number <= in_relief,
            joined=before is not None and number - 1 > in_relief and not _waits(before),
        )


def _waits(layer: Layer) -> bool:
    """Whether a rest or a chill follows the layer's pour."""
    return any(read_step(text).kind in ("rest", "chill") for text in layer.then)


def _lines_at_end(context: RecipeContext) -> range:
    """The lines of the last layer's ``then`` that are done once the bars have set."""
    then = context.recipe.layers[-1].then
    for line, text in enumerate(then):
        if read_step(text).kind == "unmould":
            return range(line + 1, len(then))
    first = len(then)
    while first and any(says(then[first - 1], topic) for topic in ("peel", "cut", "tidy")):
        first -= 1
    return range(first, len(then))


def _steps_after_pour(
    context: RecipeContext, number: int, dew_min: int, assumed: Assumed
) -> Iterator[rounds.FollowingStep]:
    """What follows the pour of layer ``number``, from the layer's ``then``.

    Left out are lines that say how it is poured (``lines_of_pour``), and those of
    the end (``_lines_at_end``).
    """
    layers = context.recipe.layers
    layer, last, in_relief = layers[number], number == len(layers) - 1, last_in_relief(context)
    ends = _lines_at_end(context) if last else range(0)
    if number <= in_relief and not _waits(layer):
        yield rounds.FollowingStep("firm", SET_MIN)
        assumed[Assumption("rest", context.design.title, layer.name, float(SET_MIN))] = None
    placed = set_aside = False
    poured = lines_of_pour(context, number)
    for line, text in enumerate(layer.then):
        step = read_step(text)
        if line in ends or line in poured:
            continue
        if step.kind == "unmould":
            yield rounds.FollowingStep("set", _unmould_minutes(step), line)
            set_aside = True
        elif step.kind in ("rest", "chill") and step.minutes is not None:
            kind: rounds.FollowingKind = "chill" if step.kind == "chill" else "rest"
            yield rounds.FollowingStep(kind, math.ceil(step.minutes), line)
            if kind == "chill" and number <= in_relief and dew_min:
                yield rounds.FollowingStep("dry", dew_min)
        elif number <= in_relief and says(text, "place"):
            placed = True
            yield rounds.FollowingStep("place", 0, line)
        else:
            yield rounds.FollowingStep("do", 0, line)
    if number == in_relief and not placed:
        yield rounds.FollowingStep("place", 0)
    if last and not set_aside:
        yield rounds.FollowingStep("set", UNMOULD_MIN)
        assumed[Assumption("unmould", context.design.title, minutes=float(UNMOULD_MIN))] = None


def lines_of_pour(context: RecipeContext, number: int) -> tuple[int, ...]:
    """The lines of a layer's ``then`` that say how it is poured, not what is done afterwards.

    They begin with "pour"; or the next layer is poured together with this one, which does not wait.
    """
    layers = context.recipe.layers
    layer = layers[number]
    joined = last_in_relief(context) < number < len(layers) - 1 and not _waits(layer)
    return tuple(
        line
        for line, text in enumerate(layer.then)
        if says(text, "pour") or (joined and read_step(text).kind == "other")
    )


def _unmould_minutes(step: WaitStep) -> int:
    return UNMOULD_MIN if step.minutes is None else math.ceil(step.minutes)


def _ends(context: RecipeContext, bars_each: int) -> Iterator[rounds.RoundEnd]:
    """What is done once the bars have set: the maker's lines, and what she left unsaid."""
    then = context.recipe.layers[-1].then
    lines = _lines_at_end(context)
    unsaid: list[StepKind] = []
    if context.recipe.mat is not None and not any(says(then[line], "peel") for line in lines):
        unsaid.append("peel")
    yield rounds.RoundEnd("unmould")
    yield from map(rounds.RoundEnd, unsaid)
    yield from (rounds.RoundEnd("end", line) for line in lines)
    if bars_each > 1 and not any(says(then[line], "cut") for line in lines):
        yield rounds.RoundEnd("cut")
    if not any(says(then[line], "tidy") for line in lines):
        yield rounds.RoundEnd("tidy")
    yield rounds.RoundEnd("wrap")
