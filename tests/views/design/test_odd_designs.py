"""What a design's pages say of things that few write-ups have."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from every_sheet import all_sheets
from worked_notebook import BASES, read
from worked_notebook import DESIGN as WRITTEN

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.html.theme import read_theme
from journal.views.notebook import open_book
from journal.views.shared.editions import cut_to_edition

Change = tuple[str, str, str]
DESIGN = "designs/leaf/design.md"
BARS = "  - date: 2026-03-01\n"
ENDS = "ends: {name: Ends, base: plain, amount: 30 g}\n"
MILKY = "milky:\n  name: Milky\n  price: 12.00/kg\n  density: 1 g/mL\n"
THEME = read_theme()

Page = Callable[[str], str]
Pages = Callable[..., Page]


@pytest.fixture
def pages(tmp_path: Path) -> Pages:
    """The pages of the worked notebook after some changes."""

    def made(*changes: Change, more: Mapping[str, str] = {}, errors: int = 0) -> Page:
        notebook = read(tmp_path / "content", *changes, more=more, errors=errors)
        figures = derive_figures(notebook, models=False)
        book = open_book(notebook, figures, compare_designs(notebook), THEME, "studio")
        sheets = {sheet.path: sheet for sheet in all_sheets(book)}
        return lambda path: sheets[path].make().decode()

    return made


def said(html: str) -> str:
    text = BeautifulSoup(html, "html.parser").get_text(" ").replace("\u00a0", " ")
    return re.sub(r"\s+([.,;:])", r"\1", re.sub(r"\s+", " ", text))


# When an oil goes in ------------------------------------------------------------------


@pytest.mark.parametrize(("add", "when"), [(", add: 58-62 C", "at 58–60 °C"), ("", "below 60 °C")])
def test_an_oil_goes_in_below_what_its_supplier_says(pages: Pages, add: str, when: str) -> None:
    below = ("shelf/fragrances.yaml", "  limit: 2 %\n", "  limit: 2 %\n  add_below: 60 C\n")
    of = pages(below, (DESIGN, ", add: 58-62 C", add))
    page = said(of("designs/leaf.html"))
    assert f"stirred in {when}" in page
    assert re.search(
        rf"\. {when[0].upper()}{when[1:]} \([^)]*\), about \d+ min after melting, stir ", page
    )
    assert f"scent {when}; pour at 50–55 °C" in said(of("sheets/pour-leaf.html"))
    assert "Goes in below 60 °C" in said(of("shelf/fragrance-herb.html"))


@pytest.mark.parametrize(
    ("takes", "note", "row"),
    [
        ("3 %", "Its base carries up to 3 % of fragrance.", ""),
        ("0.8 %", "Its base carries only 0.8 % of fragrance: lower the dose, or scent sweats out.",
         "Herb more than the 0.8 % its base carries"),
    ],
)  # fmt: skip
def test_what_a_base_carries(pages: Pages, takes: str, note: str, row: str) -> None:
    page = pages(("shelf/bases.yaml", "takes: 3 %", f"takes: {takes}"))
    said_here = said(page("designs/leaf.html"))
    assert note in said_here
    assert row in said_here
    assert ("more than the" in said_here) == bool(row)
    assert f"Carries up to {takes} of its weight in fragrance" in said(
        page("shelf/base-plain.html")
    )


@pytest.mark.parametrize(
    ("bars", "cavities", "says"),
    [
        (3, 1, "1 round through a mould of one cavity, cut into 3."),
        (13, 1, "2 rounds through a mould of one cavity, cut into 10."),
        (13, 2, "1 round through a mould of two cavities, cut into 7 and 6."),
    ],
)
def test_a_block_is_cut_into_the_bars_of_its_round(
    pages: Pages, bars: int, cavities: int, says: str
) -> None:
    page = pages(
        (DESIGN, "mat: leaf\n", ""),
        (DESIGN, "bars: 4\n", f"bars: {bars}\n"),
        ("shelf/moulds.yaml", "cavities: 4", f"cavities: {cavities}\n  bars_each: 10"),
    )
    assert says in said(page("designs/leaf.html"))


# What differs between variants ------------------------------------------------------


def varied(one: str, other: str = "{}") -> tuple[Change, ...]:
    """Two variants, of two bars each."""
    return (
        (DESIGN, "pours:\n", f"variants:\n  one: {one}\n  other: {other}\npours:\n"),
        *(
            (DESIGN, f"bar: A{number},", f"bar: A{number}, variant: {name},")
            for number, name in enumerate(("one", "one", "other", "other"), start=1)
        ),
    )


@pytest.mark.parametrize(
    ("one", "key", "values"),
    [
        ("{packaging: []}", "Packaging", ["none", "Sleeve"]),
        (
            "{layers: {detail: {overpour: 7 g}}}", "Overpour of the detail",
            ["7 g (0.245 oz)", "5 g (0.175 oz)"],
        ),
        (
            "{layers: {body: {colours: []}}}", "Colours of the body",
            ["none", "Brick, 1 %"],
        ),
        (
            "{layers: {body: {fragrance: []}}}", "Fragrance of the body",
            ["none", "Herb, 10 mL/kg"],
        ),
        ("{layers: {body: {spritz: after}}}", "Spritz of the body", ["after", "none"]),
        (
            "{layers: {body: {then: []}}}", "Then of the body",
            ["nothing", "unmould after 10 h; peel"],
        ),
        ("{layers: {body: {pot: blue}}}", "Pot of the body", ["blue", "body"]),
        (
            "{layers: {body: {amount: 70 g}}}", "Amount of the body",
            ["70 g (2.47 oz)", "80 g (2.82 oz)"],
        ),
        (
            "{layers: {body: {base: {plain: 70 %, milky: 30 %}}}}", "Base of the body",
            ["70 % Plain and 30 % Milky", "Plain"],
        ),
        (
            "{layers: {body: {base: {leftover: ends}}}}", "Base of the body",
            ["Ends", "Plain"],
        ),
        ("{piece: leaf-a}", "Piece", ["Leaf, straight", "none"]),
        ("{minutes: {pour: 9}}", "Minutes", ["changed", "changed"]),
    ],
)  # fmt: skip
def test_what_differs_is_said_of_each(pages: Pages, one: str, key: str, values: list[str]) -> None:
    more = {"shelf/leftovers.yaml": ENDS, "shelf/bases.yaml": BASES + MILKY}
    page = pages(*varied(one), more=more)("designs/leaf.html")
    lines = [said(str(line)).strip() for line in BeautifulSoup(page, "html.parser").select(
        "#variants .points li")]  # fmt: skip
    for value in values:
        assert any(f"{key[0].lower()}{key[1:]} {value}" in line for line in lines), lines


# The maker's prose ------------------------------------------------------------------


def prose(pages: Pages, text: str, **more: str) -> str:
    """The notes of the design's page."""
    asked = "---\ntitle: Which\nby: [keep]\nbetween: trim\n---\n"
    html = pages(
        (DESIGN, "On paper first.\n", text),
        more={"comparisons/which.md": asked, "shelf/leftovers.yaml": ENDS, **more},
    )("designs/leaf.html")
    notes = BeautifulSoup(html, "html.parser").find(id="notes")
    assert notes is not None
    return str(notes)


