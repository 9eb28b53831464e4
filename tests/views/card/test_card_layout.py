"""Lines are counted to the safe side, and leaves hold what they should."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.html.blocks import TextRun
from journal.html.card_page import (
    CardLeaf,
    CardSize,
    CardStep,
    RoundRow,
    WeighLine,
    WriteOnLine,
    plain_text,
)
from journal.html.text_width import text_width
from journal.views.card.layout import TYPES, count_lines, leaves_of

SIZES: list[CardSize] = ["4x6in", "a6", "half-letter", "a5"]
WORDS = st.lists(st.text("abc mW.\u00a0", min_size=1, max_size=12), min_size=1, max_size=20)


def leaf(**parts: object) -> CardLeaf:
    blank = ((WriteOnLine("date"), WriteOnLine("result")),)
    return CardLeaf("c", "A title", "six", "For\u00a06\u00a0bars", "k7f2x", lines=blank, **parts)  # type: ignore[arg-type]


def test_width_by_hand() -> None:
    # a 530 (525 carried up) + space 280, in thousandths of 10 pt, and 1 % for the browser.
    assert text_width("a ", "regular", 10) == pytest.approx((530 + 280) / 100 * 1.01)


@pytest.mark.parametrize(
    ("text", "room", "lines"),
    [("aa aa", 3.0, 1), ("aa aa", 2.3, 2), ("aa\u00a0aa", 2.3, 2), ("", 2.0, 1), ("a a a", 0.6, 3)],
)
def test_lines_by_hand(text: str, room: float, lines: int) -> None:
    # In ems of 10 pt: "aa" is 1.07 wide, a space 0.28.
    assert count_lines(((text, "regular"),), room * 10, 10) == lines


@given(WORDS, st.floats(30, 300))
def test_a_narrower_line_never_takes_fewer(words: list[str], width: float) -> None:
    runs = [(word, "regular") for word in words]
    wide, narrow = (count_lines(tuple(runs), w, 9.0) for w in (width, width * 0.8))
    assert narrow >= wide


@given(WORDS, st.integers(0, 20), st.floats(30, 300))
def test_where_the_face_changes_no_line_breaks(words: list[str], cut: int, width: float) -> None:
    text = " ".join(words)
    parted = [(text[:cut], "regular"), (text[cut:], "regular")]
    assert count_lines(tuple(parted), width, 9.0) == count_lines(((text, "regular"),), width, 9.0)


def test_what_fits_stays_on_one_leaf_in_the_largest_type() -> None:
    for size in SIZES:
        (only,) = leaves_of(leaf(steps=(CardStep(("Pour.",)),)), size)
        assert only.leaf == ""
        assert only.fit == TYPES[size][0]


@examples(40)
@given(
    st.lists(st.integers(1, 400), max_size=25),
    st.lists(st.integers(1, 90), max_size=12),
    st.sampled_from(SIZES),
)
def test_nothing_is_lost_or_moved(steps: list[int], rows: list[int], size: CardSize) -> None:
    whole = leaf(
        steps=tuple(
            CardStep((f"{n}: " + "word " * words,), ("0:05",) if n % 2 else ())
            for n, words in enumerate(steps)
        ),
        weights=tuple(WeighLine("what " * words, (f"{n} g",)) for n, words in enumerate(rows)),
        watch=((TextRun("Lip.", "strong"), " A hem."),),
        cautions="Hot.",
    )
    leaves = leaves_of(whole, size)
    assert [row for part in leaves for row in part.weights] == list(whole.weights)
    said = "".join(plain_text(step.words) for part in leaves for step in part.steps)
    assert said == "".join(plain_text(step.words) for step in whole.steps)
    assert [part.cautions for part in leaves].count("Hot.") == 1
    assert [bool(part.lines) for part in leaves] == [False] * (len(leaves) - 1) + [True]
    assert {part.title for part in leaves} == {whole.title}
    assert {part.version for part in leaves} == {whole.version}
    assert len({part.anchor for part in leaves}) == len(leaves)
    if len(leaves) > 1:
        assert [part.leaf for part in leaves] == [
            f"{n} of {len(leaves)}" for n in range(1, len(leaves) + 1)
        ]


def test_weights_are_at_least_14_points() -> None:
    assert min(pt for _, pt in TYPES.values()) * 1.65 >= 14


def test_a_long_label_takes_the_whole_width() -> None:
    (plain,) = leaves_of(leaf(steps=()), "a6")
    assert [blank.span for blank in plain.lines[0]] == [1, 1]
    labels = (
        WriteOnLine("a long name " * 5),
        WriteOnLine("date"),
        WriteOnLine("by"),
        WriteOnLine("lot"),
    )
    (made,) = leaves_of(CardLeaf("c", "T", "", "For 1 bar", "k7f2x", lines=(labels,)), "a6")
    assert [[blank.span for blank in row] for row in made.lines] == [[3], [1, 1, 1]]
    assert made.lines[0][0].rows == 2


def test_a_spare_line_costs_no_leaf() -> None:
    lines = (
        WriteOnLine("date"),
        WriteOnLine("by"),
        WriteOnLine("lot"),
        WriteOnLine("start", spare=True),
    )
    seen: set[tuple[str, ...]] = set()
    for number in range(60):
        steps = (CardStep(("Stir.",)),) * number
        whole = CardLeaf("c", "T", "", "For 1 bar", "k7f2x", lines=(lines,), steps=steps)
        less = CardLeaf("c", "T", "", "For 1 bar", "k7f2x", lines=(lines[:3],), steps=steps)
        made = leaves_of(whole, "a6")
        assert len(made) == len(leaves_of(less, "a6"))
        seen.add(tuple(blank.label for row in made[-1].lines for blank in row))
    assert seen == {("date", "by", "lot", "start"), ("date", "by", "lot")}


def test_lines_are_not_left_alone_on_a_leaf() -> None:
    counts = set()
    for number in range(1, 60):
        made = leaves_of(
            leaf(
                steps=(CardStep(("Stir.",)),) * number,
                watch=((TextRun("Lip.", "strong"), " A hem."),),
                cautions="Hot base burns.",
            ),
            "4x6in",
        )
        assert made[-1].lines
        assert made[-1].cautions
        counts.add(len(made))
    assert {1, 2} <= counts


def test_the_table_of_rounds_stands_on_leaves_of_its_own() -> None:
    rows = tuple(
        RoundRow(f"{n} Clear base", "Body", ("14.7 oz", "14.7 oz", "", "1 lb")) for n in range(60)
    )
    heads = ("First round", "Each further", "The last", "In all")
    whole = leaf(steps=(CardStep(("Pour.",)),), rows=rows, heads=heads, scrapings="Keep it.")
    for size in SIZES:
        first, *tables = leaves_of(whole, size)
        assert (first.leaf, first.rows, len(first.steps)) == ("", (), 1)
        assert len(tables) > 1
        assert [row for table in tables for row in table.rows] == list(rows)
        assert not any(table.steps or table.lines or table.cautions for table in tables)
        assert {table.leaf for table in tables} == {"rounds"}
        assert len({part.anchor for part in (first, *tables)}) == len(tables) + 1


def test_a_short_table_of_rounds_stands_on_the_last_leaf() -> None:
    rows = (RoundRow("Clear base", "Body", ("14.7 oz", "14.7 oz", "", "1 lb")),)
    heads = ("First round", "Each further", "The last", "In all")
    (made,) = leaves_of(leaf(steps=(CardStep(("Pour.",)),), rows=rows, heads=heads), "a5")
    assert (made.rows, made.rows_only, len(made.steps)) == (rows, False, 1)


def test_leaves_share_what_is_bare() -> None:
    """Three leaves of steps that all but fill two: each has two thirds, none a single line."""
    for number in range(30, 90):
        steps = (CardStep(("Stir.",)),) * number
        made = leaves_of(leaf(steps=steps, cautions="Hot base burns."), "a6")
        counts = [len(one.steps) for one in made[:-1]]
        if counts:
            assert max(counts) - min(counts) <= 1
            assert len(made[-1].steps) >= max(counts) / 2


def test_a_card_has_room_for_the_longest_texts_that_may_come() -> None:
    # As much as fits on one leaf; with one word for a short text that may be long, it does not.
    def made(last: str, tallest: str) -> int:
        steps = tuple(CardStep(("Pour.",)) for _ in range(count))
        own, most = (leaf(steps=(*steps, CardStep((text,)))) for text in (last, tallest))
        return len(leaves_of(own, "a6", tallest=most))

    count = 1
    while made("Stir.", "Stir.") == 1:
        count += 1
    count -= 1
    assert made("Stir.", "Stir it in slowly until no streak is left. " * 3) == 2
    assert made("Stir.", "Stir.") == 1
