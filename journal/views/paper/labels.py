"""Drafts of labels (round, band or rectangular), several to a sheet, true to size."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache, partial
from typing import Final, Literal, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from journal.figures.label import declaration
from journal.figures.label.ingredients import ADVICE
from journal.html.text_width import FontFace
from journal.html.true_size import (
    AREAS_MM,
    HEAD_MM,
    INK,
    LEAST_TYPE_MM,
    MADDER,
    SOFT,
    Drawing,
    PaperSize,
    PrintCanvas,
    draw_heading,
    drawing,
    mm,
    repeat,
)
from journal.quantities.show import show_length, show_size
from journal.views.paper.label_layout import FIGURE_HEIGHT, X_HEIGHT, Panel, SetText, set_text
from journal.views.shared.words import REGION_NAMES, capitalised

LabelOutline = Literal["round", "band", "rectangle"]
SHAPES: Final[tuple[LabelOutline, ...]] = ("rectangle", "round", "band")

# A small letter, in mm, that is easily legible where the law sets no height: common
# practice, no source.
EU_LEAST_MM: Final = 1.2
_GAP_MM: Final = 4.0
_LEFT_MM: Final = 12.0
_FOOT_MM: Final = 16.0
_GLUE_MM: Final = 8.0
_DRAFT_MM: Final = LEAST_TYPE_MM
_TITLE_MM: Final = (9.0, 3.0)
_DANGER_MM: Final = _TITLE_MM[0]
_STUDIO_MM: Final = (3.2, LEAST_TYPE_MM)
_BLANKS_MM: Final = (LEAST_TYPE_MM, LEAST_TYPE_MM)
_AT_LEAST: Final = "type of 7 pt"
# A larger label of the same proportions is tried in steps of this, up to three times.
_GROWTH: Final = 1.05

# ``set_text``, large or small.
_TextSetter = Callable[..., SetText]


class LabelWords(Struct, frozen=True):
    """The texts of a label in one region; ``why`` are remarks on what is missing.

    ``nominal_g`` is the declared mass, None if there is none to declare. ``responsible`` is
    name and address as they are to be printed; "" leaves a blank. ``blanks`` are what else the
    label must say there, ``lot`` the batch and its date; "" leaves a blank for them. ``version``
    is that of the draft.
    """

    region: str
    title: str
    studio: str
    net: str
    nominal_g: float | None
    ingredients: str
    why: tuple[str, ...]
    responsible: str = ""
    blanks: tuple[str, ...] = ()
    lot: str = ""
    version: str = ""

    @property
    def name(self) -> str:
        """What the soap is called on its front: it says what it is (21 CFR 701.11)."""
        return self.title if "soap" in self.title.casefold() else f"{self.title} soap"


# Smaller than this nothing can be written on a label: common practice, no source.
LEAST_MM = 10.0


class LabelShape(Struct, frozen=True):
    """The shape of a label; ``width`` of a band is the way round the bar, in mm."""

    shape: LabelOutline
    width: float
    height: float


class BarSize(Struct, frozen=True):
    """The size in mm of the bar that a label goes on; None where the shelf does not have it."""

    face: tuple[float, float] | None
    depth: float | None


class DrawnLabel(Struct, frozen=True):
    """A draft: its sheet, and its warnings."""

    drawing: Drawing
    warnings: tuple[str, ...]


# Texts that are set, each with its face and colour.
_Texts = tuple[tuple[SetText, FontFace, str], ...]


class _Part(NamedTuple):
    """Texts of a label that were set, and what those that do not fit need."""

    texts: _Texts
    needs: tuple[str, ...]


def usual_shape(shape: LabelOutline, bar: BarSize) -> LabelShape:
    """A label of usual size for a bar: within its face, or a band once round its shorter side.

    No side is shorter than ``LEAST_MM``; a bar of unknown size is taken as a usual one.
    """
    wide, high = bar.face or (75.0, 55.0)
    if shape == "band":
        around = max(LEAST_MM, 2 * (min(wide, high) + (bar.depth or 25.0)))
        return LabelShape("band", min(around, 180.0), max(30.0, 0.6 * max(wide, high)))
    if shape == "round":
        across = max(LEAST_MM, min(wide, high) - 6.0)
        return LabelShape("round", across, across)
    return LabelShape(
        "rectangle", max(LEAST_MM, max(wide, high) - 10.0), max(LEAST_MM, min(wide, high) - 7.0)
    )


def draw_label(
    words: LabelWords, label: LabelShape, bar: BarSize, paper: PaperSize, name: str,
    dangers: Iterable[str] = (),
) -> DrawnLabel:  # fmt: skip
    """A sheet full of one label, fronts and backs beside each other, and its warnings.

    Words that do not fit in the least size that is required are left out, with a warning that
    names a size of label that would do. ``name`` is unique on the page. ``dangers`` stand above
    the labels, in type as large as the largest on any.
    """
    panel = _text_panel(label, bar)
    net, names, back_side = _label_parts(words, label, bar, panel)
    warnings = [*_too_small(words, label, bar, (net, names, back_side)), *words.why]
    area, pencil = AREAS_MM[paper], PrintCanvas()
    title = f"{words.title}: draft of a label"
    sub = f"{_shape_text(label)} · for {REGION_NAMES[words.region]} · a draft"
    draw_heading(pencil, area, title, sub, "draft")
    y = HEAD_MM
    for text in dangers:
        y = pencil.paragraph(text, _LEFT_MM, y + _DANGER_MM, area[0] - _LEFT_MM, _DANGER_MM,
                             "bold", MADDER) - _DANGER_MM  # fmt: skip
    for text in warnings:
        y = pencil.paragraph(text, _LEFT_MM, y + 2.5, area[0] - _LEFT_MM, 3.2, "bold", MADDER)
    foot = area[1] - _FOOT_MM
    for text in ADVICE:
        foot = pencil.paragraph(text, _LEFT_MM, foot + 4, area[0] - _LEFT_MM, 3.2, fill=SOFT) - 4
    sides: dict[bool, list[tuple[float, float]]] = {}
    for x, top, back in _label_positions(label, area, y):
        sides.setdefault(back, []).append((x, top))
    draw = partial(_draw_one, label, panel, (*names.texts, *net.texts), back_side.texts)
    repeated = (
        repeat(f"{name}-{'back' if back else 'front'}", at, partial(draw, back))
        for back, at in sides.items()
    )
    wide = _cut_width(label)
    sheet = replace(
        drawing(name, f"{title}, {sub}", area, pencil, repeated=repeated),
        one=tuple(
            (
                f"{mm(at[0][0] - 1)} {mm(at[0][1] - 1)} {mm(wide + 2)} {mm(label.height + 2)}",
                f"{name}-{'back' if back else 'front'}",
            )
            for back, at in sides.items()
        ),
    )
    return DrawnLabel(sheet, tuple(warnings))


def _too_small(
    words: LabelWords, label: LabelShape, bar: BarSize, parts: Iterable[_Part]
) -> Iterator[str]:
    """The warning that a label has no room for its words, with a size that has."""
    needs = [need for part in parts for need in part.needs]
    if not needs:
        return
    larger = _larger_label(words, label, bar)
    mend = (
        "one three times the size would be too"
        if larger is None
        else f"use one {'of ' if label.shape == 'rectangle' else ''}{_size_text(larger)}"
    )
    yield f"Too small: {mend}. " + " ".join(f"{capitalised(need)}." for need in needs)


def label_fits_on(label: LabelShape, paper: PaperSize) -> bool:
    """Whether at least one label of that size goes on a sheet."""
    return any(True for _ in _label_positions(label, AREAS_MM[paper], HEAD_MM + 12))


def _shape_text(label: LabelShape) -> str:
    kinds = {"round": "round", "band": "band", "rectangle": "rectangular"}
    return f"{kinds[label.shape]}, {_size_text(label)}"


def _size_text(label: LabelShape) -> str:
    if label.shape == "round":
        return f"{show_length(label.width)} across"
    if label.shape == "band":
        return f"{show_length(label.width)} round and {show_length(label.height)} high"
    return show_size(label.width, label.height)


def _text_panel(label: LabelShape, bar: BarSize) -> Panel:
    """The panel for the texts of the front, which is like that of the back."""
    if label.shape != "band":
        return Panel(label.width, label.height, label.shape == "round")
    if bar.face is None or bar.depth is None:
        return Panel(0.36 * label.width, label.height)
    face = min(bar.face)
    return Panel(label.width * face / (2 * (face + bar.depth)), label.height)


# A studio has few moulds, and larger labels are tried in the same steps.
@lru_cache(maxsize=1024)
def _us_rule(label: LabelShape, bar: BarSize) -> declaration.DeclarationPlace:
    """The least height of the net weight in the United States, and where it must stand.

    The height depends on the larger area: the label's or the bar's.
    """
    area_of = (
        declaration.panel_of_cylinder_mm2 if label.shape == "band" else declaration.panel_of_box_mm2
    )
    area_mm2 = float(area_of(label.height, label.width))
    if bar.face is not None:
        area_mm2 = max(area_mm2, float(declaration.panel_of_box_mm2(*bar.face)))
    return declaration.us_declaration_place(area_mm2, label.height)


# The same for every size that is tried.
@lru_cache(maxsize=256)
def _least_ingredients_size(region: str, bar: BarSize) -> float:
    """The least type size of the ingredients, in mm."""
    if region != "us":
        return max(LEAST_TYPE_MM, EU_LEAST_MM / X_HEIGHT)
    surface = 1e6  # for a bar of unknown size, the larger letters
    if bar.face is not None and bar.depth is not None:
        wide, high = bar.face
        surface = 2 * (wide * high + (wide + high) * bar.depth)
    least = float(declaration.us_ingredient_type_height_mm(surface)) / X_HEIGHT
    return max(LEAST_TYPE_MM, least)


def _label_parts(
    words: LabelWords, label: LabelShape, bar: BarSize, panel: Panel, small: bool = False
) -> Iterator[_Part]:
    """Three parts of a label: net weight, names, back; ``small`` as in ``set_text``."""
    setting = partial(set_text, small=small)
    net = _net_weight(words, label, bar, panel, setting)
    yield net
    yield _names(words, panel, net, setting)
    yield _back_side(words, bar, panel, setting)


def _net_weight(
    words: LabelWords, label: LabelShape, bar: BarSize, panel: Panel, setting: _TextSetter
) -> _Part:
    """The net weight at the foot of the front, with a warning if it breaks the region's rule."""
    if words.region == "us":
        rule = _us_rule(label, bar)
        least = float(rule.type_height_mm) / X_HEIGHT
        band = None if rule.within_bottom_mm is None else float(rule.within_bottom_mm)
        high = f"{show_length(float(rule.type_height_mm))} high"
    else:
        height = declaration.eu_figure_height_mm(words.nominal_g or 100.0)
        least, band, high = height / FIGURE_HEIGHT, None, f"{height} mm high"
    between = (panel.height / 2, panel.height - 2.5)
    net = setting(panel, words.net, between, (least, least), "bold", True)
    where = ""
    if not net.lines:
        where = f"needs letters {high}"
    elif band is not None and _top_of(net, panel) < panel.height - band - 0.05:
        where = f"must stand in the lowest {show_length(band)} of the front, 30 % of it"
    texts = _or_too_small(net, "bold", panel, between)
    return _Part(texts, (f"the weight {where}",) if where else ())


