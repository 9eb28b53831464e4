"""Layout of a card: it is split into leaves.

Lines are counted with the widths of the fonts' own letters (``html.text_width``), always
to the safe side, so that the result holds in every browser and in the PDF:
nothing is cut off, and no step is parted from its weights. The measures of the blocks
are those of ``card.css``; a test measures the pages that come out.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from functools import cache, lru_cache, partial
from itertools import groupby
from typing import Final, Literal, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from journal.charts.drawing import InkDrawing
from journal.html import card_page
from journal.html.text_width import FontFace, text_width
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue

PT_PER_MM: Final = 72 / 25.4
# The type of a step's time.
_STEP_AT: Final = 0.92
# What says not to pour it: the type of the title, and its leading.
_STOP_TYPE: Final = (1.75, 1.1)
# The table of rounds: its type, and the shares of its columns.
_ROUNDS_TYPE: Final = 0.92
_ROUNDS_COLUMNS: Final = (0.24, 0.18, 0.18, 0.18, 0.22)
# Hairlines are one CSS pixel.
_HAIR: Final = 0.75


class CardMeasures(Struct, frozen=True):
    """A size of card: its paper and margins in mm, its type in points, a line's height by it."""

    width_mm: float
    height_mm: float
    top_mm: float
    side_mm: float
    foot_mm: float
    type_pt: float
    leading: float = 1.3

    @property
    def inner_pt(self) -> float:
        """Width of a line, in points."""
        return (self.width_mm - 2 * self.side_mm) * PT_PER_MM

    @property
    def deep_pt(self) -> float:
        """Height for everything on a leaf, in points."""
        return (self.height_mm - self.top_mm - self.foot_mm) * PT_PER_MM - 1.0


# Type of the smallest cards; weights are 1.65 times as large, so 14.5 pt and up.
SMALLEST_PT: Final = 8.8
# Read from where the hands are, at arm's length: common practice, no source.
ARMS_LENGTH_PT: Final = 11.0
# The type of each size of card.
TYPES: Final[dict[card_page.CardSize, tuple[card_page.CardTypeSize, float]]] = {
    "4x6in": ("", SMALLEST_PT),
    "a6": ("", SMALLEST_PT),
    "half-letter": ("large", ARMS_LENGTH_PT),
    "a5": ("large", ARMS_LENGTH_PT),
}
# 4 x 6 in, 5.5 x 8.5 in exact; A5, A6 by ISO 216. Margins and type are the theme's.
MEASURES: Final[dict[card_page.CardSize, CardMeasures]] = {
    "4x6in": CardMeasures(101.6, 152.4, 6.0, 6.0, 5.0, SMALLEST_PT),
    "a6": CardMeasures(105.0, 148.0, 6.0, 6.0, 5.0, SMALLEST_PT),
    "half-letter": CardMeasures(139.7, 215.9, 8.0, 9.0, 7.0, ARMS_LENGTH_PT),
    "a5": CardMeasures(148.0, 210.0, 8.0, 9.0, 7.0, ARMS_LENGTH_PT),
}


# Spanish has a tenth more letters: with closer lines its card has as many leaves (``card.css``).
_CLOSE: Final = 1.2


_Run = tuple[str, FontFace]


def _runs_of(words: Iterable[card_page.CardWord]) -> tuple[_Run, ...]:
    """Pairs of a text and the face that it is set in."""
    runs: list[_Run] = []
    for word in words:
        if isinstance(word, str):
            runs.append((word, "regular"))
        elif word.tone in ("strong", "mind"):
            runs.append((word.text, "bold"))
        elif isinstance(word, card_page.CardAmount):
            runs.extend(_runs_of(card_page.marked_words(word.text)))
        else:
            runs.append((word.text, "regular"))
    return tuple(runs)


