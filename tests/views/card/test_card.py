"""What stands on a card: amounts, rounds, warnings, version."""

from __future__ import annotations

from pathlib import Path

import pytest
from card_cases import ONE_LAYER, SETTINGS, SHELF, TWO_LAYERS, lay_notebook

from journal.errors import Problem, UsageError
from journal.html.card_page import CardLeaf, WeighLine, plain_text
from journal.records.notebook import read_notebook
from journal.views.card.card import cards_of


def made(
    root: Path, front: str = TWO_LAYERS, variant: str | None = None, bars: int | None = None,
    settings: str = SETTINGS,
) -> list[CardLeaf]:  # fmt: skip
    notebook = lay_notebook(root, settings=settings, kelp=front)
    return list(cards_of(notebook, notebook.designs["kelp"], variant, bars, "half-letter"))


def rows(leaves: list[CardLeaf]) -> list[tuple[str, str, str, str]]:
    return [
        (w.layer, w.what, plain_text(w.first), plain_text(w.second))
        for leaf in leaves
        for w in leaf.weights
    ]


def row(leaves: list[CardLeaf], what: str) -> WeighLine:
    return next(w for leaf in leaves for w in leaf.weights if w.what.startswith(what))


def steps(leaves: list[CardLeaf]) -> list[str]:
    return [plain_text(step).replace("\u00a0", " ") for leaf in leaves for step in leaf.steps]


def test_the_weights_of_a_batch_by_hand(tmp_path: Path) -> None:
    # Detail: 6 bars x (6 + 8) g = 84 g, 3 % is less than 8 g, so 92 g.
    # Body: 6 x 3.4 oz = 20.4 oz = 578.33 g, x 1.03 = 595.68 g: 416.98 g and 178.70 g.
    # Oil: 5 mL/lb x 595.68 g = 6.566 mL, down to 6.5 mL; x 0.95 = 6.238 g, down to 6.2 g.
    # Mica: 1.2322 mL/lb x 595.68 / 453.592 = 1.618 mL = 0.328 tsp.
    assert rows(made(tmp_path)) == [
        ("Detail", "White base", "3.245\u00a0oz", "92\u00a0g"),
        ("Body", "White base", "14.7\u00a0oz", "417\u00a0g"),
        ("", "Clear base", "6.3\u00a0oz", "179\u00a0g"),
        ("", "Slate", "1.6\u00a0mL", "0.33\u00a0tsp"),
        ("", "Ink", "by eye", "pastel"),
        ("", "Fern", "6.5\u00a0mL", "6.2\u00a0g"),
    ]


def test_grams_come_first_where_the_studio_counts_so(tmp_path: Path) -> None:
    leaves = made(tmp_path, settings=SETTINGS.replace("us", "metric", 1))
    assert rows(leaves)[0][2:] == ("92\u00a0g", "3.245\u00a0oz")
    assert any("74–80 °C (165–176 °F)" in step for step in steps(leaves))


def test_twice_the_bars_is_twice_the_base(tmp_path: Path) -> None:
    one = row(made(tmp_path), "Clear base")
    two = row(made(tmp_path, bars=12), "Clear base")
    assert plain_text(one.second) == "179\u00a0g"
    assert plain_text(two.second) == "357\u00a0g"


def test_pieces_limit_a_round_and_each_round_has_its_amounts(tmp_path: Path) -> None:
    # Four pieces for six cavities: 14 bars are three rounds of 4 and one of 2.
    front = TWO_LAYERS.replace("bars: 6", "piece: a\nbars: 6")
    leaves = made(tmp_path, front, bars=14)
    said = plain_text(leaves[0].rounds).replace("\u00a0", " ")
    assert said.startswith("3 rounds of 4, then one of 2 through the mould.")
    assert "4 mat pieces needed, all that there are for 6 cavities." in said
    each = plain_text(row(leaves, "White base").each).replace("\u00a0", " ")
    # Detail: 4 x 14 = 56, + 8 = 64 g; 2 x 14 = 28, + 8 = 36 g.
    assert each == "a round of 4: 2.26 oz (64 g); the last, of 2: 1.27 oz (36 g)"
    assert any("Melt the detail: 2.26 oz (64 g) White base" in step for step in steps(leaves))


def test_a_piece_that_is_not_counted_is_one(tmp_path: Path) -> None:
    leaves = made(tmp_path, variant="close", bars=6)
    assert plain_text(leaves[0].rounds).startswith("6 rounds of 1 through the mould")
    assert "“Frond close”" in steps(leaves)[0]