def _or_too_small(
    text: SetText, face: FontFace, panel: Panel, between: tuple[float, float]
) -> _Texts:
    """A text that was set; where it has no room, that the label is too small, if that has."""
    if text.lines:
        return ((text, face, INK),)
    instead = set_text(panel, "too small", between, (LEAST_TYPE_MM, LEAST_TYPE_MM), "bold")
    return ((instead, "bold", MADDER),)


def _top_of(net: SetText, panel: Panel) -> float:
    """The upper edge of the net weight, in mm from the top; the name stands above it."""
    return net.lines[0].y - net.size if net.lines else panel.height / 2


def _names(words: LabelWords, panel: Panel, net: _Part, setting: _TextSetter) -> _Part:
    """The studio's name and the soap's, above the net weight on the front."""
    head = 2.5 + _DRAFT_MM + 0.6
    foot = _top_of(net.texts[0][0], panel) - 0.8
    studio_deep = (panel.height - head) * 0.14 + 1.5
    studio = setting(panel, words.studio, (head, head + studio_deep), _STUDIO_MM)
    title = setting(panel, words.name, (head + studio_deep, foot), _TITLE_MM, "title")
    texts = (
        (studio, "regular", SOFT),
        *_or_too_small(title, "title", panel, (head + studio_deep, foot)),
    )
    return _Part(texts, () if studio.lines and title.lines else (f"the names need {_AT_LEAST}",))


