"""Photos of a pour that is taken: which they are, and what each is to be called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from journal.cli.photo_folder import photos_in
from journal.cli.terminal import print_lines, wrapped
from journal.photos.source import PhotoProblem, time_taken
from journal.quantities.number import excerpt
from journal.records.models.write_up import Pour
from journal.records.scaffold import TO_FILL, id_of
from journal.records.taking.edit import Written
from journal.records.taking.photos import PhotoPlace, place_of


class TakenPhotos(Struct):
    """Rows for a write-up, and the files to copy, by the name of each copy."""

    rows: list[dict[str, Written]]
    copies: dict[str, Path]


def find_photos(
    folder: Path, into: Path, pours: Sequence[Pour], named: Sequence[str]
) -> TakenPhotos:
    """Find the photos of some pours in a folder by their times, and say so of each.

    Takes:  folder  that the maker named
            into    the design's folder of photos
            pours   those that are taken
            named   the photos of the write-up, such as ``photos/front.jpg``
    """
    taken = TakenPhotos([], {})
    there = {path.name: path for path in into.iterdir()} if into.is_dir() else {}
    print_lines(f"Photos in {folder}, by the time each was taken at:")
    for path in photos_in(folder):
        shown = excerpt(path.name)[1:-1]
        try:
            moment = time_taken(path)
        except PhotoProblem as problem:
            print_lines(*wrapped(f"{shown}: left out: {problem.what}. {problem.hint}."))
            continue
        place = None if moment is None else place_of(moment, pours)
        if moment is None or place is None:
            why = "it does not say when it was taken" if moment is None else (
                f"taken on {moment:%Y-%m-%d}, no day of this pour"
            )  # fmt: skip
            print_lines(*wrapped(f"{shown}: left out, {why}."))
            continue
        said = f"{shown}: {moment:%Y-%m-%d %H:%M}, pour {place.pour}, day {place.day}"
        same = _same_file(path, there)
        name = same or _new_name(path, place, (*there, *taken.copies))
        if f"photos/{name}" in named:
            print_lines(*wrapped(f"{said}; in the write-up already."))
            continue
        print_lines(*wrapped(f"{said}, as photos/{name}."))
        taken.rows.append(_row(name, place))
        if same is None:
            taken.copies[name] = path
    return taken


def _same_file(path: Path, there: Mapping[str, Path]) -> str | None:
    """The name of a photo in the design's folder with the same bytes; None for none."""
    size = path.stat().st_size
    for name, other in there.items():
        is_as_long = other.is_file() and other.stat().st_size == size
        if is_as_long and other.read_bytes() == path.read_bytes():
            return name
    return None


def _new_name(path: Path, place: PhotoPlace, used: Sequence[str]) -> str:
    """A free name: the pour's label and the file's own name in plain letters."""
    name = id_of(f"{place.pour} {path.stem}", [one.rpartition(".")[0] for one in used])
    return f"{name}{path.suffix.lower()}"


def _row(name: str, place: PhotoPlace) -> dict[str, Written]:
    """The row of a photo; what it shows is for the maker to say."""
    row: dict[str, Written] = {"file": f"photos/{name}", "alt": f"Pour {place.pour}: {TO_FILL}"}
    if place.bar is not None:
        row["bar"] = place.bar
    return {**row, "day": str(place.day)}