@pytest.mark.parametrize(
    ("written", "leads"),
    [
        ("../../shelf/bases.yaml#plain", "../shelf/base-plain.html"),
        ("../../shelf/bases.yaml", "../shelf/index.html#bases"),
        ("../../comparisons/which.md", "../compared/which.html"),
        ("design.md#bars", "#bars"),
        ("design.md", "leaf.html"),
        ("#bars", "#bars"),
        ("https://soap.example/a", "https://soap.example/a"),
    ],
)
def test_a_link_leads_to_the_page_of_what_it_names(pages: Pages, written: str, leads: str) -> None:
    link = BeautifulSoup(prose(pages, f"See [this]({written}).\n"), "html.parser").find("a")
    assert link is not None
    assert link["href"] == leads


def test_a_link_to_what_has_no_page_keeps_its_words(pages: Pages) -> None:
    found = prose(pages, "See [the settings](../../journal.yaml).\n")
    assert "the settings" in found
    assert "<a" not in found


def test_heads_and_tables_of_the_prose_take_the_pages_form(pages: Pages) -> None:
    text = "# A\n\n##### B\n\n| day | mm |\n| :-- | --: |\n| 1 | 0.5 |\n\nEnd.[^1]\n\n[^1]: Why.\n"
    found = prose(pages, text)
    assert ">A</h3>" in found
    assert ">B</h6>" in found
    assert re.search(r'<td class="n">\s*0.5', found)
    assert not re.search("style=", found)
    assert 'id="note-fn:1"' in found


