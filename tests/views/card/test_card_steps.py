"""The steps of a card, in the order that a stranger does them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from card_cases import ONE_LAYER, ONE_ROUND, TWO_LAYERS, card_of, lay_notebook

from journal.html.card_page import plain_text
from journal.records.notebook import Notebook


def steps(root: Path, front: str, bars: int | None = None) -> list[str]:
    notebook = lay_notebook(root, kelp=front)
    return [step for _, step in timed_steps(notebook, bars)]


def timed_steps(notebook: Notebook, bars: int | None = None) -> list[tuple[str, str]]:
    return [
        (plain_text(step.at), plain_text(step.words).replace("\u00a0", " "))
        for leaf in card_of(notebook, "kelp", bars)
        for step in leaf.steps
    ]


def test_a_detail_and_a_body_step_by_step(tmp_path: Path) -> None:
    # The detail takes four minutes to weigh at the earliest and is poured first; what the body
    # needs is done while it rests and chills. Detail: 4 x 14 + 8 = 64 g, 2.26 oz, by twentieths
    # 2.25. Body: 13.6 oz x 1.03 = 14.01 oz; its mica 0.22 tsp, its oil 4.38 mL, rounded down.
    assert timed_steps(lay_notebook(tmp_path, kelp=TWO_LAYERS), 4) == [
        ("0:04", "Take 4 pieces “Frond straight”, cut straight, 3 mm outside the motif,"
         " 66 × 46 mm (2.6 × 1.81 in). Try one in its cavity: it must lie flat."),
        ("0:08", "Melt the detail: 2.25 oz (64 g) White base. It is ready when it reads"
         " 176 °F (80 °C) and no lump is left. Never above 190 °F (88 °C)."),
        ("0:13", "Melt the body: 9.8 oz (278 g) White base and 4.2 oz (119 g) Clear base. It is"
         " ready when it reads 160 °F (71 °C) and no lump is left. Never above 185 °F (85 °C)."),
        ("0:32", "At 165–176 °F (74–80 °C) pour the detail, into the relief of each piece:"
         " about 0.5 oz (14 g); scrape back into the pot until 0.22 oz (6 g) stays."
         " Spritz with alcohol."),
        ("", "Rest 15 min. It is ready when it is firm to a light touch."),
        ("0:37", "Stir 1/4 tsp Slate into the body until no speck is left."),
        ("0:39", "Tint the body by eye with Ink, aiming for pastel."),
        ("", "Chill 10 min at 39 °F (4 °C). It is ready when it is cold all over."
         " Dab off any drops."),
        ("0:57", "At 135–145 °F (57–63 °C), about 20 min after melting, stir 4.3 mL (4.1 g) Fern"
         " into the body, slowly, until no streak is left."),
        ("1:01", "Lay each piece in its cavity, relief up, on a dab of hot base. Press it flat."),
        ("1:03", "Spritz with alcohol. At 122–132 °F (50–56 °C), about 26 min after melting, pour"
         " the body: about 3.45 oz (98 g) a bar. Spritz again."),
        ("", "Leave it 12 h, covered. Unmould when it is cold right through and the sides come"
         " away as you press them."),
        ("", "Peel the mat off slowly, from one corner."),
        ("", "Tidy the edges, blade away from the hand."),
        ("", "Wrap it the same day, once it is dry to the touch and at room temperature."
         " A bar weighs about 3.65 oz (104 g)."),
    ]  # fmt: skip


@pytest.mark.parametrize("front", [TWO_LAYERS, ONE_ROUND, ONE_LAYER])
@pytest.mark.parametrize("bars", [1, 3, 6])
def test_steps_stand_in_the_order_of_their_times(tmp_path: Path, front: str, bars: int) -> None:
    timed = timed_steps(lay_notebook(tmp_path, kelp=front), bars)
    minutes = [60 * int(at[:-3]) + int(at[-2:]) for at, _ in timed if at]
    assert len(minutes) >= 2
    assert minutes == sorted(minutes)


def test_the_card_says_when_the_last_layer_is_poured(tmp_path: Path) -> None:
    first, *_ = card_of(lay_notebook(tmp_path, kelp=TWO_LAYERS), "kelp", 4)
    said = [plain_text(words).replace("\u00a0", " ") for words in first.intro]
    assert "Pour the body about 1 h 3 min after you begin" in said[0]
    assert said[1] == (
        "Set out first: 2 jugs, 4 pieces, a thermometer, the alcohol spray, a knife and gloves,"
        " and what is listed below."
    )


def test_the_card_says_what_to_do_when_it_goes_wrong(tmp_path: Path) -> None:
    leaves = card_of(lay_notebook(tmp_path, kelp=TWO_LAYERS), "kelp", 4)
    rescue = [words for leaf in leaves for words in leaf.rescue]
    assert [plain_text(words[:1]) for words in rescue] == [
        "Too hot:", "Too cold:", "A skin on it:", "Not firm:",
    ]  # fmt: skip
    # The lower of what its two bases bear.
    assert "never above 185\u00a0°F" in plain_text(rescue[1])


def test_what_is_written_is_not_said_twice(tmp_path: Path) -> None:
    front = TWO_LAYERS.replace("at 39 F]", "at 39 F, dab hot base under the piece]").replace(
        "[unmould after 12 h]", "[unmould after 12 h, peel, pare the edges]"
    )
    said = steps(tmp_path, front)
    dab = said.index("Dab hot base under the piece. It lies in its cavity, relief up.")
    # There must be hot base for the dab.
    assert any(step.startswith("Melt the body") for step in said[:dab])
    assert not [step for step in said if "Lay each piece" in step]
    assert len([step for step in said if "nmould" in step]) == 1
    assert said[-3:-1] == ["Peel.", "Pare the edges."]


def test_one_layer_in_no_mould(tmp_path: Path) -> None:
    assert steps(tmp_path, ONE_LAYER) == [
        "Melt the bar: 3.8 oz (108 g) White base. It is ready when it reads 160 °F (71 °C) and no"
        " lump is left. Never above 190 °F (88 °C).",
        "Pour the bar: about 3.55 oz (100 g) a bar.",
        "Leave it 12 h, covered. Unmould when it is cold right through and the sides come away as"
        " you press them.",
        "Tidy the edges, blade away from the hand.",
        "Wrap it the same day, once it is dry to the touch and at room temperature."
        " A bar weighs about 3.55 oz (100 g).",
    ]


SWIRL = """\
title: Swirl
date: 2026-04-18
state: trial
mould: loaf
bars: 10
layers:
  - {name: ground, base: clear, amount: 100 g, fragrance: {oil: fern, dose: 1 %}}
  - {name: thread, base: white, amount: 20 g, then: [THEN]}
