"""What each of the usual symptoms looks like, and two that studios add: a bar, or one cut through.

A drawing is 60 by 40 units. It stands beside the symptom's name, which says all of it, and so
is not read out. The fault is in the one accent: as lines ("fault") or as round spots ("flecks").
"""

from __future__ import annotations

from collections.abc import Mapping

from journal.charts.drawing import InkDrawing, InkShape

# A bar from above, and a leaf in relief on it with its rib.
_FACE = InkShape("M2 3H58V37H2z", "body")
_LEAF = InkShape("M12 31C12 13 28 8 48 9 48 25 33 35 12 31z", "detail")
_RIB = InkShape("M12 31L38 16", "outline")
_ON_FACE = (_FACE, _LEAF, _RIB)
# A bar cut through, with its relief on top; and one without.
_BLOCK = InkShape("M4 15H56V36H4z", "body")
_CUT = (_BLOCK, InkShape("M14 15V8H46V15z", "detail"))


def _fault(d: str) -> InkShape:
    return InkShape(d, "fault")


def _flecks(d: str) -> InkShape:
    return InkShape(d, "flecks")


_SYMPTOMS: Mapping[str, tuple[InkShape, ...]] = {
    "lip": (*_CUT, _fault("M9 15C11 8 14 5 22 7M51 15C50 9 47 5 41 7")),
    "bleed": (
        *_ON_FACE,
        _fault("M15 24l5 1M21 17l4 3M30 12l2 4M41 10v5M45 21l-5-3M36 28l-3-4M25 32l-1-5"),
    ),
    "run": (*_ON_FACE, _fault("M23 3C25 13 19 20 24 27 26 31 31 30 30 25 27 18 31 11 29 3")),
    "lifted": (
        InkShape("M4 15H14V20H46V15H56V36H4z", "body"),
        InkShape("M16 14L44 2 47 8 19 20z", "detail"),
        _fault("M14 15V20H46V15"),
    ),
    "floated": (
        InkShape("M4 10H56V36H4z", "body"),
        InkShape("M14 29L46 20V26L14 35z", "detail"),
        InkShape("M3 5V37H57V5", "wall"),
        _fault("M20 35L46 28M32 35L46 31.5"),
    ),
    "bubbles": (*_ON_FACE, _flecks("M22 25h0M27 19h0M34 23h0M35 13h0M42 16h0M50 29h0M9 12h0")),
    "remelted": (
        _FACE,
        InkShape(
                "M11 32C8 24 18 24 20 17S32 17 36 10"
                " 52 10 48 18 42 25 36 27 16 40 11 32z"
            , "detail"),
        _fault("M19 28q4-4 8-1t8-3 7-4"),
    ),
    "separated": (
        InkShape("M4 21H56V37H4z", "body"),
        InkShape("M4 4H56V12H4z", "detail"),
        _fault("M4 17l8-2 8 3 9-3 9 3 9-3 9 2"),
    ),
    "sweating": (
        _BLOCK,
        _fault(
                "M15 5c5 7 3 9 0 9s-5-2 0-9z"
                "M30 2c6 9 4 12 0 12s-6-3 0-12zM45 6c4 6 3 8 0 8s-4-2 0-8z"
            ),
    ),
    "soft": (
        InkShape("M4 15H19C24 15 24 25 30 25S36 15 41 15H56V36H4z", "body"),
        _fault("M30 2V18M25 13l5 5 5-5"),
    ),
    "cracked": (*_ON_FACE, _fault("M24 3l4 9-6 7 7 7-4 11M28 12l7 4")),
    "torn": (
        _FACE,
        InkShape("M12 31C12 17 21 11 32 10L30 15 36 18 31 22 36 27C29 31 21 33 12 31z", "detail"),
        _fault("M32 10L30 15 36 18 31 22 36 27"),
        InkShape("M34 9.5L48 9C48 17 44 23 38 27", "gone"),
    ),
    "cloudy": (
        InkShape("M4 6H56V36H4z", "detail"),
        _fault("M11 30c-2-7 7-9 9-4 0-9 12-10 13-1 4-6 13-2 11 5zM30 15c0-5 8-6 9-1 3-3 9-1 8 3"),
    ),
    "faded": (
        _FACE,
        InkShape("M30 3H58V37H30z", "paper"),
        _fault("M17 20H43M38 15l5 5-5 5"),
    ),
    "speckling": (*_ON_FACE, _flecks(
            "M10 10h0M17 14h0M52 18h0M51 32h0"
            "M44 31h0M20 24h0M33 19h0M26 28h0M41 14h0"
        )),
    "uneven": (InkShape("M4 17L56 7V36H4z", "body"), _fault("M4 17H56M52 16V9")),
    "muddied": (
        _FACE,
        InkShape("M5 13C14 5 22 5 26 13M5 22C14 14 21 14 25 21M5 31C14 23 20 23 24 29", "outline"),
        _fault(
                "M26 13c5 9 9-6 13 3s8-8 15 1M25 21c5 8 9-5 13 2s9-6 16 1"
                "M24 29c6 7 9-4 13 1s9-5 17 1"
            ),
    ),
    "discoloured": (*_ON_FACE, _fault("M24 37L58 3M32 37L58 11M40 37L58 19M48 37L58 27")),
    "faint scent": (_BLOCK, InkShape(
            "M22 13c-5-4 4-6 0-11M30 13c-5-4 4-6 0-11"
            "M38 13c-5-4 4-6 0-11"
        , "gone")),
}  # fmt: skip


def symptom_drawing(symptom: str) -> InkDrawing | None:
    """The drawing of a usual symptom; None for one that a studio added, and for "other"."""
    shapes = _SYMPTOMS.get(symptom)
    return None if shapes is None else InkDrawing("", "", "", "0 0 60 40", shapes)
