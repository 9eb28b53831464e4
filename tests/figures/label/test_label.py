"""Label drafts: merging on paper, order, the 1 % line, colours, what has no shares."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.label.ingredients import (
    ADVICE,
    BaseInBar,
    StirredInBar,
    draft_label,
    is_colour,
)

SAME = 1e-12

WHITE = BaseInBar(
    "white-shea",
    36.0,
    (("Glycerin", 0.40), ("Sodium Stearate", 0.35), ("Aqua", 0.20), ("Titanium Dioxide", 0.05)),
)
CLEAR = BaseInBar(
    "clear-glycerine", 60.0, (("Glycerin", 0.30), ("Aqua", 0.40), ("Sodium Laurate", 0.30))
)
SLATE = StirredInBar("slate-mica", 0.5, ("CI 77019",))


ON_PAPER = [
    ("Aqua", "36 x 0.20 + 60 x 0.40", 31.2),
    ("Glycerin", "36 x 0.40 + 60 x 0.30", 32.4),
    ("Sodium Laurate", "60 x 0.30", 18.0),
    ("Sodium Stearate", "36 x 0.35", 12.6),
    ("Parfum", "2.4", 2.4),
    ("Titanium Dioxide", "36 x 0.05", 1.8),
    ("CI 77019", "0.5", 0.5),
]
BAR_G = 98.9


@pytest.mark.parametrize(("name", "inputs", "mass_g"), ON_PAPER)
def test_merged_masses_on_paper(name: str, inputs: str, mass_g: float) -> None:
    draft = draft_label("eu", [WHITE, CLEAR], 2.4, [SLATE], [])
    shares = {line.name: line.bar_share for line in draft.ingredients}
    assert shares[name] == pytest.approx(mass_g / BAR_G, rel=SAME), inputs


def test_the_order_of_the_label() -> None:
    draft = draft_label("eu", [WHITE, CLEAR], 2.4, [SLATE], [("Linalool", 6e-4)])
    assert draft.names == (
        "Glycerin",
        "Aqua",
        "Sodium Laurate",
        "Sodium Stearate",
        "Parfum",
        "Titanium Dioxide",
        "CI 77019",
    )
    assert draft.allergens == ("Linalool",)
    assert draft.statement == (
        "Ingredients: Glycerin, Aqua, Sodium Laurate, Sodium Stearate, Parfum, Linalool, "
        "Titanium Dioxide, CI 77019."
    )
    assert draft.why == ()
    assert draft.apart == ()


def test_a_worked_label() -> None:
    """A bar of 200 g, each rule of the order met in it once.

    The FDA's guide on cosmetics labelling, as restated on public pages: what exceeds 1 % in
    descending order, 21 CFR 701.3(a); what does not exceed it after that, 701.3(f)(2); colour
    additives last whatever their share, 701.3(f)(3). In Europe what is less than 1 % stands after
    what is 1 % or more, colours last: Regulation (EC) 1223/2009 Art. 19(1)(g). A published label
    with its shares could not be read; the bar is ours, worked out on paper:

    Aqua             160 x 0.45 + 34.8 x 0.30 = 82.44 g   41.22 %
    Glycerin         160 x 0.30 + 34.8 x 0.50 = 65.40 g   32.70 %
    Sodium Stearate  160 x 0.24               = 38.40 g   19.20 %
    Sorbitol         34.8 x 0.10              =  3.48 g    1.74 %
    fragrance                                    2.00 g    1.00 %, at the line
    Sodium Chloride  160 x 0.01               =  1.60 g    0.80 %
    Titanium Dioxide 34.8 x 0.10              =  3.48 g    1.74 %, yet behind, being a colour
    CI 77019                                     3.20 g    1.60 %, likewise
    """
    bases = [
        BaseInBar(
            "clear",
            160.0,
            (
                ("Sodium Chloride", 0.01),
                ("Aqua", 0.45),
                ("Sodium Stearate", 0.24),
                ("Glycerin", 0.30),
            ),
        ),
        BaseInBar(
            "white",
            34.8,
            (("Titanium Dioxide", 0.10), ("Sorbitol", 0.10), ("Glycerin", 0.50), ("Aqua", 0.30)),
        ),
    ]
    shares = [41.22, 32.70, 19.20, 1.74, 1.00, 0.80, 1.74, 1.60]
    mica = StirredInBar("mica", 3.2, ("CI 77019",))
    for region, fragrance in (("us", "Fragrance"), ("eu", "Parfum")):
        draft = draft_label(region, bases, 2.0, [mica], [])
        assert draft.statement == (
            f"Ingredients: Aqua, Glycerin, Sodium Stearate, Sorbitol, {fragrance}, "
            "Sodium Chloride, Titanium Dioxide, CI 77019."
        )
        found = [100 * (line.bar_share or 0) for line in draft.ingredients]
        assert found == pytest.approx(shares, rel=SAME)


def test_the_word_for_fragrance_and_the_allergens_by_region() -> None:
    draft = draft_label("us", [WHITE, CLEAR], 2.4, [SLATE], [("Linalool", 6e-4)])
    assert "Fragrance" in draft.names
    assert "Parfum" not in draft.names
    assert draft.allergens == ("Linalool",)
    assert "Linalool" not in draft.statement
    assert "Aqua is written Water here" in draft.notes
    assert "CI 77019 is written Mica here" in draft.notes
    europe = draft_label("eu", [WHITE, CLEAR], 0.0, [], [])
    assert "Parfum" not in europe.names
    assert "Titanium Dioxide is written CI 77891 here" in europe.notes


def test_it_is_always_called_a_draft() -> None:
    for region in ("us", "eu"):
        notes = draft_label(region, [CLEAR], 0.0, [], []).notes
        assert notes[: len(ADVICE)] == ADVICE
    assert "draft" in ADVICE[0]
    assert "licensed professional" in ADVICE[1]


def test_one_ingredient_under_several_names_is_one_line() -> None:
    bases = [
        BaseInBar("a", 50.0, (("Water", 0.5), ("GLYCERIN", 0.5))),
        BaseInBar("b", 50.0, (("Aqua", 0.4), ("Glycerin", 0.55), ("Parfum", 0.05))),
    ]
    draft = draft_label("us", bases, 1.0, [], [])
    assert draft.names == ("GLYCERIN", "Water", "Fragrance")
    assert draft.ingredients[2].bar_share == pytest.approx(3.5 / 101, rel=SAME)


def test_colours_stand_last_known_ones_first() -> None:
    colours = [
        StirredInBar("by eye", None, ("CI 77007",)),
        StirredInBar("blend", 0.4, ("CI 77491", "Mica")),
        StirredInBar("violet", 5.0, ("Manganese Violet",)),
    ]
    draft = draft_label("eu", [CLEAR], 0.0, colours, [])
    assert draft.names[3:] == ("Manganese Violet", "CI 77007", "CI 77491", "Mica")
    assert draft.ingredients[3].bar_share == pytest.approx(5 / 65.4, rel=SAME)
    assert [line.bar_share for line in draft.ingredients[4:]] == [None, None, None]
    assert "Manganese Violet is written CI 77742 here" in draft.notes


def test_a_base_without_shares_stands_apart_with_the_reason() -> None:
    vague = BaseInBar("goat-milk", 40.0, (("Glycerin", None), ("Aqua", None)))
    draft = draft_label("us", [vague, CLEAR], 2.4, [SLATE], [("Linalool", 6e-4)])
    assert draft.ingredients == ()
    assert draft.statement == ""
    assert draft.apart == (
        ("goat-milk", ("Glycerin", "Aqua")),
        ("clear-glycerine", ("Glycerin", "Aqua", "Sodium Laurate")),
    )
    assert draft.why[0].startswith("no merged list: goat-milk has no shares")
    assert draft.allergens == ("Linalool",)
    half = BaseInBar("half", 40.0, (("Glycerin", 0.5), ("Aqua", None)))
    bare = BaseInBar("bare", 40.0, ())
    for base in (half, bare):
        assert base.base in draft_label("us", [base], 0.0, [], []).why[0]


def test_what_is_not_listed_is_said() -> None:
    partial = BaseInBar("partial", 40.0, (("Glycerin", 0.5), ("Aqua", 0.3)))
    draft = draft_label("eu", [partial], 0.0, [StirredInBar("rose", 0.1, ())], [])
    assert "the shares of partial sum to 80 %: the rest is not listed" in draft.notes
    assert draft.why == ("rose has no INCI name on the shelf and is not listed",)


def test_an_allergen_that_is_an_ingredient_too_is_written_once() -> None:
    base = BaseInBar("scented", 50.0, (("Glycerin", 0.99), ("Linalool", 0.01)))
    draft = draft_label("eu", [base], 1.0, [], [("Linalool", 0.012)])
    assert draft.statement.count("Linalool") == 1


@pytest.mark.parametrize(
    ("name", "colour"),
    [
        ("CI 77891", True),
        ("ci77007", True),
        ("Titanium Dioxide (CI 77891)", True),
        ("iron oxides", True),
        ("Glycerin", False),
        ("Lecithin", False),
    ],
)
def test_names_of_colours(name: str, colour: bool) -> None:
    assert is_colour(name) is colour


names = st.sampled_from(["Glycerin", "Aqua", "Sodium Laurate", "Sucrose", "Salt", "CI 77891"])


@st.composite
def base_in_bar(draw: st.DrawFn) -> BaseInBar:
    listed = draw(st.lists(names, min_size=1, max_size=5, unique=True))
    parts = draw(st.lists(st.integers(1, 1000), min_size=len(listed), max_size=len(listed)))
    shares = [part / sum(parts) for part in parts]
    mass_g = draw(st.floats(1, 500))
    return BaseInBar("base", mass_g, tuple(zip(listed, shares, strict=True)))


@given(
    st.lists(base_in_bar(), min_size=1, max_size=4),
    # Half of the smallest number there is would be none.
    st.floats(0, 20, allow_subnormal=False),
    st.sampled_from(["us", "eu"]),
    st.floats(0.1, 10),
)
def test_shares_sum_to_one_and_more_bars_change_none(
    bases: list[BaseInBar], fragrance_g: float, region: str, times: float
) -> None:
    colours = [StirredInBar("mica", 0.2, ("CI 77019",))]
    draft = draft_label(region, bases, fragrance_g, colours, [])
    shares = [line.bar_share for line in draft.ingredients]
    assert math.fsum(share for share in shares if share is not None) == pytest.approx(1, rel=1e-9)
    plain = [line.bar_share or 0 for line in draft.ingredients if not line.colour]
    assert plain == sorted(plain, reverse=True)
    assert [line.colour for line in draft.ingredients] == sorted(
        line.colour for line in draft.ingredients
    )
    more = draft_label(
        region,
        [BaseInBar(base.base, base.mass_g * times, base.ingredients) for base in bases],
        fragrance_g * times,
        [StirredInBar("mica", 0.2 * times, ("CI 77019",))],
        [],
    )
    once = {line.name: line.bar_share for line in draft.ingredients}
    again = {line.name: line.bar_share for line in more.ingredients}
    assert again == pytest.approx(once, rel=1e-9)


@pytest.mark.parametrize(
    ("region", "bases", "fragrance_g", "colours", "message"),
    [
        ("uk", [CLEAR], 0.0, [], "no rules"),
        ("us", [], 0.0, [], "without a base"),
        ("us", [BaseInBar("b", 0.0, ())], 0.0, [], "must be above 0"),
        ("us", [BaseInBar("b", 1.0, (("A", 1.5),))], 0.0, [], "share is 0 to 1"),
        ("us", [BaseInBar("b", 1.0, (("A", 0.6), ("B", 0.6)))], 0.0, [], "at most 1"),
        ("us", [CLEAR], -1.0, [], "cannot be below 0"),
        ("us", [CLEAR], 0.0, [StirredInBar("c", -1.0, ("Mica",))], "cannot be below 0"),
    ],
)
def test_what_makes_no_sense_is_refused(
    region: str,
    bases: list[BaseInBar],
    fragrance_g: float,
    colours: list[StirredInBar],
    message: str,
) -> None:
    with pytest.raises(FigureError, match=message):
        draft_label(region, bases, fragrance_g, colours, [])
