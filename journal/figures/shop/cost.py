"""The cost of a bar and a batch, part by part, the price at a margin and the break-even.

Everything is an exact fraction until it is printed: no part is rounded before, so the
order of the sums cannot move a cent. A part of the cost that is not known whole is None; a cost
with such a part has no price. What is known of it still counts for what a bar costs at least.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from statistics import median
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.common.exact import (
    ExactNumber,
    exact_above,
    exact_at_least,
    exact_fraction,
    round_half_up,
)
from journal.quantities.units import money_step

# How the life of a piece is known: its bars show it, or it is written by guess.
LifeBy = Literal["seen", "guess"]

# The parts of a cost, in the order in which they are shown and in which a tie
# for a left-over cent is settled.
PARTS = ("base", "fragrance", "colour", "additives", "packaging", "tools", "labour")


def unit_price(amount: Decimal, quantity: ExactNumber) -> Fraction:
    """Price of one stored unit (one gram, millilitre or piece).

    Takes:  amount    money for the quantity; >= 0; Decimal
            quantity  g, mL or pieces that it buys; > 0; scalar
    Gives:  money per stored unit; exact
    Fails:  FigureError if either lies outside its range
    Source: definition
    Checked: 4.10 for 453.59237 g
    """
    money = exact_at_least(amount, 0, "the price")
    return money / exact_above(quantity, 0, "the quantity that the price is for")


def material_cost(quantity: ExactNumber, price_per_unit: Fraction) -> Fraction:
    """Cost of an amount of a material.

    What is charged to a batch is what does not come back: the base that stays
    in the bars and what is left in the jug, so the melt less what is scraped
    back into the pot (leftovers.left_behind); fragrance and colour are
    charged whole, as dosed, since they cannot be taken out of what is left.

    Takes:  quantity        g, mL or pieces; >= 0; scalar
            price_per_unit  money per stored unit; >= 0
    Gives:  money; exact
    Fails:  FigureError if either is below 0
    Source: definition
    Checked: 453.59237 g at 4.10 a pound is 4.10
    """
    amount = exact_at_least(quantity, 0, "the amount used")
    return amount * exact_at_least(price_per_unit, 0, "the price")


def mould_wear(price: Decimal, life_pours: int, bars_a_pour: int) -> Fraction:
    """A bar's share of what its mould cost.

    Takes:  price        of the mould; >= 0; Decimal
            life_pours   pours that it is good for; >= 1
            bars_a_pour  cavities x bars cut from each; >= 1
    Gives:  money a bar; exact
    Fails:  FigureError if any lies outside its range
    Source: definition (straight-line wear by use)
    Checked: 18.00 over 150 pours of 6 bars is 0.02
    """
    money = exact_at_least(price, 0, "the mould's price")
    pours = exact_at_least(life_pours, 1, "the mould's life in pours")
    return money / (pours * exact_at_least(bars_a_pour, 1, "bars a pour"))


def mat_wear(
    price: Decimal, pieces_a_sheet: int, casts_a_piece: int, bars_a_cast: int = 1
) -> Fraction:
    """A bar's share of what its mat cost.

    Takes:  price           of the sheet; >= 0; Decimal
            pieces_a_sheet  pieces cut from it; >= 1
            casts_a_piece   life of a piece in casts; >= 1
            bars_a_cast     bars that one cast makes (a loaf is cut into more); >= 1
    Gives:  money a bar; exact
    Fails:  FigureError if any lies outside its range
    Source: definition (straight-line wear by use)
    Checked: 24.00 over 12 pieces of 50 casts is 0.04
    """
    money = exact_at_least(price, 0, "the mat's price")
    pieces = exact_at_least(pieces_a_sheet, 1, "pieces a sheet")
    casts = exact_at_least(casts_a_piece, 1, "casts a piece")
    return money / (pieces * casts * exact_at_least(bars_a_cast, 1, "bars a cast"))


def hands_on_minutes(
    *,
    bars: int,
    rounds: int,
    written_bars: int,
    written_rounds: int,
    written_pour_min: ExactNumber,
    written_tidy_min: ExactNumber,
    measured_tidy_min_a_bar: ExactNumber | None,
) -> tuple[Fraction, Fraction]:
    """Hands-on minutes of pouring and tidying for a batch of any size.

    Pouring goes by the round through the mould: twice the rounds, twice the
    minutes, and a half-filled round takes as long as a full one. Tidying goes
    by the bar, and by the median of the bars that were timed where there are
    any; else by the minutes written in the recipe.

    Takes:  bars, rounds                  of the batch to cost; >= 1
            written_bars, written_rounds  of the batch that the recipe is written for; >= 1
            written_pour_min              minutes for that batch; >= 0; scalar
            written_tidy_min              minutes for that batch; >= 0; scalar
            measured_tidy_min_a_bar       median of timed bars; >= 0; None if none was timed
    Gives:  minutes of pouring and of tidying, exact
    Fails:  FigureError if any lies outside its range
    Source: definition
    Checked: 25 min for 6 bars in one round; 12 bars in two rounds, 50 min
    """
    for what, count in (
        ("bars", bars),
        ("rounds", rounds),
        ("the recipe's bars", written_bars),
        ("the recipe's rounds", written_rounds),
    ):
        exact_at_least(count, 1, what)
    pour = exact_at_least(written_pour_min, 0, "minutes of pouring") * rounds / written_rounds
    if measured_tidy_min_a_bar is None:
        each = exact_at_least(written_tidy_min, 0, "minutes of tidying") / written_bars
    else:
        each = exact_at_least(measured_tidy_min_a_bar, 0, "measured minutes of tidying")
    return pour, each * bars


def labour_cost(minutes: ExactNumber, rate_per_hour: Decimal) -> Fraction:
    """Cost of hands-on time at the studio's rate.

    Takes:  minutes        >= 0; scalar
            rate_per_hour  money an hour; >= 0; Decimal
    Gives:  money; exact
    Fails:  FigureError if either is below 0
    Source: definition
    Checked: 37 min at 18.00 an hour is 11.10
    """
    time = exact_at_least(minutes, 0, "hands-on minutes")
    return time * exact_at_least(rate_per_hour, 0, "the hourly rate") / 60


class CostGap(Struct, frozen=True):
    """One thing whose cost is not known.

    ``part`` is the part of the cost that it belongs to, ``needs`` the key to write; ``name`` is
    what the thing is called, "" for what is on no shelf. ``low`` and ``high`` are the least and
    the most money, for the whole batch, by the range of what is published; None without a range.
    """

    part: str
    needs: str
    name: str = ""
    low: Fraction | None = None
    high: Fraction | None = None


class BatchCost(Struct, frozen=True):
    """The exact cost of a batch, part by part.

    ``parts`` are (name, money for the whole batch), each name once; the money of a part that
    could not be worked out is None. ``so_far`` is what is known of such parts, ``gaps`` what is
    not. FigureError if ``bars`` is below 1, money below 0, or there is no part.
    """

    bars: int
    parts: tuple[tuple[str, Fraction | None], ...]
    so_far: tuple[tuple[str, Fraction], ...] = ()
    gaps: tuple[CostGap, ...] = ()

    def __post_init__(self) -> None:
        exact_at_least(self.bars, 1, "bars")
        names = [name for name, _ in self.parts]
        if not names or len(set(names)) != len(names):
            raise FigureError(f"a cost needs parts, each named once; these are {names}")
        for name, money in (*self.parts, *self.so_far):
            if money is not None:
                exact_at_least(money, 0, f"the cost of {name}")

    @property
    def missing(self) -> tuple[str, ...]:
        """Names of the parts that are not known."""
        return tuple(name for name, money in self.parts if money is None)

    @property
    def known_parts(self) -> tuple[tuple[str, Fraction | None], ...]:
        """What is known of each part, for the whole batch; None where nothing is."""
        so_far = dict(self.so_far)
        return tuple(
            (name, so_far.get(name) or None if money is None else money)
            for name, money in self.parts
        )

    @property
    def known(self) -> Fraction:
        """The sum of all that is known, for the whole batch: what it costs at least."""
        return sum((money for _, money in self.known_parts if money is not None), Fraction(0))


class PrintedMoney(Struct, frozen=True):
    """Money rounded to its currency's places; the parts sum exactly to the total."""

    parts: tuple[tuple[str, Decimal | None], ...]
    total: Decimal


