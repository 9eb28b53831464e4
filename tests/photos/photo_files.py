"""Photo files made for the tests: turned, private, broken, odd."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms, PngImagePlugin

# Which stored picture does each orientation show upright? Exif 2.3, tag 0x0112; turned back
# from what reference/11-exif-orientation.csv says is to be done for display.
TURNED_BACK = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}

QUARTERS = ((200, 40, 40), (40, 180, 60), (50, 60, 200), (230, 220, 90))
"""Colours of the quarters of the upright picture: left top, right top, left below, right below."""


def quarters(width: int = 64, height: int = 48) -> Image.Image:
    """An upright picture whose four quarters differ, so that every turn shows."""
    codes = np.zeros((height, width, 3), np.uint8)
    codes[: height // 2, : width // 2] = QUARTERS[0]
    codes[: height // 2, width // 2 :] = QUARTERS[1]
    codes[height // 2 :, : width // 2] = QUARTERS[2]
    codes[height // 2 :, width // 2 :] = QUARTERS[3]
    return Image.fromarray(codes)


def corners_of(image: Image.Image) -> tuple[tuple[int, ...], ...]:
    """Colours in the middle of the four quarters."""
    seen = image.convert("RGB")
    width, height = seen.size
    at = [(x, y) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)]
    return tuple(seen.getpixel(place) for place in at)


def smooth_photo(width: int, height: int, seed: int = 1) -> Image.Image:
    """Something with soft shading and some grain, as a photo has."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    codes = np.stack(
        [
            128 + 70 * np.sin(x / width * (4 + channel) + y / height * 3) + 20 * np.cos(y / 9)
            for channel in range(3)
        ],
        axis=-1,
    )
    codes += rng.standard_normal(codes.shape, dtype=np.float32) * 3
    return Image.fromarray(np.clip(codes, 0, 255).astype(np.uint8))


def exif_of(**values: object) -> bytes:
    """An EXIF block with an orientation and whatever else."""
    exif = Image.Exif()
    exif[0x0112] = values.get("orientation", 1)
    camera = exif.get_ifd(0x8769)
    if "taken" in values:
        camera[0x9003] = values["taken"]
    if "focal_35_mm" in values:
        camera[0xA405] = values["focal_35_mm"]
    return exif.tobytes()


def write_turned(path: Path, orientation: int, form: str) -> Path:
    """The quarters, stored so that this orientation shows them upright."""
    picture = quarters()
    turn = TURNED_BACK[orientation]
    stored = picture if turn is None else picture.transpose(turn)
    more = {"quality": 95} if form in ("JPEG", "WEBP", "HEIF") else {}
    stored.save(path, form, exif=exif_of(orientation=orientation), **more)
    return path


# ------------------------------------------------------------------ private

SECRETS = (
    b"Gullhaven",  # where
    b"Palmwright",  # who
    b"Obscurograph",  # which camera
    b"SN-4471-QX",  # its number
    b"2026:04:18",  # when
    b"secret comment",
    b"maker only",
)
"""Words that stand in the tags of a private photo and in nothing made from it."""

LATITUDE = ((47, 1), (13, 1), (4159, 100))
"""Degrees, minutes and seconds whose bytes are looked for as well."""


