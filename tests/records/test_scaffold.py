"""New write-ups: read back as they were meant, whatever the title; nothing taken that is old."""

from __future__ import annotations

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.records.designs import bad_id
from journal.records.scaffold import (
    LEFT_BEHIND,
    NewWriteUp,
    id_of,
    new_write_up,
    with_last_amount,
    write_up_from,
    yaml_value,
)
from journal.records.yaml.source import split_write_up

DAY = date(2026, 4, 18)
TITLES = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"], exclude_characters="\ufeff"),
    min_size=1,
).filter(lambda title: title.strip() and title.isprintable())

EARLIER = """\
---
# What this was.
title: "An older one"   # said twice
date: 2025-01-02
state: keeper
summary: >-
  Two lines
  of it.
mat: fern
mould: oblong
piece: fern-a
bars: 6
subjects: [leaves]

# The layers, poured hot.
layers:
  - name: body   # the only one
    base: {a: 70 %,
      b: 30 %}
    amount: 3 oz
variants:
  close: {trim: close, piece: fern-a}
question: {compare: [close, straight], by: lip, asked: 2025-01-01, until: 3 pours}
plan: {pots: 3, seed: fern}
pours:
  - date: 2025-01-02
    bars:
      - {bar: A1}
failed:
  - {what: lip, saw: x}
photos:
  - {file: photos/a.jpg, alt: An a}
private: Nobody's business.
---
Older prose.
"""


@given(TITLES)
def test_any_title_is_read_back(title: str) -> None:
    text = new_write_up(NewWriteUp(title, DAY, "a-base"))
    assert split_write_up(text, "x.md").front["title"] == " ".join(title.split())


@given(st.text())
def test_an_id_is_an_id_and_free(title: str) -> None:
    first = id_of(title, [])
    assert not bad_id(first)
    second = id_of(title, [first])
    assert not bad_id(second)
    assert second != first


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Fern on sea-grey", "fern-on-sea-grey"),
        ("  Crème brûlée, 2nd try! ", "creme-brulee-2nd-try"),
        ("漢字", "design"),
        ("Con", "con-design"),
        ("Index", "index-design"),
        ("x" * 200, "x" * 60),
    ],
)
def test_ids_by_hand(title: str, name: str) -> None:
    assert id_of(title, []) == name
    assert id_of(title, [name, f"{name}-2"]) == f"{name}-3"
    # Where capitals make no other name, they are one folder.
    assert id_of(title, [name.upper()]) == f"{name}-2"


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("Kelp on clay", "Kelp on clay"),
        ("Café & ‘co’", '"Café & ‘co’"'),
        ("a: b", '"a: b"'),
        ("- x", '"- x"'),
        ('say "no" \\', '"say \\"no\\" \\\\"'),
        ("2025", '"2025"'),
        ("two\nlines", "two lines"),
    ],
)
def test_texts_in_quotes_where_they_need_them(text: str, written: str) -> None:
    assert yaml_value(text) == written


def test_what_was_poured_stays_behind_and_the_recipe_comes_along() -> None:
    text = write_up_from(EARLIER, "x.md", "an-older-one", "A newer one", DAY, {})
    front = split_write_up(text, "x.md").front
    earlier = split_write_up(EARLIER, "x.md").front
    fresh = {
        "title": "A newer one", "date": "2026-04-18", "state": "trial", "grew_from": "an-older-one",
    }  # fmt: skip
    assert front == {key: v for key, v in earlier.items() if key not in LEFT_BEHIND} | fresh
    assert "# The layers, poured hot.\nlayers:\n  - name: body   # the only one\n" in text
    assert "# What this was.\ntitle: A newer one\n" in text
    assert "Older prose" not in text
    assert "business" not in text


def test_what_was_cut_to_another_mat_stays_behind_too() -> None:
    text = write_up_from(EARLIER, "x.md", "old", "New", DAY, {"mat": "kelp"})
    front = split_write_up(text, "x.md").front
    assert front["mat"] == "kelp"
    assert not {"piece", "variants"} & front.keys()


