"""A design over its oil's limit, and one with a mistake: what every page and list says of them.

Fern has 20 mL of thyme to 1,000 g of milk, of 1.00 g/mL at its heavy end: 20 / 1,020, 1.96 % of
the rim. Its certificate now allows 0.5 %. Dots has "three" bars.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from differing_notebook import FAULTY, OVER_LIMIT, lay_out

from journal.cli import CONTENT_WRONG, DONE, main
from journal.views.shared.words import NO_BREAK

SAYS = "Over the limit: Thyme is 1.96 % of the rim; its certificate allows 0.5 %."
DO_NOT = f"{SAYS} Do not pour or sell it."
AN_AMOUNT = re.compile(r"\d[\d.]*\s?(mL|g|oz|drops?|tsp|tbsp)\b")
ADDRESS = ("journal.yaml", "room: 19 C", "room: 19 C\naddress: https://lean-to.example/soap/")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The notebook with both in ``content``, and a folder for each edition; ``sound`` has none."""
    root = tmp_path_factory.mktemp("over")
    for name, changes in (("content", (*OVER_LIMIT, *FAULTY)), ("sound-content", ())):
        lay_out(root / name, ADDRESS, *changes)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JOURNAL_CACHE", str(root / "cache"))
        for edition in ("studio", "helpers", "public"):
            call = ["build", "--edition", edition, "--out", str(root / edition)]
            assert main([*call, "--content", str(root / "content")]) == CONTENT_WRONG
        call = ["build", "--out", str(root / "sound")]
        assert main([*call, "--content", str(root / "sound-content")]) == DONE
    return root


def soup_of(path: Path) -> BeautifulSoup:
    return BeautifulSoup(path.read_text("utf-8").replace(NO_BREAK, " "), "html.parser")


def text_of(tag: Any) -> str:
    return re.sub(r"\s+([.,:])", r"\1", " ".join(tag.get_text(" ").split()))


def dangers(path: Path) -> list[str]:
    return [text_of(tag) for tag in soup_of(path).select("main .danger")]


def of_thyme(root: Path) -> Iterator[tuple[str, str]]:
    """Every row, and clause of a sentence, that names the oil; not what the shelf has of it."""
    for path in sorted(root.rglob("*.html")):
        for tag in soup_of(path).select("main tr, main li, main p"):
            for clause in re.split(r"[,;:]|\. ", text_of(tag)):
                if "thyme" in clause.lower() and path.parent.name != "shelf":
                    yield path.relative_to(root).as_posix(), clause


# The design over its limit ---------------------------------------------------------------


@pytest.mark.parametrize("edition", ["studio", "helpers"])
def test_its_page_stands_and_says_it_first(made: Path, edition: str) -> None:
    page = made / edition / "designs/fern.html"
    assert dangers(page) == [DO_NOT]
    text = text_of(soup_of(page))
    for whole in ("A milk fern", "A4", "Weigh out", "Bar by bar", "Wait longer.", "Resin"):
        assert whole in text
    assert "over its limit: no amount is given; lower the dose" in text


def test_lists_and_labels_and_the_oil_say_it(made: Path) -> None:
    lists = ("index.html", "designs/index.html", "cards/index.html", "shelf/fragrance-thyme.html")
    for name in lists:
        assert dangers(made / "studio" / name) == [f"Fern on brick. {DO_NOT}"], name
    for name in ("labels/fern.html", "cards/fern.html", "sheets/pour-fern.html"):
        assert DO_NOT in dangers(made / "studio" / name), name
    # What is printed of the labels are their sheets: each says it.
    sheets = soup_of(made / "studio/labels/fern.html").select(".sheet")
    assert len(sheets) == 6
    for sheet in sheets:
        assert "Do not pour or sell it." in text_of(sheet)
    assert "Over the limit: Fern on brick" in text_of(soup_of(made / "studio/orders/index.html"))
    # The oil was used: that has not gone.
    assert "used in 1 design, 2 pours" in text_of(
        soup_of(made / "studio/shelf/fragrance-thyme.html")
    )
    assert dangers(made / "studio/shelf/fragrance-resin.html") == []


def test_its_card_says_not_to_pour_it(made: Path) -> None:
    card = soup_of(made / "studio/cards/fern.html").select_one(".recipe-card")
    assert card is not None
    assert text_of(card.select_one("p.intro")) == f"Not to be poured. {SAYS}"
    (row,) = (tag for tag in card.select("tr") if "Thyme" in tag.get_text())
    why = "over its limit: no amount is given; lower the dose in the write-up"
    assert text_of(row) == f"Thyme, into the rim {why} –"
    # No other number of bars has an amount of it either.
    assert not [tag for tag in row.find_all(True) if any("data" in name for name in tag.attrs)]


def test_no_page_has_an_amount_of_the_oil(made: Path) -> None:
    for edition in ("studio", "helpers"):
        found = list(of_thyme(made / edition))
        assert len(found) > 10
        assert not [one for one in found if AN_AMOUNT.search(one[1])]
    # Within its limit there are amounts in such lines, so that this can fail.
    sound = {name for name, clause in of_thyme(made / "sound") if AN_AMOUNT.search(clause)}
    assert {"designs/fern.html", "cards/fern.html", "orders/thirteen.html"} <= sound


def test_customers_are_shown_nothing_of_it(made: Path) -> None:
    public = made / "public"
    assert not (public / "designs/fern.html").exists()
    for path in public.rglob("*"):
        if path.suffix in (".html", ".js", ".xml"):
            assert not re.search("Fern on brick|Thyme|Over the limit", path.read_text("utf-8")), (
                path
            )
    assert "Heel of honey" in (public / "feed.xml").read_text("utf-8")


