"""Label drafts: merging on paper, order, the 1 % line, colours, what has no shares."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.label.allergens import named_in_region
from journal.figures.label.ingredients import ADVICE, BaseInBar, StirredInBar, draft_label
from journal.figures.label.names import (
    colour_fault,
    find_substance,
    is_colour,
    name_in_region,
    numbers_of,
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
SLATE = StirredInBar("slate", 0.5, ("CI 77499",))


ON_PAPER = [
    ("Aqua", "36 x 0.20 + 60 x 0.40", 31.2),
    ("Glycerin", "36 x 0.40 + 60 x 0.30", 32.4),
    ("Sodium Laurate", "60 x 0.30", 18.0),
    ("Sodium Stearate", "36 x 0.35", 12.6),
    ("Parfum", "2.4", 2.4),
    ("CI 77891", "36 x 0.05", 1.8),
    ("CI 77499", "0.5", 0.5),
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
        "CI 77891",
        "CI 77499",
    )
    assert draft.allergens == ("Linalool",)
    assert draft.statement == (
        "Ingredients: Glycerin, Aqua, Sodium Laurate, Sodium Stearate, Parfum, Linalool, "
        "CI 77891, CI 77499."
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
    CI 77499                                     3.20 g    1.60 %, likewise
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
    black = StirredInBar("black", 3.2, ("CI 77499",))
    for region, water, fragrance, colours in (
        ("us", "Water", "Fragrance", "Titanium Dioxide, Iron Oxides"),
        ("eu", "Aqua", "Parfum", "CI 77891, CI 77499"),
        ("uk", "Aqua", "Parfum", "CI 77891, CI 77499"),
    ):
        draft = draft_label(region, bases, 2.0, [black], [])
        assert draft.statement == (
            f"Ingredients: {water}, Glycerin, Sodium Stearate, Sorbitol, {fragrance}, "
            f"Sodium Chloride, {colours}."
        )
        found = [100 * (line.bar_share or 0) for line in draft.ingredients]
        assert found == pytest.approx(shares, rel=SAME)


def test_the_word_for_fragrance_and_the_allergens_by_region() -> None:
    draft = draft_label("us", [WHITE, CLEAR], 2.4, [SLATE], [("Linalool", 6e-4)])
    assert "Fragrance" in draft.names
    assert "Parfum" not in draft.names
    assert draft.allergens == ("Linalool",)
    assert "Linalool" not in draft.statement
    assert "Water" in draft.names
    assert "Iron Oxides" in draft.names
    europe = draft_label("eu", [WHITE, CLEAR], 0.0, [], [])
    assert "Parfum" not in europe.names
    assert europe.names[-1] == "CI 77891"


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
    assert draft.names == ("Glycerin", "Water", "Fragrance")
    assert draft.ingredients[2].bar_share == pytest.approx(3.5 / 101, rel=SAME)


def test_colours_stand_last_known_ones_first() -> None:
    colours = [
        StirredInBar("by eye", None, ("CI 77007",)),
        StirredInBar("blend", 0.4, ("CI 77491", "CI 77288")),
        StirredInBar("violet", 5.0, ("Manganese Violet",)),
    ]
    draft = draft_label("eu", [CLEAR], 0.0, colours, [])
    assert draft.names[3:] == ("CI 77742", "CI 77288", "CI 77491", "CI 77007")
    assert draft.ingredients[3].bar_share == pytest.approx(5 / 65.4, rel=SAME)
    assert [line.bar_share for line in draft.ingredients[4:]] == [None, None, None]
    assert draft.why == ()


def test_a_base_without_shares_stands_apart_with_the_reason() -> None:
    vague = BaseInBar("goat-milk", 40.0, (("Glycerin", None), ("Aqua", None)))
    draft = draft_label("us", [vague, CLEAR], 2.4, [SLATE], [("Linalool", 6e-4)])
    assert draft.ingredients == ()
    assert draft.statement == ""
    assert draft.apart == (
        ("goat-milk", ("Glycerin", "Water")),
        ("clear-glycerine", ("Glycerin", "Water", "Sodium Laurate")),
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


@pytest.mark.parametrize("region", ["us", "eu", "uk"])
@pytest.mark.parametrize(
    ("name", "colour"),
    [
        ("CI 77891", True),
        ("CI 99999", True),
        ("ci77007", True),
        ("Titanium Dioxide (CI 77891)", True),
        ("iron oxides", True),
        ("Glycerin", False),
        ("Lecithin", False),
    ],
)
def test_names_of_colours(region: str, name: str, colour: bool) -> None:
    assert is_colour(region, name) is colour


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
    st.sampled_from(["us", "eu", "uk"]),
    st.floats(0.1, 10),
)
def test_shares_sum_to_one_and_more_bars_change_none(
    bases: list[BaseInBar], fragrance_g: float, region: str, times: float
) -> None:
    colours = [StirredInBar("black", 0.2, ("CI 77499",))]
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
        [StirredInBar("black", 0.2 * times, ("CI 77499",))],
        [],
    )
    once = {line.name: line.bar_share for line in draft.ingredients}
    again = {line.name: line.bar_share for line in more.ingredients}
    assert again == pytest.approx(once, rel=1e-9)


@pytest.mark.parametrize(
    ("region", "bases", "fragrance_g", "colours", "message"),
    [
        ("us", [CLEAR], 0.0, [StirredInBar("c", 1.0, ("Mica",), pigment_share=2.0)], "share is"),
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


def test_of_another_place_the_ingredients_alone() -> None:
    """As in the EU by their international names, without what only its rules ask or forbid."""
    stirred = [StirredInBar("blue", 0.2, ("CI 73015",)), StirredInBar("odd", 0.1, ("CI 99999",))]
    there = draft_label("Canada", [CLEAR], 1.0, stirred, [], responsible="Corran Bench")
    assert (there.asked, there.faults, there.allergens) == ((), (), ())
    assert "no label rules for Canada" in there.rules
    eu = draft_label("eu", [CLEAR], 1.0, stirred[:1], [])
    assert set(there.names) - set(eu.names) == {"CI 99999"}
    assert [name for name in there.names if name != "CI 99999"] == list(eu.names)
    assert there.statement == f"Ingredients: {', '.join(there.names)}."
    assert named_in_region("Canada", [("Linalool", 0.01)]) == ()


def test_mica_is_a_colour_in_the_united_states_and_bears_them_in_europe() -> None:
    assert is_colour("us", "Mica")
    assert is_colour("us", "CI 77019")
    assert not is_colour("eu", "Mica")
    assert name_in_region("eu", "CI 77019") == name_in_region("us", "CI 77019") == "Mica"


@pytest.mark.parametrize(
    ("written", "us", "eu"),
    [
        # FDA, "Cosmetic Ingredient Names": neither Aqua nor a Colour Index number alone.
        ("Aqua", "Water", "Aqua"),
        ("water", "Water", "Aqua"),
        ("Aqua (Water)", "Water", "Aqua"),
        ("Perfume", "Fragrance", "Parfum"),
        ("CI 77891", "Titanium Dioxide", "CI 77891"),
        ("Titanium Dioxide (CI 77891)", "Titanium Dioxide", "CI 77891"),
        ("titanium dioxide", "Titanium Dioxide", "CI 77891"),
        ("C.I. 77007", "Ultramarines", "CI 77007"),
        ("Red Iron Oxide", "Iron Oxides", "CI 77491"),
        ("Iron Oxides", "Iron Oxides", "Iron Oxides"),
        ("Butyrospermum Parkii Butter", "Butyrospermum Parkii (Shea) Butter",
         "Butyrospermum Parkii Butter"),
        # FDA, letter of 7 June 1999: the short names of certified colours; Ext. stays.
        ("FD&C Blue No. 1", "Blue 1", "CI 42090"),
        ("CI 60730", "Ext. Violet 2", "CI 60730"),
        ("FD&C Red No. 40 Aluminum Lake", "Red 40 Lake", "CI 16035"),
        # What is in no list stays as it was written.
        ("CI 61585", "CI 61585", "CI 61585"),
        ("Kelp Powder", "Kelp Powder", "Kelp Powder"),
    ],
)  # fmt: skip
def test_the_names_of_one_substance(written: str, us: str, eu: str) -> None:
    assert name_in_region("us", written) == us
    assert name_in_region("eu", written) == name_in_region("uk", written) == eu


def test_one_substance_stands_once_by_the_name_of_the_region() -> None:
    """21 CFR 701.3(a) and Art. 19(1)(g): each ingredient, once."""
    white = BaseInBar("white", 90.0, (("Aqua", 0.95), ("Titanium Dioxide", 0.05)))
    more = StirredInBar("white", 1.0, ("CI 77891",))
    for region, names in (("us", ("Water", "Titanium Dioxide")), ("eu", ("Aqua", "CI 77891"))):
        draft = draft_label(region, [white], 0.0, [more], [])
        assert draft.names == names
        assert draft.ingredients[1].bar_share == pytest.approx((4.5 + 1) / 91, rel=SAME)


def test_iron_oxides_are_one_name_in_the_united_states_and_three_in_europe() -> None:
    blend = StirredInBar("brown", 0.4, ("CI 77491", "CI 77492", "CI 77499"))
    assert draft_label("us", [CLEAR], 0.0, [blend], []).names[3:] == ("Iron Oxides",)
    assert draft_label("eu", [CLEAR], 0.0, [blend], []).names[3:] == blend.inci
    which = StirredInBar("brown", 0.4, ("Iron Oxides",))
    draft = draft_label("eu", [CLEAR], 0.0, [which], [])
    assert draft.why == (
        "Iron Oxides is CI 77489 or CI 77491 or CI 77492 or CI 77499 here: ask the supplier which",
    )
    assert numbers_of("CI 77491") == ()


def test_the_studio_may_name_an_ingredient_itself() -> None:
    base = BaseInBar("b", 9.0, (("Laminaria Digitata Powder", 1.0),),
                     {"Laminaria Digitata Powder": "Kelp Powder"})  # fmt: skip
    assert draft_label("us", [base], 0.0, [], []).names == ("Kelp Powder",)
    assert draft_label("eu", [base], 0.0, [], []).names == ("Laminaria Digitata Powder",)


def test_a_carrier_goes_by_mass_among_the_ingredients() -> None:
    """Of "CI 77007, Glycerin" the glycerin is no colour: it is added to the base's."""
    blue = StirredInBar("blue", 0.6, ("CI 77007", "Glycerin"))
    base = BaseInBar("b", 99.4, (("Aqua", 0.5), ("Glycerin", 0.3), ("Sodium Stearate", 0.2)))
    draft = draft_label("us", [base], 0.0, [blue], [])
    assert draft.names == ("Water", "Glycerin", "Sodium Stearate", "Ultramarines")
    assert draft.why == ()


