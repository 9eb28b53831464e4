"""No edition gives away what it leaves out: by search, by difference, and for ordinary writing.

Which values are private is DEVELOPERS.md, "The last gate"; the ways to give one away were found by
writing them into notebooks.
"""

from __future__ import annotations

import html
import io
import re
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

import pytest
from conftest import MakeOnce
from PIL import Image
from private_notebook import (
    SUPPLIERS,
    change_every_private_value,
    change_every_trial,
    lay_out_private,
)
from pypdf import PdfReader

from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.cli import main
from journal.errors import ContentError, Position, Problem
from journal.records.notebook import read_notebook
from journal.records.yaml.source import parse_yaml, read_text
from journal.views.shared.editions import EDITIONS, Edition
from journal.views.shared.last_gate import PrivateValue, PrivateValueSearch
from journal.views.shared.private_values import private_texts, values_left_out

HEEL, TABLE = "designs/heel/design.md", "designs/heel/heel.csv"
SETTINGS, ORDER = "journal.yaml", "orders/for-tamsin-rook.yaml"


def files_of(out: Path) -> dict[str, bytes]:
    """Every file of a folder, by its path."""
    found = (path for path in sorted(out.rglob("*")) if path.is_file())
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in found}


# ------------------------------------------------------------------ what is found, and where


class Leak(NamedTuple):
    """A value that is given away: what it is, the file, what that says (from "¦" on), to whom."""

    value: str
    what: str
    file: str
    said: str
    editions: tuple[str, ...] = ("helpers", "public")


#: No two ways give the same value away, so that none is found for another's sake.
PROSE = {
    "over a line end": Leak(
        "Pellam Base Works", "a supplier", HEEL, "The milk is from ¦Pellam\nBase Works."
    ),
    "in small letters": Leak("Yarrow & Lode", "a supplier", HEEL, "Sold by ¦yarrow & lode too."),
    "in emphasis": Leak("Corrie Larch Oils", "a supplier", HEEL, "From *¦Corrie* Larch **Oils**."),
    "within a word": Leak("Ostrey Scent", "a supplier", HEEL, "From ¦Ost**rey** Scent."),
    "two blanks": Leak("Linnet Vale", "a supplier", HEEL, "From ¦Linnet  Vale."),
    "no-break spaces": Leak(
        "Quoin Pigment Co.", "a supplier", HEEL, "From ¦Quoin\u00a0Pigment\u202fCo."
    ),
    "in an address": Leak(
        "Tarn Hollow Moulds", "a supplier", HEEL, "[Here](https://¦tarn-hollow-moulds.example/)."
    ),
    "in a title": Leak(
        "Gadfly Print", "a supplier", HEEL, '[Here](https://soap.example/ "At ¦Gadfly Print").'
    ),
    "part of a customer": Leak(
        "The Old Larder", "part of a customer", HEEL, "Poured for ¦the old larder."
    ),
    "a price by its currency": Leak("8.00", "a price", HEEL, "We pay ¦€8 for it."),
    "a price by its unit": Leak("12.00", "a price", HEEL, "The clear costs ¦12.00 a kg."),
    "an hour": Leak("18.00", "what an hour costs", HEEL, "An hour is ¦EUR 18."),
    "a margin": Leak("60", "the margin", HEEL, "A margin of ¦60 % is what stays."),
    "a trial in small letters": Leak(
        "Fern on brick", "a design", HEEL, "As ¦fern on brick was.", ("public",)
    ),
}
LEAKS = {
    **PROSE,
    "in a note of a table": Leak(
        "Fernie Sheet", "a supplier", TABLE, "bar,0:10,62 C,poured as ¦Fernie Sheet says"
    ),
    "what a symptom means": Leak(
        "Marram Mats", "a supplier", SETTINGS, "warped: bent, as ¦Marram  Mats has it"
    ),
    "in the settings": Leak(
        "Bracken Card", "a supplier", SETTINGS, "studio: The lean-to, ¦Bracken Card"
    ),
    "a customer in a title": Leak(
        "Wilma Oake", "a customer", ORDER, "title: Bars for a ¦wilma oake", ("helpers",)
    ),
    "a customer in a file's name": Leak(
        "Tamsin Rook", "part of a customer", ORDER, "", ("helpers",)
    ),
}


