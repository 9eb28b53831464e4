"""What came out on paper: sizes, scale and lengths in a PDF."""

from __future__ import annotations

import html
import math
import re
import subprocess
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

MM_PER_POINT = 25.4 / 72

#: Chromium rounds a page to whole device pixels, 0.17 mm on an A6 card; a page of the wrong
#: size is off by millimetres.
PAGE_TOLERANCE_MM = 0.25

#: How Chromium writes the scale of a page that it did not shrink: 300 dots in 96 px.
UNSHRUNK = "3.125"


def page_sizes_mm(pdf: Path) -> list[tuple[float, float]]:
    """Width and height of every page."""
    from pypdf import PdfReader

    return [
        (float(page.mediabox.width) * MM_PER_POINT, float(page.mediabox.height) * MM_PER_POINT)
        for page in PdfReader(pdf).pages
    ]


def texts(pdf: Path) -> list[str]:
    """The text of every page."""
    return [text for text, _ in _extracted(pdf, pdf.stat().st_mtime_ns)]


def refuse_other_records(pdf: Path, size_mm: tuple[float, float]) -> None:
    """Fails unless each batch of the demo's kelp has a sheet of its own, with lines to sign."""
    codes, pages = ("K25D", "K25C", "250405-B-XPY", "250329-A-XPY"), placed_words(pdf)
    assert len(pages) == len(codes)
    for code, words in zip(codes, pages, strict=True):
        said = " ".join(word.text for word in words)
        # The head of the record; an order may name other batches too.
        assert f"page 5.B {code}," in said
        for part in ("Hollin Quay Soap Room", "What is in it", "Signature", "Fit to sell, says"):
            assert said.count(part) == 1, (code, part)
        assert not overlapping_words(words)
        assert not words_beyond(words, (15, 8, size_mm[0] - 15, size_mm[1] - 7))


def shrunk_pages(pdf: Path) -> list[int]:
    """Pages, from 1, that Chromium made smaller since something was wider than the page."""
    from pypdf import PdfReader

    shrunk = []
    for number, page in enumerate(PdfReader(pdf).pages, 1):
        contents = page.get_contents()
        drawn = contents.get_data().decode("latin1") if contents is not None else ""
        scale = re.search(r"^([\d.]+) 0 0 \1 -?[\d.]+ -?[\d.]+ cm", drawn, re.MULTILINE)
        if scale is None or scale[1] != UNSHRUNK:
            shrunk.append(number)
    return shrunk


def longest_line_mm(pdf: Path, folder: Path, *, page: int = 1, upright: bool = False) -> float:
    """Length of the longest straight stroke of a page, measured in its picture at 600 dpi.

    Right to one dot, 0.042 mm, if no other ink stands in the same row (or column).
    """
    import numpy as np
    from PIL import Image

    picture = folder / f"{pdf.stem}-{page}"
    subprocess.run(
        ["pdftoppm", "-r", "600", "-gray", "-singlefile", "-f", str(page), "-l", str(page),
         str(pdf), str(picture)],
        check=True, capture_output=True,
    )  # fmt: skip
    with Image.open(picture.with_suffix(".pgm")) as opened:
        ink = 255 - np.asarray(opened.convert("L"), dtype=float)
    return float(ink.sum(0 if upright else 1).max()) / 255 * 25.4 / 600


def stroke_mm(
    pdf: Path, folder: Path, box_mm: tuple[float, float, float, float], *, page: int = 1,
    upright: bool = False, dpi: int = 600,
) -> float:  # fmt: skip
    """Length of the longest straight stroke within a box of a page: x, y, width, height in mm."""
    import numpy as np

    ink = _ink(pdf, folder, page, dpi)
    scale = dpi / 25.4
    left, top, wide, high = (round(length * scale) for length in box_mm)
    part = ink[top : top + high, left : left + wide]
    return float(np.max(part.sum(0 if upright else 1))) / 255 / scale


def _ink(pdf: Path, folder: Path, page: int, dpi: int) -> Any:
    import numpy as np
    from PIL import Image

    picture = folder / f"{pdf.stem}-{page}-{dpi}"
    if not picture.with_suffix(".pgm").exists():
        subprocess.run(
            ["pdftoppm", "-r", str(dpi), "-gray", "-singlefile", "-f", str(page), "-l", str(page),
             str(pdf), str(picture)],
            check=True, capture_output=True,
        )  # fmt: skip
    with Image.open(picture.with_suffix(".pgm")) as opened:
        return 255 - np.asarray(opened.convert("L"), dtype=float)


