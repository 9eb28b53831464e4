"""Cutting templates, true to size: one piece of a mat in its cavity, all pieces on a sheet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import Struct

from journal.figures.shop.derive_template import TemplateFigures
from journal.html import true_size
from journal.html.text_width import FontFace, text_width
from journal.quantities.show import show_length, show_size
from journal.records.models.trim import Trim
from journal.views.paper.tiles import LEFT_MM, TiledDrawing, pages_for, tile_drawing
from journal.views.shared.words import template_trim_text

# Free space round the cavity for ticks and measures.
_MARGIN_MM: Final = 16.0
_CUT_MM: Final = 0.35
_CAPTION_MM: Final = 3.2
# A paper frame round a window must be at least so wide to be cut out.
_LEAST_FRAME_MM: Final = 1.0
_INSTRUCTIONS_MM: Final = 74.0


class CuttingTemplate(Struct, frozen=True):
    """A template to draw: the names of mat and mould, the trim, and the figures."""

    mat: str
    mould: str
    trim: Trim | None
    figures: TemplateFigures


def piece_drawings(
    cutting: CuttingTemplate, paper: true_size.PaperSize, name: str
) -> tuple[true_size.Drawing, ...]:
    """The drawings of one piece in its cavity, with marks to align it with the motif.

    Drawn upright if it fits on one sheet, else turned, else over several sheets and one more
    with the instructions. ``name`` begins the pictures' names and is unique on the page.
    """
    area = true_size.AREAS_MM[paper]
    room = (area[0] - LEFT_MM, area[1] - true_size.HEAD_MM - _INSTRUCTIONS_MM)
    upright, turned = _piece_plan(cutting, False), _piece_plan(cutting, True)
    fitting = (one for one in (upright, turned) if one.across <= room[0] and one.down <= room[1])
    plan = next(fitting, None)
    if plan is None:
        tiles = tile_drawing(_fewest_sheets((upright, turned), paper), paper, name)
        return (*tiles, _instructions_page(cutting, paper, f"{name}-how"))
    pencil = true_size.PrintCanvas()
    true_size.draw_heading(pencil, area, plan.title, plan.sub, mind=plan.mind)
    at = (LEFT_MM + (room[0] - plan.across) / 2, true_size.HEAD_MM + (room[1] - plan.down) / 2)
    steps = tuple(_instructions(cutting))
    true_size.draw_steps(pencil, steps, 0, area[1] - _INSTRUCTIONS_MM + 10, area[0])
    shown = true_size.clipped_view(f"{name}-w", at, (plan.across, plan.down), (0, 0), plan.pencil)
    return (true_size.drawing(name, f"{plan.title}: {plan.sub}", area, pencil, (shown,)),)


def sheet_drawings(
    cutting: CuttingTemplate, paper: true_size.PaperSize, name: str
) -> tuple[true_size.Drawing, ...]:
    """The drawings of a sheet of the mat with all its pieces; none without a cutting plan."""
    if cutting.figures.plan is None or cutting.figures.sheet_mm is None:
        return ()
    plans = [_sheet_plan(cutting, turned) for turned in (False, True)]
    return tile_drawing(_fewest_sheets(plans, paper), paper, name)


def _fewest_sheets(plans: Sequence[TiledDrawing], paper: true_size.PaperSize) -> TiledDrawing:
    """The plan that takes the fewest sheets of paper; the first if several do."""
    return min(plans, key=lambda plan: math.prod(pages_for(plan.across, plan.down, paper)))


def _title_and_subtitle(cutting: CuttingTemplate) -> tuple[str, str]:
    """The title, with mat and mould, and the line beneath, with trim and size of the piece."""
    size = show_size(*cutting.figures.piece.size_mm)
    return (
        f"{cutting.mat}, for {cutting.mould}",
        f"{template_trim_text(cutting.trim)} · piece {size}",
    )


def _piece_plan(cutting: CuttingTemplate, turned: bool) -> TiledDrawing:
    """The plan of one piece: cavity, motif, cut line, alignment marks and labels."""
    figures = cutting.figures
    size, motif = figures.piece.size_mm, figures.motif_mm
    # A motif that is cropped looks out, perhaps of the cavity as well.
    outlines = (figures.face_mm, motif or (0.0, 0.0))
    reach = (max(one[0] for one in outlines), max(one[1] for one in outlines))
    wide = reach[0] + 2 * _MARGIN_MM
    within = _texts_within(cutting)
    captions = [
        line
        for text in _captions(cutting, not within)
        for line in true_size.wrap_text(text, wide - 2.0, _CAPTION_MM)
    ]
    beneath = max(_MARGIN_MM, 8.0 + _CAPTION_MM * true_size.LEADING * len(captions))
    whole = (wide, reach[1] + 2 * beneath)
    canvas = _TurnedPencil(whole, turned)
    middle = (whole[0] / 2, whole[1] / 2)
    canvas.box(middle, figures.face_mm, figures.corner_radius_mm, 0.15, "1 1", true_size.SOFT)
    if motif is not None and motif != size:
        canvas.box(middle, motif, 0.0, 0.2, "2 1.2")
    canvas.box(middle, size, figures.radius_mm, _CUT_MM)
    canvas.cross(middle, 4.0)
    _draw_ticks(canvas, middle, size, reach)
    for text, y, type_mm, face in within:
        canvas.write(text, (middle[0], middle[1] + y), type_mm, face)
    # The arrow stands on the piece's upper edge.
    canvas.arrow(middle[0], middle[1] - size[1] / 2)
    above = (middle[0], middle[1] - reach[1] / 2 - 6.5)
    canvas.write(f"cut {show_length(size[0])} wide", above, _CAPTION_MM)
    beside = (middle[0] + reach[0] / 2 + 8, middle[1])
    canvas.write(f"{show_length(size[1])} high", beside, _CAPTION_MM, upright=True)
    y = middle[1] + reach[1] / 2 + 9
    for line in captions:
        canvas.write(line, (middle[0], y), _CAPTION_MM)
        y += _CAPTION_MM * true_size.LEADING
    title, sub = _title_and_subtitle(cutting)
    mind = template_warning(figures)
    return TiledDrawing(title, sub, canvas.across, canvas.down, canvas.pencil, mind)


class _TurnedPencil:
    """Draws a plan as it is, or turned by 90 degrees clockwise; places are those of the plan."""

    def __init__(self, whole: tuple[float, float], turned: bool) -> None:
        self.pencil = true_size.PrintCanvas()
        self.whole = whole
        self.turned = turned
        self.across, self.down = (whole[1], whole[0]) if turned else whole

    def at(self, point: tuple[float, float]) -> tuple[float, float]:
        """The place on paper of a point of the plan."""
        return (self.whole[1] - point[1], point[0]) if self.turned else point

    def line(
        self, one: tuple[float, float], other: tuple[float, float], width: float = 0.2
    ) -> None:
        """A straight stroke between two points."""
        self.pencil.line(*self.at(one), *self.at(other), width)

    def box(
        self, middle: tuple[float, float], size: tuple[float, float], corner: float,
        width: float, dash: str = "", stroke: str = "#000",
    ) -> None:  # fmt: skip
        """A rectangle about its middle."""
        x, y = self.at(middle)
        wide, high = (size[1], size[0]) if self.turned else size
        self.pencil.rectangle(x - wide / 2, y - high / 2, wide, high, corner, width, dash, stroke)

    def cross(self, middle: tuple[float, float], arm: float) -> None:
        """A cross with arms of a length, about its middle."""
        self.pencil.cross(*self.at(middle), arm)

    def arrow(self, x: float, y: float) -> None:
        """An arrow's head that points to an upper edge."""
        for aside in (-1.6, 1.6):
            self.line((x, y + 0.8), (x + aside, y + 3.4), 0.3)

    def write(
        self, text: str, point: tuple[float, float], size: float, face: FontFace = "regular",
        anchor: str = "middle", fill: str = "#000", upright: bool = False,
    ) -> None:  # fmt: skip
        """A line of text that turns with the plan; ``upright`` is read from the right."""
        turn = (90 if self.turned else 0) - (90 if upright else 0)
        self.pencil.write(text, *self.at(point), size, face, anchor, fill, turn)