def test_a_piece_that_is_not_kept_is_cut(tmp_path: Path) -> None:
    front = TWO_LAYERS.replace("trim: straight 3 mm\nbars", "trim: straight 5 mm\nbars")
    first = steps(made(tmp_path, front))[0]
    assert first.startswith("Cut 6 pieces from the mat “Frond”, straight, 5 mm outside the motif")
    # 60 + 2 x 5 by 40 + 2 x 5 mm, within the face less 1 mm all round.
    assert "70 × 50 mm" in first


def test_no_round_is_spoken_of_without_a_mould(tmp_path: Path) -> None:
    (leaf,) = made(tmp_path, ONE_LAYER, bars=40)
    assert leaf.rounds == ()
    assert leaf.bars == "For\u00a040\u00a0bars"
    assert made(tmp_path, ONE_LAYER)[0].bars == "For\u00a01\u00a0bar"


@pytest.mark.parametrize(
    ("oil", "says"),
    [("strong", "over its limit"), ("unknown", "no limit on the shelf"), ("fern", "")],
)
def test_an_amount_over_its_limit_never_stands_alone(tmp_path: Path, oil: str, says: str) -> None:
    front = TWO_LAYERS.replace("oil: fern", f"oil: {oil}")
    leaves = made(tmp_path, front)
    weight = row(leaves, oil.capitalize())
    stirred = next(step for step in steps(leaves) if "stir in" in step)
    assert says in plain_text(weight.mind)
    assert says in stirred
    if not says:
        assert plain_text(weight.mind) == ""


def test_two_oils_within_their_limits_may_be_over_together(tmp_path: Path) -> None:
    both = "[{oil: fern, dose: 2 %}, {oil: moss, dose: 2 %}]"
    front = TWO_LAYERS.replace("{oil: fern, dose: 5 mL/lb, add: 135-145 F}", both)
    leaves = made(tmp_path, front)
    assert "together" not in row(leaves, "Fern").what
    assert "over the limit with the layer's other scent" in plain_text(row(leaves, "Fern").mind)
    assert "over the limit with the layer's other scent" in plain_text(row(leaves, "Moss").mind)


def test_no_grams_are_made_of_a_density_that_is_not_known(tmp_path: Path) -> None:
    leaves = made(tmp_path, TWO_LAYERS.replace("oil: fern", "oil: moss"))
    assert rows(leaves)[-1][2:] == ("6.5\u00a0mL", "")
    by_mass = TWO_LAYERS.replace("oil: fern, dose: 5 mL/lb", "oil: moss, dose: 1 %")
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
        "Lip. A hem all round. Mend: Leave a border.",
        "Speckling. Freckles. To try: Wet it first.",
    ]


def test_cautions_are_those_of_the_recipe(tmp_path: Path) -> None:
    plain, full = made(tmp_path, ONE_LAYER)[-1].cautions, made(tmp_path)[-1].cautions
    for word in ("Hot base", "Local rules"):
        assert word in plain
        assert word in full
    for word in ("Alcohol", "Blade", "oil"):
        assert word not in plain
        assert word in full


def test_the_version_is_that_of_the_recipe_alone(tmp_path: Path) -> None:
    version = made(tmp_path)[0].version
    assert len(version) == 5
    assert set(version) <= set("23456789bcdfghjkmnpqrstvwxz")
    assert made(tmp_path, bars=77)[0].version == version
    notebook = lay_notebook(tmp_path, settings=SETTINGS + "labour: 30.00\n", kelp=TWO_LAYERS)
    for size in ("4x6in", "a5"):
        leaves = cards_of(notebook, notebook.designs["kelp"], None, None, size)  # type: ignore[arg-type]
        assert {leaf.version for leaf in leaves} == {version}
    # A price, or one piece more on the shelf, is not the recipe.
    pieces = tmp_path / "shelf" / "pieces.yaml"
    pieces.write_text(SHELF["pieces"].replace("on_hand: 4", "on_hand: 6"), "utf-8")
    bases = tmp_path / "shelf" / "bases.yaml"
    bases.write_text(SHELF["bases"].replace("4.00/lb", "5.00/lb"), "utf-8")
    again = read_notebook(tmp_path)
    leaves = cards_of(again, again.designs["kelp"], None, None, "a6")
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
    cards_of(notebook, notebook.designs["kelp"], None, 6, "a6", problems)
    assert [problem for problem in problems if not problem.warning]
