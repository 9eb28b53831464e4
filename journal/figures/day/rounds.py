"""The steps of one round through a mould, in the order of the hands, from its recipe.

Cards, the page of a design and day sheets are all made from these steps, so they cannot differ.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.day.steps import (
    MINUTES_A_DAY,
    CastingRound,
    ResourceHold,
    RoundStep,
    StepKind,
    StepLimit,
    WorkingHours,
    chain_min,
    length_min,
)
from journal.figures.heat.cooling import time_to_cool

CHILL_PLACES = "chill places"

# How long does what no write-up times take? Common practice, no source.
REHEAT_MIN = 3  # a warm pot back to the top of its window
COOL_MIN = 20  # from melted to a window, where no pot was ever read
KEEPS_MIN = 15  # a pot in its window, where no pot was ever read
PIECE_MIN = 1.0  # hands, to pour, scrape and spritz one piece
POURED_MIN = 0.5  # of it, until the piece is poured
BAR_MIN = 0.5  # hands, to pour the body of one bar, or to lay one piece
STIR_MIN = 2  # hands, to measure and stir in one thing
DO_MIN = 2  # hands, for one line that the maker wrote
# A pot that missed its window is reheated this far above it, to have time to stir and to carry it.
REHEAT_ABOVE_C = 5.0

# Between two rows of a table of cooling: by Newton's law a line is off by less than 0.1 min.
TABLE_STEP_C = 2.0

FollowingKind = Literal["rest", "chill", "dry", "firm", "do", "place", "set"]
# A temperature window in °C, low and high; None where it is open at that end.
Window = tuple[float | None, float | None]


class PotTask(Struct, frozen=True):
    """A pot: how long it takes to melt, and how it cools from what it is melted to.

    ``melted_c`` is what it reads when it is taken off the heat; ``rate_per_min`` the rate of
    Newton's law, None where no pot was ever read.
    """

    pot: str
    melt_min: int
    melted_c: float
    room_c: float
    rate_per_min: float | None

    def minutes_in(self, window: Window, from_c: float) -> tuple[float, float]:
        """Minutes from ``from_c`` until the pot enters and leaves a window; inf for never."""
        low, high = window
        if self.rate_per_min is None:
            enters = 0.0 if high is None or high >= from_c else float(COOL_MIN)
            return enters, math.inf if low is None else enters + KEEPS_MIN
        return (
            0.0 if high is None else self.minutes_to(high, from_c),
            math.inf if low is None else self.minutes_to(low, from_c),
        )

    def reheat_c(self, window: Window, *hotter_c: float) -> float:
        """What a pot that missed a window is reheated to: above it, never above its melting."""
        assert window[1] is not None
        return min(max((window[1] + REHEAT_ABOVE_C, *hotter_c)), self.melted_c)

    def cooling_table(self, *through_c: float) -> tuple[tuple[float, float], ...]:
        """Pairs of a temperature and the minute at which a pot with a rate cools to it.

        They go from the hottest of ``through_c``, at minute 0, to the coolest, through all of
        them, by steps so short that a line between two is within 0.1 min of the curve.
        """
        high_c, low_c = max(through_c), min(through_c)
        parts = math.ceil((high_c - low_c) / TABLE_STEP_C)
        even = (high_c - (high_c - low_c) * part / parts for part in range(1, parts))
        levels = sorted({*through_c, *even}, reverse=True)
        return tuple((level, self.minutes_to(level, high_c)) for level in levels)

    def minutes_to(self, to_c: float, from_c: float) -> float:
        """Minutes from one temperature to another, of a pot with a rate: 0 upwards, inf for never.

        Source: Newton's law
        """
        if to_c >= from_c:
            return 0.0
        if to_c <= self.room_c:
            return math.inf
        assert self.rate_per_min is not None
        return time_to_cool(from_c, self.room_c, self.rate_per_min, to_c)


class Stirring(Struct, frozen=True):
    """Something stirred into a layer's pot: the place of its entry, and its window if it has one.

    ``kind`` is "scent" for an oil, else "stir"; its places are counted by kind.
    """

    kind: Literal["stir", "scent"]
    entry: int
    window_c: Window | None = None


class FollowingStep(Struct, frozen=True):
    """A step after a pour; ``entry`` is its line of ``then``, None where the card adds it."""

    kind: FollowingKind
    minutes: int
    entry: int | None = None


class LayerTask(Struct, frozen=True):
    """A layer to pour. ``casts`` are the pieces or cavities that it is poured into.

    ``joined``: it is poured together with the layer before, without a wait between.
    """

    number: int
    pot: str
    pour_c: Window | None
    stirrings: tuple[Stirring, ...]
    then: tuple[FollowingStep, ...]
    casts: int
    in_relief: bool = False
    joined: bool = False


class RoundEnd(Struct, frozen=True):
    """What is done with a cast once it has set: the maker's lines, and what the card adds."""

    kind: StepKind
    entry: int | None = None


