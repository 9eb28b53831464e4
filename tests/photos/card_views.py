"""Photos of the photo card beside a bar, as a pinhole camera would take them, with the truth.

A flat scene (table, card, bar) is drawn in light, seen through a homography, and then takes, in
this order: fall-off of the light, a colour cast, lens blur, sRGB coding, noise, JPEG. Depends on
the seed alone.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

from journal.photos.card import HEIGHT_MM, WIDTH_MM, CardTint, patches
from journal.photos.light import linear_light_table

SCALE = 6  # pixels a mm of the drawn scene
SCENE_MM = (260.0, 230.0)
CARD_AT = (64.0, 50.0)
BAR_AT = (90.0, 106.0, 80.0, 55.0)
EDGE_X = 124.0  # body to the left of it, detail to the right

TINTS = (
    CardTint("slate mica", (62, 74, 118)),
    CardTint("oat", (196, 165, 120)),
    CardTint("sea grey", (132, 152, 156)),
    CardTint("rose clay", (186, 112, 104)),
)
BODIES = ((62, 74, 118), (196, 165, 120), (132, 152, 156), (186, 112, 104), (92, 120, 84))
DETAILS = ((238, 231, 214), (225, 214, 190), (214, 205, 210))
TABLES = ((196, 190, 180), (60, 52, 46), (150, 120, 90), (120, 126, 130), (228, 226, 222))


@dataclass(frozen=True)
class View:
    """A photo and what is true of it."""

    jpeg: bytes
    to_pixels: np.ndarray
    body: tuple[int, int, int]
    detail: tuple[int, int, int]
    width_mm: float
    pixels_per_mm: float

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """The pixel of a point of the scene."""
        u, v, w = self.to_pixels @ (x_mm, y_mm, 1.0)
        return float(u / w), float(v / w)


def view(
    seed: int,
    *,
    size: tuple[int, int] = (1600, 1200),
    tilt_deg: float | None = None,
    share: float | None = None,
    light: float = 1.0,
    bend_mm: float = 0.0,
    clutter: bool = True,
    width_mm: float = 1.5,
    covered: bool = False,
    quality: int = 80,
    blur_px: float = 0.8,
) -> View:
    """A view; what is None is drawn from the seed.

    tilt_deg up to 30; share is the card's width in that of the picture; light brightens;
    bend_mm arches the card along its length; covered lays something over a square.
    """
    rng = np.random.default_rng(seed)
    body = BODIES[rng.integers(len(BODIES))]
    detail = DETAILS[rng.integers(len(DETAILS))]
    table = TABLES[rng.integers(len(TABLES))]
    tilt = math.radians(rng.uniform(0, 30) if tilt_deg is None else tilt_deg)
    towards, roll = rng.uniform(0, 2 * math.pi, 2)
    part = rng.uniform(0.3, 0.55) if share is None else share
    scene = _scene(rng, body, detail, table, clutter, width_mm, bend_mm, covered)

    wide, high = size
    focal = 1.1 * wide
    distance = focal * WIDTH_MM / (part * wide)
    turn = _about((0, 0, 1), roll) @ _about((math.cos(towards), math.sin(towards), 0), tilt)
    centre = np.array([CARD_AT[0] + WIDTH_MM / 2, 98.0])
    offset = rng.uniform(-4, 4, 2)
    shift = turn[:, :2] @ -(centre + offset) + np.array([0, 0, distance])
    lens = np.array([[focal, 0, wide / 2], [0, focal, high / 2], [0, 0, 1]])
    to_pixels = lens @ np.column_stack([turn[:, 0], turn[:, 1], shift])

    per_mm = part * wide / WIDTH_MM
    soft = ndimage.gaussian_filter(scene, (*[0.35 * SCALE / per_mm] * 2, 0))
    back = np.diag([SCALE, SCALE, 1.0]) @ np.linalg.inv(to_pixels)
    seen = np.stack(
        [
            np.asarray(
                Image.fromarray(soft[..., channel]).transform(
                    size,
                    Image.Transform.PERSPECTIVE,
                    tuple((back / back[2, 2]).ravel()[:8]),
                    Image.Resampling.BILINEAR,
                    fillcolor=float(soft[0, 0, channel]),
                )
            )
            for channel in range(3)
        ],
        axis=-1,
    )
    x, y = np.meshgrid(
        np.arange(wide, dtype=np.float32) + 0.5, np.arange(high, dtype=np.float32) + 0.5
    )
    angle, fall = rng.uniform(0, 2 * math.pi), rng.uniform(0.0, 0.2)
    ramp = (x - wide / 2) * math.cos(angle) + (y - high / 2) * math.sin(angle)
    seen *= (1 + fall * ramp / (math.hypot(wide, high) / 2))[..., None]
    seen *= np.float32(rng.uniform(0.72, 0.85) * light)
    seen *= rng.uniform(0.8, 1.02, 3).astype(np.float32)
    seen = ndimage.gaussian_filter(seen, (blur_px, blur_px, 0))
    codes = codes_of_light(seen) + rng.uniform(1.0, 3.0) * rng.standard_normal(
        seen.shape, dtype=np.float32
    )
    image = Image.fromarray(np.clip(np.rint(codes), 0, 255).astype(np.uint8))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return View(out.getvalue(), to_pixels, body, detail, width_mm, per_mm)


def _about(axis: tuple[float, float, float], angle: float) -> np.ndarray:
    """A turn about an axis (Rodrigues' formula)."""
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + math.sin(angle) * cross + (1 - math.cos(angle)) * cross @ cross


def _scene(rng, body, detail, table, clutter, width_mm, bend_mm, covered) -> np.ndarray:
    """The flat scene in light."""
    wide, high = (round(side * SCALE) for side in SCENE_MM)
    picture = Image.new("RGB", (wide, high), table)
    draw = ImageDraw.Draw(picture)
    if clutter:
        for _ in range(14):
            x, y = rng.uniform(0, SCENE_MM[0]), rng.uniform(0, SCENE_MM[1])
            side, turn = rng.uniform(4, 16), rng.uniform(0, math.pi / 2)
            tone = int(rng.integers(10, 240))
            corners = [
                (
                    (x + side * math.cos(turn + n * math.pi / 2)) * SCALE,
                    (y + side * math.sin(turn + n * math.pi / 2)) * SCALE,
                )
                for n in range(4)
            ]
            draw.polygon(corners, fill=(tone, tone, int(tone * 0.9)))
    table_of_light = linear_light_table().astype(np.float32)
    light = table_of_light[np.asarray(picture)]
    card = table_of_light[card_raster(TINTS, pixels_per_mm=SCALE)]
    if bend_mm:
        card = _arched(card, bend_mm)
    left, top = (round(v * SCALE) for v in CARD_AT)
    light[top : top + card.shape[0], left : left + card.shape[1]] = card
    if covered:
        at = round((CARD_AT[0] + 116) * SCALE), round((CARD_AT[1] + 30) * SCALE)
        light[at[1] : at[1] + 14 * SCALE, at[0] : at[0] + 14 * SCALE] = 0.5
    x0, y0, w, h = (round(v * SCALE) for v in BAR_AT)
    share = ndimage.gaussian_filter1d(
        (np.arange(wide) / SCALE > EDGE_X).astype(float), width_mm / 2.5631 * SCALE, mode="nearest"
    )[x0 : x0 + w, None]
    bar = (
        linear_light_table()[list(body)] * (1 - share) + linear_light_table()[list(detail)] * share
    )
    light[y0 : y0 + h, x0 : x0 + w] = bar
    return light


def _arched(card: np.ndarray, bend_mm: float) -> np.ndarray:
    """The card arched along its length, as its foreshortening and nearness show from above."""
    high, wide = card.shape[:2]
    across = (np.arange(wide) + 0.5) / wide * 2 - 1
    rise = bend_mm * (1 - across**2)
    grow = 300.0 / (300.0 - rise)  # seen from 300 mm
    centre = high / 2
    rows = centre + (np.arange(high)[:, None] + 0.5 - centre) / grow[None, :] - 0.5
    middle = wide / 2
    columns = middle + (np.arange(wide) + 0.5 - middle) / grow - 0.5
    where = np.stack([rows, np.broadcast_to(columns, rows.shape)])
    return np.stack(
        [ndimage.map_coordinates(card[..., c], where, order=1, cval=1.0) for c in range(3)], axis=-1
    )


def codes_of_light(light: np.ndarray) -> np.ndarray:
    """Whole codes of an array of light; light beyond what sRGB holds is cut off.

    Source: IEC 61966-2-1; the array form of journal.figures.colour.spaces.linear_to_srgb
    """
    light = np.clip(light, 0.0, 1.0)
    share = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    codes: np.ndarray = np.rint(share * 255.0).astype(np.uint8)
    return codes


def card_raster(tints: Sequence[CardTint] = (), *, pixels_per_mm: float = 10.0) -> np.ndarray:
    """The card as pixels, without its words: for trying out whether it is found.

    A rim that falls within a pixel is mixed in light. Gives height x width x 3 sRGB codes.
    """
    width, height = round(WIDTH_MM * pixels_per_mm), round(HEIGHT_MM * pixels_per_mm)
    light = np.ones((height, width, 3))
    for patch in patches(tints):
        columns, across = _cover(patch.x, patch.width, width, pixels_per_mm)
        rows, down = _cover(patch.y, patch.height, height, pixels_per_mm)
        share = (down[:, None] * across[None, :])[..., None]
        place = light[rows, columns]
        place += share * (linear_light_table()[list(patch.srgb)] - place)
    return codes_of_light(light)


def _cover(start_mm: float, length_mm: float, count: int, scale: float) -> tuple[slice, np.ndarray]:
    """Which of a row of pixels a length touches, and how much of each it covers, 0 to 1."""
    start, end = start_mm * scale, (start_mm + length_mm) * scale
    first, last = max(0, math.floor(start)), min(count, math.ceil(end))
    inside = np.clip(np.arange(first, last + 1), start, end)
    cover: np.ndarray = np.diff(inside).astype(np.float64)
    return slice(first, last), cover


__all__ = [
    "BAR_AT",
    "CARD_AT",
    "EDGE_X",
    "HEIGHT_MM",
    "View",
    "card_raster",
    "codes_of_light",
    "view",
]