def _back_side(words: LabelWords, bar: BarSize, panel: Panel, setting: _TextSetter) -> _Part:
    """The ingredients, and beneath them the blanks for lot and responsible person."""
    least = _least_ingredients_size(words.region, bar)
    texts: list[tuple[SetText, FontFace, str]] = []
    needs: list[str] = []
    foot = panel.height - 2.5
    who = "Made by" if words.region == "us" else "Responsible:"
    maker = words.responsible or f"{words.studio}, [address]"
    for text in (words.lot or "Lot [number]", f"{who} {maker}"):
        blank = setting(panel, text, (panel.height / 2, foot), _BLANKS_MM, foot=True)
        texts.append((blank, "regular", SOFT))
        foot = blank.top if blank.lines else foot
    if not all(blank.lines for blank, *_ in texts):
        needs.append(f"lot and maker need {_AT_LEAST}")
    between = (2.5 + _DRAFT_MM + 0.6, foot - 0.5)
    ingredients = setting(panel, words.ingredients, between, (max(3.2, least), least))
    if not ingredients.lines:
        needs.append(f"the ingredients need letters {show_length(least * X_HEIGHT)} high")
    return _Part((*_or_too_small(ingredients, "regular", panel, between), *texts), tuple(needs))


def _larger_label(words: LabelWords, label: LabelShape, bar: BarSize) -> LabelShape | None:
    """The smallest label of the same proportions that holds the words, in whole mm.

    None if even three times the size does not.
    """
    factor = _GROWTH
    while factor <= 3.0:
        # Whole millimetres, as printers take sizes.
        larger = replace(
            label,
            width=float(round(label.width * factor)),
            height=float(round(label.height * factor)),
        )
        if not any(
            part.needs for part in _label_parts(words, larger, bar, _text_panel(larger, bar), True)
        ):
            return larger
        factor *= _GROWTH
    return None


