"""The notebook's photos: finding them, showing them, and making the files that pages need."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache, partial
from pathlib import Path

from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.html.blocks import PagePicture, Words
from journal.html.markdown import ShownPicture
from journal.photos.derive import named_photos, photo_warnings
from journal.photos.prepare import (
    PreparedPhoto,
    RenditionFormat,
    photo_digest,
    prepare_photo,
    rendition_sizes,
)
from journal.photos.source import PhotoProblem, photo_size
from journal.records.notebook import Notebook
from journal.records.yaml.source import path_in_notebook
from journal.views.shared.places import Address, Sheet, file_href

FOLDER = "photos"
# Digits of a photo's digest in the names of its files: 64 bits keep any two photos apart.
DIGITS = 16
# How wide the stylesheet sets a photo; by it a browser chooses which file to fetch.
HERO = "(max-width: 49rem) 100vw, (max-width: 74rem) 49rem, 59rem"
HALF = "20rem"
# As wide, on a screen of three dots a pixel.
_HALF_PX = 960
SMALL = "7rem"
COLUMN = "(max-width: 49rem) 92vw, 40rem"
# The extension of a file's name, by its format.
_EXTENSIONS: Mapping[RenditionFormat, str] = {"jpeg": "jpg", "avif": "avif"}
MODERN_TYPE = "image/avif"


class PagePhoto(Struct, frozen=True):
    """A photo of the notebook: its path as it was written, and its renditions.

    ``sizes`` are widths and heights of the files, the widest first; ``width`` is that of the
    upright photo, in whose pixels it is measured; ``modern`` says that there is an AVIF beside
    the JPEG of each size, which is smaller.
    """

    path: str
    digest: str
    sizes: tuple[tuple[int, int], ...]
    width: int
    modern: bool = False

    def file(self, width: int, form: RenditionFormat = "jpeg") -> str:
        """The path, in the rendered notebook, of the file of that width and format."""
        return f"{FOLDER}/{self.digest[:DIGITS]}-{width}.{_EXTENSIONS[form]}"

    @property
    def forms(self) -> tuple[RenditionFormat, ...]:
        """The formats of its files."""
        return ("jpeg", "avif") if self.modern else ("jpeg",)


Photos = Mapping[str, PagePhoto]
# Photos by path: those that can be shown, and for the others the reason.
ProbedPhotos = Mapping[str, PagePhoto | PhotoProblem]


def probe_photos(notebook: Notebook, cached: ProbedPhotos | None = None) -> ProbedPhotos:
    """Identify every photo that a notebook names by its first bytes, without decoding it.

    Takes:  notebook  as it is cut for its edition
            cached    results of photos that were probed before and have not changed since
    Gives:  each photo, or why it cannot be shown, by path
    """
    probed: dict[str, PagePhoto | PhotoProblem] = {}
    for path in photo_paths(notebook):
        if cached is not None and path in cached:
            probed[path] = cached[path]
            continue
        file = notebook.root / path
        try:
            size = photo_size(file)
            sizes = rendition_sizes(size.width, size.height)
            probed[path] = PagePhoto(path, photo_digest(file), sizes, size.width)
        except PhotoProblem as problem:
            probed[path] = problem
    return probed


def photo_paths(notebook: Notebook) -> tuple[str, ...]:
    """The paths of the photos that a notebook names and that exist, each once."""
    return tuple(dict.fromkeys(path for _, path in named_photos(notebook)))


def presentable_photos(
    notebook: Notebook, probed: ProbedPhotos
) -> tuple[Photos, tuple[Problem, ...]]:
    """The photos that can be shown, and a warning at each place that names one that cannot."""
    problems = {path: one for path, one in probed.items() if isinstance(one, PhotoProblem)}
    photos = {path: one for path, one in probed.items() if isinstance(one, PagePhoto)}
    return photos, photo_warnings(notebook, problems)


def page_photo(path: str, prepared: PreparedPhoto) -> PagePhoto:
    """A photo as pages show it, from its prepared files.

    AVIF is offered only if it is smaller at every width: a browser that takes it chooses
    among its files alone.
    """
    bytes_of = {(one.width, one.format): len(one.content) for one in prepared.renditions}
    sizes = tuple((one.width, one.height) for one in prepared.renditions if one.format == "jpeg")
    modern = all(
        bytes_of.get((width, "avif"), bytes_of[width, "jpeg"]) < bytes_of[width, "jpeg"]
        for width, _ in sizes
    )
    return PagePhoto(path, prepared.digest, sizes, prepared.width, modern)


# Gives the bytes of a file that was made already; None where it was not.
RenditionCache = Callable[[str], bytes | None]


def photo_sheets(
    root: Path, photos: Photos, cache: RenditionCache | None = None
) -> tuple[Sheet, ...]:
    """The files of all photos; each is named by its content and so is never made twice.

    Takes:  root    the notebook's folder
            photos  what is shown
            cache   gives files that were made when the photos were probed, by path
    Gives:  a sheet a file
    """
    sheets = {
        photo.file(width, form): Sheet(
            photo.file(width, form),
            partial(_rendition, root / photo.path, photo, width, form, cache),
            f"{photo.digest}-{width}.{form}",
            lasting=True,
        )
        for photo in photos.values()
        for width, _ in photo.sizes
        for form in photo.forms
    }
    return tuple(sheets.values())


def _rendition(
    path: Path, photo: PagePhoto, width: int, form: RenditionFormat, cache: RenditionCache | None
) -> bytes:
    """The bytes of one file of a photo, from the cache or newly made."""
    cached = cache(photo.file(width, form)) if cache else None
    if cached is not None:
        return cached
    for rendition in _prepared_once(path, photo.path, photo.digest, photo.modern).renditions:
        if rendition.width == width and rendition.format == form:
            return rendition.content
    raise AssertionError(f"{path} has no {form} {width} wide")


# The files of one photo are made one after the other, so one photo is cached at a time.
@lru_cache(maxsize=1)
def _prepared_once(file: Path, path: str, expected: str, modern: bool) -> PreparedPhoto:
    """Make all files of a photo; ContentError if it is unreadable or not the ``expected`` one."""
    try:
        prepared = prepare_photo(file, modern=modern)
        same = prepared.digest == expected == photo_digest(file)
    except PhotoProblem as problem:
        unreadable = Problem(Position(path), problem.what, f"{problem.hint}.")
        raise ContentError((unreadable,)) from None
    if not same:
        # Its files are named by its content and never made again: they must hold it.
        what = "the photo changed while the notebook was made"
        raise ContentError((Problem(Position(path), what, "Build again."),))
    return prepared


def render_text(alt: str) -> str:
    """What is said of a picture that its write-up calls a render; "" of a photograph."""
    return "A render, not a photo." if alt.startswith("Render") else ""


def picture(
    here: Address,
    photo: PagePhoto,
    alt: str,
    caption: Words = (),
    *,
    sizes: str = HALF,
    first: bool = False,
    share: str = "",
) -> PagePicture:
    """A photo as a page shows it; the ``first`` is loaded at once, others when they come near.

    ``share`` is how much of its column it fills (``photo_pair.width_classes``).
    """
    width, height = photo.sizes[0 if sizes == SMALL else min(1, len(photo.sizes) - 1)]
    return PagePicture(
        src=file_href(here, photo.file(width)),
        alt=alt,
        width=width,
        height=height,
        # A list has hundreds of small ones: one file does.
        srcset="" if sizes == SMALL else _srcset(here, photo, "jpeg", sizes),
        sizes=sizes,
        caption=caption,
        first=first,
        modern=_srcset(here, photo, "avif", sizes) if photo.modern else "",
        share=share,
    )


def _srcset(here: Address, photo: PagePhoto, form: RenditionFormat, sizes: str) -> str:
    """The ``srcset`` of an <img>: the files of one format, each with its width.

    A photo that fills half of a column needs none of the widest, a small one but the narrowest.
    """
    small = [w for w, _ in photo.sizes if w <= _HALF_PX] if sizes in (HALF, SMALL) else []
    widths = small or [w for w, _ in photo.sizes]
    if sizes == SMALL:
        widths = widths[:1]
    return ", ".join(f"{file_href(here, photo.file(w, form))} {w}w" for w in widths)


def ready_photo(photos: Photos, design: str, file: str) -> PagePhoto | None:
    """The photo that the write-up ``design`` names as ``file``; None if it cannot be shown."""
    return photos.get(path_in_notebook(file, design.rpartition("/")[0]) or "")


def shown_in_prose(here: Address, photo: PagePhoto) -> ShownPicture:
    """The attributes of a photo's <img> in the maker's prose, and of its AVIF <source> or None."""
    shown = picture(here, photo, "", sizes=COLUMN)
    image = {"src": shown.src, "srcset": shown.srcset, "sizes": shown.sizes}
    image |= {"width": str(shown.width), "height": str(shown.height)}
    image |= {"loading": "lazy", "decoding": "async"}
    if not shown.modern:
        return image, None
    return image, {"type": MODERN_TYPE, "srcset": shown.modern, "sizes": shown.sizes}