def fonts_of(pdf: Path) -> set[str]:
    """The families of the fonts that are held within a PDF; fails for one that is not."""
    from pypdf import PdfReader

    families = set()
    for page in PdfReader(pdf).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            one = font.get_object()
            for held in one.get("/DescendantFonts", [one]):
                described = held.get_object().get("/FontDescriptor", {})
                assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(described), font
            families.add(str(one["/BaseFont"]).lstrip("/").partition("+")[2].partition("-")[0])
    return families


class PlacedWord(NamedTuple):
    """A word where it is printed, in mm from the left top of its page."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def placed_words(pdf: Path) -> list[list[PlacedWord]]:
    """The words of every page with their places, upright ones only."""
    done = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True
    )
    pages = []
    for page in re.findall(r"<page .*?</page>", done.stdout, re.DOTALL):
        found = re.findall(
            r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>', page
        )
        pages.append(
            [
                PlacedWord(html.unescape(text), *(float(x) * MM_PER_POINT for x in box))
                for *box, text in found
            ]
        )
    return pages


def overlapping_words(words: Sequence[PlacedWord]) -> list[str]:
    """Pairs of words that are printed over each other.

    A word's box is as high as its font allows for, which lines that are set close
    share; letters without accents take the middle of it.
    """
    slim = sorted(map(_slim, words), key=lambda word: word.top)
    found = []
    for at, one in enumerate(slim):
        for other in slim[at + 1 :]:
            if other.top >= one.bottom - 0.05:
                break
            if min(one.right, other.right) - max(one.left, other.left) > 0.3:
                found.append(f"{one.text!r} over {other.text!r}")
    return found


def _slim(word: PlacedWord) -> PlacedWord:
    high = word.bottom - word.top
    return word._replace(top=word.top + 0.3 * high, bottom=word.bottom - 0.3 * high)


def words_beyond(
    words: Sequence[PlacedWord], box_mm: tuple[float, float, float, float]
) -> list[str]:
    """Words that are printed outside a box: left, top, right, bottom."""
    left, top, right, bottom = box_mm
    return [
        f"{word.text!r} at {word.left:.1f}-{word.right:.1f} x {word.top:.1f}-{word.bottom:.1f} mm"
        for word in map(_slim, words)
        if word.left < left or word.right > right or word.top < top or word.bottom > bottom
    ]


def last_lines(words: Sequence[PlacedWord], edges_mm: Sequence[float]) -> list[str]:
    """The lowest line of each column of a page, without blanks; columns go by their edges."""
    lines = []
    for left, right in pairwise(edges_mm):
        own = [word for word in words if left <= word.left < right]
        foot = max((word.bottom for word in own), default=0.0)
        lines.append("".join(word.text for word in own if word.bottom > foot - 1.0))
    return lines


def smallest_type_pt(pdf: Path) -> tuple[float, str]:
    """The smallest type of a PDF in points, and a text that is set in it."""
    return min(one for _, found in _extracted(pdf, pdf.stat().st_mtime_ns) for one in found)


def largest_type_pt(pdf: Path) -> tuple[float, str]:
    """The largest type of a PDF in points, and a text that is set in it."""
    return max(one for _, found in _extracted(pdf, pdf.stat().st_mtime_ns) for one in found)


@lru_cache(maxsize=4)
def _extracted(pdf: Path, written_ns: int) -> list[tuple[str, list[tuple[float, str]]]]:
    """The text of every page, and its parts with their size in points; reading it is dear."""
    from pypdf import PdfReader

    found: list[tuple[float, str]] = []

    def seen(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            across = tm[0] * cm[0] + tm[1] * cm[2], tm[0] * cm[1] + tm[1] * cm[3]
            found.append((size * math.hypot(*across), text.strip()))

    pages = []
    for page in PdfReader(pdf).pages:
        text = page.extract_text(visitor_text=seen)
        pages.append((text, found.copy()))
        found.clear()
    return pages
