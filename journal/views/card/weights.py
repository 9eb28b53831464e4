"""The lines to weigh on a card, and the table of its rounds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from journal.figures.recipe.derive_layers import DosedFigures
from journal.html.blocks import TextRun
from journal.html.card_page import CardWords, RoundRow, WeighLine, plain_text
from journal.quantities.measuring import (
    AskedAmount,
    MeasuredAmount,
    measure,
    sum_asked,
    sum_measured,
    times_measured,
)
from journal.quantities.show import show_mass, show_mass_us, show_percent
from journal.views.card.amounts import REFUSED, PotIngredient, RoundAmounts, non_breaking


def _nothing(_: RoundAmounts) -> None:
    """What is asked of a thing by eye."""


class _Weighed(NamedTuple):
    """One thing to measure: its name, the pot or layer it heads, and its amount in a round.

    ``leftover`` is its place in a pot, if there is only so much of it.
    """

    what: str
    layer: str
    mind: str
    amount: Callable[[RoundAmounts], MeasuredAmount] | None
    asked: Callable[[RoundAmounts], AskedAmount | None] = _nothing
    by_eye: CardWords = ()
    leftover: PotIngredient | None = None


class _RoundCell(NamedTuple):
    """What a round takes of one thing; ``layer`` heads its row, ``text`` shows its amount.

    ``amount`` is by the first tool alone: the columns are too narrow for another.
    """

    thing: _Weighed
    layer: str
    amount: MeasuredAmount
    asked: AskedAmount | None
    text: str


class RoundColumn(Struct, frozen=True):
    """A round in the table of rounds: all that is measured."""

    amounts: RoundAmounts
    cells: tuple[_RoundCell, ...]


class Rounds(Struct, frozen=True):
    """The rounds of a card: the first, ``times`` further ones alike, and a smaller last one."""

    first: RoundColumn
    further: RoundColumn | None
    times: int
    last: RoundColumn | None


def round_column(amounts: RoundAmounts) -> RoundColumn:
    """The column of a round, which stands in the tables of many numbers of bars."""
    cells, layer = [], ""
    for one in _weighed(amounts):
        layer = one.layer or layer
        if one.amount is not None:
            # A table has room for one unit.
            measured = one.amount(amounts)
            amount = measured if measured.first is None else replace(measured, second=None)
            text = _shown(amounts, amount)
            cells.append(_RoundCell(one, layer, amount, one.asked(amounts), text))
            layer = ""
    return RoundColumn(amounts, tuple(cells))


def weights_of(amounts: RoundAmounts, with_shelf: bool = True) -> tuple[WeighLine, ...]:
    """Every line to weigh, pot by pot: what is melted, then what is stirred into its layers.

    ``with_shelf`` warns of a leftover of which there is less than the round needs.
    """
    return tuple(_weigh_line(amounts, one, with_shelf) for one in _weighed(amounts))


def _weigh_line(amounts: RoundAmounts, one: _Weighed, with_shelf: bool) -> WeighLine:
    minds = [one.mind]
    if with_shelf and one.leftover is not None:
        minds.append(_short(amounts, one.leftover, amounts.base_g(one.leftover)))
    second: CardWords = ()
    first = one.by_eye
    if one.amount is not None:
        amount = one.amount(amounts)
        first, second = amounts.words(amount)
        if amount.first is None:
            # Words that are no amount stand on the left: on the right they would take its room.
            minds.append(plain_text(second))
            second = ()
    mind = ", ".join(filter(None, minds))
    words: CardWords = (TextRun(mind, "mind"),) if mind else ()
    return WeighLine(one.what, first, second, one.layer, words)


def round_rows(rounds: Rounds) -> tuple[RoundRow, ...]:
    """What each round takes: the first, a further one, a smaller last one; and all together."""
    every = ((rounds.first, 1), (rounds.further, rounds.times), (rounds.last, 1))
    rows = []
    for place, head in enumerate(rounds.first.cells):
        shown, parts, apart, needed_g = [], [], list[AskedAmount](), 0.0
        for column, times in every:
            if column is None:
                shown.append("")
                continue
            cell = column.cells[place]
            shown.append(cell.text)
            parts.append(times_measured(cell.amount, times))
            if cell.amount.first is None and cell.asked is not None:
                apart.append(cell.asked.times(times))
            if head.thing.leftover is not None:
                needed_g += times * column.amounts.base_g(head.thing.leftover)
        whole = [_sum(rounds.first.amounts, parts, apart)]
        if REFUSED in parts:
            whole = [plain_text(rounds.first.amounts.words(REFUSED)[0])]
        if head.thing.leftover is not None:
            whole.append(_short(rounds.first.amounts, head.thing.leftover, needed_g))
        cells = (shown[0], shown[1], shown[2], ", ".join(filter(None, whole)))
        rows.append(RoundRow(head.thing.what, head.layer, cells))
    return tuple(rows)


def _sum(
    amounts: RoundAmounts, each: Sequence[MeasuredAmount], apart: Sequence[AskedAmount]
) -> str:
    """The sum of what is measured in each unit; a small last round may have another.

    Behind it what cannot be measured round by round (``apart``), of all these rounds at once.
    """
    by_unit: dict[str, list[MeasuredAmount]] = {}
    for amount in each:
        if amount.first is not None:
            by_unit.setdefault(amount.first.unit, []).append(amount)
    sums = (sum_measured(same, amounts.tools) for same in by_unit.values())
    texts = [" + ".join(_shown(amounts, one) for one in sums)]
    if apart:
        texts.append(_shown(amounts, measure(sum_asked(apart), amounts.tools)))
    return ", ".join(filter(None, texts))


def _shown(amounts: RoundAmounts, amount: MeasuredAmount) -> str:
    if amount.first is not None and not amount.first.value:
        return amounts.phrases.text("rounds.none")
    # The columns are narrow: a line may end after the pounds.
    return plain_text(amounts.words(amount)[0]).replace("lb\u00a0", "lb ")


def _weighed(amounts: RoundAmounts) -> Iterator[_Weighed]:
    """Yield what is measured for a round."""
    for place, pot in enumerate(amounts.masses.pots):
        title = _pot_title(amounts, pot.name, pot.layers)
        for number, base in enumerate(amounts.pot_bases(place)):
            head, amount = "" if number else title, partial(RoundAmounts.base, base=base)
            asked = partial(RoundAmounts.asked_base, base=base)
            if base.leftover:
                what, mind = _leftover_name(amounts, base.name), _leftover_limit(amounts, base)
                yield _Weighed(what, head, mind, amount, asked, leftover=base)
            else:
                name = amounts.context.shelf.bases[base.name].name
                yield _Weighed(name, head, "", amount, asked)
        for name in pot.layers:
            yield from _stirred_in(amounts, name, several=len(pot.layers) > 1)


def _pot_title(amounts: RoundAmounts, pot: str, layers: tuple[str, ...]) -> str:
    title = layers[0] if len(layers) == 1 else amounts.phrases.text("pot", pot=pot)
    return title[:1].upper() + title[1:]


def _leftover_name(amounts: RoundAmounts, name: str) -> str:
    """A leftover's name with the colour and scent in it, so that none is added by mistake."""
    say, shelf = amounts.phrases, amounts.context.shelf
    leftover = shelf.leftovers[name]
    parts = [say.text("leftover", name=leftover.name)]
    if leftover.colourant is not None:
        colour = shelf.colourants.get(leftover.colourant)
        tint = colour.name if colour is not None else leftover.colourant
        parts.append(say.text("leftover.tinted", colour=tint))
    if leftover.scented is not None:
        oil = shelf.fragrances.get(leftover.scented.oil)
        scent = oil.name if oil is not None else leftover.scented.oil
        share = non_breaking(show_percent(leftover.scented.concentration))
        parts.append(say.text("leftover.scented", percent=share, oil=scent))
    return ", ".join(parts)


