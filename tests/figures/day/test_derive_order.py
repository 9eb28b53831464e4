"""Orders: by hand on the worked notebook, as sums of the cards, and against the shelf."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from demo import KELP_ON_GREY
from demo_book import demo_notebook
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from worked_notebook import DESIGN, read

from journal.figures.day.derive_order import OrderFigures, derive_order, line_variant
from journal.figures.derive import derive_recipe
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_layers import LayerFigures, RecipeMasses
from journal.figures.shop.derive_shop import COST
from journal.records.models.questions import OrderFile, OrderLine, WrittenOrder
from journal.records.notebook import Notebook
from journal.records.yaml.tree import WrittenTable

DEMO = demo_notebook()
# Each need is read to 12 digits before it is summed.
SUMS = 1e-11


def plan(notebook: Notebook, name: str = "dozen") -> OrderFigures:
    return derive_order(notebook, notebook.orders[name])


def order_of(*lines: tuple[str, str | None, int, bool]) -> OrderFile:
    """An order that nobody wrote: design, variant, bars, takes leftovers."""
    asked = WrittenOrder.model_construct(
        title="Any",
        due=date(2026, 12, 1),
        customer=None,
        designs=tuple(
            OrderLine.model_construct(design=d, bars=b, variant=v, takes_leftovers=t)
            for d, v, b, t in lines
        ),
        private=None,
    )
    return OrderFile("any", "orders/any.yaml", asked, WrittenTable(None))  # type: ignore[arg-type]


def amounts(found: OrderFigures, kind: str) -> dict[str, float]:
    return {need.item: float(need.amount) for need in found.needs if need.kind == kind}


# By hand -------------------------------------------------------------------------------


def test_an_order_by_hand(tmp_path: Path) -> None:
    """14 bars on two pieces: seven rounds of two.

    Base: 2 x 5 g and as much over, 5 % more: 21 g; what is scraped back, 10 g, goes into the
    next round, so that each of the other six melts 11 g: 87 g. 14 x 80 g and 5 %: 1176 g;
    together 1263 g, of which 300 g are there. Oil: 10 mL/kg into 1176 g, 11.76 mL, 10 mL there.
    Colour: 1 %, 11.76 g. Sleeves: 14, 5 there. Casts: 14 of the 94 that are left.
    """
    found = plan(read(tmp_path))
    (line,) = found.lines
    assert line.rounds == (2,) * 7
    assert found.bars == 14
    assert amounts(found, "bases") == {"plain": pytest.approx(1263, rel=SUMS)}
    assert amounts(found, "fragrances") == {"herb": pytest.approx(11.76, rel=SUMS)}
    assert amounts(found, "colourants") == {"brick": pytest.approx(11.76, rel=SUMS)}
    assert amounts(found, "packaging") == {"sleeve": 14}
    buy = {line.item: line for line in found.buy}
    assert float(buy["plain"].buy) == pytest.approx(963, rel=SUMS)  # type: ignore[arg-type]
    assert float(buy["herb"].buy) == pytest.approx(1.76, rel=SUMS)  # type: ignore[arg-type]
    assert buy["brick"].buy == 0
    assert buy["sleeve"].buy == 9
    (wear,) = found.wear
    pale, body = line.left
    # Seven times 21 g are poured, of which a twentieth of the 20 g sticks to the jug.
    assert (pale.melt_g, pale.lost_g) == (pytest.approx(87), pytest.approx(7))
    assert pale.left_g == pytest.approx(10)  # the last round's scrapings
    assert (body.melt_g, body.lost_g, body.left_g) == (
        pytest.approx(1176), pytest.approx(56), pytest.approx(0),
    )  # fmt: skip
    assert (wear.pieces, wear.owned, wear.casts, wear.left) == (("leaf-a",), 2, 14, 93)
    assert found.cut == ()
    assert found.problems == ()


def test_more_is_poured_to_be_sure_of_enough() -> None:
    """The demo's honeycomb had 9 of 9 bars fit to sell: 18 are poured for 12, and 12 are sold."""
    (line,) = (one for one in plan(DEMO, "lantern-fair").lines if one.enough is not None)
    enough = line.enough
    assert enough is not None
    assert (enough.kept, enough.judged, line.wanted) == (9, 9, 12)
    assert line.bars == enough.bars == line.total.bars == sum(line.rounds) > 12
    assert enough.chance is not None
    assert enough.chance >= 0.9


