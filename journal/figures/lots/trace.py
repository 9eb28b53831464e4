"""Which lots went into which bars, and which bars hold a lot; leftovers carry their lots on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct

# The kind of a material on the shelf, and its id.
Material = tuple[str, str]
# A material by kind and id, and its lot; None where nobody knows which it was.
LotKey = tuple[str, str, str | None]

LEFTOVERS = "leftovers"
BASES = "bases"


class PouredPart(Struct, frozen=True):
    """Bars of a pour that hold the same: what was in each of their pots, and round them."""

    bars: tuple[str, ...]
    pots: Mapping[str, tuple[Material, ...]]
    wrapped_in: tuple[Material, ...] = ()


class PouredBatch(Struct, frozen=True):
    """One pour: its code, and what its bars are made of.

    ``lots`` has those that it used, by material; one without an entry is of no known lot.
    """

    code: str
    design: str
    pour: str
    day: date
    parts: tuple[PouredPart, ...]
    lots: Mapping[Material, tuple[str, ...]]


class LeftoverOrigin(Struct, frozen=True):
    """Where a leftover is from: the design that left it, if known, and what it is made of."""

    design: str | None
    made_of: tuple[Material, ...]


class LotUse(Struct, frozen=True):
    """One lot in a pot. ``via`` are the leftovers that brought it, the one in the pot first."""

    kind: str
    name: str
    lot: str | None
    via: tuple[str, ...] = ()

    @property
    def key(self) -> LotKey:
        """What the lot is looked up by."""
        return self.kind, self.name, self.lot


class TracedPart(Struct, frozen=True):
    """Bars that hold the same lots: those of each pot, and of what they are wrapped in."""

    bars: tuple[str, ...]
    pots: Mapping[str, tuple[LotUse, ...]]
    wrapped_in: tuple[LotUse, ...]

    @property
    def uses(self) -> tuple[LotUse, ...]:
        """All lots in and round these bars, each once."""
        of_pots = (use for uses in self.pots.values() for use in uses)
        return tuple(dict.fromkeys((*of_pots, *self.wrapped_in)))


class TracedBatch(Struct, frozen=True):
    """One pour with the lots in it."""

    code: str
    design: str
    pour: str
    day: date
    parts: tuple[TracedPart, ...]

    @property
    def uses(self) -> tuple[LotUse, ...]:
        """All lots in and round its bars, each once."""
        return tuple(dict.fromkeys(use for part in self.parts for use in part.uses))

    @property
    def bars(self) -> tuple[str, ...]:
        """All of its bars."""
        return in_order(bar for part in self.parts for bar in part.bars)


class LotHolding(Struct, frozen=True):
    """The bars of one pour that hold a lot, and the pots that it was in; "" for what is wrapped
    round them. ``via`` are the leftovers that brought it, if it did not come straight.
    """

    batch: str
    design: str
    pour: str
    day: date
    bars: tuple[str, ...]
    pots: tuple[str, ...]
    via: tuple[str, ...]


def trace_batches(
    batches: Sequence[PouredBatch], leftovers: Mapping[str, LeftoverOrigin]
) -> tuple[TracedBatch, ...]:
    """The lots in each pour; a leftover brings those of the pot that left it.

    A leftover whose lot is the code of a batch is of that batch; else any earlier pour of the
    design that left it counts, so that no bar is forgotten in a recall. Of a leftover of no known
    origin the lots of what it is made of are unknown.

    Takes:  batches    all pours, in any order, each code once
            leftovers  by id
    Gives:  as many, in the same order
    """
    known = _Pours(batches, leftovers)
    return tuple(
        TracedBatch(
            one.code, one.design, one.pour, one.day,
            tuple(
                TracedPart(
                    part.bars,
                    {pot: known.uses(one, things) for pot, things in part.pots.items()},
                    known.uses(one, part.wrapped_in),
                )
                for part in one.parts
            ),
        )
        for one in batches
    )  # fmt: skip


def bars_by_lot(batches: Iterable[TracedBatch]) -> dict[LotKey, tuple[LotHolding, ...]]:
    """The bars that hold each lot, a row a pour, in the order of the pours.

    What is of no known lot stands under None.
    """
    found: dict[LotKey, dict[str, LotHolding]] = {}
    for one in batches:
        for part in one.parts:
            for pot, uses in (*part.pots.items(), ("", part.wrapped_in)):
                for use in uses:
                    rows = found.setdefault(use.key, {})
                    rows[one.code] = _joined(rows.get(one.code), one, part.bars, pot, use.via)
    return {key: tuple(rows.values()) for key, rows in found.items()}


def in_order(bars: Iterable[str]) -> tuple[str, ...]:
    """Bars in the order of their names, each once: A9 before A10."""
    return tuple(sorted(set(bars), key=lambda bar: (len(bar), bar)))


def _joined(
    before: LotHolding | None,
    batch: TracedBatch,
    bars: tuple[str, ...],
    pot: str,
    via: tuple[str, ...],
) -> LotHolding:
    """The row of a pour with more bars, another pot, or another way in."""
    if before is None:
        before = LotHolding(batch.code, batch.design, batch.pour, batch.day, (), (), ())
    return LotHolding(
        batch.code, batch.design, batch.pour, batch.day,
        in_order((*before.bars, *bars)),
        tuple(dict.fromkeys((*before.pots, pot))),
        tuple(dict.fromkeys((*before.via, *via))),
    )  # fmt: skip


class _Pours:
    """All pours, by code and by design, to follow leftovers to where they came from."""

    def __init__(
        self, batches: Sequence[PouredBatch], leftovers: Mapping[str, LeftoverOrigin]
    ) -> None:
        self._by_code = {one.code: one for one in batches}
        self._by_design: dict[str, list[PouredBatch]] = {}
        for one in batches:
            self._by_design.setdefault(one.design, []).append(one)
        self._leftovers = leftovers

    def uses(self, batch: PouredBatch, things: Iterable[Material]) -> tuple[LotUse, ...]:
        """The lots of some materials of a pour, each once."""
        found = (
            use for thing in things for use in self._uses(batch, thing, (), frozenset({batch.code}))
        )
        return tuple(dict.fromkeys(found))

    def _uses(
        self, batch: PouredBatch, thing: Material, via: tuple[str, ...], seen: frozenset[str]
    ) -> Iterator[LotUse]:
        """Yield the lots of one material; ``seen`` are the pours that the way leads through."""
        kind, name = thing
        lots = batch.lots.get(thing, ())
        for lot in lots or (None,):
            yield LotUse(kind, name, lot, via)
        origin = self._leftovers.get(name) if kind == LEFTOVERS else None
        if origin is None:
            return
        way = (*via, name)
        sources = [
            one
            for one in self._sources(lots, origin)
            if one.day <= batch.day and one.code not in seen
        ]
        for source in sources:
            for inside in _in_the_pot(source, origin.made_of):
                yield from self._uses(source, inside, way, seen | {source.code})
        if not sources:
            for kind, name in origin.made_of:
                yield LotUse(kind, name, None, way)

    def _sources(self, lots: Sequence[str], origin: LeftoverOrigin) -> list[PouredBatch]:
        """The pours that may have left a leftover: those that its lots name, else its design's."""
        named = [self._by_code[lot] for lot in lots if lot in self._by_code]
        return named or self._by_design.get(origin.design or "", [])


def _in_the_pot(source: PouredBatch, made_of: Sequence[Material]) -> tuple[Material, ...]:
    """What was in the pots of a pour that a leftover of these materials can be from.

    Those with one of its bases; all pots where it says no base that was in one.
    """
    bases = {thing for thing in made_of if thing[0] == BASES}
    pots = [things for part in source.parts for things in part.pots.values()]
    fitting = [things for things in pots if bases & set(things)] or pots
    return tuple(dict.fromkeys(thing for things in fitting for thing in things))
