"""An order summed over its designs: what it takes, what to buy, what it costs."""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from journal.errors import Problem
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.exact import exact_fraction
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.day.bars_enough import MOST_TIMES, BarsEnough, JudgedPour, bars_enough
from journal.figures.day.derive_rounds import RoundLimit, round_limit
from journal.figures.day.order import (
    EACH,
    GRAMS,
    MILLILITRES,
    OnHand,
    ShelfNeed,
    ToBuy,
    bars_by_round,
    exact_need,
    sum_needs,
    to_buy,
)
from journal.figures.derive import RecipeFigures, derive_recipe
from journal.figures.pieces.derive_pieces import CastingPlaces, derive_pieces, places_of_recipe
from journal.figures.recipe import derive_leftovers
from journal.figures.recipe.derive_by_round import masses_by_round, summed_masses
from journal.figures.recipe.derive_layers import OverLimit, RecipeMasses
from journal.figures.recipe.derive_leftovers import LeftoverDraw, PotLeft
from journal.figures.recipe.derive_measured import asked_of_oil
from journal.figures.shop.cost import round_parts
from journal.figures.shop.derive_shop import COST, CUT
from journal.records.models.questions import OrderFile, OrderLine
from journal.records.models.shelf import Shelf, ShelfRecord
from journal.records.models.summary import DesignSummary
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Design, Variant
from journal.records.notebook import Notebook
from journal.records.yaml.tree import position_of

# Rounds that are planned together, at most: a second of work, which grows with their square.
MOST_ROUNDS = 100
_UNIT_OF = {"mass": GRAMS, "volume": MILLILITRES, "count": EACH}


