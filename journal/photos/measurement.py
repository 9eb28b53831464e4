"""What was measured in a photo, as JSON and as lines of text."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct
from msgspec.structs import asdict

from journal.figures.colour.spaces import Triple

Corrected = Literal["card", "neutral", "none"]
"""The standard that colours were corrected by."""


class MeasuredRegion(Struct, frozen=True):
    """A region's colour; ``within`` is how far the truth may lie, in CIEDE2000 (95 %).

    ``within`` is None when nothing in the picture says what its light was.
    """

    region: str
    srgb: Triple
    lab: Triple
    words: str
    within: float | None
    clipped: bool = False


class BleedWidth(Struct, frozen=True):
    """The 10-90 % width of an edge on the bar, in mm, with its 95 % interval."""

    width_mm: float
    low_mm: float
    high_mm: float


class Measurement(Struct, frozen=True):
    """The results of measuring one photo, with notes for the reader.

    ``scale_error`` is a share; scale and bleed are None where they could not be measured.
    """

    scale_mm_per_px: float | None
    scale_error: float
    corrected: Corrected
    regions: tuple[MeasuredRegion, ...]
    bleed: BleedWidth | None
    notes: tuple[str, ...]


def measurement_json(measurement: Measurement) -> dict[str, object]:
    """A measurement as it goes into JSON; numbers are not rounded."""
    bleed = measurement.bleed
    return {
        "scale_mm_per_px": measurement.scale_mm_per_px,
        "corrected": measurement.corrected,
        "regions": {
            region.region: {
                "srgb": list(region.srgb),
                "lab": list(region.lab),
                "name": region.words,
                "within": region.within,
            }
            for region in measurement.regions
        },
        "bleed": None if bleed is None else asdict(bleed),
        "notes": list(measurement.notes),
    }


def measurement_lines(measurement: Measurement) -> tuple[str, ...]:
    """A measurement in lines for the terminal: the regions, the bleed, the scale, the notes."""
    lines = []
    for region in measurement.regions:
        codes = ", ".join(f"{value:.0f}" for value in region.srgb)
        lab = ", ".join(f"{value:.1f}" for value in region.lab)
        sure = "" if region.within is None else f", true within {region.within:.1f} CIEDE2000"
        lines.append(f"{region.region}: {region.words} (sRGB {codes}; Lab {lab}{sure})")
    if measurement.bleed is not None:
        bleed = measurement.bleed
        lines.append(
            f"bleed: {bleed.width_mm:.2f} mm wide, {bleed.low_mm:.2f} to {bleed.high_mm:.2f} mm"
        )
    if measurement.scale_mm_per_px is not None:
        lines.append(f"scale: {measurement.scale_mm_per_px:.4f} mm/px")
    lines += [f"note: {note}" for note in measurement.notes]
    return tuple(lines)