def test_grew_from_is_the_last_one_only() -> None:
    text = write_up_from(EARLIER.replace("bars: 6", "bars: 6\ngrew_from: x"), "x.md", "old", "New",
                         DAY, {})  # fmt: skip
    assert split_write_up(text, "x.md").front["grew_from"] == "old"
    assert text.count("grew_from") == 1


def test_keys_that_share_a_line_cannot_be_taken_over() -> None:
    with pytest.raises(ValueError, match="one line"):
        write_up_from("---\n{title: a, bars: 6}\n---\n", "x.md", "old", "New", DAY, {})


def test_photos_are_listed_with_what_is_to_be_filled_in() -> None:
    text = new_write_up(NewWriteUp("A", DAY, "b", photos=("01-a.jpg", "02-b.heic")))
    photos = split_write_up(text, "x.md").front["photos"]
    assert photos == [
        {"file": "photos/01-a.jpg", "alt": "…"},
        {"file": "photos/02-b.heic", "alt": "…"},
    ]
    assert text.count("# measure: {regions:") == 2


def test_what_is_commented_out_can_be_taken_in() -> None:
    """Without its hash marks, each commented line is YAML, with the key that it begins."""
    text = new_write_up(NewWriteUp("A", DAY, "b", mat="m", mould="n"))
    head = text.split("---\n")[1]
    freed = "\n".join(
        line.replace("# ", "", 1) if line.startswith("# ") else line for line in head.split("\n")
    )
    front = split_write_up(f"---\n{freed}\n---\n", "x.md").front
    assert {
        "summary",
        "subjects",
        "variants",
        "question",
        "plan",
        "pours",
        "failed",
    } <= front.keys()
    assert list(front["variants"]) == ["close", "straight"]
    assert front["pours"][0]["bars"][0]["bar"] == "A1"


@pytest.mark.parametrize(
    ("variants", "compared", "of_bar"),
    [
        ("{wide: {trim: straight 5 mm}, warm: }", "[wide, warm]", "variant: wide"),
        ("{'a: b': {trim: close}, c: }", '["a: b", c]', 'variant: "a: b"'),
        ("{warm: {trim: close}}", "[warm, …]", "variant: warm"),
        ("{trim: {close: {trim: close}, wide: }, tint: {a: , b: {piece: x}}}", "trim",
         "trim: close, tint: a"),
    ],
)  # fmt: skip
def test_the_question_names_the_variants_that_there_are(
    variants: str, compared: str, of_bar: str
) -> None:
    written = "variants:\n  close: {trim: close, piece: fern-a}"
    earlier = EARLIER.replace(written, f"variants: {variants}")
    assert earlier != EARLIER
    text = write_up_from(earlier, "x.md", "old", "New", DAY, {})
    assert f"\n# question: {{compare: {compared}, by: lip, asked: 2026-04-18, " in text
    assert "until: 3 pours}\n# plan: {pots: 3, seed: 2026-04-18}" in text
    assert f"# with variants: {{bar: A1, {of_bar}, …}}\n" in text
    assert "# variants:" not in text


def test_another_amount_of_the_body_stands_in_the_same_place() -> None:
    text = EARLIER.replace("# said twice", "# said: twice")
    amounts = [line for line in text.split("\n") if "amount:" in line]
    changed = with_last_amount(text, "1.5 oz").split("\n")
    differs = [(a, b) for a, b in zip(text.split("\n"), changed, strict=True) if a != b]
    (one,) = differs
    assert one[0] == amounts[-1]
    assert re.sub(r"amount: [^,}#]*\w", "amount: 1.5 oz", one[0]) == one[1]
    # Where it stands in quotes, or nowhere, nothing is changed.
    for other in ("---\nlayers: [{amount: '3 oz'}]\n---\n", "---\nlayers: x\n---\n"):
        assert with_last_amount(other, "1 oz") == other


def test_without_variants_the_question_stands_below_two() -> None:
    text = write_up_from(EARLIER, "x.md", "old", "New", DAY, {"mat": "kelp"})
    shown = "#   close: {trim: close}\n#   straight: {trim: straight 3 mm}\n# question: {compare: ["
    assert f"{shown}close, straight], " in text