def as_written(leak: Leak) -> str:
    """What a file says that gives a value away."""
    return leak.said.replace("¦", "")


def give_everything_away(root: Path) -> None:
    """Write each leak into a notebook."""
    lay_out_private(root)
    heel = root / HEEL
    front, body = heel.read_text("utf-8").split("\n---\n", 1)
    front = front.replace("  bars:\n  - bar: A1", "  readings: heel.csv\n  bars:\n  - bar: A1")
    front += "\nfailed:\n- {what: warped, saw: It warped.}"
    prose = "\n\n".join(map(as_written, PROSE.values()))
    heel.write_text(f"{front}\n---\n{body}\n{prose}\n", "utf-8")
    said = as_written(LEAKS["in a note of a table"])
    (root / TABLE).write_text(f"pot,time,temperature,did\nbar,0:00,70 C,melted\n{said}\n", "utf-8")
    settings = (root / SETTINGS).read_text("utf-8")
    settings = settings.replace("studio: The lean-to", as_written(LEAKS["in the settings"]))
    settings += f"symptoms:\n  {as_written(LEAKS['what a symptom means'])}\n"
    (root / SETTINGS).write_text(settings, "utf-8")
    title = as_written(LEAKS["a customer in a title"])
    (root / ORDER).write_text(
        f"{title}\ndue: 2026-08-09\ncustomer: Wilma Oake\ndesigns: [{{design: heel, bars: 8}}]\n",
        "utf-8",
    )
    thirteen = root / "orders/thirteen.yaml"
    text = thirteen.read_text("utf-8")
    thirteen.write_text(text.replace("Tamsin Rook", "Tamsin Rook, The Old Larder"), "utf-8")


@pytest.fixture(scope="module")
def given_away(
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Path, Mapping[str, tuple[Problem, ...]]]:
    """A notebook that gives everything away, and what each edition says of it."""
    root = tmp_path_factory.mktemp("given away")
    give_everything_away(root / "content")
    told: dict[str, tuple[Problem, ...]] = {}
    for edition in ("helpers", "public"):
        with pytest.raises(ContentError) as raised:
            build_notebook(BuildOptions(root / "content", root / edition, edition))  # type: ignore[arg-type]
        told[edition] = raised.value.problems
        assert not (root / edition).exists()
    return root / "content", told


@pytest.mark.parametrize("way", LEAKS)
def test_what_gives_a_value_away_is_an_error_at_its_place(
    given_away: tuple[Path, Mapping[str, tuple[Problem, ...]]], way: str
) -> None:
    content, told = given_away
    leak = LEAKS[way]
    text = (content / leak.file).read_text("utf-8")
    before = text[: text.index(as_written(leak)) + leak.said.find("¦")] if leak.said else ""
    lines = before.split("\n")
    place = Position(leak.file, len(lines), len(lines[-1]) + 1)
    for edition in ("helpers", "public"):
        wanted = f'"{leak.value}" is {leak.what} that the {edition} edition leaves out'
        places = [one.position for one in told[edition] if one.what == wanted]
        assert (place in places) == (edition in leak.editions), places


def test_nothing_else_is_told(given_away: tuple[Path, Mapping[str, tuple[Problem, ...]]]) -> None:
    values = {leak.value for leak in LEAKS.values()}
    for problems in given_away[1].values():
        assert {one.what.split('"')[1] for one in problems} <= values
        assert all("may_show: [" in one.hint for one in problems)