def _leftover_limit(amounts: RoundAmounts, base: PotIngredient) -> str:
    """Warnings that the scent in a leftover is over its limit."""
    warnings = [
        amounts.over_limit(number, place)
        for number, layer in enumerate(amounts.context.recipe.layers)
        if layer.base.leftover == base.name
        for place, oil in enumerate(amounts.masses.layers[number].fragrances)
        if oil.from_leftover
    ]
    return ", ".join(dict.fromkeys(filter(None, warnings)))


def _short(amounts: RoundAmounts, base: PotIngredient, needed_g: float) -> str:
    """A phrase if there is less of a leftover on the shelf than is needed."""
    there_g = amounts.context.shelf.leftovers[base.name].amount
    if there_g is None or there_g >= needed_g:
        return ""
    show = show_mass_us if amounts.us_first else show_mass
    text = non_breaking(show(there_g, amounts.context.settings.scales))
    return amounts.phrases.text("leftover.short", amount=text)


def _stirred_in(amounts: RoundAmounts, name: str, several: bool) -> Iterator[_Weighed]:
    """What is stirred into a layer; with ``several`` layers in the pot, each names its own."""
    number = [layer.name for layer in amounts.context.recipe.layers].index(name)
    layer, shelf, say = amounts.layer(number), amounts.context.shelf, amounts.phrases

    def into(what: str) -> str:
        return say.text("into", what=what, layer=name) if several else what

    for place, one in enumerate(amounts.masses.layers[number].dosed):
        what = into(shelf.dosed_ingredient(one.kind, one.name).name)
        if one.by_eye:
            yield _Weighed(what, "", "", None, by_eye=_by_eye(amounts, one))
        else:
            dosed = partial(RoundAmounts.dosed, layer=number, place=place)
            asked = partial(RoundAmounts.asked_dosed, layer=number, place=place)
            yield _Weighed(what, "", "", dosed, asked)
    for place, oil in enumerate(layer.fragrance):
        mind = amounts.over_limit(number, place)
        amount = partial(RoundAmounts.oil, layer=number, place=place)
        asked_oil = partial(RoundAmounts.asked_oil, layer=number, place=place)
        yield _Weighed(into(shelf.fragrances[oil.oil].name), "", mind, amount, asked_oil)


def _by_eye(amounts: RoundAmounts, one: DosedFigures) -> CardWords:
    text = amounts.phrases.text("by eye")
    return (f"{text}, {one.aim}",) if one.aim else (text,)