def test_what_is_poured_is_paid_for_and_what_was_ordered_is_sold() -> None:
    asked = WrittenOrder.model_construct(
        designs=(OrderLine.model_construct(design=KELP_ON_GREY, bars=12),), sure=0.9
    )
    sure = derive_order(DEMO, OrderFile("any", "a.yaml", asked, WrittenTable(None)))  # type: ignore[arg-type]
    (line,) = sure.lines
    assert line.bars > 12
    alone = derive_order(DEMO, order_of((KELP_ON_GREY, None, line.bars, False)))
    found = derive_order(DEMO, order_of((KELP_ON_GREY, None, 12, False)))
    assert amounts(sure, "bases") == amounts(alone, "bases")
    assert amounts(sure, "packaging") == amounts(found, "packaging")
    assert sure.cost.cost == alone.cost.cost
    sheet = alone.lines[0].figures[COST].value
    assert sheet is not None
    assert sheet.price is not None
    assert sure.cost.price == 12 * sheet.price


def test_of_few_bars_nothing_more_is_poured(tmp_path: Path) -> None:
    """Four bars were judged in the worked notebook; ten are wanted to say anything."""
    text = "title: A\ndue: 2026-04-30\nsure: 90 %\ndesigns: [{design: leaf, bars: 4}]\n"
    (line,) = plan(read(tmp_path, more={"orders/few.yaml": text}), "few").lines
    assert line.enough is not None
    assert (line.enough.kept, line.enough.judged, line.bars) == (3, 4, 4)
    assert line.enough.why == "10 bars looked at (keep: yes or no)"


def test_its_cost_is_that_of_its_cards(tmp_path: Path) -> None:
    """14 bars: base (70 + 7 + 1120 + 56) g: 12.53; oil 2.352; colour 1.176; sleeves 3.50;
    tools 14 x 0.153333: 2.146667; the recipe's 20 min pour four bars in two rounds, so seven
    rounds take 70 min; tidying 14 x 2 min: 39.20. In all 60.904667; twice that, 8.700667 a bar.
    """
    cost = plan(read(tmp_path)).cost
    assert cost.cost == Decimal("60.90")
    assert cost.price == 14 * Decimal("8.70")
    assert cost.lines == ((cost.cost, cost.price),)


def test_a_cost_that_is_not_known_is_not_summed(tmp_path: Path) -> None:
    found = plan(read(tmp_path, ("shelf/colourants.yaml", "  price: 0.10/g\n", "")))
    assert found.cost.cost is None
    assert found.cost.price is None


def test_what_is_in_another_unit_on_the_shelf(tmp_path: Path) -> None:
    """Oil on hand by mass: 11.76 mL are 10.584 g. Without a density nobody can say."""
    by_mass = ("shelf/fragrances.yaml", "on_hand: 10 mL", "on_hand: 10 g")
    buy = {line.item: line for line in plan(read(tmp_path / "a", by_mass)).buy}
    assert float(buy["herb"].buy) == pytest.approx(0.584, rel=1e-9)  # type: ignore[arg-type]
    bare = ("shelf/fragrances.yaml", "  density: 0.9 g/mL\n", "")
    buy = {line.item: line for line in plan(read(tmp_path / "b", by_mass, bare)).buy}
    assert buy["herb"].buy is None
    assert "takes a density" in buy["herb"].why