# The same step is counted again for each layout that is tried, and for each variant.
@lru_cache(maxsize=16384)
def count_lines(runs: tuple[_Run, ...], width_pt: float, type_pt: float) -> int:
    """The number of lines that a text takes, broken at spaces only.

    A browser also breaks after hyphens and dashes, and never takes more lines for it.
    """
    lines, used = 1, 0.0
    for word in _words_and_spaces(runs):
        wide = sum([text_width(text, face, type_pt) for text, face in word])
        if word[0][0] == " " and len(word) == 1:
            # A space at the end of a line hangs over it.
            used += wide
            continue
        if used and used + wide > width_pt:
            lines += 1
            used = 0.0
        if wide <= width_pt:
            used += wide
            continue
        for text, face in word:
            for letter in text:
                step = text_width(letter, face, type_pt)
                if used + step > width_pt:
                    lines += 1
                    used = 0.0
                used += step
    return lines


@lru_cache(maxsize=4096)
def _words_and_spaces(runs: tuple[_Run, ...]) -> tuple[tuple[_Run, ...], ...]:
    """Words, and the spaces between them; a word may have several faces."""
    parts = [(part, face) for text, face in runs for part in re.split("( )", text) if part]
    stretches: list[tuple[_Run, ...]] = []
    for spaces, group in groupby(parts, key=lambda part: part[0] == " "):
        word = tuple(group)
        stretches.extend([(space,) for space in word] if spaces else [word])
    return tuple(stretches)


_BlankRows = tuple[tuple[card_page.WriteOnLine, ...], ...]
_BlockKind = Literal[
    "state", "rounds", "intro", "weight", "step", "rescue", "rows", "watch", "cautions", "line"
]


class _Block(NamedTuple):
    """One part of a card that is not split over leaves."""

    kind: _BlockKind
    height_pt: float
    content: (
        card_page.WeighLine | card_page.CardStep | card_page.CardWords | str
        | tuple[card_page.WriteOnLine, ...] | tuple[card_page.RoundRow, ...]
    )  # fmt: skip


def leaves_of(
    whole: card_page.CardLeaf,
    size: card_page.CardSize,
    say: PhraseCatalogue = ENGLISH,
    tallest: card_page.CardLeaf | None = None,
    like: int = 0,
) -> tuple[card_page.CardLeaf, ...]:
    """The ``whole`` card split into as few leaves as possible, each with the heading.

    Several leaves have "1 of 2" beside it; lines to write on and cautions are on the last. The
    rounds stand there too, or have leaves of their own behind it. ``tallest`` is the same card
    with the longest texts that a script may put in, by which it is measured. ``like`` is how
    many leaves the same card has in English: for so many its lines may stand closer.
    """
    fit, pt = TYPES[size]
    measures = replace(MEASURES[size], type_pt=pt)
    leaves = _leaves_in_type(whole, tallest or whole, measures, fit, say)
    if not like or len(leaves) <= like:
        return leaves
    close: card_page.CardTypeSize = "large close" if fit else "close"
    return _leaves_in_type(whole, tallest or whole, replace(measures, leading=_CLOSE), close, say)