class RoundPlaces(Struct, frozen=True):
    """What a round takes up: cavities, pieces (None: no mat) and chill places (None: no limit)."""

    cavity: str
    cavities: int
    piece: str | None
    chilled: int
    chill_places: int | None


def shared_minutes(total: int, parts: int) -> tuple[int, ...]:
    """Share whole minutes among steps as evenly as can be, the first ones longer.

    Takes:  total  >= 0
            parts  >= 1
    Gives:  minutes a step; they sum to total
    Fails:  FigureError if either lies outside its range
    Checked: 25 over 2 gives 13 and 12
    """
    if total < 0 or parts < 1:
        raise FigureError(f"{total} min over {parts} steps: not below 0, and one step or more")
    each, over = divmod(total, parts)
    return tuple(each + (1 if place < over else 0) for place in range(parts))


def casts_in_one_heat(window_min: float, casts: int) -> int:
    """Pieces that can be poured before a pot leaves its window, one at the least.

    The last is poured by then; what is spritzed and scraped after it needs no hot pot.

    Takes:  window_min  minutes in the window; >= 0
            casts       pieces to pour; >= 1
    Source: definition, with ``PIECE_MIN``, of which ``POURED_MIN`` is the pour
    Checked: 4.6 min and six pieces: 5
    """
    if window_min >= casts * PIECE_MIN:
        return casts
    return min(casts, max(1, math.floor((window_min - POURED_MIN) / PIECE_MIN) + 1))


def minutes_in_window(step: RoundStep, ends: Sequence[int]) -> tuple[int, int] | None:
    """From when until when a step's pots are in their windows; None without a forecast of the end.

    Takes:  step   a step of the round
            ends   the minute at which each step of the round ends
    Gives:  the first whole minute and the last
    Source: definition, with the forecast in the limits of ``round_of``
    """
    found = [
        (ends[limit.step], ends[limit.step] + limit.window_min)
        for limit in step.after
        if limit.window_min is not None
    ]
    if not found:
        return None
    return max(enters for enters, _ in found), min(leaves for _, leaves in found)


def minutes_ready(step: RoundStep, ends: Sequence[int]) -> tuple[int, int] | None:
    """From when until when a pour can be made: its pots in their windows, all before it done.

    Takes:  step, ends  as of ``minutes_in_window``
    Gives:  the first whole minute and the last; None where these miss each other, or without a
            forecast
    Source: definition
    Checked: a window of 65 to 76 min, pieces laid by 69: 69 to 76
    """
    window = minutes_in_window(step, ends)
    begins = max((ends[limit.step] for limit in step.after), default=0)
    return (begins, window[1]) if window is not None and begins < window[1] else None