def test_what_the_shelf_does_not_count_is_all_to_buy(tmp_path: Path) -> None:
    found = plan(read(tmp_path, ("shelf/bases.yaml", "  on_hand: 300 g\n", "")))
    (base,) = (line for line in found.buy if line.item == "plain")
    assert base.buy == base.need
    assert base.on_hand is None
    assert "does not say" in base.why


def test_a_colour_by_eye_is_named_and_not_summed(tmp_path: Path) -> None:
    found = plan(
        read(tmp_path, ("designs/leaf/design.md", "dose: 1 %}", "by: eye, aim: terracotta}"))
    )
    assert found.by_eye == (("colourants", "brick"),)
    assert amounts(found, "colourants") == {}


@pytest.mark.parametrize(
    ("bars", "each", "boxes"), [(14, 3, 5), (14, 7, 2), (14, 1, 14), (14, 20, 1)]
)
def test_a_box_that_serves_several_bars(tmp_path: Path, bars: int, each: int, boxes: int) -> None:
    sleeve = ("shelf/packaging.yaml", "  price: 0.25", f"  price: 0.25\n  each: {each}")
    assert amounts(plan(read(tmp_path, sleeve)), "packaging") == {"sleeve": boxes}


# Rounds and pieces ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "rounds"),
    [
        (("shelf/pieces.yaml", "on_hand: 2", "on_hand: 3"), (3, 3, 3, 3, 2)),
        (("shelf/pieces.yaml", "on_hand: 2", "on_hand: 9"), (4, 4, 4, 2)),
        (("shelf/pieces.yaml", "  on_hand: 2\n", ""), (1,) * 14),
        (("shelf/moulds.yaml", "cavities: 4", "cavities: 1"), (1,) * 14),
        (("shelf/moulds.yaml", "cavities: 4", "cavities: 4\n  bars_each: 3"), (6, 6, 2)),
    ],
)
def test_rounds_by_the_fewer_of_cavities_and_pieces(
    tmp_path: Path, change: tuple[str, str, str], rounds: tuple[int, ...]
) -> None:
    assert plan(read(tmp_path, change)).lines[0].rounds == rounds


def test_no_piece_fits_so_pieces_are_to_cut(tmp_path: Path) -> None:
    """Four for the four cavities, from one sheet, of which there is none."""
    found = plan(read(tmp_path, ("shelf/pieces.yaml", "straight 2 mm", "close")))
    (cut,) = found.cut
    assert (cut.mat, cut.mould, cut.trim) == ("leaf", "four", "straight 2 mm")
    assert (cut.pieces, cut.sheets, cut.worn) == (4, 1, False)
    assert amounts(found, "mats") == {"leaf": 1}
    assert found.lines[0].rounds == (4, 4, 4, 2)


def test_pieces_that_wear_out_before_the_order_is_done(tmp_path: Path) -> None:
    """Two pieces of 50 casts with 92 behind them have 8 left; 14 are asked: one more."""
    found = plan(read(tmp_path, ("shelf/pieces.yaml", "casts_before: 3", "casts_before: 88")))
    (cut,) = found.cut
    assert (cut.pieces, cut.worn) == (1, True)
    assert found.wear[0].left == 8


def test_lines_that_cast_on_the_same_pieces_wear_them_together(tmp_path: Path) -> None:
    twice = ("orders/dozen.yaml", "[{design: leaf, bars: 14}]",
             "[{design: leaf, bars: 14}, {design: leaf, bars: 5}]")  # fmt: skip
    found = plan(read(tmp_path, twice))
    assert [wear.casts for wear in found.wear] == [19]
    assert amounts(found, "packaging") == {"sleeve": 19}


# As the cards say ----------------------------------------------------------------------


@cache
def full_masses(design: str, variant: str | None, bars: int) -> RecipeMasses:
    """The masses of so many bars that are poured at once, from nothing but fresh base."""
    found = DEMO.designs[design]
    chosen = line_variant(found, variant)
    return derive_recipe(DEMO.settings, DEMO.shelf, found, chosen, bars, [], models=False).masses