def _draw_ticks(
    canvas: _TurnedPencil,
    middle: tuple[float, float],
    size: tuple[float, float],
    face: tuple[float, float],
) -> None:
    """Draw a stroke at the middle of each side, across the cut and out of the cavity."""
    x, y = middle
    for way in (-1, 1):
        edge, beyond = x + way * size[0] / 2, x + way * (face[0] / 2 + 5)
        canvas.line((edge - way * 4, y), (beyond, y), 0.15)
        edge, beyond = y + way * size[1] / 2, y + way * (face[1] / 2 + 5)
        canvas.line((x, edge - way * 4), (x, beyond), 0.15)


def _within(cutting: CuttingTemplate) -> tuple[str, str]:
    """What a piece says of itself: which side is up, and which way."""
    top = "" if cutting.figures.motif_mm is None else ", arrow to the motif's top"
    return "relief on this side", f"print up{top}"


def _texts_within(cutting: CuttingTemplate) -> list[tuple[str, float, float, FontFace]]:
    """The lines written on the piece: text, y from its middle and type in mm, and face.

    None if the piece has no room for them.
    """
    figures = cutting.figures
    wide, high = map(min, figures.piece.size_mm, figures.motif_mm or figures.piece.size_mm)
    room = wide - 6
    lines: list[tuple[str, float, float, FontFace]] = []
    faces: tuple[FontFace, ...] = ("bold", "regular")
    for text, face, way in zip(_within(cutting), faces, (-1, 1), strict=True):
        size = true_size.fitting_size(text, room, min(4.2, 0.15 * high), face)
        parts = true_size.wrap_text(text, room, size, face)
        step = size * true_size.LEADING
        # Between the cross in the middle and the ticks at the edges, both 4 mm long.
        widest = max(text_width(part, face, size) for part in parts)
        if len(parts) * step > high / 2 - 8 or widest > room:
            return []
        first = way * high / 4 + size * 0.35 - (len(parts) - 1) * step / 2
        lines += [(part, first + n * step, size, face) for n, part in enumerate(parts)]
    return lines