def _leaves_in_type(
    whole: card_page.CardLeaf,
    tallest: card_page.CardLeaf,
    measures: CardMeasures,
    fit: card_page.CardTypeSize,
    say: PhraseCatalogue,
) -> tuple[card_page.CardLeaf, ...]:
    """The leaves in one type size; spare lines to write on are left out if they cost a leaf."""
    blocks_of = cache(partial(_blocks_of, whole, tallest, measures))
    every = tuple(blank for row in whole.lines for blank in row)
    needed = tuple(blank for blank in every if not blank.spare)
    if whole.drawing is not None and not _drawing_fits(whole.title, whole.drawing, measures):
        whole = replace(whole, drawing=None)

    def shared(
        blanks: tuple[card_page.WriteOnLine, ...], table: Sequence[_Block]
    ) -> list[list[_Block]]:
        lines = _blank_rows(blanks, measures)
        shares: list[list[_Block]] = []
        for one in (True, False):
            room, blocks = blocks_of(one=one)
            known = [n for n, block in enumerate(blocks) if block.kind not in ("watch", "cautions")]
            place = known[-1] + 1 if known else 0
            shares = _distribute(
                room, (*blocks[:place], *table, *blocks[place:]), lines, measures
            )  # fmt: skip
            if len(shares) == 1:
                break
        return shares

    def fewest(table: Sequence[_Block] = ()) -> list[list[_Block]]:
        shares = shared(every, table)
        if len(shares) == 1 or needed == every:
            return shares
        return min(shares, shared(needed, table), key=len)

    shares, apart = fewest(), bool(whole.rows)
    height = _rounds_head_height(whole, measures)
    height += sum(_round_height(row, measures) for row in tallest.rows)
    if whole.rows and height <= blocks_of(one=False)[0]:
        joined = fewest([_Block("rows", height, whole.rows)])
        # A leaf that is there for several rounds alone goes away where a script says one.
        if len(joined) == len(shares) or tallest is whole:
            shares, apart = joined, False
    leaves = tuple(_leaf_of(whole, fit, n, shares, say) for n in range(1, len(shares) + 1))
    if not apart:
        return leaves
    return (*leaves, *_rounds_leaves(whole, tallest, fit, measures, len(shares), say))


def _rounds_head_height(whole: card_page.CardLeaf, measures: CardMeasures) -> float:
    """Height of what stands over the rows of rounds, in points; 0 without rows."""
    if not whole.rows:
        return 0.0
    heads = (whole.heads[0], whole.heads[1], whole.heads[2], whole.heads[3])
    scrapings = _words_height((whole.scrapings,), measures)
    return scrapings + _round_height(card_page.RoundRow("", "", heads), measures)


def _rounds_leaves(
    whole: card_page.CardLeaf,
    tallest: card_page.CardLeaf,
    fit: card_page.CardTypeSize,
    measures: CardMeasures,
    before: int,
    say: PhraseCatalogue,
) -> Iterator[card_page.CardLeaf]:
    """Yield the leaves with what each round takes, after so many ``before``; none without rows."""
    if not whole.rows:
        return
    room = measures.deep_pt - _header_height(tallest, measures, one=False)
    room -= _corner_height(measures) + _rounds_head_height(whole, measures)
    rows, used = list[card_page.RoundRow](), 0.0
    shares = [rows]
    for row, high in zip(whole.rows, tallest.rows, strict=True):
        height = _round_height(high, measures)
        if rows and used + height > room:
            rows, used = [], 0.0
            shares.append(rows)
        rows.append(row)
        used += height
    for number, share in enumerate(shares, before + 1):
        yield replace(
            whole, fit=fit, anchor=f"{whole.anchor}-{number}", leaf=say.text("leaf.rounds"),
            rows=tuple(share), rows_only=True, state=(), rounds=(), intro=(),
            weights=(), steps=(), rescue=(), watch=(), cautions="", lines=(),
            drawing=None,
        )  # fmt: skip


def _round_height(row: card_page.RoundRow, measures: CardMeasures) -> float:
    """Height of a row of the table of rounds, in points."""
    em, gap = _ROUNDS_TYPE * measures.type_pt, 0.4
    texts: list[tuple[str, FontFace]] = [(f"{row.layer} {row.what}".strip(), "bold")]
    texts.extend((cell, "regular") for cell in row.cells)
    lines = max(
        count_lines(((text, face),), share * measures.inner_pt - gap * em, em)
        for (text, face), share in zip(texts, _ROUNDS_COLUMNS, strict=True)
    )
    return (lines * 1.25 + 0.5) * em + _HAIR


def _blocks_of(
    whole: card_page.CardLeaf, tallest: card_page.CardLeaf, measures: CardMeasures, one: bool
) -> tuple[float, tuple[_Block, ...]]:
    """The height in points beneath a leaf's heading, and the blocks to put there.

    ``one`` says that there is one leaf; else "2 of 3" in the heading may cost a line more.
    """
    room = measures.deep_pt - _header_height(tallest, measures, one) - _corner_height(measures)
    high = _blocks(tallest, measures, room)
    if tallest is whole:
        return room, tuple(high)
    both = zip(_blocks(whole, measures, room), high, strict=True)
    return room, tuple(block._replace(height_pt=tall.height_pt) for block, tall in both)


