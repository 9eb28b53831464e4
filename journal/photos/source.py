"""Opening a photo as it comes from a phone, whatever is wrong with it.

The kind of a file is told by its first bytes, not by its name. A photo that cannot be used raises
one PhotoProblem with a hint; what can be put right is put right and said in a note.
No photo takes more than about 450 MiB (measured at the limits below), whatever its size.
"""

from __future__ import annotations

import re
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from msgspec import Struct

from journal.errors import HintedError

if TYPE_CHECKING:
    from PIL import Image, ImageCms, ImageFile
    from PIL.JpegImagePlugin import JpegImageFile

_SAVE_AS = "Save a copy of it as JPEG or PNG and name that"
_TAKE_AGAIN = "Copy it from the phone once more, or take it out of the write-up"

#: Pixels that are in memory at once: the largest picture that a phone writes as HEIC.
MOST_PIXELS = 50_000_000
#: The same for WebP, whose decoder keeps the picture three times over.
MOST_PIXELS_IN_WEBP = 25_000_000
#: Pixels in the file of a plain JPEG, which is decoded at a half, a quarter or an eighth.
MOST_PIXELS_IN_JPEG = 400_000_000


def picture_libraries() -> str:
    """The libraries that read photos, with versions: another may read more, or other pixels."""
    import PIL

    versions = [f"Pillow {PIL.__version__}"]
    with suppress(PackageNotFoundError):
        versions.append(f"pillow-heif {version('pillow-heif')}")
    return ", ".join(versions)


class PhotoProblem(HintedError, ValueError):
    """A photo cannot be used, and why; the caller adds its place."""


class PhotoSize(Struct, frozen=True):
    """Width and height of a photo held upright, in pixels, and what kind of file it is."""

    width: int
    height: int
    kind: str


@lru_cache(maxsize=1)
def _quiet_jpeg_class() -> type[JpegImageFile]:
    """A class of JPEG that leaves tags unread: they are dropped, and broken ones would warn."""
    from PIL.JpegImagePlugin import JpegImageFile

    class Quiet(JpegImageFile):
        def _read_dpi_from_exif(self) -> None:
            pass

    return Quiet


