"""The pages of lots and batches of the demo, in each edition: a recall by its pages alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

LOT = "lots/fragrance-cedar-bergamot-cb-0225.html"
BATCHES = "batches/kelp-on-sea-grey.html"
COMPLAINT, CUSTOMER = "wrists itched", "Bertil Quayle"


def text_of(page: Path) -> str:
    bare = re.sub(r"<[^>]+>", " ", page.read_text("utf-8"))
    return " ".join(unescape(bare).replace("\u00a0", " ").split())


def test_a_recall_by_the_page_of_the_lot(notebook: Path) -> None:
    said = text_of(notebook / LOT)
    assert "In 34 bars of 5 pours." in said
    assert "Pebble loaf , by way of Slate ends" in said
    assert f"Shelf of the harbour kiosk for {CUSTOMER}" in said
    raw = (notebook / LOT).read_text("utf-8")
    assert "../batches/kelp-on-sea-grey.html#batch-K25D" in raw
    assert "lot CB-0225" in text_of(notebook / "shelf/fragrance-cedar-bergamot.html") or (
        LOT.rpartition("/")[2] in (notebook / "shelf/fragrance-cedar-bergamot.html").read_text()
    )


def test_the_record_of_a_batch(notebook: Path) -> None:
    said = text_of(notebook / BATCHES)
    record = said[said.index("Poured 3 May 2025") : said.index("K25C, 12 Apr 2025", 300)]
    for part in (
        "by Tamsin", "6 bars: D1, D2, D3, D4, D5, D6. 4 of 6 fit to sell.",
        "31 August 2026, since Clear glycerine keeps no longer", "CB-0225", "Q-2411", COMPLAINT,
        "White shea WS-2503 white and slate 15.4 oz 437 g", "Where the melt went", "Signature",
    ):  # fmt: skip
        assert part in record, part
    # As on its card: no scale in ounces tells 3.035, and none tells what a jug keeps.
    assert "3.05 oz 86 g" in record
    assert not re.search(r"\.\d{3} oz", record)
    # Advice, with its source; what could not be read says so.
    assert "21 U.S.C. 364h (a)" in said
    assert "Article 7; unconfirmed" in said


def test_what_is_low_and_what_to_buy(notebook: Path) -> None:
    assert "low: 1.5 fl oz" in text_of(notebook / "shelf/index.html")
    said = text_of(notebook / "to-buy.html")
    assert "Low on the shelf Pine and salt" in said
    assert "Slate mica , from Quillon Colour: for" in said


def test_editions_keep_to_themselves(edition_of: Callable[[str], Path]) -> None:
    """Helpers see lots, and neither who was sold them nor who complained; the public no lot."""
    helpers, public = edition_of("helpers"), edition_of("public")
    assert "In 34 bars of 5 pours." in text_of(helpers / LOT)
    assert "CB-0225" in text_of(helpers / BATCHES)
    leads = f'<a href="../{BATCHES}">Batches</a>'
    assert leads in (helpers / "designs/kelp-on-sea-grey.html").read_text("utf-8")
    for out in (helpers, public):
        for page in (*out.glob("lots/*.html"), *out.glob("batches/*.html"), *out.glob("*.html")):
            said = text_of(page)
            assert COMPLAINT not in said
            assert CUSTOMER not in said
            assert "Quillon" not in said
    assert not (public / "lots").exists()
    assert not (public / "batches").exists()
    assert not (public / "to-buy.html").exists()