def private_exif() -> bytes:
    """EXIF with a position, an owner, a camera, times, a maker's note and an embedded preview."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010E] = "Gullhaven kitchen"
    exif[0x010F] = "Obscurograph"
    exif[0x0110] = "Obscurograph 3"
    exif[0x0132] = "2026:04:18 09:30:00"
    exif[0x013B] = "R. Palmwright"
    exif[0x8298] = "(c) R. Palmwright"
    camera = exif.get_ifd(0x8769)
    camera[0x9003] = "2026:04:18 09:30:00"
    camera[0x927C] = b"maker only \x00\x01\x02" * 20
    camera[0x9286] = b"ASCII\0\0\0secret comment"
    camera[0xA430] = "R. Palmwright"
    camera[0xA431] = "SN-4471-QX"
    camera[0xA435] = "SN-4471-QX"
    camera[0xA420] = "SN-4471-QX"
    position = exif.get_ifd(0x8825)
    position[0x0001] = "N"
    position[0x0002] = tuple(part / whole for part, whole in LATITUDE)
    position[0x001B] = b"Gullhaven"
    position[0x001D] = "2026:04:18"
    return exif.tobytes()


def tagged_exif(tags: Mapping[str, Mapping[int, bytes]]) -> bytes:
    """EXIF written by hand, every tag a text: by directory (image, camera, position, preview).

    The preview is a picture of its own, to which 0x0201 points; its text stands in it.
    TIFF 6.0: an entry is tag, type, count, and the value's place.
    """
    block = bytearray(b"II*\0" + struct.pack("<I", 8))

    def directory(entries: Mapping[int, tuple[int, bytes | int]]) -> int:
        """Write it; gives where the place of the next directory stands."""
        at = len(block)
        block.extend(bytes(2 + 12 * len(entries) + 4))
        struct.pack_into("<H", block, at, len(entries))
        for place, (tag, (kind, value)) in enumerate(sorted(entries.items())):
            if isinstance(value, bytes):
                count, number = len(value), len(block)
                block.extend(value)
            else:
                count, number = 1, value
            struct.pack_into("<HHII", block, at + 2 + 12 * place, tag, kind, count, number)
        return at + 2 + 12 * len(entries)

    texts = {
        name: {tag: (2, text + b"\0") for tag, text in own.items()} for name, own in tags.items()
    }
    pointers = {0x8769: (4, 0), 0x8825: (4, 0)}
    following = directory({**texts["image"], **pointers})
    for tag, name in ((0x8769, "camera"), (0x8825, "position")):
        entry = block.index(struct.pack("<HHII", tag, 4, 1, 0))
        struct.pack_into("<I", block, entry + 8, len(block))
        directory(texts[name])
    (preview,) = tags["preview"].values()
    start = len(block)
    block.extend(b"\xff\xd8" + preview + b"\xff\xd9")
    struct.pack_into("<I", block, following, len(block))
    directory({0x0201: (4, start), 0x0202: (4, len(preview) + 4)})
    return b"Exif\0\0" + bytes(block)


XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF><dc:creator>R. Palmwright</dc:creator>'
    b"<exif:GPSLatitude>Gullhaven</exif:GPSLatitude></rdf:RDF></x:xmpmeta>"
)


def write_private(path: Path, form: str) -> Path:
    """A photo that carries everything that must not get out, in every place for it."""
    picture = smooth_photo(360, 240)
    exif = private_exif()
    if form == "JPEG":
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=90, exif=exif, comment=b"secret comment", xmp=XMP)
        block = b"Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x14\x1c\x02P\x00\x0aPalmwright"
        thumb = io.BytesIO()
        picture.resize((90, 60)).save(thumb, "JPEG", comment=b"secret comment")
        # an extended block as cameras use for their own notes and previews
        extra = b"Obscurograph preview\0" + thumb.getvalue()[:3000]
        parts = [out.getvalue()[:2]]
        for marker, content in ((0xED, block), (0xE7, extra)):
            parts.append(struct.pack(">BBH", 0xFF, marker, len(content) + 2) + content)
        path.write_bytes(b"".join([*parts, out.getvalue()[2:]]))
    elif form == "PNG":
        texts = PngImagePlugin.PngInfo()
        texts.add_text("Author", "R. Palmwright")
        texts.add_itxt("XML:com.adobe.xmp", XMP.decode(), zip=False)
        texts.add_text("Comment", "secret comment", zip=True)
        picture.save(path, "PNG", exif=exif, pnginfo=texts)
    elif form == "WEBP":
        picture.save(path, "WEBP", exif=exif, xmp=XMP, quality=90)
    else:
        import pillow_heif

        heif = pillow_heif.from_pillow(picture)
        heif.save(path, quality=80, exif=exif, xmp=XMP)
    return path


# ------------------------------------------------------------------ colour profiles


def _fixed(value: float) -> bytes:
    return struct.pack(">i", round(value * 65536))


def wide_profile(gamma: float = 1.8) -> bytes:
    """A colour profile with other primaries and another curve than sRGB, built by hand.

    ICC.1:2001-04, a monitor profile of matrix and curves: ten tags of which three curves share
    their bytes. The columns are XYZ relative to D50 and sum to it.
    """
    columns = (
        (0.51512, 0.24120, -0.00105),
        (0.29198, 0.69225, 0.04189),
        (0.15710, 0.06657, 0.78407),
    )
    white = (0.96420, 1.0, 0.82491)

    def xyz(values: tuple[float, ...]) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(map(_fixed, values))

    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    words = b"wide for tests\0"
    text = b"desc\0\0\0\0" + struct.pack(">I", len(words)) + words + b"\0" * 78
    text += b"\0" * (-len(text) % 4)
    body = {
        b"desc": text,
        b"cprt": b"text\0\0\0\0none\0\0\0\0",
        b"wtpt": xyz(white),
        b"rXYZ": xyz(columns[0]),
        b"gXYZ": xyz(columns[1]),
        b"bXYZ": xyz(columns[2]),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    table, content = struct.pack(">I", len(body)), b""
    start = 128 + 4 + 12 * len(body)
    for name, value in body.items():
        table += name + struct.pack(">II", start + len(content), len(value))
        content += value
    size = start + len(content)
    head = struct.pack(">I4sI4s4s4s12s4s", size, b"none", 0x02400000, b"mntr", b"RGB ", b"XYZ ",
                       struct.pack(">6H", 2026, 1, 1, 0, 0, 0), b"acsp")  # fmt: skip
    head += b"\0" * (68 - len(head)) + b"".join(map(_fixed, white))
    head += b"\0" * (128 - len(head))
    profile = head + table + content
    ImageCms.ImageCmsProfile(io.BytesIO(profile))  # it must be readable
    return profile


# ------------------------------------------------------------------ lies about size


def claiming_png(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims to be huge."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = zlib.crc32(kind + content)
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\0" * 1000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


def claiming_jpeg(width: int, height: int, *, progressive: bool = False) -> bytes:
    """A small JPEG whose frame claims to be huge."""
    out = io.BytesIO()
    quarters(16, 16).save(out, "JPEG", progressive=progressive)
    data = out.getvalue()
    at = data.index(b"\xff\xc2" if progressive else b"\xff\xc0")
    return data[: at + 5] + struct.pack(">HH", height, width) + data[at + 9 :]


def claiming_webp(width: int, height: int) -> bytes:
    """An extended WebP whose canvas claims to be huge."""
    canvas = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    chunk = b"VP8X" + struct.pack("<I", 10) + b"\x02\0\0\0" + canvas
    return b"RIFF" + struct.pack("<I", len(chunk) + 4) + b"WEBP" + chunk
