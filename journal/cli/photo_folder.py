"""Photos as they come from a phone or a camera, in a folder that the maker names."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from journal.errors import UsageError
from journal.photos.source import taken_at
from journal.records.scaffold import id_of

# Files with these endings are photos.
PHOTO_ENDINGS = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"})


def photos_in(folder: Path) -> list[Path]:
    """The photos of a folder, in order of time taken; UsageError if there are none."""
    if not folder.is_dir():
        raise UsageError(f'"{folder}" is no folder', "Name the folder that the photos are in.")
    photos = [
        path
        for path in folder.iterdir()
        if path.suffix.lower() in PHOTO_ENDINGS and path.is_file() and path.name[0] != "."
    ]
    if not photos:
        raise UsageError(f'there is no photo in "{folder}"', "JPEG, PNG, WebP and HEIC are read.")
    return sorted(photos, key=lambda path: (_time_taken(path), path.name))


def photos_by_new_name(folder: Path) -> Mapping[str, Path]:
    """The photos of a folder, in order of time taken, by the name that each copy gets."""
    photos = photos_in(folder)
    digits = max(2, len(str(len(photos))))
    return {
        f"{number:0{digits}d}-{id_of(path.stem, ())}{path.suffix.lower()}": path
        for number, path in enumerate(photos, start=1)
    }


def _time_taken(path: Path) -> str:
    """The time a photo was taken by the camera's clock, else that its file was written."""
    written = datetime.fromtimestamp(path.stat().st_mtime)
    return taken_at(path) or written.strftime("%Y:%m:%d %H:%M:%S")
