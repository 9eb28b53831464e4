"""Figures of all designs together, from their summaries; and the plans of orders."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping

from msgspec import Struct

from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.common.result import Figure
from journal.figures.day.derive_batches import BatchToCome, batches_to_come
from journal.figures.day.derive_buying import BuyLine, OpenOrder, derive_buying
from journal.figures.day.derive_card import CardFigures, derive_first_round
from journal.figures.day.derive_day import DayClock, OrderDay, derive_day
from journal.figures.day.derive_order import OrderFigures, derive_order, too_many_rounds
from journal.figures.derive import FiguresSummary, lives_of, notebook_as_worn
from journal.figures.heat.derive_bases import (
    BaseOutcome,
    ColourInBase,
    base_outcomes,
    colours_by_thing,
    colours_in_bases,
    outcomes_by_base,
)
from journal.figures.heat.derive_heat import PotForecast, forecast_pot
from journal.figures.heat.pot_rates import PotRates, RateLine, coarse_line, coarse_reach, rate_line
from journal.figures.lots.balance import AmountLeft
from journal.figures.lots.derive_taken import amounts_left, shelf_as_left
from journal.figures.lots.derive_trace import BatchTrace, LotTrace, derive_trace
from journal.figures.lots.trace import LotKey
from journal.figures.pieces.derive_pieces import PieceFigures, bars_by_piece, derive_pieces
from journal.figures.shop.derive_template import CutTemplate, MatAndMould, derive_templates
from journal.figures.shop.derive_wear import MatWear, wear_of_mats
from journal.records.models.questions import OrderFile
from journal.records.models.things import ThingRef
from journal.records.notebook import Notebook

# From so many cooling runs of its own on, a design's forecast uses these alone: they are enough
# to describe it, and do not change with every other pot.
OWN_RUNS = 3


class DesignForecast(Struct, frozen=True):
    """How long a pot takes from the scent to the pour.

    ``from_own_pots`` is whether it rests on the design's own cooling runs, or on the studio's.
    """

    forecast: PotForecast
    from_own_pots: bool


class OrderPlan(Struct, frozen=True):
    """An order's amounts, its days, and the batches that its rounds will be."""

    figures: OrderFigures
    day: OrderDay
    batches: tuple[BatchToCome, ...] = ()


class NotebookFigures(Struct, frozen=True):
    """The figures of all designs together.

    ``rates``  how fast the studio's pots cooled
    ``card_rates``  the same for each design, so coarse that a further pot mostly changes nothing
    ``card_reach``  how far a pot may be from them, as ``coarse_reach``
    ``rounds``  the first round of each design's recipe as written, planned
    ``casts``  how often each piece was cast on in the pours written up
    ``outcomes``  what the pours say of each base
    ``colours``  how colourants moved in bases, by each colourant and by each base
    ``pieces``  casts and fit of every piece
    ``wear``  what the bars say of the pieces of each mat
    ``templates``  what to cut by, for each mat and mould that are used together
    ``forecasts``  of each design that has one
    ``orders``  the plan of each order, of those of its designs that can be worked out
    ``lives``  casts that a piece lasts, of each mat whose bars show that
    ``left``  what is left of each material whose count has a day
    ``lots``, ``batches``  which bars hold which lots, both ways
    ``buying``  what to buy over all open orders, by kind, id and unit
    """

    rates: PotRates
    card_rates: Mapping[str, RateLine]
    card_reach: Mapping[str, float | None]
    rounds: Mapping[str, CardFigures]
    casts: Mapping[str, int]
    outcomes: Mapping[str, tuple[BaseOutcome, ...]]
    colours: Mapping[ThingRef, tuple[ColourInBase, ...]]
    pieces: Mapping[str, Figure[PieceFigures]]
    wear: Mapping[str, MatWear]
    templates: Mapping[MatAndMould, tuple[CutTemplate, ...]]
    forecasts: Mapping[str, DesignForecast]
    orders: Mapping[str, OrderPlan]
    lives: Mapping[str, int]
    left: Mapping[ThingRef, AmountLeft]
    lots: Mapping[LotKey, LotTrace]
    batches: Mapping[str, tuple[BatchTrace, ...]]
    buying: Mapping[tuple[str, str, str], BuyLine]


def studio_pot_rates(summaries: Mapping[str, FiguresSummary]) -> PotRates:
    """The lines fitted to the cooling rates of all pots, and to those of single designs."""
    own = {
        name: rate_line(summary.rates)
        for name, summary in summaries.items()
        if len(summary.rates) >= OWN_RUNS
    }
    every = [rate for summary in summaries.values() for rate in summary.rates]
    return PotRates(rate_line(every), own)


def card_rates(names: Iterable[str], rates: PotRates) -> dict[str, RateLine]:
    """How fast the pots cool that a card of each design goes by."""
    return {name: coarse_line(rates.of(name)) for name in names}


