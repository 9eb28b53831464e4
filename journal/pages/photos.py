"""The notebook's photos: which there are, how they are shown, and the files that they need."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from journal.errors import ContentError, Position, Problem
from journal.pages.parts import Picture, Words
from journal.pages.places import Place, file_href
from journal.pages.sheet import Sheet
from journal.photos.prepare import PhotoProblem, PreparedPhoto, digest, prepared, probe
from journal.photos.prepare import rendition_sizes as sizes_of
from journal.records.links import links_in, target_of
from journal.records.notebook import Notebook
from journal.records.source import inside, place

FOLDER = "photos"
# Digits of a photo's digest in the names of its files: 64 bits keep any two photos apart.
DIGITS = 16
# How wide is a photo shown? As the stylesheet sets it; tells the browser which file to take.
HERO = "(max-width: 49rem) 100vw, (max-width: 74rem) 49rem, 59rem"
HALF = "(max-width: 34rem) 92vw, 20rem"
SMALL = "7rem"
COLUMN = "(max-width: 49rem) 92vw, 40rem"


@dataclass(frozen=True, slots=True)
class ReadyPhoto:
    """A photo of the notebook: where it was written, and the files that are made of it.

    ``sizes`` are widths and heights of the files, the widest first.
    """

    path: str
    digest: str
    sizes: tuple[tuple[int, int], ...]

    def file(self, width: int) -> str:
        """The path of the file of that width in the notebook that is made."""
        return f"{FOLDER}/{self.digest[:DIGITS]}-{width}.jpg"


Photos = Mapping[str, ReadyPhoto]


def ready_photos(
    notebook: Notebook, known: Photos | None = None
) -> tuple[Photos, tuple[Problem, ...]]:
    """Every photo that the pages of a notebook show, and what is wrong with the rest.

    Takes:  notebook  as it is cut for its edition
            known     photos that were looked into before, and are what they were
    Gives:  photos by their path in the notebook; a problem for each that cannot be read
    """
    found: dict[str, ReadyPhoto] = {}
    problems: list[Problem] = []
    for at, path in _named(notebook):
        if path in found:
            continue
        if known is not None and path in known:
            found[path] = known[path]
            continue
        file = notebook.root / path
        try:
            size = probe(file)
            found[path] = ReadyPhoto(path, digest(file), sizes_of(size.width, size.height))
        except PhotoProblem as problem:
            problems.append(Problem(at, problem.what, problem.mend))
    return found, tuple(problems)


def _named(notebook: Notebook) -> Iterator[tuple[Position, str]]:
    for design in notebook.designs.values():
        folder = design.path.rpartition("/")[0]
        for number, photo in enumerate(design.photos):
            path = inside(photo.file, folder)
            if path is not None and (notebook.root / path).is_file():
                yield place(design.written, "photos", number, "file"), path
    texts = [(d.path, d.body, d.body_line) for d in notebook.designs.values()]
    texts += [(c.path, c.body, c.body_line) for c in notebook.comparisons.values()]
    for source, body, line in texts:
        for at, link, is_picture in links_in(body, source, line):
            target = target_of(link, source.rpartition("/")[0])
            if is_picture and target.kind == "file" and (notebook.root / target.name).is_file():
                yield at, target.name


def photo_sheets(root: Path, photos: Photos) -> tuple[Sheet, ...]:
    """The files of all photos; each is named by its content and so is never made twice."""
    sheets = {
        photo.file(width): Sheet(
            photo.file(width),
            f"{photo.digest}-{width}",
            _Maker(root / photo.path, photo.path, photo.digest, width),
            lasting=True,
        )
        for photo in photos.values()
        for width, _ in photo.sizes
    }
    return tuple(sheets.values())


class _Maker:
    """Makes one file of a photo."""

    __slots__ = ("name", "path", "shown", "width")

    def __init__(self, path: Path, shown: str, name: str, width: int) -> None:
        self.path, self.shown, self.name, self.width = path, shown, name, width

    def __call__(self) -> bytes:
        for rendition in _made(self.path, self.shown, self.name).renditions:
            if rendition.width == self.width and rendition.format == "jpeg":
                return rendition.content
        raise AssertionError(f"{self.path} has no rendition {self.width} wide")


# The files of one photo are made one after the other, so one photo is kept at a time.
@lru_cache(maxsize=1)
def _made(path: Path, shown: str, name: str) -> PreparedPhoto:
    try:
        made = prepared(path, modern=False)
        same = made.digest == name == digest(path)
    except PhotoProblem as problem:
        told = Problem(Position(shown), problem.what, problem.mend)
        raise ContentError((told,)) from None
    if not same:
        # Its files are named by what it holds and never made again: they must hold it.
        what = "the photo changed while the notebook was made"
        raise ContentError((Problem(Position(shown), what, "Build again."),))
    return made


def picture(
    here: Place,
    photo: ReadyPhoto,
    alt: str,
    caption: Words = (),
    *,
    sizes: str = HALF,
    first: bool = False,
) -> Picture:
    """A photo as a page shows it; ``first`` is fetched at once, others when they come near."""
    width, height = photo.sizes[min(1, len(photo.sizes) - 1)]
    return Picture(
        src=file_href(here, photo.file(width)),
        alt=alt,
        width=width,
        height=height,
        srcset=", ".join(f"{file_href(here, photo.file(w))} {w}w" for w, _ in photo.sizes),
        sizes=sizes,
        caption=caption,
        first=first,
    )


def attributes(here: Place, photo: ReadyPhoto) -> dict[str, str]:
    """A photo within the maker's prose, as attributes of its <img>."""
    shown = picture(here, photo, "", sizes=COLUMN)
    return {
        "src": shown.src,
        "srcset": shown.srcset,
        "sizes": shown.sizes,
        "width": str(shown.width),
        "height": str(shown.height),
        "loading": "lazy",
        "decoding": "async",
    }
