"""What stands on a card: amounts, rounds, warnings, version."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from card_cases import ONE_LAYER, ONE_ROUND, SETTINGS, SHELF, TWO_LAYERS, card_of, lay_notebook

from journal.errors import Problem, UsageError
from journal.html.card_page import CardLeaf, RoundRow, WeighLine, plain_text
from journal.records.notebook import read_notebook


def made(
    root: Path, front: str = TWO_LAYERS, variant: str | None = None, bars: int | None = None,
    settings: str = SETTINGS,
) -> list[CardLeaf]:  # fmt: skip
    notebook = lay_notebook(root, settings=settings, kelp=front)
    return list(card_of(notebook, "kelp", bars, variant=variant))


def rows(leaves: list[CardLeaf]) -> list[tuple[str, str, str, str]]:
    return [
        (w.layer, w.what, plain_text(w.first), plain_text(w.second))
        for leaf in leaves
        for w in leaf.weights
    ]


def row(leaves: list[CardLeaf], what: str) -> WeighLine:
    return next(w for leaf in leaves for w in leaf.weights if w.what.startswith(what))


def steps(leaves: list[CardLeaf]) -> list[str]:
    return [plain_text(step.words).replace("\u00a0", " ") for leaf in leaves for step in leaf.steps]


def table(leaves: list[CardLeaf]) -> dict[str, tuple[str, ...]]:
    """What the rounds take, by layer and thing."""
    rows: list[RoundRow] = [row for leaf in leaves for row in leaf.rows]
    return {
        f"{row.layer} {row.what}".strip(): tuple(cell.replace("\u00a0", " ") for cell in row.cells)
        for row in rows
    }


def rounds(leaves: list[CardLeaf]) -> str:
    return plain_text(leaves[0].rounds).replace("\u00a0", " ")


def test_the_weights_of_a_batch_by_hand(tmp_path: Path) -> None:
    # Detail: 6 bars x (6 + 8) g = 84 g, 3 % is less than 8 g, so 92 g, 3.245 oz: a scale in
    # ounces goes by 0.05.
    # Body: 6 x 3.4 oz = 20.4 oz, x 1.03 = 21.012 oz: 14.71 and 6.30 oz, 417 and 179 g.
    # Oil: 5 mL/lb x 21.012 / 16 = 6.566 mL, down to 6.5 mL; x 0.95 = 6.238 g, down to 6.2 g.
    # Mica: 1/4 tsp/lb x 1.31325 lb = 0.328 tsp, of which 1/4 and 1/8 tsp are 14 % more.
    assert rows(made(tmp_path, ONE_ROUND)) == [
        ("Detail", "White base", "3.25\u00a0oz", "92\u00a0g"),
        ("Body", "White base", "14.7\u00a0oz", "417\u00a0g"),
        ("", "Clear base", "6.3\u00a0oz", "179\u00a0g"),
        ("", "Slate", "1/4\u00a0tsp\u00a0+ 1/8\u00a0tsp", ""),
        ("", "Ink", "by eye, pastel", ""),
        ("", "Fern", "6.5\u00a0mL", "6.2\u00a0g"),
    ]


def test_grams_come_first_where_the_studio_counts_so(tmp_path: Path) -> None:
    leaves = made(tmp_path, ONE_ROUND, settings=SETTINGS.replace("us", "metric", 1))
    assert rows(leaves)[0][2:] == ("92\u00a0g", "3.25\u00a0oz")
    assert any("74–80 °C (165–176 °F)" in step for step in steps(leaves))


def test_the_amounts_are_those_of_the_first_round(tmp_path: Path) -> None:
    one, two = made(tmp_path, ONE_ROUND), made(tmp_path, ONE_ROUND, bars=12)
    assert rows(one) == rows(two)
    assert steps(one) == steps(two)
    assert table(one) == {}
    assert two[-1].rows
    assert (one[0].bars, two[0].bars) == ("For\u00a06\u00a0bars", "For\u00a012\u00a0bars")


def test_each_round_takes_what_the_one_before_left(tmp_path: Path) -> None:
    # Of the detail 6 x 8 g are scraped back, so a second round takes 92 - 48 = 44 g, 1.552 oz.
    # Of the body nothing is: 14.7 oz each time. Spoons of two rounds: 3/4 tsp.
    leaves = made(tmp_path, ONE_ROUND, bars=12)
    assert rounds(leaves).startswith("2 rounds of 6. The amounts are for the first;")
    assert table(leaves) == {
        "Detail White base": ("3.25 oz", "1.55 oz", "", "4.8 oz"),
        "Body White base": ("14.7 oz", "14.7 oz", "", "1 lb 13.4 oz"),
        "Clear base": ("6.3 oz", "6.3 oz", "", "12.6 oz"),
        "Slate": ("1/4 tsp + 1/8 tsp", "1/4 tsp + 1/8 tsp", "", "1/2 tsp + 1/4 tsp"),
        "Fern": ("6.5 mL", "6.5 mL", "", "13 mL"),
    }
    assert {leaf.scrapings != "" for leaf in leaves} == {True}


def test_pieces_limit_a_round_and_each_round_has_its_amounts(tmp_path: Path) -> None:
    # Four pieces for six cavities: 14 bars are three rounds of 4 and one of 2.
    leaves = made(tmp_path, bars=14)
    assert rounds(leaves) == (
        "3 rounds of 4, then one of 2. The amounts are for the first; the last leaf has the others."
        " They take 5 days. The shelf has only 4 pieces. With 2 more it is 3 rounds."
    )
    # Detail: 4 x 14 = 56, + 8 = 64 g; less 4 x 8 = 32 g; 2 x 14 + 8 - 32 = 4 g, which no
    # scale in ounces tells.
    assert table(leaves)["Detail White base"] == ("2.25 oz", "1.15 oz", "4 g", "4.55 oz + 4 g")
    # Body: 13.6 oz x 1.03 x 70 % = 9.81 oz, of the last round half; 3 x 9.8 + 4.95 = 34.35 oz.
    assert table(leaves)["Body White base"] == ("9.8 oz", "9.8 oz", "4.95 oz", "2 lb 2.35 oz")
    assert any("Melt the detail: 2.25 oz (64 g) White base" in step for step in steps(leaves))


def test_more_pieces_are_spoken_of_only_if_they_save_a_round(tmp_path: Path) -> None:
    # 8 bars are two rounds of 4; of 6 and 2 they would be two as well.
    assert rounds(made(tmp_path, bars=8)).endswith("The shelf has only 4 pieces.")
    assert rounds(made(tmp_path, bars=6)).endswith("With 2 more it is 1 round.")


def test_a_round_that_takes_nothing_new_says_none(tmp_path: Path) -> None:
    # 1 bar after 6: 14 + 8 g are less than the 48 g that were scraped back.
    assert table(made(tmp_path, ONE_ROUND, bars=7))["Detail White base"][2] == "none"


def test_a_piece_that_is_not_counted_is_one(tmp_path: Path) -> None:
    leaves = made(tmp_path, variant="close", bars=6)
    assert rounds(leaves).startswith("6 rounds of 1.")
    assert "The shelf has only 1 piece. With 5 more it is 1 round." in rounds(leaves)
    assert "“Frond close”" in steps(leaves)[0]


def test_what_a_round_is_too_small_for_is_mixed_for_several(tmp_path: Path) -> None:
    # 0.02 tsp/lb x 1.313 lb = 0.026 tsp, of which three rounds make 0.079: a sixteenth is 21 %
    # less, and four make 0.105, an eighth 19 % more.
    front = ONE_ROUND.replace("1/4 tsp/lb", "0.02 tsp/lb")
    leaves = made(tmp_path, front, bars=12)
    weight = row(leaves, "Slate")
    how = plain_text(weight.mind).replace("\u00a0", " ")
    amount = re.fullmatch(r"measure (.* tsp), part it evenly in (\d+), use one part", how)
    assert amount, how
    part = f"{amount[1]} ÷ {amount[2]}"
    assert (plain_text(weight.first).replace("\u00a0", " "), weight.second) == (part, ())
    said = f"Measure {amount[1]} of Slate, part it evenly in {amount[2]} and stir one part into"
    assert any(step.startswith(said) for step in steps(leaves)), steps(leaves)
    assert table(leaves)["Slate"][:2] == (part, part)


def test_a_piece_that_is_not_kept_is_cut(tmp_path: Path) -> None:
    first = steps(made(tmp_path, ONE_ROUND))[0]
    assert first.startswith("Cut 6 pieces from the mat “Frond”, straight, 5 mm outside the motif")
    # 60 + 2 x 5 by 40 + 2 x 5 mm, within the face less 1 mm all round.
    assert "70 × 50 mm" in first


def test_no_round_is_spoken_of_without_a_mould(tmp_path: Path) -> None:
    (leaf,) = made(tmp_path, ONE_LAYER, bars=40)
    assert leaf.rounds == ()
    assert leaf.bars == "For\u00a040\u00a0bars"
    assert made(tmp_path, ONE_LAYER)[0].bars == "For\u00a01\u00a0bar"


@pytest.mark.parametrize(("oil", "says"), [("unknown", "no limit on the shelf"), ("fern", "")])
def test_an_amount_without_a_limit_never_stands_alone(tmp_path: Path, oil: str, says: str) -> None:
    front = TWO_LAYERS.replace("oil: fern", f"oil: {oil}")
    leaves = made(tmp_path, front)
    weight = row(leaves, oil.capitalize())
    stirred = next(step for step in steps(leaves) if f"{oil.capitalize()} into" in step)
    assert says in plain_text(weight.mind)
    assert says in stirred
    if not says:
        assert plain_text(weight.mind) == ""


REFUSED = "over its limit: no amount is given; lower the dose in the write-up"


def test_of_an_oil_over_its_limit_there_is_no_amount(tmp_path: Path) -> None:
    leaves = made(tmp_path, TWO_LAYERS.replace("oil: fern", "oil: strong"))
    head = plain_text(leaves[0].state)
    assert re.match(
        r"Over the limit: Strong is [\d.]+\xa0% of the body; its certificate allows [\d.]+\xa0%.$",
        head,
    )
    assert leaves[0].stop == ("Not to be poured.",)
    weight = row(leaves, "Strong")
    assert (plain_text(weight.first), plain_text(weight.second)) == ("–", "")
    assert plain_text(weight.mind) == REFUSED
    assert [one for one in steps(leaves) if "Strong" in one] == [
        "Stir no Strong into the body: it is over its limit. Lower the dose in the write-up."
    ]


def test_two_oils_within_their_limits_may_be_over_together(tmp_path: Path) -> None:
    both = "[{oil: fern, dose: 2 %}, {oil: moss, dose: 2 %}]"
    front = TWO_LAYERS.replace("{oil: fern, dose: 5 mL/lb, add: 135-145 F}", both)
    leaves = made(tmp_path, front)
    assert "the scents of the body together use" in plain_text(leaves[0].state)
    for name in ("Fern", "Moss"):
        weight = row(leaves, name)
        assert (plain_text(weight.first), plain_text(weight.mind)) == ("–", REFUSED)


def test_no_grams_are_made_of_a_density_that_is_not_known(tmp_path: Path) -> None:
    leaves = made(tmp_path, ONE_ROUND.replace("oil: fern", "oil: moss"))
    assert rows(leaves)[-1][2:] == ("6.5\u00a0mL", "")
    by_mass = ONE_ROUND.replace("oil: fern, dose: 5 mL/lb", "oil: moss, dose: 1 %")
    assert rows(made(tmp_path, by_mass))[-1][2:] == ("5.9\u00a0g", "")


def test_a_leftover_is_told_with_what_is_in_it_and_if_it_is_short(tmp_path: Path) -> None:
    front = ONE_LAYER.replace("base: white", "base: {leftover: ends}")
    weight = row(made(tmp_path, front), "Ends")
    assert weight.what == "Ends, leftover, tinted Slate, 1\u00a0% Fern in it"
    assert plain_text(weight.mind) == ""
    assert plain_text(row(made(tmp_path, front, bars=2), "Ends").mind) == "only 4\u00a0oz there"


def test_only_what_failed_in_this_recipe_is_to_be_watched(tmp_path: Path) -> None:
    def watched(variant: str) -> list[str]:
        return [plain_text(w) for leaf in made(tmp_path, variant=variant) for w in leaf.watch]

    assert watched("straight") == ["Speckling. Freckles. To try: Wet it first."]
    assert watched("close") == [
        "Lip. A hem all round. Fix: Leave a border.",
        "Speckling. Freckles. To try: Wet it first.",
    ]


def test_cautions_are_those_of_the_recipe(tmp_path: Path) -> None:
    plain, full = (
        " ".join(leaf.cautions for leaf in made(tmp_path, front))
        for front in (ONE_LAYER, TWO_LAYERS)
    )
    for word in ("Hot base", "Local rules"):
        assert word in plain
        assert word in full
    for word in ("Alcohol", "Blade", "scent"):
        assert word not in plain
        assert word in full


def test_the_version_is_that_of_the_recipe_alone(tmp_path: Path) -> None:
    version = made(tmp_path)[0].version
    assert len(version) == 5
    assert set(version) <= set("23456789bcdfghjkmnpqrstvwxz")
    assert made(tmp_path, bars=77)[0].version == version
    notebook = lay_notebook(tmp_path, settings=SETTINGS + "labour: 30.00\n", kelp=TWO_LAYERS)
    for size in ("4x6in", "a5"):
        leaves = card_of(notebook, "kelp", size=size)  # type: ignore[arg-type]
        assert {leaf.version for leaf in leaves} == {version}
    # A price, or one piece more on the shelf, is not the recipe.
    pieces = tmp_path / "shelf" / "pieces.yaml"
    pieces.write_text(SHELF["pieces"].replace("on_hand: 4", "on_hand: 6"), "utf-8")
    bases = tmp_path / "shelf" / "bases.yaml"
    bases.write_text(SHELF["bases"].replace("4.00/lb", "5.00/lb"), "utf-8")
    again = read_notebook(tmp_path)
    leaves = card_of(again, "kelp", size="a6")
    assert leaves[0].version == version


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("122-132 F", "120-132 F"),
        ("amount: 6 g", "amount: 6.1 g"),
        ("rest 15 min", "rest 16 min"),
        ("dose: 5 mL/lb", "dose: 4.9 mL/lb"),
        ("trim: straight 3 mm\nbars", "trim: straight 2 mm\nbars"),
        ("Wet it first", "Sift it first"),
        ("aim: pastel", "aim: dusk"),
    ],
)
def test_what_the_helper_does_otherwise_makes_another_version(
    tmp_path: Path, old: str, new: str
) -> None:
    assert old in TWO_LAYERS
    changed = made(tmp_path, TWO_LAYERS.replace(old, new))[0].version
    assert changed != made(tmp_path)[0].version


def test_an_unknown_variant_is_refused_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r'no variant "clse".*close'):
        made(tmp_path, variant="clse")
    with pytest.raises(UsageError, match="0 bars"):
        made(tmp_path, bars=0)


def test_problems_of_the_figures_are_handed_on(tmp_path: Path) -> None:
    notebook = lay_notebook(tmp_path, kelp=TWO_LAYERS.replace("oil: fern", "oil: strong"))
    problems: list[Problem] = []
    card_of(notebook, "kelp", 6, problems=problems)
    assert [problem for problem in problems if not problem.warning]


def test_what_is_not_to_be_poured_says_so_first(tmp_path: Path) -> None:
    front = ONE_LAYER.replace("state: keeper", "state: set aside\nsummary: It never dried.")
    (leaf,) = made(tmp_path, front)
    assert plain_text(leaf.state) == "Not to be poured. It never dried."
    assert plain_text(made(tmp_path)[0].state) == "Trial."
    assert made(tmp_path, ONE_LAYER)[0].state == ()


def test_the_corner_says_when_it_changed_and_when_it_was_printed(tmp_path: Path) -> None:
    poured = TWO_LAYERS + "pours:\n  - {date: 2026-05-02, bars: 6}\n"
    notebook = lay_notebook(tmp_path, kelp=poured)
    for leaf in card_of(notebook, "kelp", printed_on=date(2026, 6, 1)):
        assert (leaf.dated, leaf.printed) == ("changed 2026-05-02", "printed")
        assert leaf.printed_on == "2026-06-01"
    assert card_of(notebook, "kelp")[0].printed_on == ""