# What is weighed --------------------------------------------------------------------


def test_drops_are_rough(pages: Pages) -> None:
    made = pages(
        (DESIGN, "dose: 10 mL/kg", "dose: 12 drops"), (DESIGN, "dose: 1 %", "dose: 5 drops")
    )
    assert said(made("designs/leaf.html")).count("rough, from drops") >= 2


def test_a_colour_by_volume_without_a_density_is_measured_out(pages: Pages) -> None:
    found = pages(
        (DESIGN, "colourant: brick, dose: 1 %", "colourant: brick, dose: 2 tsp/kg"),
        ("shelf/colourants.yaml", "  density: 0.5 g/mL\n", ""),
    )
    assert "Brick 1/2 tsp + 1/8 tsp" in said(found("designs/leaf.html"))


def test_a_mould_without_a_face_has_no_drawing(pages: Pages) -> None:
    mould = ("shelf/moulds.yaml", "  face: 80 x 50 mm\n", "")
    assert "<svg class=section " in pages()("designs/leaf.html")
    assert "<svg class=section " not in pages(mould)("designs/leaf.html")


# What cannot be had yet -------------------------------------------------------------

ALL_ENDS = (
    (DESIGN, "base: plain\n    amount: 5 g", "base: {leftover: ends}\n    amount: 5 g"),
    (DESIGN, "base: plain\n    amount: 80 g", "base: {leftover: ends}\n    amount: 80 g"),
)


@pytest.mark.parametrize(
    ("changes", "leftovers", "words"),
    [
        (
            [(DESIGN, "trim: straight 2 mm", "trim: straight")], "",
            "Cutting the mat: trim: the margin, such as straight 3 mm",
        ),
        (
            [("shelf/bases.yaml", "price: 10.00/kg", "price: 10.00/L")], "",
            "Plain wants price by mass, such as 4.10/lb, in shelf/bases.yaml",
        ),
        (ALL_ENDS, "ends: {name: Ends, amount: 1 kg}\n", "base of every leftover"),
    ],
)  # fmt: skip
def test_what_is_wanting_is_told_on_the_page(
    pages: Pages, changes: list[Change], leftovers: str, words: str
) -> None:
    more = {"shelf/leftovers.yaml": leftovers} if leftovers else {}
    told = said(pages(*changes, more=more)("designs/leaf.html"))
    assert "Not known yet: " in told
    assert words in told


def test_a_pour_without_bars_leaves_nothing_that_is_known(pages: Pages) -> None:
    poured = "  - {pour: C, date: 2026-03-05, melted: {body: 400 g}}\n"
    told = said(pages((DESIGN, "pours:\n", f"pours:\n{poured}"))("designs/leaf.html"))
    assert "5 March 2026" in told