def _leaf_of(
    whole: card_page.CardLeaf,
    fit: card_page.CardTypeSize,
    number: int,
    shares: Sequence[Sequence[_Block]],
    say: PhraseCatalogue,
) -> card_page.CardLeaf:
    """The leaf with this number (from 1), made of its share of the blocks."""
    blocks = shares[number - 1]

    def of(kind: _BlockKind) -> tuple:  # type: ignore[type-arg]
        return tuple(block.content for block in blocks if block.kind == kind)

    lines: _BlankRows = of("line")
    return replace(
        whole,
        fit=fit,
        anchor=whole.anchor if number == 1 else f"{whole.anchor}-{number}",
        leaf=say.text("leaf", n=number, all=len(shares)) if len(shares) > 1 else "",
        hidden=whole.hidden and "rows" in [block.kind for block in blocks],
        state=next(iter(of("state")), ()),
        rounds=next(iter(of("rounds")), ()),
        intro=of("intro"),
        weights=of("weight"),
        steps=of("step"),
        rescue=of("rescue"),
        watch=of("watch"),
        rows=next(iter(of("rows")), ()),
        cautions=" ".join(of("cautions")),
        lines=lines,
        drawing=whole.drawing if number == 1 else None,
    )


def _distribute(
    room: float, blocks: Sequence[_Block], lines: _BlankRows, measures: CardMeasures
) -> list[list[_Block]]:
    """The blocks of each leaf, in order, then the lines to write on; ``room`` is in points.

    They take as few leaves as can be, and share these evenly: of all ways to part them, that of
    the least sum of the squares of what stays bare. The lines to write on stay together, and never
    alone, where a leaf can hold them.
    """
    rows = [_Block("line", _row_height(row, measures), row) for row in lines]
    items: list[list[_Block]] = [[block] for block in blocks]
    together = sum(row.height_pt for row in rows) <= room
    items += [rows] if together and rows else [[row] for row in rows]
    heights = [_heights_in_item(items, place, measures) for place in range(len(items))]
    # The best way to part the first so many items: leaves, cost, where the last leaf begins.
    best = [(0, 0.0, 0), *[(len(items) + 1, 0.0, 0)] * len(items)]
    for start in range(len(items)):
        (leaves, cost, _), cost_of_break = best[start], _cost_of_break(items, start)
        used = 0.0
        for end in range(start + 1, len(items) + 1):
            for height in heights[end - 1][end == start + 1]:
                used += height
            if used > room and end > start + 1:
                break
            bare = max(0.0, 1.0 - used / room)
            one = leaves + 1, cost + bare * bare + cost_of_break, start
            best[end] = min(best[end], one)
    shares: list[list[_Block]] = []
    end = len(items)
    while end:
        start = best[end][2]
        shares.insert(0, [block for item in items[start:end] for block in item])
        end = start
    return shares or [[]]


def _heights_in_item(
    items: Sequence[Sequence[_Block]], place: int, measures: CardMeasures
) -> tuple[list[float], list[float]]:
    """The heights in points of an item's blocks: beneath the item before, and first on a leaf."""
    item = items[place]
    both = []
    for above in (items[place - 1] if place else [], []):
        before = [*above, *item]
        both.append(
            [
                _gap_above(before[: len(above) + number], block, measures) + block.height_pt
                for number, block in enumerate(item)
            ]
        )
    return both[0], both[1]


