"""The sentences about an order, the same on its page and at the terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from journal.figures.day.bars_enough import BarsEnough
from journal.figures.day.derive_batches import BatchToCome
from journal.figures.day.derive_day import DayClock, OrderDay, line_title
from journal.figures.day.derive_order import OrderedLine, OrderFigures, ToCut
from journal.figures.day.derive_order_amounts import OrderedAmount, ordered_amounts
from journal.figures.day.derive_rounds import Assumption
from journal.figures.day.order import EACH, GRAMS, MILLILITRES, ShelfNeed, ToBuy, bars_by_round
from journal.figures.day.sheet import TimedStep, day_and_minute
from journal.figures.derive_notebook import OrderPlan
from journal.figures.recipe.derive_layers import OverLimit
from journal.figures.recipe.derive_leftovers import LeftoverDraw, PotLeft
from journal.html.blocks import TextRun
from journal.html.card_page import CardWords
from journal.quantities.measuring import (
    AskedAmount,
    MeasuredAmount,
    measure,
    measuring_unit,
    sum_measured,
)
from journal.quantities.show import show_number, show_times
from journal.records.models.questions import WrittenOrder
from journal.records.models.shelf import Shelf, ShelfRecord
from journal.records.models.things import ThingRef
from journal.records.models.write_up import variant_words
from journal.records.notebook import Notebook
from journal.views.card.amounts import joined_words
from journal.views.shared import words as wording
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue
from journal.views.shared.over_limit import why_over

# The head under which each kind of thing stands that an order takes.
KIND_HEADS: Mapping[str, str] = {
    "bases": "Base",
    "leftovers": "Leftovers that a recipe is cast from",
    "fragrances": "Fragrance oil",
    "colourants": "Colour",
    "additives": "Additives",
    "packaging": "Packaging",
    "mats": "Mat sheets to cut",
}


class OrderItem(Struct, frozen=True):
    """One thing that an order takes, in words; ``buy`` is None where enough is on hand."""

    kind: str
    item: str
    name: str
    needed: wording.BothUnits
    drawn: wording.BothUnits | None
    on_hand: wording.BothUnits | None
    buy: wording.BothUnits | None
    why: str
    supplier: str


class DayMelt(Struct, frozen=True):
    """What of a base or a leftover is melted on a day, as it is weighed pot by pot."""

    thing: ThingRef
    name: str
    mass_g: float
    measured: MeasuredAmount


def amount_in_unit_text(
    units: wording.UnitFormatter, unit: str, amount: Fraction, *, round_down: bool = False
) -> wording.BothUnits:
    """An amount in a stored unit (grams, millilitres or each), rounded as it is shown."""
    if unit == EACH:
        return wording.BothUnits(show_number(float(amount), Decimal("0.1")))
    if unit == MILLILITRES:
        return units.volume(float(amount), round_down=round_down)
    return units.mass(float(amount), round_down=round_down)


def order_items(
    units: wording.UnitFormatter, shelf: Shelf, order: OrderFigures
) -> Iterator[OrderItem]:
    """Yield everything that an order takes, by kind in the order of ``KIND_HEADS``."""
    asked = ordered_amounts(shelf, order)
    fresh = {(one.kind, one.item, one.unit): one.amount for one in order.fresh}
    buy = {(one.kind, one.item, one.unit): one for one in order.buy}
    for kind in KIND_HEADS:
        for need in order.needs:
            if need.kind != kind:
                continue
            key = (need.kind, need.item, need.unit)
            drawn = need.amount - fresh[key]
            yield _order_item(units, shelf, need, asked.get(key), drawn, buy[key])


def _order_item(
    units: wording.UnitFormatter,
    shelf: Shelf,
    need: ShelfNeed,
    asked: OrderedAmount | None,
    drawn: Fraction,
    buy: ToBuy,
) -> OrderItem:
    """One need of an order in words; ``drawn`` is how much of it leftovers give."""
    record = shelf.of_kind(need.kind)[need.item]
    show = partial(_stock_text, units, need, asked)
    on_hand = None if buy.buy is None else buy.on_hand
    return OrderItem(
        kind=need.kind,
        item=need.item,
        name=record.name,
        needed=show(need.amount) if asked is None else _needed_text(units, asked),
        drawn=show(drawn) if drawn else None,
        on_hand=None if on_hand is None else _on_hand_text(record, need, on_hand, show, units),
        buy=show(buy.buy) if buy.buy else None,
        why=buy.why,
        supplier=record.supplier or "",
    )


def _on_hand_text(
    record: ShelfRecord,
    need: ShelfNeed,
    on_hand: Fraction,
    show: Callable[[Fraction], wording.BothUnits],
    units: wording.UnitFormatter,
) -> wording.BothUnits:
    """What there is of a thing; in few figures where it is an estimate, not what was counted."""
    counted = record.on_hand
    alike = ((GRAMS, "mass"), (MILLILITRES, "volume"), (EACH, "count"))
    if (
        counted is None
        or counted.on is None
        or (need.unit, counted.amount.kind) not in alike
        or counted.amount.value == float(on_hand)
    ):
        return show(on_hand)
    first, second = units.about(need.unit, float(on_hand))
    return wording.BothUnits(f"about {first}", second)


def _needed_text(units: wording.UnitFormatter, asked: OrderedAmount) -> wording.BothUnits:
    """The sum of what is measured for each round; of the whole, where a round has too little."""
    tools = units.tools
    unit = measuring_unit(asked.least, tools)
    needed = sum_measured([measure(one, tools, unit) for one in asked.by_round], tools)
    return units.measured(needed if needed.first is not None else measure(asked.whole, tools))


def _stock_text(
    units: wording.UnitFormatter, need: ShelfNeed, asked: OrderedAmount | None, amount: Fraction
) -> wording.BothUnits:
    """What is on hand, drawn or to buy of a thing: as much is measured, but never in drops."""
    if asked is not None and need.amount:
        whole = replace(asked.whole, in_drops=False).times(float(amount / need.amount))
        measured = measure(whole, units.tools)
        if measured.first is not None:
            return units.measured(measured)
    # Oils have limits, so their amounts are rounded down, as on the cards.
    return amount_in_unit_text(units, need.unit, amount, round_down=need.kind == "fragrances")


def weighed_text(units: wording.UnitFormatter, mass_g: float) -> wording.BothUnits:
    """A mass of base as it is weighed out; one that is too little for the scales as it is."""
    return melt_text(units, mass_g, measure(AskedAmount("base", mass_g), units.tools))


def rounds_text(line: OrderedLine, *, headed: bool = False) -> str:
    """The rounds of a line: ``6 rounds of 6``; ``2 rounds of 6, then one of 2``.

    Under a head that says what is counted, ``6 of 6``.
    """
    first, last = line.rounds[0], line.rounds[-1]
    full = len(line.rounds) - (last != first)
    text = f"one round of {first}" if full == 1 else f"{full} rounds of {first}"
    if headed:
        text = text.replace(" rounds", "").replace(" round", "")
    return text if last == first else f"{text}, then one of {last}"


def enough_texts(figures: OrderFigures) -> list[str]:
    """A sentence for each line that is to have enough bars fit to sell: how many are poured."""
    return [_enough_text(line, line.enough) for line in figures.lines if line.enough is not None]


def _enough_text(line: OrderedLine, enough: BarsEnough) -> str:
    """``Kelp on slate: pour 22, and 18 are fit to sell 9 times in 10. So far 31 of 36 were.``"""
    title = line_title(line)
    if enough.bars is None:
        return f"{title}: no more than the {line.wanted} are planned. It takes {enough.why}."
    sure = wording.percent(enough.sure, whole=True)
    so_far = f"so far {enough.kept} of {enough.judged} were"
    if not enough.judged:
        so_far = f"none was looked at yet, and {enough.others.kept} of {enough.others.judged} of"
        so_far += " the studio's others were"
    text = f"{title}: pour {enough.bars}, to be {sure} sure of {line.wanted} fit to sell; {so_far}"
    if enough.low is None or enough.high is None:
        return f"{text}."
    ends = (wording.percent(end, whole=True) for end in (enough.low, enough.high))
    return f"{text}, so expect {wording.range_text(*ends)}."


def limit_texts(plan: OrderPlan) -> list[str]:
    """What makes the line of the most rounds so many, and what would make them fewer.

    ``3 pieces make it 8 rounds over 9 days; 3 more pieces: 4 rounds.`` Where lines share a mould
    that is full on every day of pouring, it is the mould.
    """
    shared = _full_mould_text(plan)
    if shared:
        return [shared]
    line = max(plan.figures.lines, key=lambda one: len(one.rounds))
    limit, places, rounds = line.limit, line.places, len(line.rounds)
    if rounds < 2:
        return []
    by = "the largest jug makes"
    if limit.by == "pieces":
        by = f"{wording.count_in_words(places.owned or 0, 'piece')} make"
    elif limit.by == "cavities":
        by = f"{wording.count_in_words(places.cavities or 0, 'cavity', 'cavities')} make"
    elif limit.by == "embeds":
        by = "the mould of an embed makes"
    by = by.replace("make", "makes") if by.startswith("one ") else by
    text = f"{line_title(line)}: {by} it {wording.count_text(rounds, 'round')}"
    number = sum(len(one.rounds) for one in plan.figures.lines[: line.number - 1])
    of_line = [
        step for step in (plan.day.sheet.steps if plan.day.sheet is not None else ())
        if number <= step.number < number + rounds
    ]  # fmt: skip
    if of_line:
        first, _ = day_and_minute(of_line[0].start_min)
        last, _ = day_and_minute(max(step.start_min for step in of_line))
        text += f" over {wording.count_text(last - first + 1, 'day')}"
    if limit.by == "pieces" and places.owned is not None:
        bars = min(limit.with_pieces or line.bars, line.bars)
        more = -(-bars // places.bars_each) - places.owned
        fewer = wording.count_text(len(bars_by_round(line.bars, bars)), "round")
        text += f"; {wording.count_text(more, 'more piece')}: {fewer}"
    return [f"{text}."]


def _full_mould_text(plan: OrderPlan) -> str:
    """A sentence on the mould of several lines that makes the days so many; "" without one.

    What has been poured stays in its mould until the next day.
    """
    poured = {
        day_and_minute(step.start_min)[0]
        for step in (plan.day.sheet.steps if plan.day.sheet is not None else ())
        if step.step.kind == "pour"
    }
    of_mould: dict[str, list[OrderedLine]] = {}
    for line in plan.figures.lines:
        if line.places.mould is not None and line.places.cavities is not None:
            of_mould.setdefault(line.places.mould, []).append(line)
    for lines in of_mould.values():
        places, casts = lines[0].places, sum(line.casts for line in lines)
        assert places.cavities is not None
        a_day = places.cavities * places.moulds
        if len(lines) > 1 and len(poured) > 1 and -(-casts // a_day) == len(poured):
            rounds = max(len(line.rounds) for line in lines)
            fewer = max(-(-casts // (a_day + places.cavities)), rounds)
            more = f" One more mould: {fewer} at best." if fewer < len(poured) else ""
            bars = wording.count_text(sum(line.bars for line in lines), "bar")
            return (
                f"{wording.count_text(len(poured), 'day')} of pouring: {bars} share"
                f" {wording.count_in_words(a_day, 'cavity', 'cavities')}, each full until the next"
                f" day.{more}"
            )
    return ""


def pieces_text(shelf: Shelf, line: OrderedLine) -> str:
    """The pieces that a line's bars are cast on: names, "no mat" or "pieces still to cut"."""
    if line.variant.recipe.mat is None:
        return "no mat"
    names = wording.list_text([shelf.pieces[name].name for name in line.places.pieces])
    if not names:
        return "pieces still to cut"
    return names if line.places.owned is None else f"{line.places.owned} of {names}"