def _captions(cutting: CuttingTemplate, whole: bool) -> Iterator[str]:
    """What is written under the drawing of a piece; ``whole`` with what stands on the piece."""
    figures = cutting.figures
    radius, rounded = figures.corner_radius_mm, figures.radius_mm
    corner = f", corners {show_length(radius)}" if radius else ""
    yield f"the cavity: {show_size(*figures.face_mm)}{corner}"
    if rounded:
        yield f"corners cut round, {show_length(rounded)}"
    if figures.piece.crops_motif:
        yield "dashed: the whole motif"
    elif figures.motif_mm is not None and figures.motif_mm != figures.piece.size_mm:
        yield "dashed: the motif, the line of a close cut"
    if whole:
        yield "; ".join(_within(cutting))


def _instructions(cutting: CuttingTemplate) -> Iterator[str]:
    """The steps of cutting a piece, a text each."""
    figures = cutting.figures
    round_corners = ", its corners round" if figures.radius_mm else ""
    yield f"Cut the paper out along the thick line{round_corners}."
    motif, size = figures.motif_mm, figures.piece.size_mm
    if motif is not None:
        frame = min(size[0] - motif[0], size[1] - motif[1]) / 2
        if figures.piece.crops_motif:
            yield "The motif shows beyond it, the same on both sides: that is cut off."
        elif frame >= _LEAST_FRAME_MM:
            yield "Cut out the dashed window as well: the motif shows through it."
        else:
            yield "The thick line is the motif's own edge: no motif shows beyond it."
        yield (
            "Lay it on the relief, print up, the arrow to the top of the motif. The strokes at"
            " its edges point to the middles of the motif's sides. Tape it down."
        )
    else:
        yield "Lay it on the relief, print up. Tape it down."
    spare = min((face - own) / 2 for face, own in zip(figures.face_mm, size, strict=True))
    yield "Cut along a steel rule, the blade away from the hand."
    yield (
        "Try the piece in its cavity before you cut the next: it lies flat, with"
        f" {show_length(spare)} to spare where it is tightest."
    )


