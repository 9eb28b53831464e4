"""What came out on paper: sizes, scale and lengths in a PDF."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

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
    from pypdf import PdfReader

    return [page.extract_text() for page in PdfReader(pdf).pages]


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