def card_reach(names: Iterable[str], rates: PotRates) -> dict[str, float | None]:
    """How far a pot of each design may be from what its card goes by."""
    return {name: coarse_reach(rates.of(name)) for name in names}


def derive_notebook(
    notebook: Notebook,
    summaries: Mapping[str, FiguresSummary],
    rates: PotRates,
    orders: Mapping[str, OrderPlan] | None = None,
    rounds: Mapping[str, CardFigures] | None = None,
    memo: Memo = in_process_memo,
) -> NotebookFigures:
    """Derive the figures of all designs together.

    Takes:  notebook   reduced to what its edition shows
            summaries  of the figures of its designs
            rates      the cooling of all the studio's pots, also of designs not shown
            orders     plans that are derived already, as ``rounds`` of designs; None derives
                       all of them
            memo       calls slow pure functions, or takes their results from a cache
    """
    trace = derive_trace(notebook)
    left = amounts_left(notebook.shelf, (one for s in summaries.values() for one in s.taken))
    shown = {name: summaries[name] for name in notebook.summaries if name in summaries}
    casts, lines = dict(bars_by_piece(notebook.summaries, notebook.shelf)), card_rates(shown, rates)
    lives, templates = lives_of(notebook.shelf, shown), derive_templates(notebook)
    if rounds is None:
        rounds = {
            name: derive_first_round(notebook, notebook.designs[name], lines[name], one.dew_min)
            for name, one in shown.items()
        }
    if orders is None:
        as_left = notebook_as_left(notebook, left, lives)
        orders = dict(_order_plans(as_left, shown, casts, rates))
    return NotebookFigures(
        rates=rates,
        card_rates=lines,
        card_reach=card_reach(shown, rates),
        rounds=rounds,
        casts=casts,
        outcomes=outcomes_by_base(
            base_outcomes((row for s in shown.values() for row in s.outcomes), memo)
        ),
        colours=colours_by_thing(colours_in_bases((name, s.colours) for name, s in shown.items())),
        pieces=derive_pieces(notebook_as_worn(notebook, lives), casts),
        wear=wear_of_mats(
            notebook.settings,
            notebook.shelf,
            ((name, one.casts) for name, one in shown.items()),
            templates,
        ),
        templates=templates,
        forecasts=dict(_forecasts(shown, rates)),
        orders=orders,
        lives=lives,
        left=left,
        lots=trace.lots,
        batches=trace.batches,
        buying=buying_for(notebook, orders, left),
    )


def buying_for(
    notebook: Notebook, plans: Mapping[str, OrderPlan], left: Mapping[ThingRef, AmountLeft]
) -> dict[tuple[str, str, str], BuyLine]:
    """What to buy over all orders that are planned and not handed over."""
    open_orders = [
        OpenOrder(notebook.orders[name], plan.figures, plan.day.begin_by)
        for name, plan in plans.items()
        if notebook.orders[name].record.done is None
    ]
    return derive_buying(notebook.shelf, open_orders, left, notebook.settings.currency)


def notebook_as_left(
    notebook: Notebook, left: Mapping[ThingRef, AmountLeft], lives: Mapping[str, int]
) -> Notebook:
    """The notebook as an order finds it: with what is left on its shelf, and the lives seen."""
    worn = notebook_as_worn(notebook, lives)
    return dataclasses.replace(worn, shelf=shelf_as_left(worn.shelf, left))


def _forecasts(
    summaries: Mapping[str, FiguresSummary], rates: PotRates
) -> Iterator[tuple[str, DesignForecast]]:
    """Yield the forecast of each design that has one, with the design's id."""
    for name, summary in summaries.items():
        if summary.forecast is None:
            continue
        forecast = forecast_pot(summary.forecast, rates.of(name))
        if forecast is not None:
            yield name, DesignForecast(forecast, name in rates.own)


def _order_plans(
    notebook: Notebook,
    summaries: Mapping[str, FiguresSummary],
    casts: Mapping[str, int],
    rates: PotRates,
) -> Iterator[tuple[str, OrderPlan]]:
    """Yield the plan of each order, of those of its designs that have figures, with its name."""
    faulty_files = {problem.position.path for problem in notebook.errors}
    for name, order in notebook.orders.items():
        planned = None if order.path in faulty_files else order.of_designs(summaries)
        if planned is not None and not too_many_rounds(notebook, planned, summaries):
            yield name, plan_order(notebook, planned, casts, rates)


def plan_order(
    notebook: Notebook,
    order: OrderFile,
    casts: Mapping[str, int],
    rates: PotRates,
    clock: DayClock | None = None,
    memo: Memo = in_process_memo,
) -> OrderPlan:
    """Plan one order: its amounts and its days.

    ``casts`` is how often each piece was cast on so far. ``clock`` has the hours of the day; None
    means the usual ones.
    """
    figures = derive_order(notebook, order, casts, memo)
    day = derive_day(notebook, figures, rates, clock or DayClock(), memo)
    return OrderPlan(figures, day, batches_to_come(notebook.shelf, figures, day))
