"""A photo made ready for the notebook: three widths, upright, sRGB, bare of every tag.

JPEG, quality 82, for every browser and for paper, and AVIF beside it for some editions. A photo
is never enlarged, so a small one has its own width in place of those above it.

At the structural similarity (SSIM) of JPEG 82, over pictures 1600 wide (synthetic photos /
renders of bars), AVIF at speed 9 took 0.72 / 0.83 of the bytes and 12 / 17 times the encoding;
WebP took 0.93 / 1.06 and 25 / 32 times, progressive JPEG 0.92 / 0.93 and 4 times, JPEG with its
codes chosen for the picture 0.94 / 0.95 and twice. AVIF serves those who fetch a notebook (34 %
fewer bytes), not a folder on the studio's disk.

A JPEG is decoded at the largest of 1/1, 1/2, 1/4, 1/8 that is wide enough, shrunk with LANCZOS
from width to width, and its colours are turned to sRGB once it is small. From 1600 to 800,
exactly a half, each pixel is the mean of four: a tenth of the time of LANCZOS, and no further
(SSIM 0.994) from LANCZOS on the whole photo than the 1600 itself is. Photos are made in threads:
decoders, resampler and encoders release the interpreter's lock. Encoders run in one thread each,
so the same photo gives the same bytes.
"""

from __future__ import annotations

import hashlib
import threading
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from msgspec import Struct

from journal.photos.source import (
    OpenedPhoto,
    PhotoProblem,
    convert_to_srgb,
    decode_pixels,
    decoder_bytes,
    draft_decoder,
    open_photo,
)

if TYPE_CHECKING:
    from PIL import Image

WIDTHS = (1600, 800, 320)
"""Widths of the renditions, in pixels of the upright photo; the largest first."""

_JPEG_QUALITY = 82
# At this AVIF is no further from the original than JPEG 82 by SSIM (it came level between 71
# and 79 over the pictures above).
_AVIF_QUALITY = 76
_AVIF_SPEED = 9

# Part of every digest, so that a changed recipe makes new files; its number is to be raised by
# hand when something changes that is not among the others.
_RECIPE = f"renditions 1; {WIDTHS}; JPEG {_JPEG_QUALITY}; AVIF {_AVIF_QUALITY} speed {_AVIF_SPEED}"

RenditionFormat = Literal["jpeg", "avif"]

# How a rendition is written in each format; the modern one comes first.
_OPTIONS: Mapping[RenditionFormat, Mapping[str, Any]] = {
    "avif": {"quality": _AVIF_QUALITY, "speed": _AVIF_SPEED, "max_threads": 1},
    "jpeg": {"quality": _JPEG_QUALITY, "optimize": True},
}


class Rendition(Struct, frozen=True):
    """One file made from a photo."""

    width: int
    height: int
    format: RenditionFormat
    content: bytes


class PreparedPhoto(Struct, frozen=True):
    """A photo made ready for the notebook: its size, its digest and its renditions.

    ``width`` and ``height`` are the upright photo's own, ``renditions`` run from wide to narrow
    with the modern format first at each width; ``notes`` say what was put right.
    """

    width: int
    height: int
    digest: str
    renditions: tuple[Rendition, ...]
    notes: tuple[str, ...] = ()


def modern_format() -> bool:
    """Whether AVIF can be written here: the picture library may be built without it."""
    from PIL import features

    return features.check("avif") is True


def rendition_sizes(width: int, height: int) -> tuple[tuple[int, int], ...]:
    """The sizes made from a photo of a given upright size in pixels, the largest first."""
    widths = sorted({min(width, wanted) for wanted in WIDTHS}, reverse=True)
    return tuple((wide, max(1, round(height * wide / width))) for wide in widths)


def photo_digest(path: Path) -> str:
    """A digest of a photo's content and of the way its renditions are made, as 32 hex digits.

    Source: BLAKE2b (RFC 7693), 128 bits
    """
    try:
        with path.open("rb") as file:
            start = hashlib.blake2b(_RECIPE.encode(), digest_size=16)
            return hashlib.file_digest(file, start.copy).hexdigest()
    except OSError as failure:
        raise PhotoProblem(
            f'the photo "{path.name}" cannot be read ({failure.strerror})',
            "Put the file there, or mend its name",
        ) from None