def cut_text(shelf: Shelf, one: ToCut) -> str:
    """A sentence on the pieces to cut, and the reason."""
    mat = shelf.mats[one.mat].name
    sheets = "" if one.sheets is None else f", out of {wording.count_text(one.sheets, 'sheet')}"
    trim = f", {one.trim}" if one.trim else ""
    why = "none on the shelf has this mat, mould and trim"
    if one.worn:
        why = "those that are there will be worn out"
    return f"Cut {wording.count_text(one.pieces, 'piece')} of {mat}{trim}{sheets}: {why}."


def wear_texts(shelf: Shelf, order: OrderFigures) -> list[str]:
    """Sentences on the casts that the order takes from its pieces, and those left."""
    texts = []
    for wear in order.wear:
        names = wording.list_text([shelf.pieces[name].name for name in wear.pieces])
        left = ". How many are left is not known: the mat's life is not on the shelf"
        if wear.left is not None:
            left = f", of {wear.left} left"
        texts.append(f"{names}: {wording.count_text(wear.casts, 'cast')} for this order{left}.")
    return texts


def draw_text(
    units: wording.UnitFormatter, shelf: Shelf, order: OrderFigures, draw: LeftoverDraw
) -> str:
    """A sentence on one draw from a leftover, with the fragrance that it brings into the pot."""
    leftover, design = shelf.leftovers[draw.leftover], order.lines[draw.line - 1].design
    mass = weighed_text(units, draw.mass_g)
    text = f"{leftover.name}: {mass} into the pot {draw.pot} of {design.title}"
    times = leftover.melted_times
    if times:
        text += f". Melted {show_times(times)} already"
    if draw.oil is not None:
        oil = shelf.fragrances[draw.oil].name
        text += f". It brings {units.mass(draw.oil_g)} of {oil} on top of the dose"
        limit = "its limit is not on the shelf"
        if draw.limit_used is not None:
            limit = f"{wording.percent(draw.limit_used)} of its limit in all"
        text += f": {limit}"
    if draw.held_back_g > 0:
        text += f". {units.mass(draw.held_back_g)} more would go over the limit"
    return f"{text}."


