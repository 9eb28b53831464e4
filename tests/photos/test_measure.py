"""What a photo says, against drawn pictures whose truth is known."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from long_run import LONG
from paths import MEASURABLE
from photos import edge_pictures
from photos.card_views import codes_of_light
from PIL import Image

from journal.errors import FigureError
from journal.figures.colour.spaces import ciede2000, linear_to_lab, srgb_to_linear
from journal.photos.edge import PixelLine
from journal.photos.light import (
    PhotoPixels,
    PixelBox,
    illumination_slope,
    linear_light,
    read_picture,
)
from journal.photos.measure import CardPose, GivenScale, NeutralPatch, measure, scale_between
from journal.photos.measurement import measurement_json, measurement_lines
from journal.photos.source import PhotoProblem

KEPT = sorted((MEASURABLE).glob("*.json"))

# What a photo is good for: a width to 0.1 mm or 8 %, whichever is more, and a colour to 1.5
# CIEDE2000 where a neutral is in the picture and the light is even.
WIDTH_MM, WIDTH_SHARE, COLOUR = 0.1, 0.08, 1.5
# Of the intervals of 95 %, how many cover the truth in a set of about 11 pictures: fewer than
# these come up by chance less than once in a thousand sets.
WIDTHS_COVERED, COLOURS_COVERED = 0.7, 0.8


def srgb_to_lab(codes: Sequence[float]) -> tuple[float, float, float]:
    return linear_to_lab([srgb_to_linear(code) for code in codes])


def box(rect: list[float]) -> PixelBox:
    return PixelBox(rect[0], rect[1], rect[2] - rect[0], rect[3] - rect[1])


def middle(rect: list[float]) -> tuple[float, float]:
    return box(rect).middle


def measured_as(truth: dict, folder: Path, **options):
    """A drawn picture measured by its own patches, strip and neutral."""
    body, detail = truth["body_patch"]["rect_px"], truth["relief_patch"]["rect_px"]
    strip = truth["scale_strip"]
    asked = {
        "regions": [("relief", box(detail)), ("body", box(body))],
        "across": PixelLine(*middle(body), *middle(detail)),
        "scale": scale_between(strip["from_px"], strip["to_px"], strip["length_mm"]),
        "neutral": NeutralPatch(box(truth["grey_patch"]["rect_px"]), 118),
        "blur_px": truth["bleed"]["blur_px"],
    }
    return measure(read_picture(folder / truth["file"]), **{**asked, **options})


def assert_true(truth: dict, folder: Path) -> tuple[bool, bool]:
    """Holds a measurement to the truth; gives whether its intervals cover width and colours."""
    result = measured_as(truth, folder)
    width = truth["bleed"]["w10_90_mm"]
    assert result.bleed is not None
    assert abs(result.bleed.width_mm - width) <= max(WIDTH_MM, WIDTH_SHARE * width), truth["file"]
    assert result.corrected == "neutral"
    assert result.scale_mm_per_px == pytest.approx(truth["mm_per_px"], rel=1e-9)
    sure = True
    for region in result.regions:
        off = ciede2000(region.lab, srgb_to_lab(truth[f"{region.region}_srgb"]))
        assert region.within is not None
        sure = sure and off <= region.within
        if truth["light_gradient"] == 0:
            assert off <= COLOUR, (truth["file"], region)
    return result.bleed.low_mm <= width <= result.bleed.high_mm, sure


@pytest.mark.parametrize("sidecar", KEPT, ids=lambda path: path.stem)
def test_the_kept_pictures(sidecar):
    _, colours = assert_true(json.loads(sidecar.read_text()), sidecar.parent)
    assert colours


def test_all_kept_pictures_are_there():
    assert [path.stem for path in KEPT] == [f"edge-{n:02d}" for n in range(1, 9)]


def drawn(folder: Path, specs: list[dict]) -> list[dict]:
    """Pictures drawn anew; those without room for their patches are left out."""
    truths = []
    for spec in specs:
        try:
            edge_pictures.save(spec, str(folder))
        except ValueError as no_room:
            assert "no room" in str(no_room)
            continue
        truths.append(json.loads((folder / f"{spec['name']}.json").read_text()))
    return truths


@pytest.mark.parametrize("seed", range(31, 39) if LONG else [31])
def test_pictures_of_other_seeds(tmp_path, seed):
    truths = drawn(tmp_path, edge_pictures.vary(seed, 12 if LONG else 11))
    covered = [assert_true(truth, tmp_path) for truth in truths]
    assert len(covered) >= 9
    widths, colours = (sum(part) / len(covered) for part in zip(*covered, strict=True))
    assert widths >= WIDTHS_COVERED
    assert colours >= COLOURS_COVERED


@pytest.mark.parametrize(
    "spec",
    [
        {"w10_90_mm": 0.4, "mm_per_px": 0.1, "margin_mm": 14.0},
        {"w10_90_mm": 1.2, "mm_per_px": 0.03, "margin_mm": 8.0, "noise_codes": 4.0},
        {"w10_90_mm": 0.8, "blur_px": 2.5, "relief_srgb": [214, 205, 210]},
        {"w10_90_mm": 1.0, "body_srgb": [205, 196, 178], "edge_angle_deg": 75.0},
        {"w10_90_mm": 1.6, "wb_gains": [0.8, 0.95, 1.0], "jpeg_quality": 82, "subsampling": 2},
    ],
    ids=["coarse", "fine and noisy", "out of focus", "pale on pale", "cold and compressed"],
)
def test_pictures_of_other_parameters(tmp_path, spec):
    (truth,) = drawn(tmp_path, [{"name": "p", "seed": 5, **spec}])
    assert_true(truth, tmp_path)


# ---------------------------------------------------------------- what is said


@pytest.fixture(scope="module")
def plain():
    sidecar = KEPT[0]
    return json.loads(sidecar.read_text()), sidecar.parent


def test_json_has_the_agreed_names(plain):
    result = measured_as(*plain)
    written = json.loads(json.dumps(measurement_json(result), allow_nan=False))
    assert set(written) == {"scale_mm_per_px", "corrected", "regions", "bleed", "notes"}
    assert set(written["regions"]["relief"]) == {"srgb", "lab", "name", "within"}
    assert written["regions"]["relief"]["name"] == "white with a touch of yellow"
    assert len(written["regions"]["body"]["srgb"]) == len(written["regions"]["body"]["lab"]) == 3
    assert set(written["bleed"]) == {"width_mm", "low_mm", "high_mm"}
    assert written["bleed"]["low_mm"] < written["bleed"]["width_mm"] < written["bleed"]["high_mm"]


def test_words_for_the_terminal(plain):
    lines = measurement_lines(measured_as(*plain))
    assert lines[0].startswith("relief: white with a touch of yellow (sRGB 238, 231, 21")
    assert lines[2].startswith("bleed: 2.30 mm wide, 2.2")
    assert lines[3] == "scale: 0.0500 mm/px"


def test_without_neutral_or_card_colours_are_said_to_be_uncorrected(plain):
    result = measured_as(*plain, neutral=None)
    assert result.corrected == "none"
    assert [region.within for region in result.regions] == [None, None]
    assert None not in [region.within for region in measured_as(*plain).regions]
    assert any("uncorrected" in note for note in result.notes)
    assert not any("uncorrected" in note for note in measured_as(*plain).notes)
    # with an even, white light they are right all the same
    for region in result.regions:
        assert ciede2000(region.lab, srgb_to_lab(plain[0][f"{region.region}_srgb"])) < COLOUR


def test_without_a_scale_there_is_no_width(plain):
    result = measured_as(*plain, scale=None)
    assert result.bleed is None
    assert result.scale_mm_per_px is None
    assert any("no scale" in note for note in result.notes)
    assert not any("no scale" in note for note in measured_as(*plain).notes)
    written = measurement_json(result)
    assert (written["bleed"], written["scale_mm_per_px"]) == (None, None)
    assert [line for line in measurement_lines(result) if line.startswith(("bleed", "scale"))] == []


def test_an_unknown_lens_blur_is_said_and_stays_in_the_width(plain):
    known, unknown = measured_as(*plain), measured_as(*plain, blur_px=None)
    assert any("blur of the lens is not known" in note for note in unknown.notes)
    assert not any("blur of the lens" in note for note in known.notes)
    assert unknown.bleed.width_mm > known.bleed.width_mm


def test_an_unsure_scale_widens_the_interval(plain):
    by_points = measured_as(*plain).bleed
    exact = measured_as(*plain, scale=GivenScale(0.05)).bleed
    assert exact.width_mm == pytest.approx(by_points.width_mm, rel=1e-9)
    assert exact.high_mm - exact.low_mm < by_points.high_mm - by_points.low_mm


def test_a_wider_scale_gives_a_wider_bleed(plain):
    one, two = (measured_as(*plain, scale=GivenScale(mm)).bleed for mm in (0.05, 0.1))
    assert two.width_mm == pytest.approx(2 * one.width_mm, rel=1e-6)
    assert two.high_mm == pytest.approx(2 * one.high_mm, rel=1e-6)


# By hand: 3, 4, 5: 500 px for 50 mm
def test_scale_by_two_points():
    scale = scale_between((0, 0), (300, 400), 50.0)
    assert scale.mm_per_px == 0.1
    assert scale.share_error == pytest.approx(2**0.5 / 500)
    for start, end, mm, said in (
        ((0, 0), (1, 1), 50.0, "only 1.41421 pixels apart"),
        ((0, 0), (300, 400), 0.0, "two points and a distance"),
        ((0, float("nan")), (300, 400), 50.0, "two points and a distance"),
    ):
        with pytest.raises(FigureError, match=said):
            scale_between(start, end, mm)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"regions": [("lid", PixelBox(900, 10, 100, 20))]}, 'the region "lid"'),
        ({"regions": [("lid", PixelBox(9, 9, 2, 20))]}, "smaller than 4 x 4"),
        ({"regions": [("lid", PixelBox(9, 9, float("nan"), 20))]}, "not made of numbers"),
        ({"neutral": NeutralPatch(PixelBox(26, 26, 60, 60), 254)}, "too near to black or white"),
        ({"neutral": NeutralPatch(PixelBox(26, 26, 6000, 60), 118)}, 'the region "neutral"'),
        ({"blur_px": -1.0}, "blur"),
        ({"scale": GivenScale(0.0)}, "scale"),
        ({"scale": GivenScale(float("inf"))}, "scale"),
        ({"scale": CardPose(ruler_mm=0.0)}, "ruler"),
        ({"scale": CardPose()}, "no photo card"),
    ],
)
def test_what_cannot_be_measured_is_refused(plain, options, said):
    with pytest.raises(PhotoProblem, match=said) as caught:
        measured_as(*plain, **options)
    assert caught.value.hint


def flat(*tones: tuple[int, int, int]) -> PhotoPixels:
    """Patches of 60 x 60 pixels side by side."""
    codes = np.zeros((60, 60 * len(tones), 3), np.uint8)
    for number, tone in enumerate(tones):
        codes[:, 60 * number : 60 * (number + 1)] = tone
    return PhotoPixels(codes)


def test_a_clipped_neutral_is_refused_and_a_clipped_region_said():
    picture = flat((255, 255, 255), (120, 120, 120))
    white, grey = PixelBox(5, 5, 50, 50), PixelBox(65, 5, 50, 50)
    with pytest.raises(PhotoProblem, match="neutral is clipped"):
        measure(picture, regions=[("a", grey)], neutral=NeutralPatch(white, 200))
    result = measure(picture, regions=[("a", white)], neutral=NeutralPatch(grey, 120))
    assert result.regions[0].clipped
    assert any("clipped" in note for note in result.notes)


# By hand: under a cast of gains r, g, b the neutral is seen as its level times the gain
def test_a_cast_is_undone_by_the_neutral():
    true = ((118, 118, 118), (62, 74, 118))
    gains = np.array([0.9, 1.0, 0.7])
    seen = [tuple(cast(tone, gains)) for tone in true]
    result = measure(
        flat(*seen),
        regions=[("a", PixelBox(65, 5, 50, 50))],
        neutral=NeutralPatch(PixelBox(5, 5, 50, 50), 118),
    )
    assert ciede2000(result.regions[0].lab, srgb_to_lab(true[1])) < 0.6  # whole codes
    assert result.regions[0].within >= ciede2000(result.regions[0].lab, srgb_to_lab(true[1]))


def cast(tone: tuple[int, int, int], gains: np.ndarray) -> list[int]:
    return codes_of_light(linear_light(np.array(tone, float)) * gains).tolist()


def test_mean_is_taken_in_light_not_in_codes():
    codes = np.zeros((60, 60, 3), np.uint8)
    codes[:, ::2] = 255  # half black, half white: light 0.5, code 188, not 128
    result = measure(PhotoPixels(codes), regions=[("a", PixelBox(0, 0, 60, 60))])
    assert result.regions[0].srgb == pytest.approx((187.52,) * 3, abs=0.01)


def test_slope_of_the_light_is_found_on_several_surfaces():
    y, x = np.mgrid[0:120, 0:200]
    light = 1.0 + 0.001 * (x - 100) - 0.0005 * (y - 60)
    tone = np.where(x < 100, 0.2, 0.6)
    codes = codes_of_light((tone * light)[..., None].repeat(3, axis=2))
    boxes = (PixelBox(4, 4, 88, 110), PixelBox(108, 4, 88, 110))
    slope = illumination_slope(PhotoPixels(codes), boxes)
    assert slope.right == pytest.approx(0.001, rel=0.05)
    assert slope.down == pytest.approx(-0.0005, rel=0.05)
    assert slope.over((0, 0), (100, 0)) >= 0.1 * 0.95
    assert illumination_slope(PhotoPixels(codes), (PixelBox(4, 4, 10, 10),)) is None


def test_a_photo_that_lies_on_its_side_is_measured_upright(tmp_path):
    codes = np.zeros((80, 120, 3), np.uint8)
    codes[:, :60], codes[:, 60:] = (200, 60, 40), (40, 60, 200)
    upright = Image.fromarray(codes)
    path = tmp_path / "p.jpg"
    exif = Image.Exif()
    exif[0x0112] = 6
    upright.transpose(Image.Transpose.ROTATE_90).save(path, quality=95, exif=exif)
    picture = read_picture(path)
    assert (picture.width, picture.height) == (120, 80)
    result = measure(
        read_picture(path),
        regions=[("left", PixelBox(8, 8, 40, 60)), ("right", PixelBox(70, 8, 40, 60))],
    )
    left, right = result.regions
    assert np.abs(np.subtract(left.srgb, (200, 60, 40))).max() < 2
    assert np.abs(np.subtract(right.srgb, (40, 60, 200))).max() < 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_jpeg_reads_the_same_however_it_is_stored(tmp_path, orientation):
    from photos import photo_files

    path = photo_files.write_turned(tmp_path / "p.jpg", orientation, "JPEG")
    boxes = [
        ("a", PixelBox(4, 4, 22, 14)),
        ("b", PixelBox(36, 4, 22, 14)),
        ("c", PixelBox(4, 28, 22, 14)),
    ]
    for region, true in zip(
        measure(read_picture(path), regions=boxes).regions, photo_files.QUARTERS, strict=False
    ):
        assert np.abs(np.subtract(region.srgb, true)).max() < 4