def test_a_paste_says_how_much_is_carrier() -> None:
    base = BaseInBar("b", 90.0, (("Aqua", 0.9), ("Sorbitol", 0.05), ("Sodium Stearate", 0.05)))
    loose = StirredInBar("blue", 10.0, ("CI 77007", "Glycerin"))
    unsure = draft_label("us", [base], 0.0, [loose], [])
    assert unsure.names == ("Water", "Glycerin", "Sodium Stearate", "Sorbitol", "Ultramarines")
    assert any("how much Glycerin is in blue" in reason for reason in unsure.why)
    # 70 % of 10 g is more than the 4.5 g of either, 40 % is less.
    for share, second in ((0.3, "Glycerin"), (0.6, "Sodium Stearate")):
        paste = StirredInBar("blue", 10.0, ("CI 77007",), carrier="Glycerin", pigment_share=share)
        draft = draft_label("us", [base], 0.0, [paste], [])
        assert draft.names[1] == second
        assert draft.why == ()
        shares = {line.name: line.bar_share for line in draft.ingredients}
        assert shares["Glycerin"] == pytest.approx((1 - share) * 0.1, rel=SAME)
        assert shares["Ultramarines"] == pytest.approx(share * 0.1, rel=SAME)


def test_a_carrier_of_1_percent_or_less_may_stand_anywhere() -> None:
    """21 CFR 701.3(f)(2): nothing is asked where any order will do."""
    base = BaseInBar("b", 99.0, (("Aqua", 0.995), ("Sodium Chloride", 0.005)))
    mica = StirredInBar("mica", 1.0, ("Mica", "CI 77891"))
    assert draft_label("eu", [base], 0.0, [mica], []).why == ()


