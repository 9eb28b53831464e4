"""The photos that a notebook names: which cannot be shown, and what is measured in them.

The only module here that knows records.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from msgspec import Struct

from journal.errors import Position, Problem
from journal.figures.derive import AllFigures, BleedWidthsByDesign, derive_figures
from journal.photos.card import RULER_MM
from journal.photos.edge import PixelLine
from journal.photos.light import PixelBox, read_picture
from journal.photos.measure import CardPose, GivenScale, NeutralPatch, measure, scale_between
from journal.photos.measurement import Measurement
from journal.photos.source import PhotoProblem, photo_size
from journal.records.models.links import pictures_in
from journal.records.models.write_up import CardPosition, Photo, PhotoScale
from journal.records.notebook import Notebook
from journal.records.yaml.source import path_in_notebook
from journal.records.yaml.tree import position_of


class MeasuredPhoto(Struct, frozen=True):
    """One photo of a design and what was measured in it."""

    design: str
    path: str  # relative to the notebook
    variant: str | None
    bar: str | None
    day: int
    measurement: Measurement


# Measures one photo; a build hands in one that remembers.
Measurer = Callable[[Path, Photo], Measurement]


def measured_photos(
    notebook: Notebook, measurer: Measurer | None = None
) -> tuple[tuple[MeasuredPhoto, ...], tuple[Problem, ...]]:
    """Measure every photo whose entry in a write-up has the key ``measure``.

    Takes:  measurer  measures one photo; ``measure_photo`` when None
    Gives:  the measured photos, and a warning at the entry of each that cannot be measured
    """
    measurer = measurer or measure_photo
    measured: list[MeasuredPhoto] = []
    problems: list[Problem] = []
    for summary in notebook.summaries.values():
        if all(photo.measure is None for photo in summary.photos):
            continue
        design = notebook.designs[summary.id]
        for number, photo in enumerate(design.photos):
            if photo.measure is None:
                continue
            path = path_in_notebook(photo.file, design.path.rpartition("/")[0])
            if path is None or not (notebook.root / path).is_file():
                continue  # reported when the notebook was read
            try:
                measurement = measurer(notebook.root / path, photo)
            except PhotoProblem as problem:
                at = position_of(design.written, "photos", number, "measure")
                problems.append(Problem(at, problem.what, problem.hint, warning=True))
                continue
            variant = photo.variant
            if variant is None:
                variant = next((bar.variant for bar in design.bars if bar.bar == photo.bar), None)
            measured.append(
                MeasuredPhoto(design.id, path, variant, photo.bar, photo.day or 0, measurement)
            )
    return tuple(measured), tuple(problems)


def measure_photo(file: Path, photo: Photo) -> Measurement:
    """Measure one photo as the ``measure`` of its entry says; PhotoProblem if that fails."""
    entry = photo.measure
    assert entry is not None
    neutral = entry.neutral
    return measure(
        read_picture(file),
        regions=[(name, PixelBox(*box)) for name, box in entry.regions],
        across=None if entry.across is None else PixelLine(*entry.across),
        scale=scale_of(photo.scale),
        neutral=None if neutral is None else NeutralPatch(PixelBox(*neutral.at), neutral.srgb),
        blur_px=entry.blur,
    )


def scale_of(scale: PhotoScale | None) -> GivenScale | CardPose | None:
    """The scale of a photo as its entry gives it; None if it gives none."""
    if scale is None:
        return None
    if scale.card:
        # The card lies level and is printed true unless its entry says otherwise.
        position = scale.lies or CardPosition()
        ruler_mm = RULER_MM if position.ruler is None else position.ruler
        return CardPose(
            above_mm=position.above or 0.0, camera_mm=position.camera, ruler_mm=ruler_mm
        )
    if scale.points is not None:
        (x1, y1), (x2, y2) = scale.points.start, scale.points.to
        return scale_between((x1, y1), (x2, y2), scale.points.length)
    return None if scale.mm_per_px is None else GivenScale(scale.mm_per_px)


def bleed_widths(measured: tuple[MeasuredPhoto, ...]) -> BleedWidthsByDesign:
    """Widths of bleeds by design and bar: (day, mm) of each photo of a bar that has one."""
    widths: dict[str, dict[str, tuple[tuple[float, float], ...]]] = {}
    for entry in measured:
        if entry.bar is not None and entry.measurement.bleed is not None:
            bars = widths.setdefault(entry.design, {})
            width = (float(entry.day), entry.measurement.bleed.width_mm)
            bars[entry.bar] = (*bars.get(entry.bar, ()), width)
    return widths


def figures_with_photos(notebook: Notebook) -> AllFigures:
    """Derive the figures of every design, with the bleeds that its photos measure (days, mm).

    Gives:  the figures; their problems hold a warning for each photo that cannot be measured
    """
    measured, unmeasured = measured_photos(notebook)
    figures = derive_figures(notebook, photo_widths=bleed_widths(measured))
    return dataclasses.replace(figures, problems=(*figures.problems, *unmeasured))


def named_photos(notebook: Notebook) -> Iterator[tuple[Position, str]]:
    """Every place that names a photo, with the photo's path in the notebook.

    Missing photos are left out: reading the notebook has reported them.
    """
    named: list[tuple[Position, str]] = []
    for design in notebook.summaries.values():
        named += design.pictures
    for question in notebook.comparisons.values():
        named += pictures_in(question.body, question.path, question.body_line)
    yield from ((at, path) for at, path in named if (notebook.root / path).is_file())


def photo_warnings(notebook: Notebook, problems: Mapping[str, PhotoProblem]) -> tuple[Problem, ...]:
    """A warning at every place that names a photo which cannot be shown; problems by path."""
    return tuple(
        Problem(at, problems[path].what, f"{problems[path].hint}.", warning=True)
        for at, path in dict.fromkeys(named_photos(notebook))
        if path in problems
    )


def unreadable_photos(notebook: Notebook) -> tuple[Problem, ...]:
    """Warnings for named files whose head is that of no usable photo; nothing is decoded."""
    problems: dict[str, PhotoProblem] = {}
    for path in dict.fromkeys(path for _, path in named_photos(notebook)):
        try:
            photo_size(notebook.root / path)
        except PhotoProblem as problem:
            problems[path] = problem
    return photo_warnings(notebook, problems)
