"""The steps of a round as sentences, with their amounts, their windows and how one knows them done.

Cards, the page of a design and day sheets say them by the same functions.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_card import CardFigures
from journal.figures.day.derive_rounds import last_in_relief, lines_of_pour, scorching_c
from journal.figures.day.rounds import PotTask, minutes_ready
from journal.figures.day.sheet import TimedStep
from journal.figures.day.steps import RoundStep
from journal.figures.pieces.derive_pieces import CastingPlaces
from journal.figures.recipe.derive_fill import piece_outline
from journal.html.blocks import TextRun, Words
from journal.html.card_page import CardStep, CardWord, CardWords
from journal.quantities.measuring import MeasuredAmount
from journal.quantities.show import (
    show_duration,
    show_size,
    show_size_us,
    show_temperature_c,
    show_temperature_f,
)
from journal.records.models.settings import Settings
from journal.records.models.shelf import Mat, Piece, Shelf
from journal.records.models.then import read_step
from journal.records.models.trim import Trim
from journal.records.models.write_up import Design, Variant
from journal.views.card.amounts import (
    PotIngredient,
    RoundAmounts,
    joined_words,
    non_breaking,
    show_approximately,
    written_units,
)
from journal.views.shared.book import Book
from journal.views.shared.catalogue import PhraseCatalogue
from journal.views.shared.words import units_of

_SAYS_WHERE = re.compile(r"\b(cavity|cavities|mould|moulds)\b", re.I)
# Steps that are said with another: a wait with what it waits for, a melt with its setting up.
SAID_ELSEWHERE = ("set out", "heat", "cool", "set")


class Pieces(Struct, frozen=True):
    """The mat pieces of one round: how many it needs, how many the shelf has, which ones."""

    needed: int
    owned: int | None
    kept: tuple[Piece, ...]


class RoundSteps(Struct, frozen=True):
    """The steps of one round by the clock, with its amounts and its pieces (None: no mat).

    ``said`` is what was said before it: 0 nothing, 1 what goes for every design, as how one knows
    that a step is done, 2 a round alike, so that only what and how much is said.
    ``pots`` is how its pots cool; empty where nobody asks.
    """

    amounts: RoundAmounts
    steps: tuple[TimedStep, ...]
    pieces: Pieces | None
    bars_each: int
    bars: int
    said: int = 0
    pots: Mapping[str, PotTask] = {}

    @property
    def ends(self) -> list[int]:
        """The minute at which each step ends, by its place in the round."""
        return [timed.end_min for timed in sorted(self.steps, key=lambda timed: timed.place)]

    @property
    def last_pour(self) -> TimedStep:
        """The pour of the last layer, or of the last ones."""
        return next(timed for timed in reversed(self.steps) if timed.step.kind == "pour")

    @property
    def last_heat(self) -> TimedStep:
        """The last time that the last pour's pot is heated, from which its cooling counts."""
        pour = self.last_pour
        again = self.of_pot("reheat", pour.step.pot, pour.start_min)
        if again is not None and not _is_further_heat(self, again):
            return again
        hot = self.of_pot("heat", pour.step.pot, pour.start_min)
        assert hot is not None
        return hot

    @property
    def misses(self) -> bool:
        """Whether the last pot has left its window before all is ready for its pour."""
        forecast = any(limit.window_min is not None for limit in self.last_pour.step.after)
        return forecast and self.pour_window is None

    @property
    def pour_window(self) -> tuple[int, int] | None:
        """From when until when the last pour can be made, all being ready; None if never."""
        return minutes_ready(self.last_pour.step, self.ends)

    def of_pot(self, kind: str, pot: str, before: int) -> TimedStep | None:
        """The last step of a kind with a pot that begins no later than a minute."""
        found = [
            one for one in self.steps
            if one.step.kind == kind and one.step.pot == pot and one.start_min <= before
        ]  # fmt: skip
        return found[-1] if found else None