# What a file is by its first bytes. JPEG: ITU-T T.81; PNG: W3C; RIFF/WebP: RFC 9649; "ftyp"
# boxes: ISO/IEC 14496-12 with the brands of ISO/IEC 23008-12.
_HEIC_BRANDS = frozenset((b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"))
_FOREIGN = (
    (b"GIF8", "a GIF, which holds no more than 256 colours"),
    (b"BM", "a BMP picture"),
    (b"II*\0", "a TIFF or a camera's raw file"),
    (b"MM\0*", "a TIFF or a camera's raw file"),
    (b"%PDF", "a PDF"),
    (b"<", "a web page or a drawing, not a photo"),
    (b"PK", "a packed folder, not a photo"),
)


def _kind(path: Path, head: bytes) -> str:
    """The kind of a photo by the first bytes of its file; PhotoProblem for anything else."""
    if not head:
        raise PhotoProblem(f'the photo "{path.name}" is empty (0 bytes)', _TAKE_AGAIN)
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "WebP"
    if head[4:8] == b"ftyp":
        brand = head[8:12]
        if brand in (b"avif", b"avis"):
            raise PhotoProblem(f'the photo "{path.name}" is an AVIF', _SAVE_AS)
        if brand in _HEIC_BRANDS:
            return "HEIC"
        raise PhotoProblem(
            f'"{path.name}" is a film, not a photo', "Save one picture of it as JPEG and name that"
        )
    for start, name in _FOREIGN:
        if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(start):
            raise PhotoProblem(f'the photo "{path.name}" is {name}', _SAVE_AS)
    raise PhotoProblem(f'"{path.name}" is no photo that can be read here', _SAVE_AS)


def _webp_size(head: bytes) -> tuple[int, int]:
    """Size of a WebP's canvas, from its first 30 bytes: the decoder takes its memory at once.

    Source: RFC 9649 sections 2.5 to 2.7
    """
    if len(head) < 30:
        return 0, 0
    if head[12:16] == b"VP8X":
        return 1 + int.from_bytes(head[24:27], "little"), 1 + int.from_bytes(head[27:30], "little")
    if head[12:16] == b"VP8L":
        bits = int.from_bytes(head[21:25], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    width, height = struct.unpack("<HH", head[26:30])
    return width & 0x3FFF, height & 0x3FFF


def _refuse_too_large(path: Path, width: int, height: int, most: int) -> None:
    """Raise PhotoProblem for a photo of more than ``most`` pixels."""
    if width * height > most:
        raise PhotoProblem(
            f'the photo "{path.name}" is {width} x {height} pixels, more than can be opened safely',
            f"Save a copy with no more than {most // 1_000_000} million pixels",
        )


def _open_heic(path: Path, file: BinaryIO) -> ImageFile.ImageFile:
    """Open a HEIC photo; PhotoProblem if the library for it is not installed."""
    try:
        from pillow_heif import HeifImageFile
    except ImportError:
        raise PhotoProblem(
            f'the photo "{path.name}" is HEIC, and what reads HEIC is not installed',
            'Install the extra "heic" (pip install "soap-design-journal[heic]"), '
            "or save a copy of the photo as JPEG",
        ) from None
    image: ImageFile.ImageFile = HeifImageFile(file, str(path))  # type: ignore[no-untyped-call]
    return image


# Exif 2.3: which way the picture is held, where the camera's own directory begins, the focal
# length as on 35 mm film, when the picture was taken, and when the file was last changed.
# Nothing else is read out of the tags, and nothing is kept.
_ORIENTATION = 0x0112
_CAMERA_DIRECTORY = 0x8769
_FOCAL_35_MM = 0xA405
_TAKEN = 0x9003
_CHANGED = 0x0132
_EXIF_TIME = "%Y:%m:%d %H:%M:%S"


def _exif_tag(image: Image.Image, tag: int) -> Any:
    """The value of one EXIF tag, of the picture's own directory or else of the camera's.

    None where the tag is missing or the block is broken.
    """
    from PIL.Image import Exif

    # the library warns of broken tags, which changes nothing here
    warnings.filterwarnings("ignore", module=r"PIL\.TiffImagePlugin")
    exif = Exif()
    # what a broken block makes it stumble on: struct.error, ValueError, SyntaxError and more
    with suppress(Exception):
        exif.load(image.info.get("exif") or b"")
        return exif[tag] if tag in exif else exif.get_ifd(_CAMERA_DIRECTORY).get(tag)
    return None


# The turn that shows a stored picture upright. Exif 2.3, tag 0x0112.
_TURNS = {
    2: "FLIP_LEFT_RIGHT", 3: "ROTATE_180", 4: "FLIP_TOP_BOTTOM", 5: "TRANSPOSE",
    6: "ROTATE_270", 7: "TRANSVERSE", 8: "ROTATE_90",
}  # fmt: skip


class OpenedPhoto(Struct, frozen=True):
    """An opened photo: not decoded yet, its pixels as stored."""

    path: Path
    kind: str
    image: ImageFile.ImageFile
    orientation: int
    notes: tuple[str, ...]
    focal_35_mm: float | None

    @property
    def turned(self) -> bool:
        """Whether width and height change places when the photo is held upright."""
        return self.orientation >= 5

    @property
    def size(self) -> PhotoSize:
        """The size of the upright photo, before any drafting."""
        width, height = self.image.size
        return PhotoSize(*((height, width) if self.turned else (width, height)), self.kind)

    def upright(self, picture: Image.Image) -> Image.Image:
        """A picture made from this photo's stored pixels, turned upright."""
        from PIL import Image

        turn = _TURNS.get(self.orientation)
        return picture if turn is None else picture.transpose(Image.Transpose[turn])


@contextmanager
def _refusing_truncated() -> Iterator[None]:
    """Make Pillow refuse pictures that are cut short, whatever other libraries set."""
    from PIL import ImageFile

    before = ImageFile.LOAD_TRUNCATED_IMAGES
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = before


@contextmanager
def open_photo(path: Path) -> Iterator[OpenedPhoto]:
    """Open a photo for the block; only its head is read.

    Every failure of a decoder, here or in the block, comes out as a PhotoProblem.
    """
    try:
        with path.open("rb") as file, _refusing_truncated():
            yield _open_by_kind(path, file)
    except PhotoProblem:
        raise
    except FileNotFoundError:
        raise PhotoProblem(
            f'there is no photo "{path.name}"', "Put the file there, or mend its name"
        ) from None
    except (IsADirectoryError, PermissionError) as failure:
        raise PhotoProblem(
            f'the photo "{path.name}" cannot be opened ({failure.strerror})',
            "Check that it is a file and may be read",
        ) from None
    except MemoryError:
        raise PhotoProblem(
            f'the photo "{path.name}" takes more memory than there is', "Save a smaller copy of it"
        ) from None
    except Exception as failure:
        # Decoders raise whatever a broken file makes them stumble on: OSError, SyntaxError,
        # ValueError, struct.error, zlib.error, IndexError and more.
        message = " ".join(str(failure).split())[:120] or type(failure).__name__
        raise PhotoProblem(
            f'the photo "{path.name}" is broken or cut short ({message})', _TAKE_AGAIN
        ) from failure


def _open_by_kind(path: Path, file: BinaryIO) -> OpenedPhoto:
    """Open a photo by the kind that its head tells, check its size and read its tags."""
    from PIL.PngImagePlugin import PngImageFile
    from PIL.WebPImagePlugin import WebPImageFile

    head = file.read(64)
    kind = _kind(path, head)
    file.seek(0)
    notes: list[str] = []
    image: ImageFile.ImageFile
    if kind == "JPEG":
        image = _quiet_jpeg_class()(file, str(path))
    elif kind == "PNG":
        image = PngImageFile(file, str(path))
    elif kind == "WebP":
        _refuse_too_large(path, *_webp_size(head), MOST_PIXELS_IN_WEBP)
        image = WebPImageFile(file, str(path))
    else:
        image = _open_heic(path, file)
    plain = kind == "JPEG" and not image.info.get("progressive")
    _refuse_too_large(path, *image.size, MOST_PIXELS_IN_JPEG if plain else MOST_PIXELS)
    if kind in ("PNG", "WebP") and getattr(image, "is_animated", False):
        notes.append("a moving picture: only its first image is used")
    orientation = _exif_tag(image, _ORIENTATION)
    if kind == "HEIC" or orientation not in range(1, 9):
        orientation = 1  # the decoder of HEIC has turned the picture upright itself
    focal = _exif_tag(image, _FOCAL_35_MM)
    focal_35_mm = float(focal) if isinstance(focal, int) and focal else None
    return OpenedPhoto(path, kind, image, orientation, tuple(notes), focal_35_mm)


def taken_at(path: Path) -> str:
    """``time_taken`` as text, such as "2026:04:18 09:30:00"; "" also for what is no photo."""
    try:
        moment = time_taken(path)
    except PhotoProblem:
        return ""
    return "" if moment is None else moment.strftime(_EXIF_TIME)


def time_taken(path: Path) -> datetime | None:
    """The time a photo was taken at by the camera's clock; None where it does not say.

    It is read to put photos in order and to find their pour; it is never kept.
    Fails:  PhotoProblem for what is no photo that can be read
    """
    with open_photo(path) as source:
        for tag in (_TAKEN, _CHANGED):
            moment = str(_exif_tag(source.image, tag)).rstrip("\0 ")
            if re.fullmatch(r"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d", moment):
                with suppress(ValueError):
                    return datetime.strptime(moment, _EXIF_TIME)
    return None


def photo_size(path: Path) -> PhotoSize:
    """The upright size of a photo, from its head alone; nothing is decoded."""
    with open_photo(path) as source:
        return source.size


def draft_decoder(source: OpenedPhoto, width: int, *, as_stored: bool = False) -> int:
    """Tell the decoder how wide a picture is needed; gives how many pixels it will then decode.

    A JPEG decodes at a half, a quarter or an eighth when that is still wide enough, which is
    faster and takes less memory.

    Takes:  width      pixels of the upright photo; at least this many are kept where it has them
            as_stored  leave the colours of a JPEG as Y, Cb and Cr
    Fails:  PhotoProblem if that would take too much memory
    """
    image = source.image
    full_width, full_height = image.size
    if source.kind == "JPEG":
        upright = full_height if source.turned else full_width
        share = min(1.0, width / upright)
        size = max(1, round(full_width * share)), max(1, round(full_height * share))
        image.draft("YCbCr" if as_stored else None, size)
    _refuse_too_large(source.path, *image.size, MOST_PIXELS)
    return image.size[0] * image.size[1]


#: Bytes that a decoder holds for a pixel of the picture that it gives, as measured: the picture
#: library keeps four of RGB, and what comes from a whole file at once is there twice or more often.
_BYTES_A_PIXEL = {"JPEG": 4, "PNG": 5, "WebP": 15, "HEIC": 7}


def decoder_bytes(source: OpenedPhoto, whole: PhotoSize, pixels: int) -> int:
    """About how many bytes decoding a photo takes.

    Takes:  whole   its size before it was drafted
            pixels  what ``draft_decoder`` returned
    Source: a progressive JPEG is held whole as coefficients of two bytes, however small it is
            decoded (ITU-T T.81, G.1.1; the library's buffer for several scans)
    """
    size = _BYTES_A_PIXEL[source.kind] * pixels
    if source.image.info.get("progressive"):
        # Rows of (name, samples across, samples down, table), a component each.
        layers: list[tuple[int, int, int, int]] = getattr(source.image, "layer", [])
        finest = max((across * down for _, across, down, _ in layers), default=1)
        samples = sum(across * down for _, across, down, _ in layers)
        size += 2 * whole.width * whole.height * samples // finest
    return size


def decode_pixels(source: OpenedPhoto) -> Image.Image:
    """The stored pixels, not turned, in one of four modes that can be resampled: L, RGB, RGBA,
    CMYK.
    """
    image = source.image
    image.load()
    if image.mode in ("L", "RGB", "RGBA", "CMYK"):
        if image.mode in ("L", "RGB") and "transparency" in image.info:
            return image.convert("RGBA")
        return image
    if image.mode == "I" or image.mode.startswith("I;16"):
        # 16 bits, 65535 to 255; the half rounds where the conversion would cut off
        return image.point(lambda value: value * (1 / 257) + 0.5).convert("L")
    if image.mode == "1":
        return image.convert("L")
    if image.mode in ("LA", "PA", "La", "RGBa") or "transparency" in image.info:
        return image.convert("RGBA")
    return image.convert("RGB")


@lru_cache(maxsize=16)
def _srgb_transform(profile: bytes, mode: str) -> ImageCms.ImageCmsTransform | None:
    """The transform from a profile to sRGB, or None; cached, as photos of a phone share one."""
    from PIL import ImageCms

    try:
        embedded = ImageCms.ImageCmsProfile(BytesIO(profile))
        return ImageCms.buildTransform(
            embedded,
            ImageCms.createProfile("sRGB"),
            mode,
            "RGB",
            ImageCms.Intent.RELATIVE_COLORIMETRIC,
            ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None


def convert_to_srgb(
    source: OpenedPhoto, picture: Image.Image
) -> tuple[Image.Image, tuple[str, ...]]:
    """A picture of this photo in sRGB, L or RGB, with notes on what could not be kept true.

    It has no tags left, and a transparent part is laid on white.
    """
    from PIL import Image, ImageCms

    notes: tuple[str, ...] = ()
    alpha = picture.getchannel("A") if picture.mode == "RGBA" else None
    inks = picture.convert("RGB") if alpha is not None else picture
    profile = source.image.info.get("icc_profile")
    if profile:
        transform = _srgb_transform(profile, inks.mode)
        if transform is not None:
            inks = ImageCms.applyTransform(inks, transform) or inks
        else:
            notes = ("its colour profile cannot be used: colours are shown as if it had none",)
    if inks.mode == "CMYK":
        inks = inks.convert("RGB")
        if not profile:
            notes = ("CMYK without a colour profile: its colours are rough",)
    if alpha is not None:
        paper = Image.new("RGB", inks.size, (255, 255, 255))
        paper.paste(inks, mask=alpha)
        inks = paper
    bare = inks.copy() if inks is source.image else inks
    bare.info = {}
    return bare, notes