def test_what_may_be_shown_is_let_through(
    given_away: tuple[Path, Mapping[str, tuple[Problem, ...]]], tmp_path: Path
) -> None:
    content = Path(shutil.copytree(given_away[0], tmp_path / "content"))
    names = [leak.value for leak in LEAKS.values() if not leak.value[0].isdigit()]
    through = [*names, "€8", "12.00 a kg", "18.00 EUR", "a margin of 60 %"]
    with (content / SETTINGS).open("a", encoding="utf-8") as settings:
        settings.write(f"may_show: [{', '.join(f'{one!r}' for one in through)}]\n")
    done = build_notebook(BuildOptions(content, tmp_path / "out", "public"))
    assert done.written is not None


# ------------------------------------------------------------------ what the search reads


def found(said: str | bytes, path: str = "page.html", *more: PrivateValue) -> set[str]:
    """The names that a file is found to hold of one supplier, one id, one price."""
    at = Position("shelf/bases.yaml", 3, 13)
    values = (
        PrivateValue("Pellam Base Works", "a supplier", at),
        PrivateValue("fern-on-brick", "the id of a design", at, "id"),
        PrivateValue("8.50", "a price", at, "money", "kg"),
        *more,
    )
    data = said.encode() if isinstance(said, str) else said
    return {value.text for value in PrivateValueSearch(values, "USD").in_file(path, data)}


@pytest.mark.parametrize(
    ("said", "path"),
    [
        ("<p>Pellam<br>\n Base <b>Works</b></p>", "a.html"),
        ("<p>Pel<em>lam</em> Base Works</p>", "a.html"),
        ("<b>Pellam</b><span>Base</span><span>Works</span>", "a.html"),
        ('<img alt="of pellam base works">', "a.html"),
        ('<a href="https://soap.example/pellam_base/Works/">', "a.html"),
        ('<a href="?q=Pellam%20Base%20Works">', "a.html"),
        ("<p>Pellam&nbsp;Base&#32;Works</p>", "a.html"),
        ("<p>Pel\u00adlam Ba\u200bse Works, \uff30ellam</p>", "a.html"),
        ("<p>\uff30\uff25\uff2c\uff2c\uff21\uff2d BASE WORKS</p>", "a.html"),
        ('{"words": ["Pellam\\u0020Base\\nWorks"]}', "a.json"),
        ("index([['pellam', 'base', 'works']])", "a.js"),
        ("<summary>Pellam Base Works</summary>", "feed.xml"),
        ("<p></p>", "orders/pellam-base-works.html"),
    ],
)
def test_a_name_is_found_however_it_is_set(said: str, path: str) -> None:
    assert found(said, path) == {"Pellam Base Works"}


@pytest.mark.parametrize(
    "said",
    ["Pellam Base", "Pellam Based Works", "apellam base works", "fern on brick", "fern-on-bricks",
     "8.50 kg", "18.50 USD", "$8.505", "$8.5.1", "8.50 g per kg"],
)  # fmt: skip
def test_what_only_looks_like_it_is_not(said: str) -> None:
    assert found(f"<p>{said}</p>") == set()


@pytest.mark.parametrize(
    "said", ["$8.50", "$ 8.5", "8,50 USD", "8.50 dollars", "8.50/kg", "8.5 per kg", "08.50 a kg"]
)
def test_money_is_found_by_its_currency_or_its_unit(said: str) -> None:
    assert found(f"<p>It is {said}, then.</p>") == {"8.50"}


@pytest.mark.parametrize("supplier", ["—", "\U0001f9fc", "%", "Yew"])
def test_a_name_of_fewer_than_four_letters_is_not_looked_for(tmp_path: Path, supplier: str) -> None:
    lay_out_private(tmp_path)
    bases = tmp_path / "shelf/bases.yaml"
    text = bases.read_text("utf-8").replace("Pellam Base Works", f"'{supplier}'")
    bases.write_text(text, "utf-8")
    values = values_left_out(read_notebook(tmp_path), (), {})
    assert {one.text for one in values if one.what == "a supplier"} == {*SUPPLIERS.values()} - {
        "Pellam Base Works"
    }