# The order ---------------------------------------------------------------------------------


def test_an_order_plans_the_rest_and_says_what_is_missing(made: Path) -> None:
    page = made / "studio/orders/thirteen.html"
    (danger,) = dangers(page)
    assert danger == (
        "Fern on brick is over the limit: Thyme is 1.96 % of the rim; its certificate allows 0.5 %."
        " Do not pour or sell it. No amount of Thyme is given for it; the rest is planned."
    )
    text = text_of(soup_of(page))
    assert "22 bars" in text
    assert "Planned without Dots. The write-up has a mistake." in text
    assert "It cannot be planned" not in text
    assert "A mistake in Dots" in text_of(soup_of(made / "studio/orders/index.html"))


def test_an_order_at_the_terminal(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call = ["order", "thirteen", "--content", str(made / "content")]
    assert main(call) == CONTENT_WRONG
    said = capsys.readouterr()
    text = " ".join(said.out.split())
    assert "No amount of Thyme is given for it" in text
    assert "Planned without dots. The write-up has a mistake." in text
    assert "designs/dots/design.md:8:7: " in said.err
    assert "designs/fern/design.md:28:16: " in said.err
    assert main([*call, "--json"]) == CONTENT_WRONG
    plan = json.loads(capsys.readouterr().out)
    assert plan["bars"] == 22
    assert plan["left_out"] == ["dots"]
    assert plan["over_limit"] == [
        {"design": "fern", "variant": None, "layer": "rim", "fragrances": ["thyme"]}
    ]
    needed = {one["thing"] for one in plan["needs"]}
    assert "resin" in needed
    assert "thyme" not in needed


# The figures -------------------------------------------------------------------------------


def test_figures_as_json(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for only in ([], ["fern"]):
        assert main(["figures", *only, "--content", str(made / "content")]) == CONTENT_WRONG
        said = capsys.readouterr()
        assert '"thyme" is 1.96 % of the layer "rim", over its limit of 0.5 %' in said.err
        found = json.loads(said.out)
        fern = found["designs"]["fern"]
        thyme = fern["layers"]["rim"]["fragrances"]["thyme"]
        assert (thyme["volume_ml"], thyme["mass_g"], thyme["within_limit"]) == (None, None, False)
        assert thyme["layer_percent"] == pytest.approx(100 * 20 / 1020)
        assert fern["layers"]["body"]["fragrances"]["resin"]["mass_g"] > 0
        rows = {row["figure"] for row in fern["missing"] if "over its limit" in row["needs"]}
        assert rows == {"amount of oil", "cost of fragrance"}
        assert (fern["cost"]["fragrance"], fern["cost"]["total"]) == (None, None)
        assert fern["cost"]["base"] > 0
        assert fern["cooling"]
        assert fern["comparisons"]
    assert main(["figures", "--content", str(made / "content")]) == CONTENT_WRONG
    found = json.loads(capsys.readouterr().out)
    assert "dots" not in found["designs"]
    (error,) = found["left_out"]["dots"]
    assert (error["path"], error["line"]) == ("designs/dots/design.md", 8)
    assert main(["figures", "dots", "--content", str(made / "content")]) == CONTENT_WRONG
    assert capsys.readouterr().out == ""


def test_figures_as_tables(made: Path, tmp_path: Path) -> None:
    out = tmp_path / "tables"
    assert main(["figures", "--csv", str(out), "--content", str(made / "content")]) == CONTENT_WRONG

    def rows(name: str) -> list[dict[str, str]]:
        return list(csv.DictReader((out / f"{name}.csv").read_text("utf-8").splitlines()))

    thyme = [row for row in rows("fragrances") if row["oil"] == "thyme"]
    assert {(row["volume_ml"], row["mass_g"], row["within_limit"]) for row in thyme} == {
        ("", "", "no")
    }
    (left_out,) = rows("left_out")
    assert (left_out["design"], left_out["line"]) == ("dots", "8")
    assert "dots" not in {row["design"] for row in rows("designs")}
    assert [row for row in rows("missing") if "over its limit" in row["needs"]]


# The design with a mistake -----------------------------------------------------------------


@pytest.mark.parametrize("edition", ["studio", "helpers"])
def test_a_mistake_is_said_where_the_design_would_stand(made: Path, edition: str) -> None:
    out = made / edition
    page = text_of(soup_of(out / "designs/dots.html"))
    assert "has a mistake in it. Put it right, and the page comes back." in page
    assert ("designs/dots/design.md:8:7" in page) == (edition == "studio")
    for name in ("index.html", "designs/index.html", "cards/index.html"):
        section = soup_of(out / name).find(id="faulty")
        assert section is not None, name
        assert "Dots" in text_of(section.find_parent("section") or section), name
    # Every page of the shelf that counts designs says which it could not count.
    counting = [out / "shelf/index.html", *out.glob("shelf/*-*.html")]
    assert len(counting) > 5
    for path in counting:
        assert "Dots is not counted: there is a mistake in it." in text_of(soup_of(path)), path
    unused = text_of(soup_of(out / "shelf/mat-dots.html"))
    assert "not used in any design without a mistake" in unused


def test_put_right_all_is_as_it_was(made: Path, tmp_path: Path) -> None:
    """And what is kept of the one is not taken for the other."""
    content, out = lay_out(tmp_path / "content", ADDRESS, *OVER_LIMIT), tmp_path / "out"
    call = ["build", "--content", str(content), "--out", str(out)]
    assert main(call) == CONTENT_WRONG
    lay_out(content, ADDRESS)
    assert main(call) == DONE
    for path in (made / "sound").rglob("*.html"):
        assert (out / path.relative_to(made / "sound")).read_bytes() == path.read_bytes()