def template_warning(figures: TemplateFigures) -> str:
    """A warning where the piece crops the motif, or is narrower than asked for; else nothing."""
    if figures.piece.crops_motif and figures.motif_mm is not None:
        lost = [
            f"{show_length((motif - own) / 2)} {where}"
            for motif, own, where in zip(
                figures.motif_mm, figures.piece.size_mm, ("left and right", "top and foot"),
                strict=True,
            )
            if motif > own
        ]  # fmt: skip
        return f"The cavity is smaller than the motif: it loses {' and '.join(lost)}."
    if figures.piece.narrowed:
        return "The cavity leaves no room for the whole border: the piece is cut narrower."
    return ""


def _instructions_page(
    cutting: CuttingTemplate, paper: true_size.PaperSize, name: str
) -> true_size.Drawing:
    """A sheet with the instructions alone, for a piece that takes all the room of its sheets."""
    area, pencil = true_size.AREAS_MM[paper], true_size.PrintCanvas()
    title, sub = _title_and_subtitle(cutting)
    true_size.draw_heading(pencil, area, title, sub, mind=template_warning(cutting.figures))
    # The captions again: no sheet may be wide enough for one.
    steps = (
        *_instructions(cutting),
        *(f"{text[:1].upper()}{text[1:]}." for text in _captions(cutting, True)),
    )
    true_size.draw_steps(pencil, steps, LEFT_MM, true_size.HEAD_MM + 8, area[0] - LEFT_MM)
    return true_size.drawing(name, f"{title}: how to cut", area, pencil)


def _sheet_plan(cutting: CuttingTemplate, turned: bool) -> TiledDrawing:
    """The plan of a sheet of the mat with all its pieces, numbered."""
    figures = cutting.figures
    assert figures.plan is not None
    assert figures.sheet_mm is not None
    wide, high = figures.sheet_mm
    # A little round the sheet, so that its edge is not that of the paper.
    edge = 2.0
    canvas = _TurnedPencil((wide + 2 * edge, high + 2 * edge), turned)
    canvas.box((edge + wide / 2, edge + high / 2), figures.sheet_mm, 0.0, 0.6)
    for number, piece in enumerate(figures.plan.pieces, start=1):
        size = (piece.width_mm, piece.height_mm)
        # The plan counts upwards from the sheet's lower corner, paper downwards.
        x = edge + piece.x_mm + size[0] / 2
        y = edge + high - piece.y_mm - size[1] / 2
        if figures.motif_mm is not None and figures.motif_mm != size:
            canvas.box((x, y), figures.motif_mm, 0.0, 0.2, "2 1.2")
        canvas.box((x, y), size, figures.radius_mm, _CUT_MM)
        canvas.cross((x, y), 3.0)
        canvas.arrow(x, y - size[1] / 2)
        canvas.write(f"{number}", (x + 5, y + 5), 4.0, "bold", anchor="start")
    corner = "the corner that the shelf counts from"
    canvas.write(corner, (edge + 3, edge + high - 3), 2.6, anchor="start", fill=true_size.SOFT)
    title, sub = _title_and_subtitle(cutting)
    count = figures.plan.count
    many = f"{count} piece{'' if count == 1 else 's'} from a sheet of {show_size(wide, high)}"
    mind = template_warning(figures)
    return TiledDrawing(title, f"{sub} · {many}", canvas.across, canvas.down, canvas.pencil, mind)