@pytest.mark.parametrize(
    ("region", "name", "certified", "says"),
    [
        # 21 CFR 74.102 lists FD&C Blue No. 2 (CI 73015) for food, 74.1102 for drugs; no cosmetics.
        ("us", "CI 73015", True, "do not list it"),
        ("eu", "CI 73015", False, ""),
        ("uk", "CI 73015", False, ""),
        ("us", "CI 77891", False, ""),  # 73.2575
        ("us", "CI 77007", False, ""),  # 73.2725
        ("us", "CI 77266", True, "make-up and nails alone"),  # 74.2052
        ("us", "CI 42090", False, "certified by the FDA (21 CFR 74.2101)"),
        ("us", "CI 42090", True, ""),
        ("us", "FD&C Blue No. 1 Aluminum Lake", False, "certified by the FDA"),  # 82.51
        ("us", "CI 61585", True, "do not list it"),
        ("eu", "CI 61585", False, ""),  # rinse-off products
        ("eu", "CI 99999", False, "does not list it"),
        ("uk", "CI 99999", False, "as it stands in Great Britain"),
        ("eu", "Orange 11", False, "does not list it"),
        ("us", "Bismuth Citrate", False, "hair on the scalp alone"),  # 73.2110
        ("us", "Glycerin", False, ""),
    ],
)
def test_colours_that_are_not_permitted(region: str, name: str, certified: bool, says: str) -> None:
    fault = colour_fault(region, name, certified)
    assert says in fault
    assert bool(fault) is bool(says)