def prepare_photo(
    path: Path, *, modern: bool = True, large: Executor | None = None
) -> PreparedPhoto:
    """Make one photo in up to three widths, upright, in sRGB, bare of every tag.

    The same photo gives the same bytes. AVIF is made beside JPEG if it is ``modern`` and can be
    written here; ``large`` is the one thread for photos of more than half of MOST_HELD_BYTES.
    """
    name = photo_digest(path)
    with open_photo(path) as source:
        size = source.size
        sizes = rendition_sizes(size.width, size.height)
        needed = decoder_bytes(source, size, draft_decoder(source, sizes[0][0]))
        with _memory.reserved(needed):
            if large is None or 2 * needed <= MOST_HELD_BYTES:
                picture, notes = _decoded(source, sizes[0])
            else:
                picture, notes = large.submit(_decoded, source, sizes[0]).result()
        picture = source.upright(picture)
        renditions: list[Rendition] = []
        for width, height in sizes:
            picture = _shrunk(picture, (width, height))
            picture.info = {}
            for form, options in _OPTIONS.items():
                if form == "jpeg" or (modern and modern_format()):
                    out = BytesIO()
                    picture.save(out, form, **options)
                    renditions.append(Rendition(width, height, form, out.getvalue()))
        return PreparedPhoto(size.width, size.height, name, tuple(renditions), source.notes + notes)


def _decoded(source: OpenedPhoto, size: tuple[int, int]) -> tuple[Image.Image, tuple[str, ...]]:
    """Decode the largest rendition, in sRGB and not turned yet, with notes; closes the photo."""
    picture = _shrunk(decode_pixels(source), size[::-1] if source.turned else size)
    picture_and_notes = convert_to_srgb(source, picture)
    source.image.close()
    return picture_and_notes


class _MemoryBudget:
    """Makes a large photo wait until there is memory for it beside those in work.

    Bounds the memory of many threads by ``most`` bytes, or by that of one photo that takes more
    by itself.
    """

    def __init__(self, most: int) -> None:
        self._most, self._used = most, 0
        self._change = threading.Condition()

    @contextmanager
    def reserved(self, more: int) -> Iterator[None]:
        """Wait until ``more`` bytes are free, and reserve them for the block."""
        with self._change:
            self._change.wait_for(lambda: self._used == 0 or self._used + more <= self._most)
            self._used += more
        try:
            yield
        finally:
            with self._change:
                self._used -= more
                self._change.notify_all()


#: Bytes of photos that are decoded at once: two of 12 megapixels as phones and cameras write them.
MOST_HELD_BYTES = 100_000_000

_memory = _MemoryBudget(MOST_HELD_BYTES)


def _shrunk(picture: Image.Image, size: tuple[int, int]) -> Image.Image:
    """A picture at another size: by the mean of four pixels where that is exactly a half."""
    from PIL import Image

    if picture.size == size:
        return picture
    width, height = picture.size
    if width == 2 * size[0] and (height + 1) // 2 == size[1]:
        return picture.reduce(2)
    return picture.resize(size, Image.Resampling.LANCZOS)


def prepare_photos(
    paths: Sequence[Path], *, modern: bool = True, workers: int
) -> Iterator[tuple[Path, PreparedPhoto | PhotoProblem]]:
    """Prepare many photos, several at a time; one that cannot be used gives its problem.

    Results come in the order of the paths and are not kept here: memory holds the photos that are
    being made and at most two a worker that wait to be fetched.
    """
    # The allocator keeps what a thread let go of for that thread: large photos share one.
    with (
        ThreadPoolExecutor(1, thread_name_prefix="photo-large") as large,
        ThreadPoolExecutor(workers, thread_name_prefix="photo") as pool,
    ):
        waiting: deque[tuple[Path, Future[PreparedPhoto]]] = deque()
        rest = iter(paths)
        try:
            while True:
                while len(waiting) < 3 * workers and (path := next(rest, None)) is not None:
                    waiting.append(
                        (path, pool.submit(prepare_photo, path, modern=modern, large=large))
                    )
                if not waiting:
                    return
                path, future = waiting.popleft()
                try:
                    result: PreparedPhoto | PhotoProblem = future.result()
                except PhotoProblem as problem:
                    result = problem
                yield path, result
        finally:
            for _, future in waiting:
                future.cancel()