def _cut_width(label: LabelShape) -> float:
    """The width that is cut out, in mm: a band has a strip for the glue."""
    return label.width + (_GLUE_MM if label.shape == "band" else 0.0)


def _label_positions(
    label: LabelShape, area: tuple[float, float], top: float
) -> Iterator[tuple[float, float, bool]]:
    """The left top corner of each label on the sheet, x and y in mm, and whether it is a back."""
    wide = _cut_width(label)
    across = int((area[0] - _LEFT_MM + _GAP_MM) / (wide + _GAP_MM))
    room = area[1] - _FOOT_MM - top - 3.0
    down = int((room + _GAP_MM) / (label.height + _GAP_MM))
    for row in range(down):
        for column in range(across):
            x = _LEFT_MM + column * (wide + _GAP_MM)
            y = top + 3.0 + row * (label.height + _GAP_MM)
            # A band has its back beside its front.
            yield x, y, (row + column) % 2 == 1 and label.shape != "band"


def _draw_one(
    label: LabelShape, panel: Panel, front: _Texts, back_side: _Texts, back: bool,
    pencil: PrintCanvas, x: float, y: float,
) -> None:  # fmt: skip
    """Draw one label at its left top corner; a band has its back beside its front."""
    glue = _GLUE_MM if label.shape == "band" else 0.0
    if label.shape == "round":
        pencil.circle(x + label.width / 2, y + label.height / 2, label.width / 2, 0.15)
    else:
        pencil.rectangle(x, y, label.width + glue, label.height, 0.0, 0.15)
    if not glue:
        _draw_side(pencil, back_side if back else front, x + panel.width / 2, y)
        return
    pencil.line(x + label.width, y, x + label.width, y + label.height, 0.15, "2 1.5", SOFT)
    middle = (x + label.width + glue / 2 + 1, y + label.height / 2)
    pencil.write("glue", *middle, LEAST_TYPE_MM, anchor="middle", fill=SOFT, turn=-90)
    side = label.width / 2 - panel.width
    _draw_side(pencil, front, x + panel.width / 2, y)
    _draw_side(pencil, back_side, x + panel.width + side + panel.width / 2, y)
    for fold in (panel.width, panel.width + side, 2 * panel.width + side):
        for end in (y, y + label.height - 2):
            pencil.line(x + fold, end, x + fold, end + 2, 0.15, stroke=SOFT)


def _draw_side(pencil: PrintCanvas, side: _Texts, middle: float, y: float) -> None:
    """Draw the texts of one side, centred, under the word "draft"."""
    pencil.write("draft", middle, y + 2.5 + _DRAFT_MM * 0.8, _DRAFT_MM, "bold", "middle", MADDER)
    for text, face, fill in side:
        for line in text.lines:
            pencil.write(line.text, middle, y + line.y, text.size, face, "middle", fill)