def test_an_id_is_found_letter_by_letter() -> None:
    assert found('<a href="../designs/Fern-on-brick.html">') == {"fern-on-brick"}


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_what_a_picture_says_of_itself_is_read(kind: str) -> None:
    picture, written = Image.new("RGB", (8, 8)), io.BytesIO()
    exif = Image.Exif()
    exif[0x010E] = "For Pellam Base Works"  # ImageDescription, EXIF 2.32, table 4
    picture.save(written, kind, exif=exif)
    assert found(written.getvalue(), f"photos/a.{'jpg' if kind == 'JPEG' else 'png'}") == {
        "Pellam Base Works"
    }
    picture.save(bare := io.BytesIO(), kind)
    assert found(bare.getvalue(), "photos/a.jpg") == set()


# ------------------------------------------------------------------ by difference, by search


class Built(NamedTuple):
    """A notebook, and each edition of it; ``changed`` holds other private values throughout."""

    content: Path
    editions: Mapping[str, Mapping[str, bytes]]
    changed: Mapping[str, Mapping[str, bytes]]


@pytest.fixture(scope="module")
def built(make_once: MakeOnce) -> Built:
    def make(root: Path) -> None:
        root.mkdir()
        lay_out_private(root / "content")
        with pytest.MonkeyPatch.context() as patch:
            # The editions of a notebook share their figures; another notebook shares none.
            patch.setenv("JOURNAL_CACHE", str(root / "kept"))
            for edition in EDITIONS:
                build_notebook(BuildOptions(root / "content", root / edition, edition))
            make_changed(root)

    root = make_once("private values", make)
    return Built(
        root / "content",
        {edition: files_of(root / edition) for edition in EDITIONS},
        {edition: files_of(root / f"changed {edition}") for edition in ("helpers", "public")},
    )


def make_changed(root: Path) -> None:
    """Each edition of the notebook in ``content`` with every private value another one."""
    shutil.copytree(root / "content", root / "changed")
    change_every_private_value(root / "changed")
    build_notebook(BuildOptions(root / "changed", root / "changed helpers", "helpers"))
    shutil.copytree(root / "changed", root / "changed of private values alone")
    assert change_every_trial(root / "changed") >= 4
    shutil.rmtree(root / "changed/orders")
    build_notebook(BuildOptions(root / "changed", root / "changed public", "public"))


def every_private_text(content: Path) -> list[tuple[str, str, str]]:
    """File, key and text of all that stands under a private key."""
    notebook = read_notebook(content)
    assert not notebook.errors
    trees = [*notebook.shelf.written.values(), *(one.written for one in notebook.designs.values()),
             *(one.written for one in notebook.orders.values()),
             *(one.written for one in notebook.comparisons.values()),
             parse_yaml(read_text(content, SETTINGS), SETTINGS, problems=[])]  # fmt: skip
    return [(one.at.path, one.key, one.text) for tree in trees for one in private_texts(tree)]


def test_every_private_value_is_another_one(built: Built) -> None:
    """There is one in every kind of file that may have it, and none is left as it was."""
    was = every_private_text(built.content)
    now = every_private_text(built.content.with_name("changed of private values alone"))
    assert [one[:2] for one in was] == [one[:2] for one in now]
    assert [one for one, other in zip(was, now, strict=True) if one[2] == other[2]] == []
    found = {(path.partition("/")[0], key) for path, key, _ in was}
    assert found == {
        ("shelf", "supplier"), ("shelf", "price"), ("shelf", "private"), ("designs", "private"),
        ("orders", "customer"), ("orders", "private"), ("comparisons", "private"),
        ("designs", "complaints"),
        (SETTINGS, "labour"), (SETTINGS, "fixed_costs"), (SETTINGS, "margin"),
    }  # fmt: skip
    assert sum(key == "private" for path, key, _ in was if path == "designs/ridge/design.md") == 2


@pytest.mark.parametrize("edition", ["helpers", "public"])
def test_an_edition_is_the_same_whatever_it_leaves_out(built: Built, edition: str) -> None:
    made, changed = built.editions[edition], built.changed[edition]
    assert made.keys() == changed.keys()
    assert [path for path in made if made[path] != changed[path]] == []