def melt_text(
    units: wording.UnitFormatter, mass_g: float, measured: MeasuredAmount
) -> wording.BothUnits:
    """How much of a base is melted; as it is, where no scale weighs it."""
    return units.mass(mass_g) if measured.first is None else units.measured(measured)


def melts_words(
    units: wording.UnitFormatter, melts: Sequence[DayMelt], say: PhraseCatalogue = ENGLISH
) -> CardWords:
    """What is melted on a day: ``3.45 oz (98 g) of White shea and …``."""
    each = [
        say.words(
            "day.melt", base=one.name,
            amount=say.units(str(melt_text(units, one.mass_g, one.measured))),
        )
        for one in melts
    ]  # fmt: skip
    return say.listed_words(each)


def batches_begun(plan: OrderPlan, steps: Iterable[TimedStep]) -> dict[int, BatchToCome]:
    """The batches that are begun with some steps of a plan, by the number of their round."""
    begun = (one.number for one in steps if one.place == 0)
    return {number: plan.batches[number] for number in begun if plan.batches}


def batches_text(
    begun: Mapping[int, BatchToCome], codes: Iterable[str], say: PhraseCatalogue = ENGLISH
) -> str:
    """The codes of the batches that are begun on a day, and which day that is meant to be."""
    day = next(iter(begun.values())).day.isoformat()
    return say.several(len(begun), "day.batches", date=day, codes=", ".join(codes))