def round_steps_of(
    amounts: RoundAmounts, places: CastingPlaces, steps: Iterable[TimedStep],
    pots: Mapping[str, PotTask] | None = None, said: int = 0,
) -> RoundSteps:  # fmt: skip
    """The steps of a round by the clock, with its amounts and pieces."""
    recipe, shelf = amounts.context.recipe, amounts.context.shelf
    pieces = None
    if recipe.mat is not None:
        kept = tuple(shelf.pieces[name] for name in places.pieces)
        pieces = Pieces(-(-amounts.masses.bars // places.bars_each), places.owned, kept)
    bars = amounts.masses.bars
    return RoundSteps(
        amounts, tuple(steps), pieces, places.bars_each, bars, said=said, pots=pots or {}
    )


def recipe_round(book: Book, design: Design) -> RoundSteps:
    """The first round of a design's recipe as it was written."""
    return planned_round(book.settings, book.bench, design, book.derived.rounds[design.id])


def planned_round(
    settings: Settings, shelf: Shelf, design: Design, planned: CardFigures,
    variant: Variant | None = None,
) -> RoundSteps:  # fmt: skip
    """The first round of a variant of which the figures are known; None: of the recipe."""
    of, bars = variant or design.as_written, design.recipe.bars
    recipe = RecipeContext(settings, shelf, design, of, bars)
    amounts = RoundAmounts(recipe, planned.masses[0], written_units(recipe, planned.places))
    return round_steps_of(amounts, planned.places, planned.sheet.steps, planned.pots)


def card_trim_text(trim: Trim | None, say: PhraseCatalogue) -> str:
    """A trim in words, such as ``straight, 3 mm outside the motif``; "" for None."""
    if trim is None:
        return ""
    if trim.kind == "close":
        return say.text("cut.close")
    if trim.margin_mm is None:
        return say.text("cut.straight")
    return say.text("cut.margin", margin=non_breaking(f"{trim.margin_mm:g} mm"))


def steps_of(one: RoundSteps) -> tuple[CardStep, ...]:
    """All steps of a round in the order of the hands, with the time at which each begins."""
    first = one.steps[0].start_min if one.steps else 0
    steps: list[CardStep] = []
    for timed in one.steps:
        words = step_words(one, timed)
        if words:
            at = _clock(timed.start_min - first) if timed.step.hands else ""
            steps.append(CardStep(words, (at,) if at and not _has_set(one, timed) else ()))
    return tuple(steps)


def _has_set(one: RoundSteps, timed: TimedStep) -> bool:
    """Whether a step comes once the bars have set: its time is not counted by the minute."""
    return any(other.step.kind == "set" and other.end_min <= timed.start_min for other in one.steps)


def _clock(minutes: int) -> str:
    """Minutes from the begin, as ``1:05``."""
    return f"{minutes // 60}:{minutes % 60:02}"


def step_words(one: RoundSteps, timed: TimedStep) -> CardWords:
    """A step as one or more sentences; no words for what is said with another step."""
    step = timed.step
    if step.kind in SAID_ELSEWHERE or _is_further_heat(one, timed):
        return ()
    return _SENTENCES[step.kind](one, timed)


def _is_further_heat(one: RoundSteps, timed: TimedStep) -> bool:
    """Whether a step is a further heat of a pour, or the reheating for it: said with the first."""
    step, layers = timed.step, timed.step.layers
    if step.kind == "reheat":
        after = [other.step for other in one.steps if other.place > timed.place]
        nearest = next((other for other in after if other.pot == step.pot), None)
        before = [o.step for o in one.steps if o.place < timed.place and o.step.pot == step.pot]
        poured = before[-1] if before else None
        return (
            nearest is not None and poured is not None
            and nearest.kind == poured.kind == "pour" and nearest.layers == poured.layers
        )  # fmt: skip
    if step.kind != "pour":
        return False
    return any(
        other.step.kind == "pour" and other.step.layers == layers and other.place < timed.place
        for other in one.steps
    )


def _pieces(one: RoundSteps, _: TimedStep) -> CardWords:
    """Cut the mat pieces of a round, or take those that the shelf has."""
    assert one.pieces is not None
    case, say = one.amounts.context, one.amounts.phrases
    mat: Mat = case.shelf.mats[case.recipe.mat or ""]
    mould = case.shelf.moulds.get(case.recipe.mould or "")
    named = case.shelf.pieces.get(case.recipe.piece or "")
    kept = named or (one.pieces.kept[0] if one.pieces.kept else None)
    outline = piece_outline(case, mat, mould, kept)
    count = say.several(one.pieces.needed, "pieces")
    if one.said > 1 and kept is not None:
        return say.words("take.again", pieces=count, name=kept.name)
    trim = card_trim_text(case.recipe.trim, say)
    size = ""
    if outline is not None:
        # Metric first in either system: the trade cuts in millimetres.
        size = f", {non_breaking(show_size(*outline))} ({non_breaking(show_size_us(*outline))})"
    phrase = "cut" if kept is None else "take"
    cut = say.words(f"{phrase}.cut", trim=trim) if trim else ()
    return say.words(phrase, pieces=count, name=(kept or mat).name, cut=cut, size=size)


def _melt(one: RoundSteps, timed: TimedStep) -> CardWords:
    """Weigh and melt a pot, until it reads what it is to be taken off the heat at."""
    amounts, say = one.amounts, one.amounts.phrases
    place = [pot.name for pot in amounts.masses.pots].index(timed.step.pot)
    pot = amounts.masses.pots[place]
    bases: list[CardWord] = []
    for number, base in enumerate(amounts.pot_bases(place)):
        first, second = amounts.words(amounts.base(base))
        if number:
            bases.append(say.text("melt.and"))
        beside, name = say.beside(second), base_name(amounts, base)
        bases.extend(say.words("melt.base", amount=first, beside=beside, base=name))
    if not pot.melt_g:
        words = say.words("melt.scraped", layer=say.listed(pot.layers))
    elif len(pot.layers) > 1:
        layers = say.listed(pot.layers)
        words = say.words("melt.pot", pot=pot.name, layers=layers, bases=tuple(bases))
    else:
        words = say.words("melt", layer=pot.layers[0], bases=tuple(bases))
    heat = next(
        other.step for other in one.steps
        if other.step.kind == "heat" and other.step.pot == timed.step.pot
    )  # fmt: skip
    assert heat.window_c is not None
    assert heat.window_c[0] is not None
    reads = amounts.temperature(heat.window_c[0])
    ready = say.words("melt.until" if one.said else "melt.ready", temperature=reads)
    layers_in = [layer for layer in amounts.context.recipe.layers if layer.pot_name == pot.name]
    scorch = min(scorching_c(amounts.context, layers_in), default=None)
    if scorch is None or one.said > 1:
        return joined_words((words, ready))
    return joined_words(
        (words, ready, say.words("scorch", temperature=amounts.temperature(scorch)))
    )


def base_name(amounts: RoundAmounts, base: PotIngredient) -> str:
    """The name of a base or a leftover, as it stands in a sentence."""
    shelf = amounts.context.shelf
    if base.leftover:
        return amounts.phrases.text("melt.leftover", name=shelf.leftovers[base.name].name)
    return shelf.bases[base.name].name


def _reheat(one: RoundSteps, timed: TimedStep) -> CardWords:
    window = timed.step.window_c
    assert window is not None
    assert window[0] is not None
    temperature = one.amounts.temperature(window[0])
    return one.amounts.phrases.words("reheat", pot=timed.step.pot, temperature=temperature)


def _stir(one: RoundSteps, timed: TimedStep) -> CardWords:
    """Stir in a colourant or an additive."""
    amounts, say = one.amounts, one.amounts.phrases
    (layer,), place = timed.step.layers, timed.step.entry or 0
    entry = amounts.layer(layer).dosed[place]
    kind, name = entry.thing[0], amounts.context.shelf.dosed_ingredient(*entry.thing).name
    into = amounts.layer(layer).name
    if entry.dose is None:
        aim = say.words("tint.aim", aim=entry.aim) if entry.aim else ()
        how = "tint" if kind == "colourants" else "stir.by-eye"
        return say.words(how, layer=into, colour=name, aim=aim)
    measured = amounts.dosed(layer, place)
    first, second = amounts.dosed_words(layer, place)
    if measured.first is None:
        return _sentence((_stir_part(amounts, measured, (name,), into),))
    return say.words(
        "stir.colour", amount=first, beside=say.beside(second), colour=name, layer=into
    )


def _stir_part(
    amounts: RoundAmounts, measured: MeasuredAmount, what: CardWords, into: str
) -> CardWords:
    """Stir in what is too little to measure: a part of what can be, or a pinch."""
    parted = amounts.parted(measured)
    if parted is None:
        first, why = amounts.words(measured)
        return amounts.phrases.words("stir.pinch", what=what, layer=into, amount=first, why=why)
    return amounts.phrases.words("stir.part", what=what, layer=into, **parted)


def _scent(one: RoundSteps, timed: TimedStep) -> CardWords:
    """Stir in a fragrance oil, in its window."""
    amounts, say = one.amounts, one.amounts.phrases
    (layer,), place = timed.step.layers, timed.step.entry or 0
    oil = amounts.layer(layer).fragrance[place]
    name = amounts.context.shelf.fragrances[oil.oil].name
    if amounts.asked_oil(layer, place) is None:
        return say.words("stir.refused", oil=name, layer=amounts.layer(layer).name)
    first, second = amounts.words(amounts.oil(layer, place))
    note = amounts.over_limit(layer, place)
    limit: CardWords = (", ", TextRun(note, "mind")) if note else ()
    if amounts.oil(layer, place).first is None:
        into = amounts.layer(layer).name
        part = _stir_part(amounts, amounts.oil(layer, place), (name, *limit), into)
        return _sentence((_at_window(one, timed), part))
    stirred = say.words(
        "stir.scent", amount=first, beside=say.beside(second), oil=name, limit=limit,
        layer=amounts.layer(layer).name,
    )  # fmt: skip
    return _sentence((_at_window(one, timed), stirred))


def _at_window(one: RoundSteps, timed: TimedStep) -> CardWords:
    """``at 135–145 °F, about 12 min after melting, ``; empty without a window."""
    say, window = one.amounts.phrases, timed.step.window_c
    if window is None or window == (None, None):
        return ()
    shown = one.amounts.window(window)
    hot = one.of_pot("heat", timed.step.pot, timed.start_min)
    again = one.of_pot("reheat", timed.step.pot, timed.start_min)
    cool = one.of_pot("cool", timed.step.pot, timed.start_min)
    heated = again or hot
    if (
        heated is None or cool is None or cool.start_min < heated.end_min
        or timed.start_min == heated.end_min or one.said > 1
    ):  # fmt: skip
        return say.words("at", window=shown)
    waited = non_breaking(show_duration(timed.start_min - heated.end_min))
    phrase = "at.reheated" if again is not None else "at.melted"
    return say.words(phrase, window=shown, minutes=waited)


def _pour(one: RoundSteps, timed: TimedStep) -> CardWords:
    """Pour the layers of a step, with alcohol where it is written, and as the maker says."""
    amounts, say, step = one.amounts, one.amounts.phrases, timed.step
    layers = [amounts.layer(number) for number in step.layers]
    before: CardWords = ()
    if any(layer.spritz in ("before", "both") for layer in layers):
        before = (say.text("spritz") + " ",)
    parts = [_at_window(one, timed)]
    poured = [_poured_into(one, step, number) for number in step.layers]
    if len(layers) == 1:
        parts.append(say.words("pour", layer=layers[0].name, into=poured[0]))
    else:
        names = say.listed(tuple(layer.name for layer in layers))
        each = joined_words(
            [
                joined_words([(f"; {layer.name}",), into])
                for layer, into in zip(layers, poured, strict=True)
            ]
        )
        parts.append(say.words("pour.together", layers=names, into=each))
    parts = [before, _sentence(parts)]
    further = [
        other.step.count for other in one.steps
        if other.step.kind == "pour" and other.step.layers == step.layers
    ]  # fmt: skip
    if len(further) > 1:
        _, high = step.window_c or (None, None)
        assert high is not None
        again = amounts.temperature(high)
        phrase = "pour.heats.again" if one.said else "pour.heats"
        parts.append(say.words(phrase, n=str(further[0]), temperature=again))
    for number in step.layers:
        for line in lines_of_pour(amounts.context, number):
            text = amounts.layer(number).then[line]
            parts.append((" ", *sentence_of_then(text, say)))
    if any(layer.spritz == "both" for layer in layers):
        parts.append((" " + say.text("spritz.again"),))
    elif any(layer.spritz == "after" for layer in layers):
        parts.append((" " + say.text("spritz"),))
    return joined_words(parts)


def _sentence(parts: Sequence[CardWords]) -> CardWords:
    """The words as a sentence that begins with a capital letter."""
    first, *rest = joined_words(parts)
    return (first[:1].upper() + first[1:], *rest) if isinstance(first, str) else (first, *rest)


def _poured_into(one: RoundSteps, step: RoundStep, number: int) -> CardWords:
    """Where a layer is poured, how much of it, and how much of that stays."""
    amounts, say = one.amounts, one.amounts.phrases
    scrape: CardWords = ()
    if amounts.layer(number).overpour:
        scrape = say.words("pour.scrape", amount=amounts.poured(number, "stays", 1))
    mould = amounts.context.shelf.moulds.get(amounts.layer(number).mould or "")
    if mould is not None:
        amount = amounts.poured(number, "poured", one.bars)
        return say.words("pour.embed", mould=mould.name, amount=amount, scrape=scrape)
    relief = number <= last_in_relief(amounts.context)
    where = "relief" if relief else "all" if one.bars_each > 1 else "bar"
    amount = amounts.poured(number, "filled" if where == "all" else "poured", one.bars)
    return say.words(f"pour.{where}", amount=amount, scrape=scrape)


def _wait(one: RoundSteps, timed: TimedStep) -> CardWords:
    """A rest or a chill as it was written, and how one knows that it has been enough."""
    say = one.amounts.phrases
    if timed.step.kind == "dry":
        return (say.text("done.dry", minutes=non_breaking(show_duration(timed.step.minutes))),)
    if timed.step.entry is None:
        return (say.text("firm"),)
    if one.said:
        return _line(one, timed)
    return joined_words((_line(one, timed), (" " + say.text(f"done.{timed.step.kind}"),)))


def _line(one: RoundSteps, timed: TimedStep) -> CardWords:
    """A line of ``then`` as a sentence."""
    step, layers = timed.step, one.amounts.context.recipe.layers
    layer = layers[step.layers[0]] if step.layers else layers[-1]
    assert step.entry is not None
    return sentence_of_then(layer.then[step.entry], one.amounts.phrases)


def _place(one: RoundSteps, timed: TimedStep) -> CardWords:
    """Lay the pieces into the cavities, on a dab of hot base."""
    say = one.amounts.phrases
    if timed.step.entry is None or one.pieces is None:
        one_piece = one.pieces is not None and one.pieces.needed == 1
        return say.words("lay", each=say.text("lay.one" if one_piece else "lay.each"))
    words = _line(one, timed)
    text = one.amounts.layer(timed.step.layers[0]).then[timed.step.entry]
    return (
        words
        if one.said or _SAYS_WHERE.search(text)
        else joined_words((words, (say.text("lies"),)))
    )


def _unmould(one: RoundSteps, timed: TimedStep) -> CardWords:
    """Leave the bars to set, and how to tell that they may be unmoulded."""
    wait = next(
        (
            other
            for other in one.steps
            if other.step.kind == "set" and other.end_min <= timed.start_min
        ),
        None,
    )
    minutes = 0 if wait is None else wait.step.minutes
    return joined_words((leave_words(one, minutes), (" ",), unmould_words(one)))


def leave_words(one: RoundSteps, minutes: int) -> CardWords:
    """Leave the bars to set."""
    return one.amounts.phrases.words("leave", time=non_breaking(show_duration(minutes)))


def unmould_words(one: RoundSteps) -> CardWords:
    """How to tell that the bars may be unmoulded."""
    return (one.amounts.phrases.text("unmould.again" if one.said else "unmould"),)


def _cut(one: RoundSteps, _: TimedStep) -> CardWords:
    return (one.amounts.phrases.text("slices", n=one.bars),)


def _wrap(one: RoundSteps, _: TimedStep) -> CardWords:
    say, bar_g = one.amounts.phrases, one.amounts.masses.bar_g
    weight = show_approximately(bar_g, one.amounts.us_first)
    return say.words("wrap.again" if one.said else "wrap", weight=weight)


def _plain(phrase: str) -> Callable[[RoundSteps, TimedStep], CardWords]:
    def sentence(one: RoundSteps, _: TimedStep) -> CardWords:
        return (one.amounts.phrases.text(phrase),)

    return sentence


_SENTENCES: Mapping[str, Callable[[RoundSteps, TimedStep], CardWords]] = {
    "pieces": _pieces, "melt": _melt, "reheat": _reheat, "stir": _stir, "scent": _scent,
    "pour": _pour, "firm": _wait, "rest": _wait, "chill": _wait, "dry": _wait, "do": _line,
    "place": _place, "unmould": _unmould, "peel": _plain("peel"), "cut": _cut,
    "tidy": _plain("tidy"), "end": _line, "wrap": _wrap,
}  # fmt: skip


def set_out_words(one: RoundSteps, by_name: bool = False) -> CardWords:
    """What to set out before anything is hot: jugs, pieces, tools, gloves.

    ``by_name`` names the materials too, where no list of them stands below.
    """
    amounts, say = one.amounts, one.amounts.phrases
    layers = amounts.context.recipe.layers
    things = [say.several(len(amounts.masses.pots), "set-out.jugs")]
    if one.pieces is not None:
        things.append(say.several(one.pieces.needed, "pieces"))
    embeds = (amounts.context.shelf.moulds.get(layer.mould or "") for layer in layers)
    things += dict.fromkeys(mould.name for mould in embeds if mould is not None)
    things.append(say.text("set-out.probe"))
    if any(layer.spritz for layer in layers):
        things.append(say.text("set-out.spray"))
    if one.pieces is not None or one.bars_each > 1:
        things.append(say.text("set-out.blade"))
    things.append(say.text("set-out.gloves"))
    listed = say.listed(tuple(things))
    if one.said > 1:
        return (say.text("set-out.again"),)
    if not by_name:
        return say.words("set-out", things=listed)
    bases = [
        base_name(amounts, base)
        for pot in range(len(amounts.masses.pots)) for base in amounts.pot_bases(pot)
    ]  # fmt: skip
    shelf = amounts.context.shelf
    stirred = [
        name for number, layer in enumerate(layers) for name in (
            *(shelf.dosed_ingredient(*entry.thing).name for entry in layer.dosed),
            *(
                shelf.fragrances[oil.oil].name for place, oil in enumerate(layer.fragrance)
                if amounts.asked_oil(number, place) is not None
            ),
        )
    ]  # fmt: skip
    materials = say.listed_words([say.named(name) for name in dict.fromkeys(bases + stirred)])
    return say.words("set-out.day", things=listed, materials=materials)


def timing_words(one: RoundSteps) -> CardWords:
    """How long it takes by hand, and when the last layer can be poured."""
    say = one.amounts.phrases
    by_hand = sum(timed.step.minutes for timed in one.steps if timed.step.hands)
    poured = [timed for timed in one.steps if timed.step.kind == "pour"]
    last = amounts_name(one, poured[-1])
    ready = poured[-1].start_min - one.steps[0].start_min
    return say.words(
        "timing", by_hand=non_breaking(show_duration(by_hand)), layer=last,
        ready=non_breaking(show_duration(ready)),
    )  # fmt: skip


def amounts_name(one: RoundSteps, timed: TimedStep) -> str:
    """The names of the layers of a step."""
    names = tuple(one.amounts.layer(number).name for number in timed.step.layers)
    return one.amounts.phrases.listed(names)


def page_words(words: CardWords) -> Words:
    """The words of a card for another page, which is not rescaled."""
    return tuple(word if isinstance(word, str | TextRun) else word.text for word in words)


def when_ready(one: RoundSteps) -> CardWords:
    """When the last layer can be poured: its pot in its window, and all that waits for it ready.

    The first word is the answer, in bold.
    """
    say, amounts, last, hot = one.amounts.phrases, one.amounts, one.last_pour, one.last_heat
    window = last.step.window_c
    if window is None or window == (None, None):
        begun = _duration(last.start_min - one.steps[0].start_min)
        return say.words("ready", layer=amounts_name(one, last), begun=begun)
    assert hot.step.window_c is not None
    assert hot.step.window_c[0] is not None
    when, heated_c, reheated = one.pour_window, hot.step.window_c[0], hot.step.kind == "reheat"
    if one.misses:
        return _when_missed(one, window)
    begins, until = when or (last.start_min, last.start_min)
    phrase = "reheated" if reheated else "melted"
    if when is None:
        phrase += ".about"
    elif begins == hot.end_min:
        phrase += ".at-once"
    words = say.words(
        f"ready.{phrase}", pot=last.step.pot, temperature=_in_own_scale(amounts, heated_c),
        begins=str(begins - hot.end_min), until=str(until - hot.end_min),
    )  # fmt: skip
    words = joined_words((words, say.words("ready.window", window=amounts.window(window))))
    before = next(timed for timed in one.steps if timed.step.kind == "pour")
    if reheated or before.step.layers == last.step.layers:
        return words
    lead = hot.end_min - before.start_min
    phrase = "before" if lead > 0 else "after" if lead < 0 else "at"
    condition = say.words(
        f"ready.if.{phrase}", layer=amounts_name(one, before), minutes=_duration(abs(lead))
    )
    return joined_words((words, condition))


def _when_missed(one: RoundSteps, window: tuple[float | None, float | None]) -> CardWords:
    """The answer where the last pot leaves its window before all is ready for its pour."""
    say, amounts, last = one.amounts.phrases, one.amounts, one.last_pour
    pot = one.pots[last.step.pot]
    again_c = pot.reheat_c(window)
    begins, until = pot.minutes_in(window, again_c)
    return joined_words((
        say.words(
            "ready.missed", pot=last.step.pot, temperature=_in_own_scale(amounts, again_c),
            begins=str(math.ceil(begins)), until=str(math.floor(until)),
        ),
        say.words("ready.window", window=amounts.window(window)),
        say.words("ready.late"),
    ))  # fmt: skip


def _in_own_scale(amounts: RoundAmounts, temperature_c: float) -> str:
    """A temperature in the studio's own scale."""
    return units_of(amounts.context.settings).temperature(temperature_c).first


def _duration(minutes: int) -> str:
    return non_breaking(show_duration(minutes))


def rescue_lines(one: RoundSteps) -> Iterator[CardWords]:
    """What to do when a pot is too hot, too cold or skinned over, or a bar is not firm."""
    amounts, say = one.amounts, one.amounts.phrases
    last = next(timed for timed in reversed(one.steps) if timed.step.kind == "pour")
    layer = amounts.layer(last.step.layers[0])
    bases = [one for one in amounts.context.recipe.layers if one.pot_name == layer.pot_name]
    scorch = min(scorching_c(amounts.context, bases), default=None)
    window = last.step.window_c
    if window is not None and window[0] is not None and window[1] is not None:
        low, high = amounts.temperature(window[0]), amounts.temperature(window[1])
        yield say.words("rescue.hot", layer=layer.name, temperature=high)
        never = (
            ""
            if scorch is None
            else say.text("rescue.never", temperature=amounts.temperature(scorch))
        )
        yield say.words("rescue.cold", layer=layer.name, low=low, high=high, never=never)
    yield say.words("rescue.skin")
    yield say.words("rescue.soft")


_TEMPERATURE = re.compile(r"(\d\s?)°?\s?([FC])\b(?!.*\d\s?°?\s?[FC]\b)")
# A wait in the usual words and no more: these can be translated.
_USUAL = re.compile(
    r"(?:rest|chill|unmould)(?: for| after)? (?P<time>[\d.:\u2013-]+ ?(?:min|h|d))(?: at [^,;.]+)?",
    re.I,
)


def sentence_of_then(written: str, say: PhraseCatalogue) -> CardWords:
    """A line of ``then`` as a sentence, its temperature in both scales.

    Usual words are translated; all others stand as the maker wrote them, marked with their
    language.
    """
    step = read_step(written)
    text = step.text.strip()
    usual = _USUAL.fullmatch(text) if say.language != "en" else None
    at = ""
    if step.temperature_c is not None:
        found = _TEMPERATURE.search(text)
        if found is not None:
            own, other = show_temperature_c, show_temperature_f
            if found[2] == "F":
                own, other = other, own
            beside = f" ({non_breaking(other(step.temperature_c))})"
            before = text[: found.start(2)].rstrip(" °\u00a0")
            text = f"{before}\u00a0°{found[2]}{beside}{text[found.end() :]}"
            at = non_breaking(own(step.temperature_c)) + beside
    if usual is not None and step.kind != "other":
        phrase = f"wait.{step.kind}.at" if at else f"wait.{step.kind}"
        return (say.text(phrase, time=non_breaking(usual["time"]), temperature=at),)
    # Waits are written in English, as the figures read them.
    english = say.language == "en" and step.kind != "other"
    word = text if at or english else say.own_words(written)
    if isinstance(word, TextRun):
        return (TextRun(_as_sentence(word.text), language=word.language),)
    assert isinstance(word, str)
    return (_as_sentence(word),)


def _as_sentence(text: str) -> str:
    """A maker's line with a capital letter and a full stop."""
    # Small letters of another alphabet, or a quotation mark, are left as they are.
    text = text[:1].upper() + text[1:]
    if not text.endswith((".", "!", "?", "…")):
        text += "."
    # A number is not parted from its unit at the end of a line.
    return re.sub(r"(?<=\d) (?=(?:min|h|s|mm|cm|in|F|C|°[FC]|g|oz|lb|mL|tsp|%)\b)", "\u00a0", text)