"""


def test_pots_that_meet_hot_are_both_ready_before_the_first_pour(tmp_path: Path) -> None:
    said = [step.split(":")[0] for step in steps(tmp_path, SWIRL)]
    # 1000 g and 3 % are 1030 g; 1 % of it 10.3 g, 10.84 mL.
    assert said[:4] == [
        "Melt the ground",
        "Melt the thread",
        "Stir 10.8 mL (10.3 g) Fern into the ground, slowly, until no streak is left.",
        "Pour the ground and thread together; ground",
    ]


def test_a_layer_that_waits_is_poured_after_its_rest(tmp_path: Path) -> None:
    front = SWIRL.replace("dose: 1 %}}", "dose: 1 %}, then: [rest 5 min]}")
    said = [step.split(":")[0].split(".")[0] for step in steps(tmp_path, front)]
    order = [said.index(step) for step in ("Pour the ground", "Rest 5 min", "Pour the thread")]
    assert order == sorted(order)
    assert said.index("Melt the thread") < order[-1]


def test_a_pot_of_two_layers_is_melted_once_and_tinted_between_them(tmp_path: Path) -> None:
    front = TWO_LAYERS.replace(
        "    pot: slate\n    base: {white: 70 %, clear: 30 %}", "    base: white"
    )
    front = front.replace("  - name: detail\n", "  - name: detail\n    pot: milk\n").replace(
        "  - name: body\n", "  - name: body\n    pot: milk\n"
    )
    said = steps(tmp_path, front)
    melts = [step for step in said if step.startswith("Melt")]
    assert len(melts) == 1
    assert melts[0].startswith("Melt the milk pot, for detail and body together: ")
    order = [
        next(n for n, step in enumerate(said) if word in step)
        for word in ("pour the detail", "Slate", "Fern", "pour the body")
    ]
    assert order == sorted(order)


@pytest.mark.parametrize(
    ("written", "cut"),
    [("unmould after 12 h", True), ("cut into ten", False), ("cut the bars", False)],
)
def test_a_loaf_is_cut(tmp_path: Path, written: str, cut: bool) -> None:
    said = steps(tmp_path, SWIRL.replace("THEN", written))
    assert ("Cut each block into 10 bars." in said) is cut


def test_every_weight_of_the_table_stands_in_a_step(tmp_path: Path) -> None:
    notebook = lay_notebook(tmp_path, kelp=TWO_LAYERS)
    leaves = card_of(notebook, "kelp", 4, size="4x6in")
    said = " ".join(plain_text(step.words) for leaf in leaves for step in leaf.steps)
    for weight in (weight for leaf in leaves for weight in leaf.weights):
        for amount in (plain_text(weight.first), plain_text(weight.second)):
            if re.search(r"\d", amount):
                assert amount in said, amount