def lots_words(
    shelf: Shelf, begun: Mapping[int, BatchToCome], say: PhraseCatalogue = ENGLISH
) -> CardWords:
    """The open lots that some batches use, marked if past their date by the day of the batch.

    What nobody noted a lot of comes last, together.
    """
    found, unnoted = list[CardWords](), list[CardWords]()
    for lot in dict.fromkeys(lot for one in begun.values() for lot in one.lots):
        name = say.named(shelf.of_kind(lot.kind)[lot.name].name)
        if not lot.lot:
            unnoted.append(name)
        elif lot.best_before is not None and lot.is_past:
            past = say.text("lots.past", date=lot.best_before.isoformat())
            found.append((*name, " ", TextRun(f"{lot.lot} {past}", "mind")))
        else:
            found.append((*name, f" {lot.lot}"))
    if unnoted:
        found.append(say.words("day.lots.none", names=say.listed_words(unnoted)))
    parts = [part for one in found for part in (("; ",), one)][1:]
    return say.words("day.lots", lots=joined_words(parts))


def without(notebook: Notebook, plan: OrderPlan) -> list[str]:
    """The designs of an order that it is planned without, since their write-ups have a mistake."""
    planned = {line.design.id for line in plan.figures.lines}
    order = notebook.orders.get(plan.figures.order.id, plan.figures.order)
    ordered = dict.fromkeys(line.design for line in order.record.designs)
    return [name for name in ordered if name not in planned]