@pytest.mark.long  # ten seconds of processor an edition
def test_the_demo_is_the_same_whatever_it_leaves_out(tmp_path: Path, demo_content: Path) -> None:
    shutil.copytree(demo_content, tmp_path / "content")
    for edition in ("helpers", "public"):
        build_notebook(BuildOptions(tmp_path / "content", tmp_path / edition, edition))
    make_changed(tmp_path)
    for edition in ("helpers", "public"):
        made, changed = files_of(tmp_path / edition), files_of(tmp_path / f"changed {edition}")
        assert [path for path in made if made[path] != changed.get(path)] == []
        assert made.keys() == changed.keys()


def plain(text: str) -> str:
    """A text in small letters, its words one blank apart, without tags."""
    bare = re.sub(r"<[^>]*>", " ", html.unescape(text))
    return " ".join(re.findall(r"\w+", bare.lower()))


def private_words(content: Path, edition: Edition) -> set[str]:
    """Every private text of a notebook but money, as it would be read."""
    notebook = read_notebook(content)
    trees = [*notebook.shelf.written.values(), *(one.written for one in notebook.designs.values()),
             *(one.written for one in notebook.orders.values())]  # fmt: skip
    texts = {text.text for tree in trees for text in private_texts(tree)
             if text.key in ("supplier", "customer", "private", "complaints")}  # fmt: skip
    if edition == "public":
        texts |= {one.title for one in notebook.designs.values() if one.state != "keeper"
                  and " " in one.title and one.title != "Fern close"}  # fmt: skip
    return set(map(plain, texts))


@pytest.mark.parametrize("edition", EDITIONS)
def test_what_is_left_out_stands_nowhere(built: Built, edition: Edition) -> None:
    """By a search of its own, not the gate's; the studio's own edition shows that it finds."""
    said = {path: f" {plain(data.decode())} {plain(path)} "
            for path, data in built.editions[edition].items()
            if not path.endswith((".woff2", ".jpg"))}  # fmt: skip
    words = private_words(built.content, edition)
    assert len(words) >= len(SUPPLIERS) + 3
    where = {word: [path for path, text in said.items() if f" {word} " in text] for word in words}
    if edition == "studio":
        assert [word for word, paths in where.items() if not paths] == []
    else:
        assert {word: paths for word, paths in where.items() if paths} == {}
        assert [path for path, text in said.items() if re.search(r"€ ?\d", text)] == []


def test_an_order_on_paper_names_no_more_than_its_edition(built: Built, tmp_path: Path) -> None:
    content = Path(shutil.copytree(built.content, tmp_path / "content"))
    thirteen = content / "orders/thirteen.yaml"
    text = thirteen.read_text("utf-8").replace("fern, bars: 13", "ridge, bars: 3")
    thirteen.write_text(text.replace("- {design: heel, bars: 9}", ""), "utf-8")
    call = ["order", "thirteen", "--content", str(content), "--edition", "helpers"]
    assert main([*call, "--pdf", str(tmp_path / "order.pdf")]) == 0
    text = " ".join(page.extract_text() for page in PdfReader(tmp_path / "order.pdf").pages)
    assert "thirteen and nine" in plain(text)
    words = private_words(built.content, "helpers")
    assert [word for word in words if f" {word} " in f" {plain(text)} "] == []
    assert not re.search(r"€\s?\d", text)


def test_an_order_that_would_name_its_customer_is_not_printed(
    given_away: tuple[Path, Mapping[str, tuple[Problem, ...]]],
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    call = ["order", "for-tamsin-rook", "--content", str(given_away[0]), "--edition", "helpers"]
    for more in ([], ["--json"], ["--pdf", str(tmp_path / "order.pdf")]):
        assert main([*call, *more]) == 1
        said = capsys.readouterr()
        assert f'{ORDER}:1:19: "Wilma Oake" is a customer' in said.err
        assert "oake" not in said.out.lower()
    assert not (tmp_path / "order.pdf").exists()
