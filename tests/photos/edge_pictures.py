"""Flat pictures of a bar's edge, drawn with a known truth.

A view from above, with no rendering engine: table | body (a margin of known width) | bleed |
relief. The straight line between body and relief is the edge. Colour crosses it as

    share of relief = 1/2 (1 + erf(d / (sigma sqrt 2)))     d = mm from the edge, + into the relief

mixed in light, so that the 10-90 % width is 2.5631 sigma. A lens blur (Gaussian, pixels) adds to
it in squares; the truth has both. After the mixing come, in this order: marks on the surface,
fall-off of the light, a colour cast (a gain for each channel), sRGB coding, noise (Gaussian, in
codes), rounding, a turn by EXIF orientation, JPEG.

The truth's coordinates are pixels of the upright picture, from the left top corner of its first
pixel. A picture depends on its parameters alone; JPEG bytes may differ between builds of Pillow.
"""

import json
import math
import os

import numpy as np
from PIL import Image

W10_90 = 2.0 * 1.2815515655446004  # 10-90 % width of an erf edge, in sigmas
_X = np.linspace(-5, 5, 4001)
_ERF = np.array([math.erf(v) for v in _X])

DEFAULTS = {
    "seed": 1,
    "width": 960,
    "height": 720,
    "mm_per_px": 0.05,
    "edge_angle_deg": 0.0,
    "edge_offset_mm": 0.0,
    "margin_mm": 9.0,
    "relief_srgb": [238, 231, 214],
    "body_srgb": [62, 74, 118],
    "table_srgb": [196, 190, 180],
    "w10_90_mm": 1.0,
    "blur_px": 0.7,
    "light_gradient": 0.0,
    "light_angle_deg": 30.0,
    "wb_gains": [1.0, 1.0, 1.0],
    "mottle": 0.004,
    "noise_codes": 1.2,
    "jpeg_quality": 88,
    "subsampling": 0,
    "orientation": 1,
    "scale_strip": True,
    "grey_patch": True,
}


def erf(x):
    return np.interp(x, _X, _ERF)


def to_linear(s):
    s = np.asarray(s, float) / 255.0
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4)


def to_srgb(v):
    """linear 0..1 -> sRGB code values 0..255, unrounded."""
    v = np.clip(v, 0, 1)
    return 255.0 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def to_lab(srgb):
    """sRGB codes -> CIE L*a*b*, D65, 2 degrees."""
    m = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    t = (to_linear(srgb) @ m.T) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1
    )


def width_in(profile, step):
    """10-90 % width, in the unit of step, of a rising profile scaled to run from 0 to 1."""
    q = (profile - profile[0]) / (profile[-1] - profile[0])
    pos = np.arange(len(q)) * step
    return float(np.interp(0.9, q, pos) - np.interp(0.1, q, pos))


def box(x, y, x0, y0, x1, y1, blur):
    """antialiased rectangle, 0..1."""

    def g(t):
        return 0.5 * (1 + erf(t / (blur * math.sqrt(2))))

    return g(x - x0) * g(x1 - x) * g(y - y0) * g(y1 - y)


