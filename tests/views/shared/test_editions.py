"""What an edition leaves out stands in no byte of it."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from conftest import CallJournal
from demo import BARLEY, KELP_ON_GREY, MOTH
from demo_book import demo_notebook

from journal.cli import CONTENT_WRONG
from journal.errors import Position
from journal.records.notebook import read_notebook
from journal.views.shared.editions import cut_to_edition, links_to_left_out


@pytest.fixture(scope="module", params=["helpers", "public"])
def edition(
    request: pytest.FixtureRequest, edition_of: Callable[[str], Path]
) -> tuple[str, dict[str, bytes]]:
    """An edition of the demo: its name, and every file of it by its path."""
    name: str = request.param
    out = edition_of(name)
    files = {
        path.relative_to(out).as_posix(): path.read_bytes()
        for path in sorted(out.rglob("*"))
        if path.is_file()
    }
    assert len(files) > 40
    return name, files


MONEY = re.compile(r"\$\d")


def read(files: dict[str, bytes], path: str) -> str:
    """A file as it is read; what is no text is not."""
    return (
        ""
        if path.endswith((".jpg", ".avif", ".woff2"))
        else html.unescape(files[path].decode("utf-8"))
    )


@cache
def _as_read(data: bytes) -> tuple[str, str]:
    text = data.decode("utf-8")
    return text, html.unescape(text)


def where(files: dict[str, bytes], text: str) -> list[str]:
    """Files that hold a text as a word of its own, in their bytes or in their name.

    A page is searched as it is read, too: an apostrophe is written otherwise in HTML.
    Three letters turn up in a photo's bytes by chance, so short texts are looked for
    in what can be read.
    """
    wanted = re.compile(rf"(?<![\w-]){re.escape(text)}(?![\w-])")
    found = []
    for path, data in files.items():
        if path.endswith((".jpg", ".avif", ".woff2")):
            there = len(text) > 6 and text.encode() in data
        else:
            # To look for the bare text first costs a tenth of the search for a word.
            there = any(text in said and wanted.search(said) for said in _as_read(data))
        if there or text in path:
            found.append(path)
    return found


def test_the_studios_own_edition_has_it_all(notebook: Path) -> None:
    """The search finds these things where they are to be found."""
    files = {
        str(path.relative_to(notebook)): path.read_bytes() for path in notebook.rglob("*.html")
    }
    written = demo_notebook()
    assert where(files, "Barley ears")
    assert where(files, "Pellwick Base Works")
    assert any(MONEY.search(read(files, path)) for path in files)
    private = written.designs[KELP_ON_GREY].private
    assert private
    assert where(files, private.partition(".")[0])


def test_no_cost_no_supplier_no_customer_no_private_note(
    edition: tuple[str, dict[str, bytes]],
) -> None:
    _, files = edition
    written = demo_notebook()
    secret = {order.record.customer for order in written.orders.values()}
    secret |= {order.record.private for order in written.orders.values()}
    for kind in ("bases", "fragrances", "colourants", "moulds", "mats", "pieces", "packaging",
                 "leftovers"):  # fmt: skip
        for record in written.shelf.of_kind(kind).values():
            secret |= {record.supplier, record.private}
    for design in written.designs.values():
        secret |= {design.private, *(pour.private for pour in design.pours)}
        secret |= {one.what for pour in design.pours for one in pour.complaints}
    texts = sorted(text for text in secret if text)
    assert len(texts) > 15
    assert {text: found for text in texts if (found := where(files, text[:60].strip(" .,")))} == {}
    # The currency that is taken where none is written may be named; an amount may not.
    assert [path for path in files if MONEY.search(read(files, path))] == []


@pytest.mark.parametrize("edition", ["public"], indirect=True)
def test_the_public_sees_keepers_alone(edition: tuple[str, dict[str, bytes]]) -> None:
    _, files = edition
    written = demo_notebook()
    left_out = {d.id: d.title for d in written.designs.values() if d.state != "keeper"}
    assert len(left_out) == 6
    for design, title in left_out.items():
        assert not where(files, design)
        assert not where(files, title)
    kept = [d for d in written.designs.values() if d.state == "keeper"]
    assert all(f"designs/{design.id}.html" in files for design in kept)


@pytest.mark.parametrize("edition", ["helpers"], indirect=True)
def test_helpers_see_every_design(edition: tuple[str, dict[str, bytes]]) -> None:
    _, files = edition
    for design in demo_notebook().designs:
        assert f"designs/{design}.html" in files


@pytest.fixture
def content(tmp_path: Path, demo_content: Path) -> Path:
    shutil.copytree(demo_content, tmp_path / "content", ignore=shutil.ignore_patterns("*.jpg"))
    for path in (tmp_path / "content" / "designs").glob("*/design.md"):
        text = re.sub(r"(?ms)^photos:\n.*?(?=^---|^private)", "", path.read_text("utf-8"))
        path.write_text(text, "utf-8")
    return tmp_path / "content"


def test_a_link_to_what_is_left_out_is_an_error_with_its_place(content: Path) -> None:
    path = content / "designs" / MOTH / "design.md"
    with path.open("a", encoding="utf-8") as written:
        written.write(f"\nSee [this](../{BARLEY}/design.md).\n")
    notebook = read_notebook(content)
    assert links_to_left_out(cut_to_edition(notebook, "helpers"), "helpers") == ()
    (problem,) = links_to_left_out(cut_to_edition(notebook, "public"), "public")
    assert problem.what.startswith(f'the link leads to "{BARLEY}"')
    last = len(path.read_text("utf-8").splitlines())
    assert problem.position == Position(f"designs/{MOTH}/design.md", last, 5)


def test_pictures_are_named_by_what_they_hold(edition: tuple[str, dict[str, bytes]]) -> None:
    _, files = edition
    pictures = [path for path in files if path.endswith(".jpg")]
    assert len(pictures) > 20
    assert all(re.fullmatch(r"photos/[0-9a-f]{16}-\d+\.jpg", path) for path in pictures)
    # No data of the camera or of whoever wrote it, where a name could stand.
    assert not [path for path in pictures if b"Exif" in files[path] or b"http:" in files[path]]


def test_what_grew_from_a_design_that_is_left_out_does_not_say_so(content: Path) -> None:
    cut = cut_to_edition(read_notebook(content), "public")
    assert cut.designs[KELP_ON_GREY].grew_from is None
    assert cut.designs[MOTH].grew_from == KELP_ON_GREY


def test_an_edition_with_an_error_leaves_the_old_notebook_as_it_was(
    content: Path, tmp_path: Path, call_journal: CallJournal
) -> None:
    path = content / "designs" / MOTH / "design.md"
    path.write_text(path.read_text("utf-8") + f"\n[it](../{BARLEY}/design.md)\n", "utf-8")
    out = tmp_path / "out"
    out.mkdir()
    done = call_journal("build", "--content", content, "--out", out, "--edition", "public")
    assert done.returncode == CONTENT_WRONG
    assert f"designs/{MOTH}/design.md:" in done.stderr
    assert list(out.iterdir()) == []