@pytest.mark.parametrize("bars", ["[]", "[{bar: A1, poured: 40 C}]"])
def test_bars_of_which_nothing_was_judged(pages: Pages, bars: str) -> None:
    made = pages(
        (DESIGN, "    bars:\n", f"    bars: {bars}\n"),
        *((DESIGN, f"      - {{bar: A{n}{more}\n", "") for n, more in (
            (1, ", piece: leaf-a, keep: yes, weight: 84 g}"),
            (2, ", piece: leaf-a, keep: yes, weight: 85 g}"),
            (3, ", piece: leaf-a, keep: yes, weight: 86 g}"),
            (4, ", keep: no, weight: 85 g}"),
        )),
    )  # fmt: skip
    counted = re.compile(r"\b\d+ of \d+ fit to sell\b")
    assert counted.search(said(pages()("designs/leaf.html")))
    assert not counted.search(said(made("designs/leaf.html")))


# The shelf --------------------------------------------------------------------------


def test_things_of_which_little_is_known(pages: Pages) -> None:
    whole = pages()
    found = pages(
        ("shelf/mats.yaml", "motif: {size: 60 x 40 mm, pitch: 90 x 60 mm, offset: 50 x 40 mm}",
         "motif: {size: 60 x 40 mm}"),
        ("shelf/fragrances.yaml", "price: 0.20/mL", "price: 7.50"),
        more={
            "shelf/pieces.yaml": "leaf-a: {name: Leaf, mat: leaf, mould: four}\nodd: {name: Odd}\n",
            "shelf/leftovers.yaml": "ends: {name: Ends, amount: 30 g, scented: {oil: herb, "
            "concentration: 1 %}, tinted: brick}\n"
            "rest: {name: Rest, base: {plain: 60 %, milky: 40 %}}\n",
            "shelf/bases.yaml": BASES + MILKY,
        },
    )  # fmt: skip
    for words, page, wanting in (
        ("Motif to motif", "shelf/mat-leaf.html", "shelf/mat-leaf.html"),
        ("Cut from", "shelf/piece-leaf-a.html", "shelf/piece-odd.html"),
        ("Trim", "shelf/piece-leaf-a.html", "shelf/piece-leaf-a.html"),
    ):
        assert words in said(whole(page))
        assert words not in said(found(wanting))
    assert "Plain 60 %, Milky 40 %" in said(found("shelf/leftover-rest.html"))


def test_a_public_page_keeps_what_its_leftovers_are_made_of(tmp_path: Path) -> None:
    """And leaves away the rest of the shelf."""
    ends = (
        "ends: {name: Ends, base: milky, amount: 1 kg, tinted: other,"
        " scented: {oil: thyme, concentration: 1 %}}\n"
    )
    more = {
        "shelf/leftovers.yaml": ends,
        "shelf/bases.yaml": BASES + MILKY + "third: {name: Third}\n",
        "shelf/colourants.yaml": "brick: {name: Brick, density: 0.5 g/mL}\nother: {name: Other}\n",
        "shelf/fragrances.yaml": "herb: {name: Herb, density: 0.9 g/mL}\nthyme: {name: Thyme}\n"
        "unused: {name: Unused}\n",
    }
    takes = (DESIGN, "base: plain\n    amount: 5 g", "base: {leftover: ends}\n    amount: 5 g")
    shelf = cut_to_edition(read(tmp_path, takes, more=more), "public").shelf
    assert set(shelf.bases) == {"plain", "milky"}
    assert set(shelf.colourants) == {"brick", "other"}
    assert set(shelf.fragrances) == {"herb", "thyme"}


# How the pots cooled ----------------------------------------------------------------


def test_a_pot_that_paused_is_told_on_either_side(pages: Pages) -> None:
    """It stood at 57 C from the tenth to the twentieth minute, in a room of 20 C."""
    cooled = [min(minute, max(10, minute - 10)) for minute in range(0, 42, 2)]
    values = [20 + 37 * math.exp(-0.03 * (minute - 10)) for minute in cooled]
    noted = [f"[0:{2 * place:02}, {value:.1f} C]" for place, value in enumerate(values)]
    told = said(pages(readings(f"[{', '.join(noted)}]"))("designs/leaf.html"))
    assert "It paused near 57 °C, for about 10 min, and then cooled on. From 57 °C: " in told
    assert "They bend away" not in told