def _cost_of_break(items: Sequence[Sequence[_Block]], start: int) -> float:
    """What a leaf that begins with an item costs beside what it leaves bare.

    What is weighed is best seen at once; lines to write on alone are no leaf.
    """
    if not start:
        return 0.0
    before, after = items[start - 1][-1].kind, items[start][0].kind
    if after == "line":
        return 4.0
    if before in ("state", "rounds", "intro") or after == "weight":
        return 0.5
    # What to do when it goes wrong is sought at the head of a leaf, in one place.
    return {"step": 0.03, "rescue": 0.1}.get(after, 0.0) if before == after else 0.0


def _gap_above(before: list[_Block], block: _Block, measures: CardMeasures) -> float:
    """Space above a block, in points; only blocks that begin a list have any."""
    em = measures.type_pt
    if block.kind in ("watch", "cautions"):
        return 0.45 * em
    first = not before or before[-1].kind != block.kind
    return 0.3 * em if first and block.kind in ("step", "rescue") else 0.0


def _header_height(whole: card_page.CardLeaf, measures: CardMeasures, one: bool) -> float:
    """Height of title and line beneath, in points; ``one`` as in ``_blocks_of``."""
    em = measures.type_pt
    beside = 0.0 if one else 3 * 1.75 * em
    title = count_lines(((whole.title, "title"),), measures.inner_pt - beside, 1.75 * em)
    bars = text_width(whole.bars, "bold", 1.25 * em) + 0.7 * em
    sub = count_lines(((whole.sub, "regular"),), measures.inner_pt - bars, em)
    beneath = max(sub * 1.3 * em, 1.25 * 1.2 * em)
    return title * 1.75 * 1.1 * em + beneath + 0.2 * em + 0.3 * em + 0.15 * em


def _drawing_fits(title: str, drawing: InkDrawing, measures: CardMeasures) -> bool:
    """Whether a drawing stands beside the title and "1 of 2", and costs no line of text."""
    em = 1.75 * measures.type_pt
    beside = 3 * em + (float(drawing.width.removesuffix("em")) + 0.5) * em
    return text_width(title, "title", em) <= measures.inner_pt - beside


def _corner_height(measures: CardMeasures) -> float:
    """Height of the row of date and version at the foot of a leaf, in points."""
    em = 0.91 * measures.type_pt
    return 0.5 * em + 1.7 * em


def _row_height(row: tuple[card_page.WriteOnLine, ...], measures: CardMeasures) -> float:
    """Height of a row of lines to write on, in points."""
    em = 0.91 * measures.type_pt
    label = max(blank.rows for blank in row) * 1.1 * em
    return max(7.0 * PT_PER_MM, 3.2 * PT_PER_MM + label) + 0.2 * em + _HAIR


def _blank_rows(blanks: Sequence[card_page.WriteOnLine], measures: CardMeasures) -> _BlankRows:
    """Lines to write on, in rows of three columns; a long label takes two or three columns."""
    em = 0.91 * measures.type_pt
    column = 0.308 * measures.inner_pt
    rows: list[list[card_page.WriteOnLine]] = [[]]
    for blank in blanks:
        wide = text_width(blank.label, "regular", em)
        # A quarter of the line stays to write on.
        span = 1 if wide <= 0.72 * column else 2 if wide <= 0.75 * 2 * column else 3
        high = count_lines(((blank.label, "regular"),), 0.75 * measures.inner_pt, em)
        if sum(other.span for other in rows[-1]) + span > 3:
            rows.append([])
        rows[-1].append(blank._replace(span=span, rows=high if span == 3 else 1))
    return tuple(tuple(row) for row in rows if row)