class OrderedLine(Struct, frozen=True):
    """One line of an order, for its own number of bars."""

    number: int  # its place in the order, from 1
    line: OrderLine
    design: Design
    variant: Variant
    figures: RecipeFigures
    places: CastingPlaces
    masses: tuple[RecipeMasses, ...]  # of each round
    total: RecipeMasses  # of all rounds together
    left: tuple[PotLeft, ...]  # of each pot, once all rounds are poured
    limit: RoundLimit
    enough: BarsEnough | None = None  # where the order says how sure it is to be

    @property
    def rounds(self) -> tuple[int, ...]:
        """Bars of each round."""
        return tuple(masses.bars for masses in self.masses)

    @property
    def wanted(self) -> int:
        """Bars that are ordered."""
        return self.line.bars

    @property
    def bars(self) -> int:
        """Bars to pour: those ordered, and more where so many must be fit to sell."""
        return _to_pour(self.line, self.enough)

    @property
    def casts(self) -> int:
        """Cavities that it fills, and pieces that it casts on, over all rounds."""
        return sum(-(-bars // self.places.bars_each) for bars in self.rounds)


class ToCut(Struct, frozen=True):
    """Pieces to cut, since the shelf has too few; ``sheets`` is None without a cut plan."""

    mat: str
    mould: str | None
    trim: str
    pieces: int
    sheets: int | None
    worn: bool  # there are pieces, but with too few casts left


class PieceWear(Struct, frozen=True):
    """The casts that an order makes on some pieces, and those that they have left, if known."""

    pieces: tuple[str, ...]
    owned: int | None
    casts: int
    left: int | None


class OrderCost(Struct, frozen=True):
    """Cost and price of each line and of the whole order.

    A line's are None where its cost sheet is missing or incomplete; a sum is None if one of
    its lines is. ``least`` is what is known of each line's cost, and of all of them together,
    which is rounded down. ``wholesale`` is the price to a shop; None without a share.
    """

    lines: tuple[tuple[Decimal | None, Decimal | None], ...]  # cost, price
    cost: Decimal | None
    price: Decimal | None
    least: tuple[Decimal, ...] = ()
    at_least: Decimal = Decimal(0)
    wholesale: Decimal | None = None


class OrderFigures(Struct, frozen=True):
    """All figures of an order: amounts, purchases, wear of pieces, and cost.

    ``needs`` is what all lines take of the shelf, exact and in its units; ``fresh`` the
    same less what leftovers give (``draws``); ``buy`` what of that is not on hand.
    ``by_eye`` are things of which no dose says how much is needed.
    """

    order: OrderFile
    lines: tuple[OrderedLine, ...]
    needs: tuple[ShelfNeed, ...]
    draws: tuple[LeftoverDraw, ...]
    fresh: tuple[ShelfNeed, ...]
    buy: tuple[ToBuy, ...]
    by_eye: tuple[ThingRef, ...]
    wear: tuple[PieceWear, ...]
    cut: tuple[ToCut, ...]
    cost: OrderCost
    problems: tuple[Problem, ...]

    @property
    def over(self) -> tuple[tuple[OrderedLine, OverLimit], ...]:
        """What its lines are over, in one round or in all: of those oils it gives no amount."""
        found = {
            (line.number, one.layer, one.oils): (line, one)
            for line in self.lines
            for masses in (*line.masses, line.figures.masses)
            for one in masses.over
        }
        return tuple(found.values())

    @property
    def bars(self) -> int:
        """Bars to pour of all lines."""
        return sum(line.bars for line in self.lines)

    @property
    def wanted(self) -> int:
        """Bars that are ordered, of all lines."""
        return sum(line.wanted for line in self.lines)


def derive_order(
    notebook: Notebook,
    order: OrderFile,
    cast: Mapping[str, int] | None = None,
    memo: Memo = in_process_memo,
) -> OrderFigures:
    """An order's amounts, rounds, purchases and cost.

    Takes:  notebook  every design and thing of the order can be read
            order     one of its orders
            cast      how often each piece was cast on, where known
    Gives:  the figures, with the problems that they find in what the order uses
    """
    shelf = notebook.shelf
    problems: list[Problem] = []
    lines = tuple(
        _line(notebook, number, (line, order.record.sure), problems, memo)
        for number, line in enumerate(order.record.designs, start=1)
    )
    wear, cut = _pieces(notebook, lines, cast)
    sheets = [
        exact_need("mats", one.mat, EACH, one.sheets) for one in cut if one.sheets is not None
    ]
    needs = sum_needs([*_needs(shelf, lines), *sheets])
    used_up_g = {one.item: float(one.amount) for one in needs if one.kind == "leftovers"}
    drawing = [
        derive_leftovers.OrderLineMasses(line.number, line.design.id, line.total)
        for line in lines
        if line.line.takes_leftovers
    ]
    draws = derive_leftovers.draw_leftovers(shelf, drawing, used_up_g)
    fresh = tuple(_less_drawn(needs, draws))
    return OrderFigures(
        order=order,
        lines=lines,
        needs=needs,
        draws=draws,
        fresh=fresh,
        buy=to_buy(fresh, tuple(_on_hand(shelf, fresh))),
        by_eye=tuple(
            dict.fromkeys(
                (one.kind, one.name)
                for line in lines
                for layer in line.total.layers
                for one in layer.dosed
                if one.by_eye
            )
        ),
        wear=wear,
        cut=cut,
        cost=_cost(lines),
        problems=tuple(sorted(set(problems))),
    )


def too_many_rounds(
    notebook: Notebook, order: OrderFile, designs: Container[str], memo: Memo = in_process_memo
) -> tuple[Problem, ...]:
    """The error for an order of more rounds than are planned together, at its longest line.

    Takes:  order    one without errors
            designs  those that have figures; lines of others are left out
            memo     calls functions that take long
    """
    lines = {
        number: line for number, line in enumerate(order.record.designs) if line.design in designs
    }
    # A round has a bar or more: of most orders no recipe is to be read.
    sure = order.record.sure
    if (
        sum(line.bars * (MOST_TIMES if line.sure or sure else 1) for line in lines.values())
        <= MOST_ROUNDS
    ):
        return ()
    rounds: dict[int, int] = {}
    for number, line in lines.items():
        design = notebook.designs[line.design]
        variant = line_variant(design, line.variant)
        context = RecipeContext(notebook.settings, notebook.shelf, design, variant, line.bars)
        limit = round_limit(context, places_of_recipe(notebook.shelf, variant.recipe))
        enough = _enough(notebook, design, variant, line, sure, limit.bars, memo)
        bars = _to_pour(line, enough)
        rounds[number] = 1 if limit.bars is None else -(-bars // limit.bars)
    total, longest = sum(rounds.values()), max(rounds, key=lambda one: rounds[one])
    if total <= MOST_ROUNDS:
        return ()
    at = position_of(order.written, "designs", longest, "bars")
    what = f"the order takes {total} rounds, and at most {MOST_ROUNDS} are planned together"
    return (Problem(at, what, "Plan it in parts: make several orders of it."),)


def line_variant(design: Design, name: str | None) -> Variant:
    """The variant that an order's line names; without a name, the recipe as written."""
    return design.as_written if name is None else design.variant(name)


def _to_pour(line: OrderLine, enough: BarsEnough | None) -> int:
    """Bars to pour for a line; those ordered where no more can be said."""
    return line.bars if enough is None or enough.bars is None else enough.bars


def judged_pours(summaries: Mapping[str, DesignSummary]) -> dict[str, tuple[JudgedPour, ...]]:
    """The bars of each design's pours that are of its recipe as written, judged and fit to sell.

    A variant that was tried and lost says nothing of what is poured to sell.
    """
    return {
        name: tuple(
            JudgedPour(*pour.as_written) for pour in one.overview.pours if pour.as_written[1]
        )
        for name, one in summaries.items()
    }


def _enough(
    notebook: Notebook,
    design: Design,
    variant: Variant,
    line: OrderLine,
    sure: float | None,
    a_round: int | None,
    memo: Memo,
) -> BarsEnough | None:
    """The bars to pour for a line, by the bars of its variant so far; None without a ``sure``."""
    asked = line.sure if line.sure is not None else sure
    if asked is None:
        return None
    own: list[JudgedPour] = []
    alike = {variant.name, *(one.name for one in design.variants if one.recipe == variant.recipe)}
    for pour in design.pours:
        judged = [
            bar.measures["keep"] is True
            for bar in pour.bars
            if bar.variant in alike and "keep" in bar.measures
        ]
        if judged:
            own.append(JudgedPour(sum(judged), len(judged)))
    others = [
        pours
        for name, pours in judged_pours(notebook.summaries).items()
        if pours and name != design.id
    ]
    return memo(bars_enough, tuple(own), tuple(sorted(others)), line.bars, asked, a_round)


def _line(
    notebook: Notebook,
    number: int,
    asked: tuple[OrderLine, float | None],
    problems: list[Problem],
    memo: Memo,
) -> OrderedLine:
    """The figures of one line for its own number of bars; problems are added to ``problems``.

    ``asked`` is the line, and how sure the order is to be where the line does not say.
    """
    line, sure = asked
    design = notebook.designs[line.design]
    variant = line_variant(design, line.variant)
    places = places_of_recipe(notebook.shelf, variant.recipe)
    ordered = RecipeContext(notebook.settings, notebook.shelf, design, variant, line.bars)
    limit = round_limit(ordered, places)
    enough = _enough(notebook, design, variant, line, sure, limit.bars, memo)
    bars = _to_pour(line, enough)
    figures = derive_recipe(
        notebook.settings, notebook.shelf, design, variant, bars, problems,
        models=False, memo=memo,
    )  # fmt: skip
    context = RecipeContext(notebook.settings, notebook.shelf, design, variant, bars)
    rounds = (bars,) if limit.bars is None else bars_by_round(bars, limit.bars)
    masses = masses_by_round(context, rounds)
    left = derive_leftovers.pots_left(context, masses)
    return OrderedLine(
        number, line, design, variant, figures, places, masses, summed_masses(masses), left, limit,
        enough,
    )  # fmt: skip


def _needs(shelf: Shelf, lines: Sequence[OrderedLine]) -> Iterator[ShelfNeed]:
    """All that each line takes of the shelf, an entry a use; without what has no amount."""
    for line in lines:
        for layer, written in zip(line.total.layers, line.variant.recipe.layers, strict=True):
            if layer.leftover is not None:
                yield exact_need("leftovers", layer.leftover, GRAMS, layer.leftover_g)
            for base, melt_g in layer.fresh:
                yield _shelf_need(shelf.bases[base], "bases", base, melt_g, None)
            poured_in = [oil for oil in layer.fragrances if not oil.from_leftover]
            for oil, dose in zip(poured_in, written.fragrance, strict=True):
                record = shelf.fragrances[oil.oil]
                asked = asked_of_oil(oil, dose.dose)
                if asked is not None:
                    yield _shelf_need(record, "fragrances", oil.oil, asked.mass_g, asked.volume_ml)
            for one in layer.dosed:
                if not one.by_eye:
                    thing = shelf.dosed_ingredient(one.kind, one.name)
                    yield _shelf_need(thing, one.kind, one.name, one.mass_g, one.volume_ml)
        for name in line.variant.recipe.packaging:
            each = shelf.packaging[name].each or 1
            yield exact_need("packaging", name, EACH, -(-line.wanted // each))


def _shelf_need(
    record: ShelfRecord, kind: str, item: str, mass_g: float | None, volume_ml: float | None
) -> ShelfNeed:
    """A need in the unit that the shelf counts the thing in; in another if only that is known."""
    amounts = {GRAMS: mass_g, MILLILITRES: volume_ml}
    first = MILLILITRES if kind == "fragrances" else GRAMS
    on_hand = record.on_hand
    shelf_unit = _UNIT_OF[on_hand.amount.kind] if on_hand is not None else first
    for unit in (shelf_unit, first, GRAMS, MILLILITRES):
        amount = amounts.get(unit)
        if amount is not None:
            return exact_need(kind, item, unit, amount)
    raise AssertionError(f"{kind}/{item} is dosed by nothing")


def _less_drawn(needs: Sequence[ShelfNeed], draws: Sequence[LeftoverDraw]) -> Iterator[ShelfNeed]:
    """The needs, those of bases less what is drawn from leftovers, never below 0."""
    drawn: dict[str, Fraction] = {}
    for draw in draws:
        for base, mass_g in draw.bases_g:
            drawn[base] = drawn.get(base, Fraction(0)) + exact_fraction(mass_g)
    for one in needs:
        less = drawn.get(one.item, Fraction(0)) if one.kind == "bases" else Fraction(0)
        yield ShelfNeed(one.kind, one.item, one.unit, max(Fraction(0), one.amount - less))


def _on_hand(shelf: Shelf, needs: Sequence[ShelfNeed]) -> Iterator[OnHand]:
    """The amounts on hand of the things needed; no entry where the shelf does not say."""
    for kind, item in dict.fromkeys((one.kind, one.item) for one in needs):
        record = shelf.of_kind(kind)[item]
        if kind == "leftovers":
            on_hand_g = derive_leftovers.leftover_mass_g(shelf.leftovers[item])
            yield OnHand(
                kind, item, GRAMS, None if on_hand_g is None else exact_fraction(on_hand_g)
            )
        elif record.on_hand is not None:
            amount = record.on_hand.amount
            yield OnHand(kind, item, _UNIT_OF[amount.kind], exact_fraction(amount.value))


def _pieces(
    notebook: Notebook, lines: Sequence[OrderedLine], cast: Mapping[str, int] | None
) -> tuple[tuple[PieceWear, ...], tuple[ToCut, ...]]:
    """Wear of the pieces on the shelf, and pieces to cut where those are too few.

    Lines that cast on the same pieces wear them together; pieces for one mat, mould
    and trim are cut once for all lines that need them. ``cast`` is how often each piece
    was cast on so far, where known.
    """
    figures = {name: one.value for name, one in derive_pieces(notebook, cast).items() if one.value}
    by_pieces: dict[tuple[str, ...], list[OrderedLine]] = {}
    for line in lines:
        if line.variant.recipe.mat is not None:
            by_pieces.setdefault(line.places.pieces, []).append(line)
    wear: list[PieceWear] = []
    cut: dict[tuple[str, str | None, str], ToCut] = {}
    for pieces, sharing in by_pieces.items():
        if not pieces:
            for line in sharing:
                needed = -(-max(line.rounds) // line.places.bars_each)
                _add_to_cut(cut, _to_cut(line, needed, worn=False))
            continue
        casts = sum(line.casts for line in sharing)
        worn = [figures[name].casts for name in pieces]
        left = None if None in worn else sum(one.left for one in worn if one is not None)
        wear.append(PieceWear(pieces, sharing[0].places.owned, casts, left))
        life = next((figures[name].life_each for name in pieces if figures[name].life_each), None)
        if left is not None and life is not None and casts > left:
            _add_to_cut(cut, _to_cut(sharing[0], -(-(casts - left) // life), worn=True))
    return tuple(wear), tuple(cut.values())


def _add_to_cut(cut: dict[tuple[str, str | None, str], ToCut], entry: ToCut) -> None:
    """Put an entry among the pieces to cut; of two for one mat, mould and trim the larger stays."""
    key = (entry.mat, entry.mould, entry.trim)
    if key not in cut or cut[key].pieces < entry.pieces:
        cut[key] = entry


def _to_cut(line: OrderedLine, pieces: int, *, worn: bool) -> ToCut:
    """So many pieces to cut for a line that is cast on a mat, with the sheets that they take."""
    recipe = line.variant.recipe
    plan = line.figures[CUT].value
    sheets = math.ceil(pieces / plan.count) if plan is not None and plan.count else None
    trim = str(line.variant.written.get("trim", ""))
    assert recipe.mat is not None
    return ToCut(recipe.mat, recipe.mould, trim, pieces, sheets, worn)


def _cost(lines: Sequence[OrderedLine]) -> OrderCost:
    """Cost and price of the lines and their sums, from the lines' cost sheets."""
    sheets = [line.figures[COST].value for line in lines]
    whole = [sheet is not None and not sheet.missing for sheet in sheets]
    # The lines are rounded with their sum, so that the exact sum is rounded once.
    exact = [("", Fraction(0) if sheet is None else Fraction(sheet.known)) for sheet in sheets]
    currency = next((one.currency for one in sheets if one is not None), "")
    shown = round_parts(exact, currency, at_least=not all(whole))
    least = tuple(cost or Decimal(0) for _, cost in shown.parts)
    costs = [cost if known else None for cost, known in zip(least, whole, strict=True)]
    # What is poured to be sure of enough is paid for, and not sold.
    retail = [None if sheet is None else sheet.price for sheet in sheets]
    to_shops = [None if sheet is None else sheet.wholesale for sheet in sheets]
    prices, wholesale = (
        [None if one is None else one * line.wanted for line, one in zip(lines, a_bar, strict=True)]
        for a_bar in (retail, to_shops)
    )
    total = shown.total if all(whole) else None
    return OrderCost(
        tuple(zip(costs, prices, strict=True)), total, _sum(prices), least, shown.total,
        _sum(wholesale),
    )  # fmt: skip


def _sum(amounts: Sequence[Decimal | None]) -> Decimal | None:
    """The sum; None if an amount is not known."""
    known = [amount for amount in amounts if amount is not None]
    return sum(known, Decimal(0)) if len(known) == len(amounts) else None