def round_money(value: Fraction, currency: str = "") -> Decimal:
    """Round an exact sum half up to the smallest amount of its currency, for printing.

    Takes:  value     exact
            currency  by its three letters; "" has two places
    Gives:  a Decimal with the currency's places
    Source: common practice of bookkeeping, no source
    Checked: 0.125 gives 0.13
    """
    # Decimal division is inexact in general; a whole number of cents is not.
    cent = money_step(currency)
    return int(round_half_up(value / Fraction(cent), Fraction(1))) * cent


def round_parts(
    parts: Sequence[tuple[str, Fraction | None]], currency: str = "", *, at_least: bool = False
) -> PrintedMoney:
    """Round parts and total for printing, so that the parts sum to the total.

    The exact total is rounded half up, or down where it is said to be ``at_least`` so much;
    that is the only rounding. Each part
    is first rounded down to whole cents (the smallest amount of the currency),
    and the cents that are then still missing go, one each, to the parts with
    the largest remainders (largest remainder method; on a tie, the part named
    first). So no printed part is a whole cent away from its exact value, a
    part of nothing stays nothing, and the total is what a single sum would give.

    Takes:  parts     (name, exact money, >= 0, or None where it is not known)
            currency  by its three letters; "" has two places
            at_least  whether the total is a lower bound
    Gives:  Decimals; parts that are not known stay None
    Fails:  FigureError if a part is below 0
    Source: largest remainder method, from memory (Hamilton 1792; Hare-Niemeyer)
    Checked: 1/3, 1/3, 1/3 gives 0.34, 0.33, 0.33 and 1.00
    """
    cent = money_step(currency)
    cents = {
        place: exact_at_least(money, 0, f"the part {name}") / Fraction(cent)
        for place, (name, money) in enumerate(parts)
        if money is not None
    }
    # In whole numbers: each part is so many of one small share of a cent.
    shares = math.lcm(*(money.denominator for money in cents.values()))
    whole = {
        place: divmod(money.numerator * (shares // money.denominator), shares)
        for place, money in cents.items()
    }
    rest = sum(left for _, left in whole.values())
    missing = rest // shares if at_least else (2 * rest + shares) // (2 * shares)
    by_remainder = sorted(whole, key=lambda place: (-whole[place][1], place))
    printed = {place: whole[place][0] + (rank < missing) for rank, place in enumerate(by_remainder)}
    shown = tuple(
        (name, printed[place] * cent if place in printed else None)
        for place, (name, _) in enumerate(parts)
    )
    return PrintedMoney(shown, sum(printed.values()) * cent)


def price_at_margin(cost: Fraction, margin: ExactNumber) -> Fraction:
    """The price at which a stated share of it is left over after the cost.

    price = cost / (1 - margin). A margin is a share of the price, not of the
    cost: at a margin of 40 % a cost of 3.00 needs a price of 5.00, not of 4.20.

    Takes:  cost    exact money; >= 0
            margin  share of the price; 0 <= margin < 1; scalar
    Gives:  exact money
    Fails:  FigureError if either lies outside its range
    Source: definition; OpenStax Contemporary Mathematics sec. 6.2 for markup
    Checked: cost 3.00 at 40 % gives 5.00
    """
    share = exact_at_least(margin, 0, "the margin")
    if share >= 1:
        raise FigureError(f"the margin is {margin}; it must be below 1, a share of the price")
    return exact_at_least(cost, 0, "the cost") / (1 - share)


def contribution(price: ExactNumber, variable_cost: ExactNumber) -> Fraction:
    """The money that one sold bar leaves towards the fixed costs.

    Takes:  price          of a bar; scalar
            variable_cost  of a bar; scalar
    Gives:  money; may be below 0
    Fails:  FigureError if either is below 0
    Source: OpenStax Principles of Accounting 2: Managerial Accounting sec. 3.1
    Checked: price 100, variable cost 20 gives 80
    """
    return exact_at_least(price, 0, "the price") - exact_at_least(variable_cost, 0, "the cost")


def break_even(
    fixed_costs: ExactNumber, price: ExactNumber, variable_cost: ExactNumber
) -> int | None:
    """The number of bars that must be sold to pay the fixed costs.

    bars = fixed costs / (price - variable cost), rounded up to a whole bar

    Takes:  fixed_costs    of a time; >= 0; scalar
            price          of a bar; >= 0; scalar
            variable_cost  of a bar; >= 0; scalar
    Gives:  bars; None if a bar brings in no more than it costs
    Fails:  FigureError if any is below 0
    Source: OpenStax Principles of Accounting 2: Managerial Accounting sec. 3.2
    Checked: fixed 18000, price 100, variable cost 20 gives 225 bars
    """
    to_pay = exact_at_least(fixed_costs, 0, "the fixed costs")
    each = contribution(price, variable_cost)
    return math.ceil(to_pay / each) if each > 0 else None


class CostSheet(Struct, frozen=True):
    """Cost and price of a bar and a batch, rounded for printing.

    The batch is rounded from its own exact sum, not multiplied up from the
    printed bar, so bars x a printed bar may miss it by some cents; ``price``
    is that of a bar and is rounded to cents, and ``batch_price`` is
    bars x that. ``contribution`` is the printed price less the printed cost of
    a bar, so the column on the page adds up. ``missing`` are the parts of unknown cost: those
    have in ``a_bar`` and ``batch`` what is known of them, None for nothing, and the totals are
    rounded down, so that they say at least. ``gaps`` are of a bar. ``why`` are the reasons that
    there is no price or break-even. ``wholesale`` is the price of a bar to a shop;
    ``mat_life_by`` what the mat's share goes by, None without a mat of known life.
    """

    bars: int
    a_bar: PrintedMoney
    batch: PrintedMoney
    missing: tuple[str, ...]
    price: Decimal | None
    batch_price: Decimal | None
    contribution: Decimal | None
    break_even_bars: int | None
    why: tuple[str, ...]
    known: Decimal  # of the batch, to 28 digits: what sums over batches are made from
    currency: str = ""
    gaps: tuple[CostGap, ...] = ()
    least_price: Decimal | None = None  # what is known alone would need it
    wholesale_share: float | None = None
    wholesale: Decimal | None = None
    sets: tuple[SetPrice, ...] = ()
    mat_life_by: LifeBy | None = None

    @property
    def wholesale_contribution(self) -> Decimal | None:
        """What a bar sold to a shop leaves after its cost; below 0 for a loss."""
        return None if self.wholesale is None else self.wholesale - self.a_bar.total


class SetPrice(Struct, frozen=True):
    """The price of some bars that are sold in one wrapping, to her customers and to a shop."""

    packaging: str
    bars: int
    price: Decimal
    wholesale: Decimal | None


def wholesale_price(price: Fraction, share: ExactNumber) -> Fraction:
    """The price to a shop, as a share of the price that the shop's customers pay.

    Takes:  price  exact money; >= 0
            share  of the retail price; 0 to 1; scalar
    Gives:  exact money
    Fails:  FigureError if either lies outside its range
    Source: definition; half the retail price is common practice, no source
    Checked: 5.00 at 50 % gives 2.50
    """
    part = exact_at_least(share, 0, "the wholesale share")
    if part > 1:
        raise FigureError(f"the wholesale share is {share}; a share of the price is 0 to 1")
    return exact_at_least(price, 0, "the price") * part


def cost_sheet(
    cost: BatchCost,
    *,
    margin: ExactNumber | None,
    fixed_costs: Decimal | None,
    currency: str = "",
    wholesale: float | None = None,
    sets: Sequence[tuple[str, int]] = (),
) -> CostSheet:
    """Round cost and price for printing, per bar and per batch, and work out the break-even.

    Takes:  cost         of the batch, exact
            margin       share of the price; 0 <= margin < 1; None if not set
            fixed_costs  of a month; >= 0; None if not set
            currency     by its three letters; "" if not set
            wholesale    share of the retail price; 0 to 1; None if not set
            sets         wrappings of more than one bar: id, and how many it holds
    Gives:  Decimals, rounded once by the rule of ``round_parts``; a price only if
            no part is missing and a margin is set
    Fails:  FigureError if a setting lies outside its range
    Source: definition
    """
    lower_bound = bool(cost.missing)
    a_bar = round_parts(
        [(name, None if part is None else part / cost.bars) for name, part in cost.known_parts],
        currency,
        at_least=lower_bound,
    )
    batch = round_parts(cost.known_parts, currency, at_least=lower_bound)
    reasons: list[str] = []
    known = Decimal(cost.known.numerator) / Decimal(cost.known.denominator)
    if cost.missing:
        reasons.append(f"no price: the cost of {', '.join(cost.missing)} is not known")
    if margin is None:
        reasons.append("no price: the studio's margin is not set")
    exact_price = None if margin is None else price_at_margin(cost.known / cost.bars, margin)
    if exact_price is None or cost.missing:
        return CostSheet(
            cost.bars, a_bar, batch, cost.missing, *(None,) * 4, tuple(reasons), known, currency,
            gaps=tuple(_gap_of_a_bar(gap, cost.bars) for gap in cost.gaps),
            least_price=None if exact_price is None else round_money(exact_price, currency),
            wholesale_share=wholesale,
        )  # fmt: skip
    price = round_money(exact_price, currency)

    def to_a_shop(retail: Fraction) -> Decimal | None:
        """The wholesale price, as it is printed; None without a share."""
        if wholesale is None:
            return None
        return round_money(wholesale_price(retail, wholesale), currency)

    left, even = price - a_bar.total, None
    if fixed_costs is None:
        reasons.append("no break-even: the fixed costs are not set")
    else:
        # What is left by rounding the price up alone pays nothing.
        if left > 0:
            even = break_even(fixed_costs, price, cost.known / cost.bars)
        if even is None:
            reasons.append("no break-even: a bar brings in no more than it costs")
    return CostSheet(
        cost.bars, a_bar, batch, (), price, price * cost.bars, left, even, tuple(reasons),
        known, currency, least_price=price,
        wholesale_share=wholesale, wholesale=to_a_shop(exact_price),
        sets=tuple(
            SetPrice(name, number, round_money(exact_price * number, currency),
                     to_a_shop(exact_price * number))
            for name, number in sets
        ),
    )  # fmt: skip


def _gap_of_a_bar(gap: CostGap, bars: int) -> CostGap:
    """The gap of one bar of a batch."""
    if gap.low is None or gap.high is None:
        return gap
    return replace(gap, low=gap.low / bars, high=gap.high / bars)


def median_or_none(values: Sequence[ExactNumber]) -> Fraction | None:
    """The median of timed values; None if there are none.

    Takes:  values  any finite numbers
    Gives:  the middle value, or the mean of the two middle ones
    Fails:  FigureError if a value is not finite
    Source: definition
    Checked: 4, 1, 2 gives 2
    """
    if not values:
        return None
    return median(exact_fraction(value, "a timed value") for value in values)
