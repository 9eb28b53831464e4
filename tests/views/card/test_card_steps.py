"""The steps of a card, in the order that a stranger does them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from card_cases import ONE_LAYER, TWO_LAYERS, lay_notebook

from journal.html.card_page import plain_text
from journal.views.card.card import cards_of


def steps(root: Path, front: str, bars: int | None = None) -> list[str]:
    notebook = lay_notebook(root, kelp=front)
    leaves = cards_of(notebook, notebook.designs["kelp"], None, bars, "a5")
    return [plain_text(step).replace("\u00a0", " ") for leaf in leaves for step in leaf.steps]


def test_a_detail_and_a_body_step_by_step(tmp_path: Path) -> None:
    assert steps(tmp_path, TWO_LAYERS, 4) == [
        "Take 4 pieces “Frond straight”, cut straight, 3 mm outside the motif,"
        " 66 × 46 mm (2.6 × 1.81 in). Try one in its cavity: it must lie flat.",
        "Melt the detail: 2.26 oz (64 g) White base. Never above 190 °F (88 °C).",
        "At 165–176 °F (74–80 °C) pour the detail, into the relief of each piece:"
        " about 0.5 oz (14 g); scrape back into the pot until 0.22 oz (6 g) stays."
        " Spritz with alcohol.",
        "Rest 15 min.",
        "Chill 10 min at 39 °F (4 °C).",
        "Melt the body: 9.8 oz (278 g) White base and 4.2 oz (119 g) Clear base."
        " Never above 185 °F (85 °C).",
        "Lay each piece in its cavity, relief up, on a dab of hot base. Press it flat.",
        "Stir in 1.1 mL (0.22 tsp) Slate. Leave no dry specks.",
        "Tint the body by eye with Ink, aiming for pastel.",
        "At 135–145 °F (57–63 °C) stir in 4.3 mL (4.1 g) Fern.",
        "Spritz with alcohol. At 122–132 °F (50–56 °C) pour the body:"
        " about 3.45 oz (98 g) a bar. Spritz again.",
        "Unmould after 12 h.",
        "Peel the mat off slowly, from one corner.",
        "Tidy the edges, blade away from the hand.",
    ]


def test_what_is_written_is_not_said_twice(tmp_path: Path) -> None:
    front = TWO_LAYERS.replace("at 39 F]", "at 39 F, dab hot base under the piece]").replace(
        "[unmould after 12 h]", "[unmould after 12 h, peel, pare the edges]"
    )
    said = steps(tmp_path, front)
    dab = said.index("Dab hot base under the piece. It lies in its cavity, relief up.")
    # There must be hot base for the dab.
    assert said[dab - 1].startswith("Melt the body")
    assert not [step for step in said if "Lay each piece" in step]
    assert said[-3:] == ["Unmould after 12 h.", "Peel.", "Pare the edges."]


def test_one_layer_in_no_mould(tmp_path: Path) -> None:
    assert steps(tmp_path, ONE_LAYER) == [
        "Melt the bar: 3.8 oz (108 g) White base. Never above 190 °F (88 °C).",
        "Pour the bar: about 3.55 oz (100 g) a bar.",
        "Leave it until it is cold and firm, best overnight. Unmould.",
        "Tidy the edges, blade away from the hand.",
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
    assert said[:5] == [
        "Melt the ground",
        "Stir in 10.8 mL (10.3 g) Fern.",
        "Melt the thread",
        "Pour the ground",
        "Pour the thread",
    ]


def test_a_wait_parts_the_pots(tmp_path: Path) -> None:
    front = SWIRL.replace("dose: 1 %}}", "dose: 1 %}, then: [rest 5 min]}")
    said = [step.split(":")[0] for step in steps(tmp_path, front)]
    assert said.index("Pour the ground") < said.index("Melt the thread")


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
    leaves = cards_of(notebook, notebook.designs["kelp"], None, 4, "4x6in")
    said = " ".join(plain_text(step) for leaf in leaves for step in leaf.steps)
    for weight in (weight for leaf in leaves for weight in leaf.weights):
        for amount in (plain_text(weight.first), plain_text(weight.second)):
            if re.search(r"\d", amount):
                assert amount in said