def readings(text: str) -> Change:
    return (DESIGN, "[[0:00, 70 C, melted], [0:10, 62 C, scented], [0:25, 54 C, poured]]", text)


def test_without_readings_there_is_no_curve(pages: Pages) -> None:
    none = ("designs/leaf/design.md", "    readings: {body: [[0:00, 70 C, melted], [0:10, 62 C, "
            "scented], [0:25, 54 C, poured]]}\n", "")  # fmt: skip
    for words in ("readings fit this", "Its readings"):
        assert words in said(pages()("designs/leaf.html"))
        assert words not in said(pages(none)("designs/leaf.html"))


def test_a_design_without_readings_has_a_forecast_by_those_of_others(pages: Pages) -> None:
    bare = re.sub(r"    readings: .*\n", "", WRITTEN).replace("Leaf on brick", "Fern")
    bare = bare.replace("bar: A", "bar: F")
    told = said(pages(more={"designs/fern/design.md": bare})("designs/fern.html"))
    assert "No readings of this design's pots have been written down yet." in told


def test_a_pot_of_nothing_tells_no_rate(pages: Pages) -> None:
    told = said(pages((DESIGN, "body: 380 g}", "body: 0 g}"))("designs/leaf.html"))
    assert "took to cool half-way to the room" in told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "[[0:00, 50 C, melted], [0:10, 60 C], [0:20, 70 C, poured]]",
            "These readings give no cooling curve",
        ),
        (
            "[[0:00, 80 C, melted], [0:05, 74 C], [0:10, 69 C], [0:15, 40 C], [0:20, 60 C], "
            "[0:25, 56.5 C], [0:30, 53 C, poured]]",
            "off the others",
        ),
    ],
)
def test_readings_that_tell_little(pages: Pages, text: str, words: str) -> None:
    assert words in said(pages(readings(text))("designs/leaf.html"))


# A bar that was dropped ---------------------------------------------------------------


def test_a_dropped_bar_is_told_beside_those_that_were_judged(pages: Pages) -> None:
    dropped = (DESIGN, "{bar: A4, keep: no, weight: 85 g}", "{bar: A4, keep: no, spoilt: dropped}")
    page = pages(dropped)("designs/leaf.html")
    assert "3 of 3 fit to sell" in said(page)
    assert "not judged" not in said(page)
    soup = BeautifulSoup(page, "html.parser")
    assert "3 of 3 fit to sell. 1 dropped." in said(page)
    again = (
        DESIGN,
        "---\nOn paper",
        "  - date: 2026-03-09\n    bars: [{bar: B1, keep: yes}]\n---\nOn paper",
    )
    captions = said(pages(dropped, again)("designs/leaf.html"))
    assert "3 of 3 fit, 1 dropped." in captions
    (row,) = [row for row in soup.select("tr") if row.th is not None and row.th.text == "A4"]
    assert "dropped" in row.get_text()


def test_a_pour_may_have_nothing_but_dropped_bars(pages: Pages) -> None:
    lost = [
        (DESIGN, row, f"{{bar: A{number}, spoilt: lost}}")
        for number, row in enumerate(
            (
                "{bar: A1, piece: leaf-a, keep: yes, weight: 84 g}",
                "{bar: A2, piece: leaf-a, keep: yes, weight: 85 g}",
                "{bar: A3, piece: leaf-a, keep: yes, weight: 86 g}",
                "{bar: A4, keep: no, weight: 85 g}",
            ),
            start=1,
        )
    ]
    assert "not judged" in said(pages(*lost)("designs/leaf.html"))