def draw(spec):
    """spec -> (upright uint8 picture, truth dict)."""
    p = {**DEFAULTS, **spec}
    unknown = set(p) - set(DEFAULTS) - {"name"}
    if unknown:
        raise ValueError(f"unknown parameters: {sorted(unknown)}")
    rng = np.random.default_rng(p["seed"])
    w, h, s = p["width"], p["height"], p["mm_per_px"]
    x, y = np.meshgrid(np.arange(w) + 0.5, np.arange(h) + 0.5)
    blur = max(p["blur_px"], 0.3)  # 0.3 px: the pixel's own aperture, roughly
    # the edge: the point on it nearest the centre line, and its normal (towards the relief)
    a = math.radians(p["edge_angle_deg"])
    nx, ny = math.cos(a), math.sin(a)
    ex, ey = w / 2 + p["edge_offset_mm"] / s * nx, h / 2 + p["edge_offset_mm"] / s * ny
    d_px = (x - ex) * nx + (y - ey) * ny  # + = relief
    sigma = p["w10_90_mm"] / W10_90
    total = math.hypot(sigma / s, blur)  # px, bleed and lens together
    relief, body, table = (to_linear(p[k]) for k in ("relief_srgb", "body_srgb", "table_srgb"))
    share = 0.5 * (1 + erf(d_px / (total * math.sqrt(2))))[..., None]
    lin = relief * share + body * (1 - share)
    out = 0.5 * (1 + erf((-d_px - p["margin_mm"] / s) / (blur * math.sqrt(2))))[..., None]
    lin = lin * (1 - out) + table * out  # the bar's outer edge
    # surface mottle: coarse smooth noise
    n = rng.standard_normal((h // 24 + 3, w // 24 + 3)).astype(np.float32)
    n = np.asarray(Image.fromarray(n).resize((w, h), Image.BICUBIC))
    lin = lin * (1 + p["mottle"] * n[..., None])
    truth = {}
    if p["scale_strip"]:  # 10 mm in 1 mm steps, black and white, bottom left
        x0, y0, step = 20.0, h - 20.0 - 2.0 / s, 1.0 / s
        y1 = h - 20.0
        pad = 0.5 / s
        lin = (
            lin
            + (0.82 - lin)
            * box(x, y, x0 - pad, y0 - pad, x0 + 10 * step + pad, y1 + pad, blur)[..., None]
        )
        for i in range(0, 10, 2):
            lin = (
                lin
                + (0.02 - lin)
                * box(x, y, x0 + i * step, y0, x0 + (i + 1) * step, y1, blur)[..., None]
            )
        truth["scale_strip"] = {
            "length_mm": 10.0,
            "bars_mm": 1.0,
            "from_px": [x0, (y0 + y1) / 2],
            "to_px": [x0 + 10 * step, (y0 + y1) / 2],
        }
    if p["grey_patch"]:  # 18 % grey, top left
        g = [20, 20, 20 + int(4 / s), 20 + int(4 / s)]
        lin = lin + (0.18 - lin) * box(x, y, *g, blur)[..., None]
        truth["grey_patch"] = {
            "rect_px": [g[0] + 6, g[1] + 6, g[2] - 6, g[3] - 6],
            "srgb": [round(float(to_srgb(0.18)), 2)] * 3,
        }
    # light and colour cast
    la = math.radians(p["light_angle_deg"])
    ramp = ((x - w / 2) * math.cos(la) + (y - h / 2) * math.sin(la)) / (math.hypot(w, h) / 2)
    lin = lin * (1 + p["light_gradient"] * ramp)[..., None] * np.array(p["wb_gains"])
    clipped = float((lin > 1).any(-1).mean())
    code = to_srgb(lin)
    # flat sample patches, both well away from the transition: 3 sigma + 12 px, inside the picture
    half = 22
    for name, sign in (("relief", 1), ("body", -1)):
        t = max(3 * total + 12 + half * 1.5, 0.5 * p["margin_mm"] / s if sign < 0 else 0)
        cx, cy = ex + sign * t * nx, ey + sign * t * ny
        r = [int(cx - half), int(cy - half), int(cx + half), int(cy + half)]
        if min(r[0], r[1], w - r[2], h - r[3]) < 0 or (
            sign < 0 and t + 1.5 * half + 4 * blur > p["margin_mm"] / s
        ):
            raise ValueError(f"{p.get('name')}: no room for the {name} patch; widen the margin")
        part = code[r[1] : r[3], r[0] : r[2]]
        truth[name + "_patch"] = {
            "rect_px": r,
            "srgb_in_picture": [round(float(v), 2) for v in part.reshape(-1, 3).mean(0)],
        }
    code = code + p["noise_codes"] * rng.standard_normal(code.shape)
    img = np.clip(np.rint(code), 0, 255).astype(np.uint8)
    # the truth about the profile, seen in several scales
    u = np.linspace(-6, 6, 4001)
    q = (0.5 * (1 + erf(u / math.sqrt(2))))[:, None]
    prof = relief * q + body * (1 - q)
    srgb = to_srgb(prof)
    axis = srgb[-1] - srgb[0]
    step = (u[1] - u[0]) * sigma if sigma > 0 else 0.0
    la_ = to_lab(np.array([p["relief_srgb"], p["body_srgb"]]))
    lab_axis = la_[0, 0] - la_[1, 0]
    truth = dict(
        mm_per_px=s,
        upright_size_px=[w, h],
        orientation=p["orientation"],
        jpeg_quality=p["jpeg_quality"],
        edge={
            "point_px": [ex, ey],
            "normal_towards_relief": [nx, ny],
            "angle_deg": p["edge_angle_deg"],
        },
        margin_mm=p["margin_mm"],
        relief_srgb=p["relief_srgb"],
        body_srgb=p["body_srgb"],
        table_srgb=p["table_srgb"],
        relief_lab=[round(float(v), 3) for v in la_[0]],
        body_lab=[round(float(v), 3) for v in la_[1]],
        delta_e_1976=round(float(np.linalg.norm(la_[0] - la_[1])), 3),
        bleed={
            "sigma_mm": sigma,
            "w10_90_mm": p["w10_90_mm"],
            "w10_90_mm_along_srgb_line": round(width_in(srgb @ axis, step), 4),
            "w10_90_mm_in_lightness": round(width_in(to_lab(srgb)[:, 0], step), 4)
            if abs(lab_axis) > 2
            else None,
            "blur_px": blur,
            "w10_90_mm_with_blur": total * s * W10_90,
        },
        light_gradient=p["light_gradient"],
        light_angle_deg=p["light_angle_deg"],
        wb_gains=p["wb_gains"],
        noise_codes=p["noise_codes"],
        mottle=p["mottle"],
        clipped_share=clipped,
        seed=p["seed"],
        **truth,
    )
    return img, truth


_UNTURN = {
    1: None,
    2: Image.FLIP_LEFT_RIGHT,
    3: Image.ROTATE_180,
    4: Image.FLIP_TOP_BOTTOM,
    5: Image.TRANSPOSE,
    6: Image.ROTATE_90,
    7: Image.TRANSVERSE,
    8: Image.ROTATE_270,
}


def save(spec, folder):
    p = {**DEFAULTS, **spec}
    img, truth = draw(spec)
    im = Image.fromarray(img)
    turn = _UNTURN[p["orientation"]]
    if turn is not None:
        im = im.transpose(turn)
    exif = Image.Exif()
    exif[0x0112] = p["orientation"]
    path = os.path.join(folder, spec["name"] + ".jpg")
    im.save(path, quality=p["jpeg_quality"], subsampling=p["subsampling"], exif=exif)
    truth = dict(file=spec["name"] + ".jpg", stored_size_px=list(im.size), **truth)
    with open(os.path.join(folder, spec["name"] + ".json"), "w") as f:
        json.dump(truth, f, indent=1)
        f.write("\n")
    return path


def vary(seed, count, prefix="edge"):
    """a varied set: the first pictures each show one difficulty alone, the rest mix them."""
    rng = np.random.default_rng(seed)
    bodies = [[62, 74, 118], [196, 165, 120], [132, 152, 156], [186, 112, 104]]
    alone = [
        {},
        {"w10_90_mm": 0.0},
        {"w10_90_mm": 3.0},
        {"light_gradient": 0.18},
        {"wb_gains": [1.0, 0.88, 0.70]},
        {"noise_codes": 3.0},
        {"jpeg_quality": 55, "subsampling": 2},
        {"orientation": 6},
    ]
    out = []
    for i in range(count):
        s = {
            "name": f"{prefix}-{i + 1:02d}",
            "seed": int(rng.integers(1, 10**6)),
            "body_srgb": bodies[i % 4],
            "w10_90_mm": round(float(rng.uniform(0.3, 2.4)), 2),
            "edge_angle_deg": round(float(rng.uniform(-12, 12)), 1),
            "mm_per_px": [0.05, 0.04, 0.05, 0.0625][i % 4],
            "margin_mm": round(float(rng.uniform(7, 11)), 1),
        }
        if i < len(alone):
            s.update(alone[i])
        else:
            s.update(
                light_gradient=round(float(rng.uniform(0.05, 0.2)), 3),
                light_angle_deg=round(float(rng.uniform(0, 360)), 0),
                wb_gains=[round(float(v), 3) for v in rng.uniform(0.8, 1.02, 3)],
                noise_codes=round(float(rng.uniform(0.8, 2.5)), 2),
                jpeg_quality=int(rng.integers(68, 93)),
                orientation=[8, 3, 5, 1][i % 4],
                edge_angle_deg=round(float(rng.uniform(0, 360)), 1),
            )
        out.append(s)
    return out