def line_text(line: OrderedLine, say: PhraseCatalogue) -> str:
    """The title of a line, its variant in the words of a language."""

    def trimmed(kind: str) -> str:
        return say.text("trimmed", trim=say.text(f"trim.{kind}"))

    return line_title(line, partial(variant_words, trimmed=trimmed))


def over_limit_text(
    shelf: Shelf, line: OrderedLine, over: OverLimit, say: PhraseCatalogue = ENGLISH
) -> str:
    """What is said of a line that is over a limit: why, and that its oil has no amount here."""
    oils = say.listed(tuple(shelf.fragrances[name].name for name in over.oils))
    title, why = line_text(line, say), why_over(shelf, over, say)
    return say.text("day.over", name=title, why=why, oil=oils)


def by_eye_text(names: str, count: int) -> str:
    """A sentence on things that go in by eye: ``Barley ochre goes in by eye, …``."""
    goes, jar = ("goes", "jar") if count == 1 else ("go", "jars")
    return f"{names} {goes} in by eye, so none is counted here. Check the {jar}."


def left_behind_text(units: wording.UnitFormatter, shelf: Shelf, left: PotLeft) -> str:
    """The mass left in a pot, with the bases, colours, additives and scents in it."""
    bases = wording.list_text([shelf.bases[base].name for base, _ in left.bases])
    colours = wording.list_text([shelf.colourants[name].name for name in left.colours])
    additives = wording.list_text([shelf.additives[name].name for name in left.additives])
    scents = wording.list_text([shelf.fragrances[name].name for name, _ in left.scents])
    text = f"{units.mass(left.left_g)} of {bases}"
    text += f", tinted with {colours}" if colours else ""
    text += f", with {additives} in it" if additives else ""
    return text + (f", scented with {scents}" if scents else "")


def end_time_text(step: TimedStep, say: PhraseCatalogue = ENGLISH) -> str:
    """The time at which a step ends, with the day if it began on another."""
    began, _ = day_and_minute(step.start_min)
    ends, _ = day_and_minute(step.end_min)
    time = wording.clock_text(step.end_min)
    return time if ends == began else say.text("day.ends", time=time, n=ends)


def steps_by_day(day: OrderDay) -> dict[int, list[TimedStep]]:
    """The steps of a plan by the number of the day they begin on; empty without a day sheet."""
    by_day: dict[int, list[TimedStep]] = {}
    for step in day.sheet.steps if day.sheet is not None else ():
        by_day.setdefault(day_and_minute(step.start_min)[0], []).append(step)
    return by_day


def order_text(order: WrittenOrder, plan: OrderPlan, *, studio: bool) -> str:
    """The bars of an order and its days: ``56 bars, due … Begin by …``; for whom, in the studio."""
    bars = wording.count_text(plan.figures.wanted, "bar")
    customer = f" for {order.customer}" if studio and order.customer else ""
    text = f"{bars}{customer}, due {wording.long_date(order.due)}."
    if plan.day.begin_by is None:
        return text
    return f"{text} Begin by {wording.long_date(plan.day.begin_by)}."


def _hours_text(clock: DayClock, say: PhraseCatalogue) -> str:
    """The working hours of a plan: ``one pair of hands from 9:00 to 17:00``."""
    if clock.hours is None:
        return say.text("day.hands.always")
    opens, closes = map(wording.clock_text, (clock.hours.opens_min, clock.hours.closes_min))
    return say.text("day.hands", begins=opens, ends=closes)


def working_time_text(day: OrderDay, say: PhraseCatalogue = ENGLISH) -> str:
    """The hands-on and elapsed time of a plan, which must have a day sheet, and its hours."""
    assert day.sheet is not None
    hands_on, elapsed = map(wording.duration, (day.sheet.hands_on_min, day.sheet.elapsed_min))
    hands = _hours_text(day.clock, say)
    return say.several(day.days, "day.work", by_hand=hands_on, elapsed=elapsed, hands=hands)


def assumption_words(one: Assumption, say: PhraseCatalogue = ENGLISH) -> CardWords:
    """A sentence on what a plan takes for want of something written."""
    shown = wording.duration(one.minutes)
    return say.words(f"assumed.{one.what}", name=one.title, layer=one.layer, time=shown)
