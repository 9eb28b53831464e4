"""``journal measure``: colours and the width of a bleed in one photo."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from journal.cli.terminal import print_json, print_lines
from journal.errors import QuantityError, UsageError
from journal.photos.card import RULER_MM
from journal.photos.derive import measure_photo
from journal.photos.edge import PixelLine
from journal.photos.light import PixelBox, read_picture
from journal.photos.measure import CardPose, GivenScale, NeutralPatch, measure
from journal.photos.measurement import Measurement, measurement_json, measurement_lines
from journal.photos.source import PhotoProblem
from journal.quantities import read
from journal.quantities.rounding import to_twelve_digits
from journal.records.models.write_up import Photo
from journal.records.notebook import Notebook, read_notebook
from journal.records.yaml.source import path_in_notebook


def measure_command(args: argparse.Namespace) -> int:
    """Run ``journal measure PHOTO``: as the options say, else as the photo's entry says."""
    by_hand = any(
        (args.region, args.across, args.scale, args.neutral, args.blur, args.card,
         args.above, args.camera, args.ruler)
    )  # fmt: skip
    try:
        measurement = _by_options(args) if by_hand else _as_written(args)
    except PhotoProblem as problem:
        raise UsageError(f"{args.photo}: {problem.what}", problem.hint) from None
    if args.json:
        rounded = _rounded(measurement_json(measurement))
        print_json(rounded)
        return 0
    lines = measurement_lines(measurement)
    print_lines(*(lines or ("There is nothing to measure: name a --region.",)))
    return 0


def _by_options(args: argparse.Namespace) -> Measurement:
    """Measure the photo as the options say."""
    scale = GivenScale(read.read_mm_per_px(args.scale)) if args.scale else None
    blur = read.read_px(args.blur) if args.blur else None
    neutral = None
    if args.neutral:
        box, _, level = args.neutral.partition("=")
        grey = _numbers(level, 1, "--neutral", "x,y,w,h=118")[0]
        neutral = NeutralPatch(PixelBox(*_numbers(box, 4, "--neutral", "x,y,w,h=118")), grey)
    across = None
    if args.across:
        across = PixelLine(*_numbers(args.across, 4, "--across", "x1,y1,x2,y2"))
    if (args.above or args.camera or args.ruler) and not args.card:
        raise UsageError(
            "--above, --camera and --ruler say how the photo card lies", "Write --card as well"
        )
    return measure(
        read_picture(args.photo),
        regions=[_named_region(text) for text in args.region or ()],
        across=across,
        scale=_card_pose(args) if args.card else scale,
        neutral=neutral,
        blur_px=blur,
    )


def _card_pose(args: argparse.Namespace) -> CardPose:
    """The photo card's pose that the options give."""
    above, camera, ruler = (
        None if text is None else read.read_length(text)
        for text in (args.above, args.camera, args.ruler)
    )
    return CardPose(
        above_mm=above or 0.0, camera_mm=camera, ruler_mm=RULER_MM if ruler is None else ruler
    )


def _named_region(text: str) -> tuple[str, PixelBox]:
    """Read ``NAME=x,y,w,h``."""
    name, _, box = text.partition("=")
    if not name or not box:
        raise UsageError(f'"{text}" is no region', "Write --region body=x,y,w,h")
    return name, PixelBox(*_numbers(box, 4, "--region", "NAME=x,y,w,h"))


def _numbers(text: str, count: int, option: str, form: str) -> Sequence[float]:
    """Read ``count`` numbers between commas; UsageError shows ``form``, how to write them."""
    parts = text.split(",")
    try:
        numbers = [read.read_number(part.strip()) for part in parts]
    except QuantityError as error:
        raise UsageError(f"{option}: {error.what}", f"Write {option} {form}") from None
    if len(numbers) != count:
        raise UsageError(f'{option}: "{text}" is not {count} numbers', f"Write {option} {form}")
    return numbers


def _as_written(args: argparse.Namespace) -> Measurement:
    """Measure the photo as its entry in a write-up of the notebook says."""
    notebook = read_notebook(args.content)
    photo = _photo_entry(notebook, args.photo)
    if photo is None or photo.measure is None:
        raise UsageError(
            f"no write-up says what to measure in {args.photo}",
            'Name it: --region body=x,y,w,h --scale "0.08 mm/px" --across x1,y1,x2,y2',
        )
    return measure_photo(args.photo, photo)


def _photo_entry(notebook: Notebook, file: Path) -> Photo | None:
    """The photo's entry in the write-ups; None if it has none."""
    real = file.resolve()
    for design in notebook.designs.values():
        for photo in design.photos:
            path = path_in_notebook(photo.file, design.path.rpartition("/")[0])
            if path is not None and (notebook.root / path).resolve() == real:
                return photo
    return None


def _rounded(value: object) -> object:
    """A JSON value with its numbers rounded to 12 significant digits, at any depth."""
    if isinstance(value, dict):
        return {key: _rounded(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_rounded(entry) for entry in value]
    return to_twelve_digits(value) if isinstance(value, float) else value
