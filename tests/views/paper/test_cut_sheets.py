"""Cutting templates by position: each piece is printed where its motif lies on the mat."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import differing_notebook
import pytest
from bs4 import BeautifulSoup, Tag
from differing_notebook import MakeOnce

# Positions are printed to a thousandth of a mm.
CLOSE = 0.002


class Box(NamedTuple):
    """An outline on the paper: mm from the left top corner of the printed area."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def middle(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    @property
    def size(self) -> tuple[float, float]:
        return self.right - self.left, self.bottom - self.top


class Sheet(NamedTuple):
    """What one sheet of paper shows, by the width of its strokes."""

    outline: Box  # of the mat's sheet; the widest stroke
    cuts: tuple[Box, ...]
    motifs: tuple[Box, ...]
    arrows: tuple[tuple[float, float], ...]  # where each points to
    corner: tuple[float, float]  # where the words of the first corner begin
    rings: tuple[tuple[float, float], ...]
    window: Box


@pytest.fixture(scope="module")
def out(make_once: MakeOnce) -> Path:
    return make_once("differing", differing_notebook.built) / "out"


def points_of(d: str) -> list[tuple[float, float]]:
    """The corners of a path of M, L, h, v, relative arcs (their ends) and Z."""
    found: list[tuple[float, float]] = []
    x = y = 0.0
    for letter, rest in re.findall(r"([MLhvaZ])([^MLhvaZ]*)", d):
        numbers = [float(number) for number in re.findall(r"-?[\d.]+", rest)]
        if letter in "ML":
            x, y = numbers
        elif letter == "h":
            x += numbers[0]
        elif letter == "v":
            y += numbers[0]
        elif letter == "a":
            x, y = x + numbers[5], y + numbers[6]
        found.append((x, y))
    return found


def box_of(d: str, shift: tuple[float, float]) -> Box:
    across, down = zip(*points_of(d), strict=True)
    x, y = shift
    return Box(min(across) + x, min(down) + y, max(across) + x, max(down) + y)


def sheets(page: Path, named: str) -> list[Sheet]:
    soup = BeautifulSoup(page.read_text("utf-8"), "html.parser")
    found = [
        svg for svg in soup.find_all("svg")
        if isinstance(svg, Tag) and str(svg.get("aria-labelledby", "")).startswith(named)
    ]  # fmt: skip
    return [sheet_of(svg) for svg in found]


def seen_in(svg: Tag) -> tuple[Tag, tuple[float, float], Box]:
    """What is seen through the window of a page, how it is shifted, and the window."""
    (seen,) = svg.select("g > g")
    across, down = re.findall(r"-?[\d.]+", str(seen["transform"]))
    (clip,) = svg.select("clippath rect")
    x, y, wide, high = (float(str(clip[key])) for key in ("x", "y", "width", "height"))
    return seen, (float(across), float(down)), Box(x, y, x + wide, y + high)


def sheet_of(svg: Tag) -> Sheet:
    seen, shift, through = seen_in(svg)
    # One unit to the millimetre, or no length is true. The parser writes names small.
    assert svg["viewbox"] == f"0 0 {str(svg['width'])[:-2]} {str(svg['height'])[:-2]}"
    drawn: dict[tuple[str, bool], list[Tag]] = {}
    for path in seen.find_all("path"):
        kind = str(path["stroke-width"]), path.has_attr("stroke-dasharray")
        drawn.setdefault(kind, []).append(path)

    def boxes(width: str, dashed: bool) -> tuple[Box, ...]:
        return tuple(box_of(str(path["d"]), shift) for path in drawn.get((width, dashed), ()))

    tips = [points_of(str(path["d"]))[0] for path in drawn.get(("0.3", False), ())]
    (outline,) = boxes("0.6", False)
    words = [text for text in seen.find_all("text") if "shelf counts from" in text.get_text()]
    corner = (float(words[0]["x"]) + shift[0], float(words[0]["y"]) + shift[1]) if words else (0, 0)
    return Sheet(
        outline,
        boxes("0.35", False),
        boxes("0.2", True),
        # Two strokes an arrow, both from its tip.
        tuple((x + shift[0], y + shift[1]) for x, y in tips[::2]),
        corner,
        tuple(
            box_of(str(path["d"]), (0, 0)).middle
            for path in svg.find_all("path", recursive=False)
            if "a" in str(path["d"])
        ),
        through,
    )