def _blocks(whole: card_page.CardLeaf, measures: CardMeasures, room: float) -> Iterator[_Block]:
    """Every block of a card with its height; texts higher than ``room`` are split."""
    em, inner, leading = measures.type_pt, measures.inner_pt, measures.leading * measures.type_pt
    if whole.state:
        height = _words_height(whole.state, measures) + _stop_height(
            card_page.plain_text(whole.stop), measures
        )
        yield _Block("state", height, whole.state)
    if whole.rounds:
        yield _Block("rounds", _words_height(whole.rounds, measures), whole.rounds)
    for words in whole.intro:
        yield _Block("intro", _words_height(words, measures), words)
    right = max((_amount_width(weight, em) for weight in whole.weights), default=0.0)
    for weight in whole.weights:
        yield _Block("weight", _weight_height(weight, inner - right - 0.7 * em, em), weight)
    for step in whole.steps:
        at = text_width(card_page.plain_text(step.at), "regular", _STEP_AT * em)
        width = inner - 2.4 * em - at
        lines = count_lines(_runs_of(step.words), width, em)
        yield _Block("step", lines * leading + 0.52 * em + _HAIR, step)
    sentences: tuple[tuple[_BlockKind, tuple[card_page.CardWords, ...], float, float], ...] = (
        ("rescue", whole.rescue, inner, 0.0),
        # A short rule stands above it.
        ("watch", whole.watch, inner, 0.4 * em),
    )
    for kind, every, width, space in sentences:
        for words in every:
            for part in _split_words(words, width, em, room - 3 * em):
                lines = count_lines(_runs_of(part), width, em)
                yield _Block(kind, lines * leading + space, part)
    if whole.cautions:
        lines = count_lines(((whole.cautions, "regular"),), inner, em)
        yield _Block("cautions", lines * 1.25 * em, whole.cautions)


def _words_height(words: card_page.CardWords, measures: CardMeasures) -> float:
    """Height of a sentence above the weights, in points; 0 without words."""
    if not card_page.plain_text(words):
        return 0.0
    em = measures.type_pt
    lines = count_lines(_runs_of(words), measures.inner_pt, em)
    return lines * measures.leading * em + 0.3 * em + _HAIR


def _stop_height(text: str, measures: CardMeasures) -> float:
    """Height of the words that forbid to pour it, in points; 0 without them."""
    times, leading = _STOP_TYPE
    em = times * measures.type_pt
    return count_lines(((text, "bold"),), measures.inner_pt, em) * leading * em if text else 0.0


def _amount_width(weight: card_page.WeighLine, em: float) -> float:
    """Width of the wider of the two amounts of a line to weigh, in points."""
    first = sum(text_width(text, "bold", 1.65 * em) for text, _ in _runs_of(weight.first))
    second = sum(text_width(text, "bold", 1.65 * 0.58 * em) for text, _ in _runs_of(weight.second))
    return max(first, second)


def _weight_height(weight: card_page.WeighLine, width: float, em: float) -> float:
    """Height of a line to weigh, in points; ``width`` is that of its words."""
    words: list[_Run] = []
    if weight.layer:
        words.extend(((weight.layer, "bold"), (" ", "regular")))
    words.append((weight.what, "regular"))
    if card_page.plain_text(weight.mind):
        words.extend(((" ", "regular"), *_runs_of(weight.mind)))
    left = 0.3 * em + count_lines(tuple(words), width, em) * 1.25 * em
    big = 1.65 * em
    right = (0.08 + 0.08) * big + 1.1 * big
    if weight.second:
        right += 1.2 * 0.58 * big
    return max(left + 0.1 * em, right) + _HAIR


def _split_words(
    words: card_page.CardWords, width: float, em: float, room: float
) -> Iterator[card_page.CardWords]:
    """The words in one piece, or if they are higher than ``room`` (in points) in several."""
    most = max(1, int(room / (1.3 * em)))
    if count_lines(_runs_of(words), width, em) <= most:
        yield words
        return
    pieces: list[card_page.CardWord] = []
    for word in words:
        pieces.extend(re.split(r"(?<= )", word) if isinstance(word, str) else (word,))
    while pieces:
        # More words never take fewer lines, so a binary search finds the most that fit.
        fitting = bisect_right(
            range(1, len(pieces) + 1),
            most,
            key=lambda n: count_lines(_runs_of(pieces[:n]), width, em),
        )
        yield tuple(pieces[: max(1, fitting)])
        del pieces[: max(1, fitting)]
