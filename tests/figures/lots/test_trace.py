"""Lots to bars and back: worked by hand, and for any pours and leftovers."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from journal.figures.lots.trace import (
    LeftoverOrigin,
    LotUse,
    Material,
    PouredBatch,
    PouredPart,
    bars_by_lot,
    trace_batches,
)

WHITE, CLEAR, CEDAR = ("bases", "white"), ("bases", "clear"), ("fragrances", "cedar")
ENDS, BAND = ("leftovers", "ends"), ("packaging", "band")
MADE_OF = {"ends": LeftoverOrigin("kelp", (WHITE, CEDAR))}
DAY = date(2026, 4, 18)


def batch(
    code: str,
    design: str,
    days: int,
    pots: dict[str, tuple[Material, ...]],
    lots: dict[Material, tuple[str, ...]],
    bars: tuple[str, ...] = ("A1", "A2"),
) -> PouredBatch:
    part = PouredPart(bars, pots, (BAND,))
    return PouredBatch(code, design, "A", DAY + timedelta(days), (part,), lots)


#: Kelp in two pots, then pebbles of what its slate pot left, then kelp again of another lot.
KELP = batch(
    "K18A", "kelp", 0, {"white": (CLEAR,), "slate": (WHITE, CEDAR)},
    {WHITE: ("W-1",), CLEAR: ("C-1",), CEDAR: ("O-1",)},
)  # fmt: skip
PEBBLES = batch("P1", "pebbles", 9, {"loaf": (ENDS,)}, {ENDS: ("K18A",)}, ("B1",))
LATER = batch("K30A", "kelp", 12, {"slate": (WHITE, CEDAR)}, {WHITE: ("W-2",)})
ALL = [LATER, PEBBLES, KELP]


def bars_of(*key: str | None) -> dict[str, tuple[str, ...]]:
    rows = bars_by_lot(trace_batches(ALL, MADE_OF))
    return {row.batch: row.bars for row in rows.get(key, ())}  # type: ignore[call-overload]


def test_a_leftover_carries_its_lots_on() -> None:
    assert bars_of("bases", "white", "W-1") == {"P1": ("B1",), "K18A": ("A1", "A2")}
    assert bars_of("fragrances", "cedar", "O-1").keys() == {"P1", "K18A"}
    # What was in the pot that no leftover came from went no further.
    assert bars_of("bases", "clear", "C-1").keys() == {"K18A"}
    assert bars_of("bases", "white", "W-2").keys() == {"K30A"}
    # Nobody noted the oil of the later pour, nor any band.
    assert bars_of("fragrances", "cedar", None).keys() == {"K30A"}
    assert bars_of("packaging", "band", None).keys() == {"K18A", "P1", "K30A"}
    (row,) = bars_by_lot(trace_batches([KELP, PEBBLES], MADE_OF))["bases", "clear", "C-1"]
    assert (row.pots, row.via) == (("white",), ())


def test_a_leftover_that_names_no_batch_is_of_any_earlier_pour_of_its_design() -> None:
    unnamed = batch("P1", "pebbles", 9, {"loaf": (ENDS,)}, {})
    (traced, *_) = trace_batches([unnamed, KELP, LATER], MADE_OF)
    uses = traced.uses
    assert LotUse("bases", "white", "W-1", ("ends",)) in uses
    assert not any(use.lot == "W-2" for use in uses)  # poured afterwards
    (alone,) = trace_batches([unnamed], MADE_OF)
    # Nobody knows where it is from: what it is made of is of no known lot, but is there.
    assert LotUse("bases", "white", None, ("ends",)) in alone.uses


def test_leftovers_of_each_other_come_to_an_end() -> None:
    round_about = batch("X", "kelp", 0, {"pot": (ENDS, WHITE)}, {WHITE: ("W-1",)})
    again = batch("Y", "kelp", 0, {"pot": (ENDS,)}, {})
    traced = trace_batches([round_about, again], MADE_OF)
    assert LotUse("bases", "white", "W-1", ("ends",)) in traced[1].uses


MATERIALS = (WHITE, CLEAR, CEDAR, ENDS)
_lots = st.dictionaries(st.sampled_from(MATERIALS), st.tuples(st.sampled_from("abc")))
_pots = st.dictionaries(
    st.sampled_from(("p", "q")), st.lists(st.sampled_from(MATERIALS), max_size=3).map(tuple),
    min_size=1,
)  # fmt: skip


@st.composite
def pours(draw: st.DrawFn) -> list[PouredBatch]:
    return [
        PouredBatch(
            f"batch {n}" if n else "a", draw(st.sampled_from(("kelp", "fan"))), "A",
            DAY + timedelta(draw(st.integers(0, 3))),
            tuple(
                PouredPart((f"B{n}.{part}",), draw(_pots), (BAND,))
                for part in range(draw(st.integers(1, 2)))
            ),
            draw(_lots),
        )
        for n in range(draw(st.integers(1, 4)))
    ]  # fmt: skip


@given(pours())
def test_every_bar_traces_to_the_lot_of_each_of_its_materials_and_back(
    batches: list[PouredBatch],
) -> None:
    traced = trace_batches(batches, MADE_OF)
    rows = bars_by_lot(traced)
    for given_batch, one in zip(batches, traced, strict=True):
        assert one.code == given_batch.code
        for part, found in zip(given_batch.parts, one.parts, strict=True):
            for pot, things in (*part.pots.items(), ("", part.wrapped_in)):
                uses = found.pots[pot] if pot else found.wrapped_in
                for thing in things:
                    for lot in given_batch.lots.get(thing, (None,)):
                        assert LotUse(*thing, lot) in uses
                for use in uses:
                    back = next(row for row in rows[use.key] if row.batch == one.code)
                    assert set(part.bars) <= set(back.bars)
                    assert pot in back.pots
    held = {(key, row.batch, bar) for key, of in rows.items() for row in of for bar in row.bars}
    of_bars = {
        (use.key, one.code, bar)
        for one in traced for part in one.parts for use in part.uses for bar in part.bars
    }  # fmt: skip
    assert held == of_bars