def by_place(places: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return sorted((round(x, 3), round(y, 3)) for x, y in places)


def test_pieces_lie_on_their_motifs(out: Path) -> None:
    """The mat is 320 x 205 mm; motifs from its lower left corner at 45, 125, 205, 285 across
    and 28, 83, 138 up, the next, at 193, too near the edge for a piece of 30 + 2 x 3 mm.
    """
    both = sheets(out / "templates" / "fern-tray.html", "sheet-")
    straight = [one for one in both if one.cuts[0].size[0] > 53]
    close = [one for one in both if one.cuts[0].size[0] < 53]
    for found, size in ((straight, (56, 36)), (close, (50, 30))):
        assert len(found) == 2  # 324 mm are wider than a sheet of A4
        seen: set[tuple[float, float]] = set()
        for one in found:
            assert one.outline.size == pytest.approx((320, 205), abs=CLOSE)
            for cut in one.cuts:
                assert cut.size == pytest.approx(size, abs=CLOSE)
                x, y = cut.middle
                seen.add((round(x - one.outline.left, 2), round(one.outline.bottom - y, 2)))
        assert seen == {(x, y) for x in (45, 125, 205, 285) for y in (28, 83, 138)}
    for one in straight:
        assert {motif.size for motif in one.motifs} == {(50, 30)}
        places = by_place([motif.middle for motif in one.motifs])
        assert places == by_place([cut.middle for cut in one.cuts])
        # The arrow stands at the upper edge of its piece, in its middle, where that is seen.
        tops = [((cut.left + cut.right) / 2, cut.top + 0.8) for cut in one.cuts]
        seen_tops = [(x, y) for x, y in tops if one.window.left < x < one.window.right]
        assert by_place(list(one.arrows)) == by_place(seen_tops)
        assert len(seen_tops) >= 6
    # The words stand at the corner that the shelf counts from: left, and below.
    first = straight[0]
    assert first.corner[0] - first.outline.left < 5
    assert 0 < first.outline.bottom - first.corner[1] < 5


def test_sheets_laid_ring_on_ring_show_one_drawing(out: Path) -> None:
    first, second = sheets(out / "templates" / "fern-tray.html", "sheet-1-")
    assert len(first.rings) == len(second.rings) > 1
    moves = {
        (round(one[0] - other[0], 3), round(one[1] - other[1], 3))
        for one, other in zip(first.rings, second.rings, strict=True)
    }
    ((across, down),) = moves
    assert first.outline.left - second.outline.left == pytest.approx(across, abs=CLOSE)
    assert first.outline.top - second.outline.top == pytest.approx(down, abs=CLOSE)
    # The strip that both show is 10 mm wide, the rings in its middle.
    assert first.window.right - (second.window.left + across) == pytest.approx(10, abs=CLOSE)
    assert first.rings[0][0] == pytest.approx(first.window.right - 5, abs=CLOSE)
    assert second.rings[0][0] == pytest.approx(second.window.left + 5, abs=CLOSE)
    # All rings lie within what is printed, 50 mm apart.
    assert all(second.window.top < y < second.window.bottom for _, y in second.rings)
    heights = sorted(y for _, y in first.rings)
    assert [b - a for a, b in pairwise(heights)] == pytest.approx([50] * (len(heights) - 1))
    # All of the mat's sheet is seen on one or the other, with 2 mm round it.
    assert first.outline.left - first.window.left == pytest.approx(2, abs=CLOSE)
    assert second.window.right - second.outline.right == pytest.approx(2, abs=CLOSE)
    assert first.outline.top - first.window.top == pytest.approx(2, abs=CLOSE)
    assert first.window.bottom - first.outline.bottom == pytest.approx(2, abs=CLOSE)


def test_a_plan_on_its_side_is_turned_whole(out: Path) -> None:
    """204 x 154 mm go over two sheets of A4, 154 x 204 mm on one: turned to the right, the
    mat's up is the paper's right, and the corner that is counted from is its left top one.
    """
    (one,) = sheets(out / "templates" / "dots-box.html", "sheet-")
    assert one.outline.size == pytest.approx((150, 200), abs=CLOSE)
    left, top = one.outline.left, one.outline.top
    # 40 x 25 mm with 2 mm round it is 44 x 29 mm.
    assert all(cut.size == pytest.approx((29, 44), abs=CLOSE) for cut in one.cuts)
    assert {motif.size for motif in one.motifs} == {(25, 40)}
    wanted = [(float(up), float(right)) for up in (22, 59, 96, 133) for right in (30, 78, 126, 174)]
    for boxes in (one.cuts, one.motifs):
        found = [(x - left, y - top) for x, y in (box.middle for box in boxes)]
        assert by_place(found) == by_place(wanted)
    edges = [(cut.right - 0.8, (cut.top + cut.bottom) / 2) for cut in one.cuts]
    assert by_place(list(one.arrows)) == by_place(edges)
    assert 0 < one.corner[0] - left < 5
    assert 0 < one.corner[1] - top < 5


def test_a_mat_without_a_motif_is_cut_the_better_way(out: Path) -> None:
    """A cavity of 90 x 60 mm less 1 mm all round takes 88 x 58 mm.

    Of 300 x 200 mm 3 x 3 upright, 5 x 2 on their sides; of 270 x 120 mm 3 x 2 upright,
    4 x 1 on their sides.
    """
    wide = sheets(out / "templates" / "wide-tray.html", "sheet-")
    slim = sheets(out / "templates" / "slim-tray.html", "sheet-")
    for found, size, count in ((wide, (58, 88), 10), (slim, (88, 58), 6)):
        turned = found[0].outline.size[0] < found[0].outline.size[1]
        seen = set()
        for one in found:
            for cut in one.cuts:
                assert cut.size == pytest.approx(size[::-1] if turned else size, abs=CLOSE)
                x, y = cut.middle
                seen.add((round(x - one.outline.left, 2), round(y - one.outline.top, 2)))
        assert len(seen) == count


def test_the_piece_lies_in_the_middle_of_its_cavity(out: Path) -> None:
    soup = BeautifulSoup((out / "templates" / "fern-tray.html").read_text("utf-8"), "html.parser")
    pictures = [
        svg for svg in soup.find_all("svg")
        if str(svg.get("aria-labelledby", "")).startswith("piece-")
    ]  # fmt: skip
    sizes = []
    for svg in pictures:
        seen, shift, through = seen_in(svg)
        boxes = {
            (str(path["stroke-width"]), str(path.get("stroke-dasharray", ""))): box_of(
                str(path["d"]), shift
            )
            for path in seen.find_all("path")
            if str(path["d"]).endswith("Z")
        }
        cavity, piece = boxes["0.15", "1 1"], boxes["0.35", ""]
        assert cavity.size == pytest.approx((90, 60), abs=CLOSE)
        assert cavity.middle == pytest.approx(through.middle, abs=CLOSE)
        assert piece.middle == pytest.approx(cavity.middle, abs=CLOSE)
        sizes.append(tuple(round(length, 2) for length in piece.size))
        if ("0.2", "2 1.2") in boxes:
            motif = boxes["0.2", "2 1.2"]
            assert motif.size == pytest.approx((50, 30), abs=CLOSE)
            assert motif.middle == pytest.approx(cavity.middle, abs=CLOSE)
    assert sorted(sizes) == [(50, 30), (56, 36)]