def test_a_colour_that_is_not_permitted_leaves_no_list_to_print() -> None:
    indigo = StirredInBar("indigo", 0.3, ("CI 73015",))
    draft = draft_label("us", [CLEAR], 0.0, [indigo], [])
    assert draft.faults == (
        "CI 73015 is not permitted in a cosmetic: 21 CFR 73 and 74 do not list it",
    )
    assert draft.statement == ""
    assert "CI 73015" in draft.names
    assert draft_label("eu", [CLEAR], 0.0, [indigo], []).faults == ()
    # Certifying the colours of a base is its supplier's business.
    base = BaseInBar("b", 90.0, (("Aqua", 0.99), ("CI 42090", 0.01)))
    assert draft_label("us", [base], 0.0, [], []).faults == ()
    woad = draft_label("eu", [CLEAR], 0.0, [StirredInBar("woad", 0.3, ("Isatis Leaf",))], [])
    assert woad.faults == ("woad has no name that is in a list of permitted colours",)


def test_a_limited_colour_is_a_question_for_the_assessor() -> None:
    violet = StirredInBar("violet", 0.3, ("CI 60730",))
    draft = draft_label("eu", [CLEAR], 0.0, [violet], [])
    assert draft.faults == ()
    assert (
        "CI 60730 is permitted not on mucous membranes (Annex IV): ask the safety assessor"
        in draft.notes
    )


def test_every_colour_has_a_name_and_a_list() -> None:
    for name in ("CI 77891", "Caramel", "CI 60730", "Lactoflavin"):
        found = find_substance(name)
        assert found is not None
        assert found.eu or found.us
        assert found.eu_use or found.us_use


# What guidance asks, by paragraph. The sample labels of the FDA's Cosmetic Labeling Guide and of
# the guide of its trade association could not be read; nor could one of the CTPA. Read were the
# text of 21 CFR 701.3 and 701.20, the Austrian agency's list of Art. 19(1), and the guide of the
# government of the United Kingdom.


def asked(region: str, **more: str) -> dict[str, tuple[str, str]]:
    draft = draft_label(region, [CLEAR], 0.0, [], [], **more)
    return {one.what: (one.has, one.rule) for one in draft.asked}


def test_what_the_united_states_ask_of_a_cosmetic() -> None:
    found = asked("us", responsible="Corran Bench, 4 Quay Lane, Port Ellis, ME 04001")
    assert found["what it is"] == ("Soap", "21 CFR 701.11")
    assert found["net weight"] == ("", "21 CFR 701.13")
    assert found["ingredients"] == ("as above", "21 CFR 701.3")
    who = "responsible person and address"
    assert found[who] == ("Corran Bench, 4 Quay Lane, Port Ellis, ME 04001", "21 CFR 701.12")
    # From 29 December 2024, by the Modernization of Cosmetics Regulation Act of 2022.
    assert found["contact for complaints: address, telephone or web"][1] == "FD&C Act sec. 609(a)"
    assert asked("us")[who][0] == ""


def test_what_the_european_union_asks_by_article_19() -> None:
    rules = {rule.split(",")[0] for _, rule in asked("eu").values()}
    assert {f"Art. 19(1)({letter})" for letter in "abcdefg"} | {"Art. 19(5)"} == rules
    assert asked("eu")["batch"] == ("", "Art. 19(1)(e)")


def test_what_the_united_kingdom_asks() -> None:
    """The responsible person is in the United Kingdom: Art. 4 as amended, gov.uk guide, par. 2."""
    who = "responsible person and address in the United Kingdom"
    assert asked("uk", responsible="Corran Bench, Leith")[who] == (
        "Corran Bench, Leith", "Art. 19(1)(a)",
    )  # fmt: skip
    assert "kind" not in asked("uk")
