"""Which variant goes where, drawn from a seed: cavities, order of pouring and peeling, codes.

What is changed bar by bar is laid out within each pot. Cavities that are poured one after the
other make a pair, and a coin says which of the two gets the first variant; of three variants three
make a block, in random order. Where so few coins could never tell, each pot is one block: as many
of each variant, anywhere in it. What is changed with the pot is laid out over the pots: those of a
block are poured on one day, in random order.

Every arrangement of a block is as likely as any other, so a test that permutes the labels within
blocks permutes them over the layouts that could have been drawn, and over no others.

Draws are digests of the seed and of what is drawn (SHA-256), which are the same with every
version of Python and on every machine.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from hashlib import sha256
from typing import TypeVar

from msgspec import Struct

from journal.comparison.observed import VariantTrialKind
from journal.errors import FigureError

# A pair a coin is enough if the clearest outcome of them all has at most this share of the p that
# tells: then it need not be the clearest that tells.
CLEAREST_SHARE = 1 / 3
# Letters and digits of a code: none that is read as another, and no vowel to make a word.
CODE_LETTERS, CODE_DIGITS = "CDFHJKLMNPRTVWX", "2345679"
# So many codes that others have already, and a code gets another letter.
DRAWS_A_LETTER = 16

Item = TypeVar("Item", bound=Hashable)


class PlannedCavity(Struct, frozen=True):
    """A cavity of a planned pot, from 1: what goes into it, when, and its blind code.

    ``variant`` is "" for one that the plan leaves free, which has no ``block``. ``poured`` and
    ``peeled`` are its places in the order of pouring and of peeling, from 1; bars of a whole pot
    are peeled in any order. ``block`` tells the blocks of a whole plan apart.
    """

    cavity: int
    variant: str
    block: int | None
    poured: int
    peeled: int | None
    code: str


class PlannedPot(Struct, frozen=True):
    """One pot of a plan, by number from 1; ``day`` counts the days of a plan of whole pots."""

    number: int
    cavities: tuple[PlannedCavity, ...]
    day: int | None = None

    @property
    def variant(self) -> str:
        """The variant of a pot that holds one alone; "" for one that holds several."""
        names = {one.variant for one in self.cavities}
        return names.pop() if len(names) == 1 else ""


class PlannedTest(Struct, frozen=True):
    """A test laid out before pouring.

    ``by`` says what a trial is. ``group`` is the group of variants that ``compared`` are choices
    of, "" without groups. ``blocked`` is how many trials a block holds; ``pots`` how many pots are
    planned; ``bars`` how many a pot holds; ``in_row`` how many cavities of the mould stand in a
    row, None if that is not known.
    """

    by: VariantTrialKind
    compared: tuple[str, ...]
    group: str
    seed: str
    pots: int
    bars: int
    blocked: int
    in_row: int | None = None

    @property
    def blocks(self) -> int:
        """How many blocks it has in all."""
        if self.by == "pots":
            return self.pots // self.blocked
        return self.pots * (self.bars // self.blocked)

    @property
    def layouts(self) -> int:
        """How many layouts could have been drawn, each as likely as the others."""
        return math.prod([arrangements(self.blocked, len(self.compared))] * self.blocks)

    @property
    def trials(self) -> int:
        """How many trials of each variant it has."""
        return self.blocks * self.blocked // len(self.compared)


def planned_test(
    compared: Sequence[str],
    group: str,
    by: VariantTrialKind,
    seed: str,
    pots: int,
    bars: int,
    level: float,
    in_row: int | None = None,
) -> PlannedTest:
    """Settle how a test is laid out.

    Takes:  compared  two variants or more
            by        what a trial is
            pots      in all; of whole pots rounded up to as many of each variant
            bars      of a pot, as many as are compared or more where bars are trials
            level     p that tells, of one pair of variants
            in_row    cavities of the mould in a row
    Fails:  FigureError if there is nothing to compare, or a pot is too small
    Source: randomised blocks, Fisher, The Design of Experiments (1935), ch. 4
    Checked: two of six bars in pairs could be laid out in 64 ways, balanced in 400
    """
    sides = len(compared)
    if sides < 2 or pots < 1:
        raise FigureError(f"{sides} variants in {pots} pots are no test")
    if by == "pots":
        pots = -(-pots // sides) * sides
        return PlannedTest(by, tuple(compared), group, seed, pots, bars, sides, in_row)
    if bars < sides:
        raise FigureError(f"a pot of {bars} cannot hold {sides} variants")
    blocked = sides
    pairs = pots * (bars // sides)
    # Of a pair of variants, a block of one each has two arrangements.
    if 2 / 2**pairs > CLEAREST_SHARE * level:
        blocked = bars // sides * sides
    return PlannedTest(by, tuple(compared), group, seed, pots, bars, blocked, in_row)


def arrangements(trials: int, sides: int) -> int:
    """In how many ways as many of each side can stand in a block.

    Checked: three of each of two in 20 ways
    """
    each = trials // sides
    return math.factorial(trials) // math.prod([math.factorial(each)] * sides)


def laid_out(test: PlannedTest, pots: int | None = None) -> tuple[PlannedPot, ...]:
    """The pots of a test, or the first so many: a test that goes on goes on from the same seed."""
    codes: set[str] = set()
    return tuple(
        _pot(test, number, codes) for number in range(1, (test.pots if pots is None else pots) + 1)
    )


def _pot(test: PlannedTest, number: int, codes: set[str]) -> PlannedPot:
    """One pot; ``codes`` are those given to the pots before, and get its own."""
    order = pouring_order(test.bars, test.in_row)
    variants, blocks = _labels(test, number)
    held = {cavity: (variants[at], blocks[at], at + 1) for at, cavity in enumerate(order)}
    peeled: dict[int, int] = {}
    if test.by == "bars":
        peeled = _peeling({cavity: block for cavity, (_, block, _) in held.items()}, test, number)
    return PlannedPot(
        number,
        tuple(
            PlannedCavity(
                cavity, *held[cavity], peeled.get(cavity),
                _new_code(codes, test.seed, number, cavity),
            )
            for cavity in sorted(held)
        ),
        (number - 1) // test.blocked + 1 if test.by == "pots" else None,
    )  # fmt: skip


def _peeling(blocks: Mapping[int, int | None], test: PlannedTest, number: int) -> dict[int, int]:
    """The place of each cavity in the order of peeling, from 1, by the block of each.

    Cavities of a block are peeled one after the other, so that what changes while peeling is
    shared by them; the order knows nothing of the variants.
    """
    of_block: dict[Hashable, list[int]] = {}
    for cavity, block in blocks.items():
        of_block.setdefault(("free", cavity) if block is None else block, []).append(cavity)
    order = [
        cavity
        for block in _shuffled(of_block, test.seed, "peeled blocks", number)
        for cavity in _shuffled(of_block[block], test.seed, "peeled", number)
    ]
    return {cavity: place for place, cavity in enumerate(order, 1)}


def _labels(test: PlannedTest, number: int) -> tuple[list[str], list[int | None]]:
    """The variant and the block of each cavity of a pot, in the order of pouring."""
    if test.by == "pots":
        block, at = divmod(number - 1, test.blocked)
        variant = _arranged(test, block)[at]
        return [variant] * test.bars, [block] * test.bars
    variants: list[str] = []
    blocks: list[int | None] = []
    per_pot = test.bars // test.blocked
    for block in range((number - 1) * per_pot, number * per_pot):
        variants += _arranged(test, block)
        blocks += [block] * test.blocked
    free = test.bars - len(variants)
    return variants + [""] * free, blocks + [None] * free


def _arranged(test: PlannedTest, block: int) -> list[str]:
    """The variants of a block, in the order of pouring."""
    each = test.blocked // len(test.compared)
    places = _shuffled(range(test.blocked), test.seed, "block", block)
    return [test.compared[place // each] for place in places]


def pouring_order(bars: int, in_row: int | None = None) -> tuple[int, ...]:
    """Cavities in the order of pouring: row by row, every other row backwards.

    So whatever is poured next lies next to it.

    Checked: six in rows of two: 1 2 4 3 5 6
    """
    width = in_row or bars
    rows = [range(first, min(first + width, bars + 1)) for first in range(1, bars + 1, width)]
    return tuple(
        cavity for at, row in enumerate(rows) for cavity in (reversed(row) if at % 2 else row)
    )


def _drawn(seed: str, *what: object) -> int:
    """A number of 256 bits from the seed and what is drawn."""
    text = "\x1f".join(map(str, (seed, *what)))
    return int.from_bytes(sha256(text.encode()).digest(), "big")


def _shuffled(items: Iterable[Item], seed: str, *what: object) -> list[Item]:
    """Items in random order."""
    return sorted(items, key=lambda item: _drawn(seed, *what, item))


def _new_code(codes: set[str], seed: str, *what: object) -> str:
    """A code that no bar has yet: two letters and a digit; more letters when these run out."""
    draw = 0
    while True:
        number = _drawn(seed, "code", *what, draw)
        code = ""
        for _ in range(2 + draw // DRAWS_A_LETTER):
            number, letter = divmod(number, len(CODE_LETTERS))
            code += CODE_LETTERS[letter]
        code += CODE_DIGITS[number % len(CODE_DIGITS)]
        if code not in codes:
            codes.add(code)
            return code
        draw += 1