def fresh_of_round(line: OrderLine, bars: int, before: int) -> Iterator[tuple[LayerFigures, float]]:
    """Each layer of a full round, and how much of it is fresh after a round of ``before``."""
    recipe = line_variant(DEMO.designs[line.design], line.variant).recipe
    masses = full_masses(line.design, line.variant, bars)
    for pot in masses.pots:
        layers = [layer for layer in recipe.layers if layer.pot_name == pot.name]
        back_g = before * (layers[0].overpour or 0.0) if len(layers) == 1 else 0.0
        for name in pot.layers:
            yield masses.layer(name), max(0.0, pot.melt_g - back_g) / pot.melt_g


def cards_of(order: OrderFile, poured: Sequence[int]) -> Mapping[tuple[str, str], float]:
    """The sums of what the cards of an order's lines say, round by round; bars by line."""
    sums: dict[tuple[str, str], float] = {}

    def add(kind: str, name: str, amount: float | None) -> None:
        if amount is not None:
            sums[kind, name] = sums.get((kind, name), 0.0) + amount

    for line, of_line in zip(order.record.designs, poured, strict=True):
        recipe = line_variant(DEMO.designs[line.design], line.variant).recipe
        a_round = places_of_recipe(DEMO.shelf, recipe).bars_a_round or of_line
        rounds = [a_round] * (of_line // a_round) + [of_line % a_round] * (of_line % a_round > 0)
        for bars, before in zip(rounds, [0, *rounds], strict=False):
            for layer, fresh in fresh_of_round(line, bars, before):
                for base, melt_g in layer.bases if layer.leftover is None else ():
                    add("bases", base, fresh * melt_g)
                if layer.leftover is not None:
                    add("leftovers", layer.leftover, fresh * layer.melt_g)
                for oil in layer.fragrances:
                    poured_in = None if oil.from_leftover else oil.volume_ml
                    add("fragrances", oil.oil, poured_in and fresh * poured_in)
                for one in layer.dosed:
                    # The shelf counts powders by mass, what comes in bottles by volume.
                    on_hand = DEMO.shelf.dosed_ingredient(one.kind, one.name).on_hand
                    by_mass = on_hand is None or on_hand.amount.kind == "mass"
                    amount = one.mass_g if by_mass else one.volume_ml
                    add(one.kind, one.name, amount and fresh * amount)
        for name in recipe.packaging:
            add("packaging", name, -(-line.bars // (DEMO.shelf.packaging[name].each or 1)))
    return sums


def same_sums(order: OrderFile) -> None:
    found = derive_order(DEMO, order)
    needs = {(n.kind, n.item): float(n.amount) for n in found.needs if n.kind != "mats"}
    wanted = cards_of(order, [line.bars for line in found.lines])
    assert needs == {key: pytest.approx(value, rel=SUMS) for key, value in wanted.items()}


@pytest.mark.parametrize("name", sorted(DEMO.orders))
def test_an_order_is_the_sum_of_its_cards(name: str) -> None:
    same_sums(DEMO.orders[name])


RECIPES = [(design.id, v.name) for design in DEMO.designs.values() for v in design.variants]
lines_of_an_order = st.lists(
    st.builds(
        lambda recipe, bars, takes: (recipe[0], recipe[1], bars, takes),
        st.sampled_from([(d, None if v == "as written" else v) for d, v in RECIPES]),
        st.integers(1, 80),
        st.booleans(),
    ),
    min_size=1,
    max_size=4,
)


@given(lines_of_an_order)
@examples(25)
def test_any_order_is_the_sum_of_its_cards(lines: list[tuple[str, str | None, int, bool]]) -> None:
    same_sums(order_of(*lines))


@given(lines_of_an_order)
@examples(25)
def test_any_order_balances(lines: list[tuple[str, str | None, int, bool]]) -> None:
    """Rounds make all bars; nothing is drawn that is not there, nor bought that is."""
    found = derive_order(DEMO, order_of(*lines))
    for line in found.lines:
        assert sum(line.rounds) == line.bars
        assert max(line.rounds) == line.rounds[0]
    needs = {(n.kind, n.item, n.unit): n.amount for n in found.needs}
    for fresh in found.fresh:
        drawn = sum(
            mass_g
            for draw in found.draws
            for base, mass_g in draw.bases_g
            if fresh.kind == "bases" and base == fresh.item
        )
        whole = needs[fresh.kind, fresh.item, fresh.unit]
        assert float(whole - fresh.amount) == pytest.approx(drawn, rel=1e-9, abs=1e-9)
    for bought in found.buy:
        if bought.buy is not None and bought.on_hand is not None:
            assert bought.buy == max(Fraction(0), bought.need - bought.on_hand)
    taking = {line.number for line in found.lines if line.line.takes_leftovers}
    by_name: dict[str, float] = {}
    for draw in found.draws:
        assert draw.line in taking
        assert draw.limit_used is None or draw.limit_used <= 1 + 1e-9
        by_name[draw.leftover] = by_name.get(draw.leftover, 0) + draw.mass_g
    for name, mass_g in by_name.items():
        there = DEMO.shelf.leftovers[name].amount or 0
        used_up = amounts(found, "leftovers").get(name, 0.0)
        assert mass_g <= there - used_up + 1e-6
    if found.cost.cost is not None:
        assert found.cost.cost == sum(cost for cost, _ in found.cost.lines if cost is not None)


# Leftovers -----------------------------------------------------------------------------

ENDS = "ends: {name: Ends, base: plain, amount: 400 g, "
TAKES = ("orders/dozen.yaml", "bars: 14}", "bars: 14, takes_leftovers: yes}")


def drawn(tmp_path: Path, leftovers: str, *changes: tuple[str, str, str]) -> OrderFigures:
    return plan(read(tmp_path, *changes, more={"shelf/leftovers.yaml": leftovers}))


def test_plain_base_goes_into_any_pot_of_its_base(tmp_path: Path) -> None:
    """400 g: 87 g into the pale pot, the rest into the body's."""
    found = drawn(tmp_path, ENDS + "tinted: no, scented: no}\n", TAKES)
    assert [(d.pot, d.mass_g) for d in found.draws] == [
        ("pale", pytest.approx(87, rel=1e-9)),
        ("body", pytest.approx(313, rel=1e-9)),
    ]
    fresh = {n.item: float(n.amount) for n in found.fresh if n.kind == "bases"}
    assert fresh == {"plain": pytest.approx(863, rel=1e-9)}
    # The oil stays as on the card.
    assert amounts(found, "fragrances") == {"herb": pytest.approx(11.76, rel=SUMS)}
    (base,) = (line for line in found.buy if line.item == "plain")
    assert float(base.buy or 0) == pytest.approx(563, rel=1e-9)


def test_nothing_is_drawn_unless_it_is_asked_for(tmp_path: Path) -> None:
    plain = ENDS + "tinted: no, scented: no}\n"
    assert drawn(tmp_path / "a", plain).draws == ()
    no = ("orders/dozen.yaml", "bars: 14}", "bars: 14, takes_leftovers: no}")
    assert drawn(tmp_path / "b", plain, no).draws == ()


@pytest.mark.parametrize(
    ("held", "pots"),
    [
        ("tinted: brick, scented: no", ["body"]),
        ("tinted: slate, scented: no", []),
        ("tinted: no, scented: {oil: herb, concentration: 0.5 %}", ["body"]),
        ("tinted: no, scented: {oil: moss, concentration: 0.5 %}", []),
        ("tinted: brick, scented: {oil: herb, concentration: 0.5 %}", ["body"]),
        ("tinted: brick-2, scented: no", ["body"]),
        ("tinted: brick, scented: {oil: moss, concentration: 0.5 %}", []),
    ],
)
def test_colour_and_scent_go_only_to_their_own(tmp_path: Path, held: str, pots: list[str]) -> None:
    jars = ("shelf/colourants.yaml", "brick:\n",
            "slate: {name: Slate}\nbrick-2: {name: New jar, same_as: brick}\nbrick:\n")  # fmt: skip
    oils = ("shelf/fragrances.yaml", "herb:\n", "moss: {name: Moss, limit: 2 %}\nherb:\n")
    found = drawn(tmp_path, ENDS + held + "}\n", TAKES, jars, oils)
    assert [d.pot for d in found.draws] == pots


def test_scent_is_drawn_no_further_than_its_limit(tmp_path: Path) -> None:
    """The card gives 10.584 g in 1198.344 g; at a limit of 1 % there is room for 1.39944 g of
    oil, which is in 69.972 g of a leftover of 2 %; 400 g are there."""
    tight = ("shelf/fragrances.yaml", "limit: 2 %", "limit: 1 %")
    held = "tinted: no, scented: {oil: herb, concentration: 2 %}}\n"
    found = drawn(tmp_path, ENDS + held, TAKES, tight)
    (draw,) = found.draws
    assert draw.mass_g == pytest.approx(69.972, rel=1e-9)
    assert draw.oil_g == pytest.approx(1.39944, rel=1e-9)
    assert draw.limit_used == pytest.approx(1, rel=1e-9)
    assert draw.held_back_g == pytest.approx(400 - 69.972, rel=1e-9)


def test_an_oil_that_is_forbidden_is_not_drawn(tmp_path: Path) -> None:
    notebook = read(
        tmp_path,
        TAKES,
        ("shelf/fragrances.yaml", "limit: 2 %", "limit: 0 %"),
        more={
            "shelf/leftovers.yaml": ENDS + "tinted: no, scented: {oil: herb, concentration: 1 %}}\n"
        },
    )
    found = plan(notebook)
    assert found.draws == ()
    assert [problem for problem in found.problems if not problem.warning]


CAST = DESIGN.replace(
    "    base: plain\n    amount: 5 g", "    base: {leftover: ends}\n    amount: 5 g"
)


def test_what_a_recipe_is_cast_from_comes_first(tmp_path: Path) -> None:
    """87 g of the 400 g are the detail's own; the rest may be drawn on."""
    notebook = read(
        tmp_path,
        TAKES,
        more={
            "shelf/leftovers.yaml": ENDS + "tinted: no, scented: no}\n",
            "designs/leaf/design.md": CAST,
        },
    )
    found = plan(notebook)
    assert amounts(found, "leftovers") == {"ends": pytest.approx(87, rel=SUMS)}
    assert [(d.pot, d.mass_g) for d in found.draws] == [("body", pytest.approx(313, rel=1e-9))]
    # There is enough of it, so nothing is wanting.
    (wanting,) = (line for line in found.buy if line.kind == "leftovers")
    assert wanting.buy == 0


def test_too_little_of_a_leftover_is_told(tmp_path: Path) -> None:
    notebook = read(
        tmp_path,
        more={
            "shelf/leftovers.yaml": "ends: {name: Ends, base: plain, amount: 50 g}\n",
            "designs/leaf/design.md": CAST,
        },
    )
    (wanting,) = (line for line in plan(notebook).buy if line.kind == "leftovers")
    assert float(wanting.buy or 0) == pytest.approx(37, rel=1e-9)


def test_errors_of_the_figures_come_with_the_order(tmp_path: Path) -> None:
    strong = ("designs/leaf/design.md", "dose: 10 mL/kg", "dose: 30 mL/kg")
    (problem,) = plan(read(tmp_path, strong)).problems
    assert "over its limit" in problem.what
