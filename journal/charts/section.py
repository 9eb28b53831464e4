"""Section through a bar in its cavity, drawn to scale.

It shows how full the cavity is and whether the bar stands proud of it.
"""

from __future__ import annotations

from msgspec import Struct

from journal.charts.drawing import ChartLabel, ChartLine, SectionDrawing, decimals


class SectionDimensions(Struct, frozen=True):
    """The dimensions of a section, all in mm.

    ``layers`` are names and thicknesses over the piece, lowest first; a detail that lies in
    the relief has no thickness. ``proud_mm`` is how far the bar stands out of the cavity, 0
    if it does not; ``proud_says`` is that in words.
    """

    desc: str
    face_mm: float
    depth_mm: float
    piece_mm: float
    thick_mm: float
    relief_mm: float
    motif_mm: float
    layers: tuple[tuple[str, float], ...]
    proud_mm: float
    proud_says: str
    mind: bool = False


# The drawing is this many units wide; letters in it are 12 units high.
_WIDE = 264.0


def section_drawing(cut: SectionDimensions) -> SectionDrawing:
    """The drawing of a bar that lies face down in its cavity: mat, relief, layers, brim."""
    side, head = 12.0, 30.0
    scale = (_WIDE - 2 * side) / cut.face_mm
    brim = head + max(0.0, cut.proud_mm) * scale
    bottom = brim + cut.depth_mm * scale
    left, right = side, _WIDE - side
    mid = _WIDE / 2
    bodies, letters = [], []
    y = bottom
    for n, (label, thick) in enumerate(cut.layers):
        deep = thick * scale
        corner = min(5.0, deep / 2) if n == len(cut.layers) - 1 else 0.0
        top = y - deep
        bodies.append(
            f"M{decimals(left)} {decimals(y)}V{decimals(top + corner)}q0 {decimals(-corner)} "
            f"{decimals(corner)} {decimals(-corner)}H{decimals(right - corner)}"
            f"q{decimals(corner)} 0 {decimals(corner)} {decimals(corner)}V{decimals(y)}Z"
        )
        if deep > 14.0:
            letters.append(ChartLabel(label, decimals(mid), decimals(top + deep / 2 + 2), "middle"))
        y = top
    half = cut.piece_mm * scale / 2
    thick = cut.thick_mm * scale
    mat = (
        f"M{decimals(mid - half)} {decimals(bottom)}v{decimals(-thick)}"
        f"h{decimals(2 * half)}v{decimals(thick)}Z"
    )
    deep = min(cut.relief_mm, cut.thick_mm) * scale
    bump = cut.motif_mm * scale / 7
    arcs = f"q{decimals(bump / 2)} {decimals(2 * deep)} {decimals(bump)} 0" * 7
    detail = f"M{decimals(mid - 3.5 * bump)} {decimals(bottom - thick)}{arcs}Z" if deep else ""
    cavity = (
        f"M{decimals(left - 8)} {decimals(brim)}H{decimals(left)}V{decimals(bottom - 6)}q0 6 6 6"
        f"H{decimals(right - 6)}q6 0 6 -6V{decimals(brim)}H{decimals(right + 8)}"
    )
    strokes = []
    if cut.proud_mm > 0:
        at, tone = decimals(right - 22), "mind" if cut.mind else "ink"
        strokes.append(ChartLine(at, decimals(y - 14), at, decimals(y), tone))
        strokes.append(ChartLine(at, decimals(brim), at, decimals(brim + 14), tone))
    tone = "mind" if cut.mind else ""
    letters.append(ChartLabel(cut.proud_says, decimals(right - 28), decimals(y - 6), "end", tone))
    return SectionDrawing(
        "section",
        "Section of a bar in its cavity, to scale",
        cut.desc,
        f"0 0 {decimals(_WIDE)} {decimals(bottom + 4)}",
        cavity,
        tuple(bodies),
        mat,
        detail,
        ChartLine(decimals(left), decimals(brim), decimals(right), decimals(brim)),
        tuple(strokes),
        tuple(letters),
    )