def days_of_rounds(one: CastingRound, rounds: int, hours: WorkingHours) -> int:
    """Days that so many rounds of one kind take, one after the other, with one set of places.

    A round begins as soon as the one before has left its cavities and pieces; what has
    set by the end of a day is unmoulded on the next.

    Takes:  rounds  >= 1
            hours   when hands are there
    Source: definition (counting)
    Checked: a round of 70 min and 12 h in the mould: 2 days; four of them: 5
    """
    day_min = hours.closes_min - hours.opens_min
    whole_min = length_min(one)
    set_min = sum(step.minutes for step in one.steps if step.kind == "set")
    a_day = max(1, day_min // max(1, whole_min))
    overnight = 0 if whole_min <= day_min else max(1, -(-set_min // MINUTES_A_DAY))
    return -(-rounds // a_day) + overnight


def round_of(
    name: str,
    kind: str,
    layers: Sequence[LayerTask],
    pots: Mapping[str, PotTask],
    ends: Sequence[RoundEnd],
    places: RoundPlaces,
    *,
    pour_min: int,
    tidy_min: int,
    session_min: int,
    long_waits: bool = False,
    in_windows: bool = True,
) -> CastingRound:
    """Build one round of its layers as steps and holds for ``plan_day``.

    A pot is set to melt in time: it is poured, and scented, while it is in the window, which the
    cooling forecast dates from the moment that it is melted. So the body's pot waits for the
    pieces, not they for it. Where the pieces take longer than a pot stays warm, that pot is
    reheated. What takes more pieces than can be poured in one heat is poured in several.
    A layer is poured at most ``session_min`` after it could have been: a skin that has dried
    overnight takes no bond. Where there are fewer chill places than pieces to chill, they chill
    in turns. Pieces are held from when they are set out, cavities from the second pour (the first
    layer lies in the piece, outside the mould) or, without pieces or with one pour, from the
    first; both until all is unmoulded and tidied.

    Takes:  name, kind    of the round; rounds of one kind are alike
            layers        in pouring order; one or more
            pots          by name, every one that a layer names
            ends          what is done once the casts have set
            pour_min      hands-on minutes up to the last pour, tidy_min after it; >= 0
            session_min   how long a layer may wait for the next one; >= 0
            long_waits    True lets a layer wait as long as what is to be done before it takes
            in_windows    False lets steps begin when their pot has left its window; with
                          ``long_waits``, any round can then be followed
    Gives:  the round
    Fails:  FigureError if there is no layer, or nothing to chill in no place
    Source: Newton's law for the windows; the order of the steps is common practice, no source
    """
    if not layers:
        raise FigureError(f"the round {name} has no layer")
    if places.chilled < 1 or (places.chill_places is not None and places.chill_places < 1):
        raise FigureError(
            f"{places.chilled} to chill in {places.chill_places} places: each must be 1 or more"
        )
    builder = _RoundBuilder(pots, places, session_min, in_windows)
    groups: list[list[LayerTask]] = []
    for layer in layers:
        if layer.joined and groups and layer.pot not in [one.pot for one in groups[-1]]:
            groups[-1].append(layer)
        else:
            groups.append([layer])
    builder.begin(layers)
    for place, group in enumerate(groups):
        after = groups[place + 1] if place + 1 < len(groups) else []
        builder.pour(group, after)
    builder.finish(ends)
    steps = _with_hands_on(builder.steps, pour_min, tidy_min)
    if long_waits:
        steps = _with_long_waits(steps)
    first_pour, second_pour = (builder.pours * 2)[:2]
    end = len(steps) - 1
    holds = list(builder.holds)
    in_pieces = places.piece is not None and len(builder.pours) > 1
    holds.append(
        ResourceHold(places.cavity, places.cavities, second_pour if in_pieces else first_pour, end)
    )
    if places.piece is not None:
        holds.append(ResourceHold(places.piece, places.cavities, 0, end))
    return CastingRound(name, kind, steps, tuple(holds))


class _RoundBuilder:
    """Collects the steps of a round, with what each waits for."""

    def __init__(
        self, pots: Mapping[str, PotTask], places: RoundPlaces, session_min: int, in_windows: bool
    ) -> None:
        self.steps: list[RoundStep] = []
        self.holds: list[ResourceHold] = []
        self.pours: list[int] = []  # the first step of each pour
        self._pots = pots
        self._places = places
        self._session_min = session_min
        self._in_windows = in_windows
        self._hot: dict[str, tuple[int, float]] = {}  # pot -> its last heating, and what it read
        self._emptied: dict[str, int] = {}  # pot -> the step that last poured from it
        self._ready: list[StepLimit] = []  # what the next pour into the pieces waits for

    def _add(self, kind: StepKind, after: Sequence[StepLimit], **fields: object) -> int:
        """Append a step; gives its place. ``minutes`` and ``hands`` are among the fields."""
        self.steps.append(RoundStep(kind, after=tuple(after), **fields))  # type: ignore[arg-type]
        return len(self.steps) - 1

    def begin(self, layers: Sequence[LayerTask]) -> None:
        """Set out what is needed, and the pieces where there is a mat."""
        first = self._add("set out", (), hands=True)
        if self._places.piece is not None:
            first = self._add("pieces", [StepLimit(first, self._session_min)], hands=True)
            if not layers[0].in_relief:
                self._melt(layers[0].pot)
                after = [StepLimit(first), StepLimit(self._hot[layers[0].pot][0])]
                minutes = math.ceil(BAR_MIN * layers[0].casts)
                first = self._add(
                    "place", after, minutes=minutes, hands=True, layers=(layers[0].number,)
                )
        # Pieces are got ready for the pour, not a day ahead of it.
        self._ready = [StepLimit(first, self._session_min)]

    def _melt(self, pot: str) -> None:
        """Melt a pot, unless it was melted before."""
        if pot in self._hot:
            return
        task = self._pots[pot]
        melt = self._add("melt", [StepLimit(0)], hands=True, pot=pot)
        heat = self._add(
            "heat", [StepLimit(melt, 0)], minutes=task.melt_min, pot=pot,
            window_c=(task.melted_c, None),
        )  # fmt: skip
        self._hot[pot] = (heat, task.melted_c)

    def _reheat(self, pot: str, to_c: float, after: Sequence[StepLimit]) -> None:
        place = self._add("reheat", after, minutes=REHEAT_MIN, pot=pot, window_c=(to_c, None))
        self._hot[pot] = (place, to_c)

    def _in_window(self, pot: str, window: Window | None, needs_min: float) -> StepLimit:
        """The step after which a pot is in a window, and how long one may wait from then on.

        The wait is to end by the middle of the window, for what the forecast misses.
        """
        hot, from_c = self._hot[pot]
        if window is None:
            return StepLimit(hot)
        enters, leaves = self._pots[pot].minutes_in(window, from_c)
        enters = 0.0 if math.isinf(enters) else enters
        slack = window_min = None
        if not math.isinf(leaves):
            window_min = max(0, math.floor(leaves) - math.ceil(enters))
            if self._in_windows:
                slack = max(0, math.floor((leaves - math.ceil(enters) - needs_min) / 2))
        if enters > 0:
            hot = self._add(
                "cool", [StepLimit(hot, 0)], minutes=math.ceil(enters), pot=pot, window_c=window
            )
        return StepLimit(hot, slack, window_min)

    def pour(self, group: Sequence[LayerTask], following: Sequence[LayerTask]) -> None:
        """Make the pots of a group of layers ready, pour them, and do what follows."""
        before = list(self._ready)
        for layer in group:
            self._melt(layer.pot)
            if layer.pot in self._emptied:
                self._reheat_if_late(layer)
            self._stir(layer)
        casts = max(layer.casts for layer in group)
        in_relief = group[0].in_relief
        each_min = PIECE_MIN if in_relief else BAR_MIN
        in_heat = casts
        if in_relief and len(group) == 1 and group[0].pour_c is not None:
            pot = self._pots[group[0].pot]
            enters, leaves = pot.minutes_in(group[0].pour_c, self._hot[pot.pot][1])
            if not math.isinf(leaves):
                # Six with room for four are three and three: none is hurried.
                heats = -(-casts // casts_in_one_heat(leaves - enters, casts))
                in_heat = -(-casts // heats)
        numbers = tuple(layer.number for layer in group)
        poured = 0
        while poured < casts:
            now = min(in_heat, casts - poured)
            minutes = math.ceil(now * each_min)
            limits = [self._in_window(one.pot, one.pour_c, minutes) for one in group]
            limits += [
                StepLimit(place) for place, step in enumerate(self.steps)
                if step.kind in ("stir", "scent") and set(step.layers) & set(numbers)
            ]  # fmt: skip
            place = self._add(
                "pour", [*before, *limits], minutes=minutes, hands=True, pot=group[0].pot,
                layers=numbers, count=now, window_c=group[0].pour_c,
            )  # fmt: skip
            if not poured:
                self.pours.append(place)
            poured += now
            before = [StepLimit(place)]
            if poured < casts:
                _, high = group[0].pour_c or (None, None)
                assert high is not None
                self._reheat(group[0].pot, high, before)
        for layer in group:
            self._emptied[layer.pot] = place
        for layer in group:
            place = self._follow(layer, place, following)
        self._ready = [StepLimit(place)]
        pour = self.pours[-1]
        waits_min = chain_min(self.steps, pour, place) - self.steps[pour].minutes
        self._ready.append(StepLimit(pour, waits_min + self._session_min))

    def _stir(self, layer: LayerTask) -> None:
        """Stir colours, additives and oils into a layer's pot, each in its window."""
        last = [StepLimit(self._emptied[layer.pot])] if layer.pot in self._emptied else []
        before_c: Window | None = None
        for one in layer.stirrings:
            # What goes in at one heat follows at once.
            if last and one.window_c is not None and one.window_c == before_c:
                limits = [StepLimit(last[0].step, 0)]
            else:
                limits = [self._in_window(layer.pot, one.window_c, STIR_MIN), *last]
            before_c = one.window_c
            place = self._add(
                one.kind, limits, minutes=STIR_MIN, hands=True, pot=layer.pot,
                layers=(layer.number,), entry=one.entry, window_c=one.window_c,
            )  # fmt: skip
            last = [StepLimit(place)]

    def _reheat_if_late(self, layer: LayerTask) -> None:
        """Reheat a pot that was drawn on before, if it is too cold once the pieces are ready."""
        pot = self._pots[layer.pot]
        if layer.pour_c is None or layer.pour_c[1] is None:
            return
        hot, from_c = self._hot[layer.pot]
        _, leaves = pot.minutes_in(layer.pour_c, from_c)
        waits_min = sum(step.minutes for step in self.steps[hot + 1 :])
        if waits_min <= leaves:
            return
        windows = [one.window_c[1] for one in layer.stirrings if one.window_c is not None]
        to_c = pot.reheat_c(layer.pour_c, *(high for high in windows if high))
        self._reheat(layer.pot, to_c, [StepLimit(self._emptied[layer.pot])])

    def _follow(self, layer: LayerTask, last: int, following: Sequence[LayerTask]) -> int:
        """The steps after a pour; gives the place of the last one."""
        for then in layer.then:
            minutes, after = then.minutes, [StepLimit(last)]
            fields: dict[str, object] = {"layers": (layer.number,), "entry": then.entry}
            if then.kind == "chill" and self._places.chill_places is not None:
                turns = -(-self._places.chilled // self._places.chill_places)
                held = min(self._places.chilled, self._places.chill_places)
                place = len(self.steps)
                self.holds.append(ResourceHold(CHILL_PLACES, held, place, place))
                minutes *= turns
            if then.kind == "place":
                # The dab is hot base, of the pot that is poured next.
                for one in following[:1]:
                    self._melt(one.pot)
                    after.append(StepLimit(self._hot[one.pot][0]))
            hands = then.kind in ("do", "place")
            if hands:
                minutes = DO_MIN if then.kind == "do" else math.ceil(BAR_MIN * layer.casts)
            last = self._add(then.kind, after, minutes=minutes, hands=hands, **fields)
        return last

    def finish(self, ends: Sequence[RoundEnd]) -> None:
        """What is done with the casts once they have set."""
        last = [self._ready[0]]
        for end in ends:
            last = [StepLimit(self._add(end.kind, last, hands=True, entry=end.entry))]


AFTER_SETTING = ("unmould", "peel", "cut", "tidy", "end", "wrap")


def _with_hands_on(
    steps: Sequence[RoundStep], pour_min: int, tidy_min: int
) -> tuple[RoundStep, ...]:
    """The steps with the hands-on minutes shared out: pours have theirs, all others alike."""
    ends = [step.kind in AFTER_SETTING for step in steps]
    open_steps = [
        place for place, step in enumerate(steps)
        if step.hands and not step.minutes and not ends[place]
    ]  # fmt: skip
    poured_min = sum(step.minutes for step in steps if step.hands)
    minutes = dict(zip(open_steps, shared_minutes(
        max(pour_min - poured_min, len(open_steps)), len(open_steps)), strict=True))  # fmt: skip
    tidied = [place for place, step in enumerate(steps) if ends[place] and step.kind != "wrap"]
    if tidied:
        minutes |= zip(tidied, shared_minutes(tidy_min, len(tidied)), strict=True)
    return tuple(
        replace(step, minutes=minutes[place]) if place in minutes else step
        for place, step in enumerate(steps)
    )


def _with_long_waits(steps: Sequence[RoundStep]) -> tuple[RoundStep, ...]:
    """The steps with each wait as long, at the least, as what is listed within it takes.

    How long a pot keeps warm is not for us to change.
    """

    def limit(place: int, one: StepLimit) -> StepLimit:
        if one.within_min is None or steps[one.step].kind in ("heat", "cool", "reheat"):
            return one
        between_min = sum(step.minutes for step in steps[one.step + 1 : place])
        return replace(one, within_min=max(one.within_min, between_min))

    return tuple(
        replace(step, after=tuple(limit(place, one) for one in step.after))
        for place, step in enumerate(steps)
    )
