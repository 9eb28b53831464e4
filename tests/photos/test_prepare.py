"""Photos made ready: upright, sRGB, bare, in three widths, whatever they were."""

from __future__ import annotations

import csv
import io
import os
import struct
import subprocess
import sys
import threading

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from long_run import examples
from paths import PROJECT, REFERENCE
from photos import photo_files
from PIL import ExifTags, Image, ImageFile

from journal.photos import prepare
from journal.photos.prepare import (
    PreparedPhoto,
    photo_digest,
    prepare_photo,
    prepare_photos,
    rendition_sizes,
)
from journal.photos.source import PhotoProblem, decoder_bytes, draft_decoder, open_photo

FORMS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "HEIF": "heic"}
# two lossy steps and halved colour, on flat quarters
CODES = 8


@pytest.fixture(scope="module", autouse=True)
def heic_can_be_written():
    pillow_heif = pytest.importorskip("pillow_heif")
    pillow_heif.register_heif_opener()


def shown(rendition: prepare.Rendition) -> Image.Image:
    image = Image.open(io.BytesIO(rendition.content))
    image.load()
    return image


def assert_corners(image: Image.Image, wanted: tuple[tuple[int, ...], ...], codes: int) -> None:
    for seen, true in zip(photo_files.corners_of(image), wanted, strict=True):
        assert np.abs(np.subtract(seen, true)).max() <= codes, (seen, true)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_is_shown_upright(tmp_path, form, orientation):
    path = photo_files.write_turned(tmp_path / f"p.{FORMS[form]}", orientation, form)
    photo = prepare_photo(path)
    assert (photo.width, photo.height) == (64, 48)
    for rendition in photo.renditions:
        assert shown(rendition).size == (rendition.width, rendition.height) == (64, 48)
        assert_corners(shown(rendition), photo_files.QUARTERS, CODES)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_heic_is_shown_upright(tmp_path, orientation):
    photo = prepare_photo(photo_files.write_turned(tmp_path / "p.heic", orientation, "HEIF"))
    assert (photo.width, photo.height) == (64, 48)
    # its own lossy step comes on top
    assert_corners(shown(photo.renditions[-1]), photo_files.QUARTERS, 2 * CODES)


def test_a_large_turned_photo_is_drafted_for_its_upright_width(tmp_path):
    path = tmp_path / "p.jpg"
    picture = photo_files.quarters(1800, 3400).transpose(Image.Transpose.ROTATE_90)
    picture.save(path, quality=90, exif=photo_files.exif_of(orientation=6))
    photo = prepare_photo(path, modern=False)
    assert (photo.width, photo.height) == (1800, 3400)
    assert [(r.width, r.height) for r in photo.renditions] == [
        (1600, 3022),
        (800, 1511),
        (320, 604),
    ]
    for rendition in photo.renditions:
        assert_corners(shown(rendition), photo_files.QUARTERS, CODES)


@pytest.mark.parametrize(
    ("size", "sizes"),
    [
        ((4032, 3024), ((1600, 1200), (800, 600), (320, 240))),
        ((3024, 4032), ((1600, 2133), (800, 1067), (320, 427))),
        ((1600, 1200), ((1600, 1200), (800, 600), (320, 240))),
        ((1000, 10), ((1000, 10), (800, 8), (320, 3))),
        ((800, 600), ((800, 600), (320, 240))),
        ((320, 240), ((320, 240),)),
        ((20, 9000), ((20, 9000),)),
        ((9000, 1), ((1600, 1), (800, 1), (320, 1))),
    ],
)
def test_widths_are_three_and_never_more_than_the_photo_has(size, sizes):
    assert rendition_sizes(*size) == sizes


@given(st.integers(1, 60_000), st.integers(1, 60_000))
def test_sizes_keep_the_shape(width, height):
    for wide, high in rendition_sizes(width, height):
        assert wide <= width
        assert abs(high - height * wide / width) <= 0.5 or high == 1


def test_both_formats_at_every_width_and_known_sizes(tmp_path):
    path = tmp_path / "p.jpg"
    photo_files.smooth_photo(2000, 1500).save(path, quality=88)
    photo = prepare_photo(path)
    made = [(r.width, r.height, r.format) for r in photo.renditions]
    assert made == [
        (1600, 1200, "avif"),
        (1600, 1200, "jpeg"),
        (800, 600, "avif"),
        (800, 600, "jpeg"),
        (320, 240, "avif"),
        (320, 240, "jpeg"),
    ]
    for rendition in photo.renditions:
        image = shown(rendition)
        assert image.format == rendition.format.upper()
        assert image.size == (rendition.width, rendition.height)
    by_format = {
        form: sum(len(r.content) for r in photo.renditions if r.format == form)
        for form in ("avif", "jpeg")
    }
    assert by_format["avif"] < 0.95 * by_format["jpeg"]
    # the small picture shows what the photo shows
    small = np.asarray(shown(photo.renditions[-1]).convert("RGB"), float)
    with Image.open(path) as whole:
        wanted = np.asarray(
            whole.convert("RGB").resize((320, 240), Image.Resampling.LANCZOS), float
        )
    assert np.abs(small - wanted).mean() < 2.0


def test_without_the_modern_format_jpeg_stands_alone(tmp_path, monkeypatch):
    path = tmp_path / "p.jpg"
    photo_files.quarters(400, 300).save(path)
    assert [r.format for r in prepare_photo(path, modern=False).renditions] == ["jpeg", "jpeg"]
    monkeypatch.setattr(prepare, "modern_format", lambda: False)
    assert [r.format for r in prepare_photo(path).renditions] == ["jpeg", "jpeg"]


# ---------------------------------------------------------------- private


@pytest.mark.parametrize("form", FORMS)
def test_nothing_private_is_left_in_any_prepared_file(tmp_path, form):
    path = photo_files.write_private(tmp_path / f"p.{FORMS[form]}", form)
    before = path.read_bytes()
    # the photo does carry it (what is packed in a PNG's text cannot be searched for)
    carried = [word for word in photo_files.SECRETS if word in before]
    assert len(carried) >= 5
    photo = prepare_photo(path)
    numbers = [
        struct.pack(f"{order}6I", *[part for pair in photo_files.LATITUDE for part in pair])
        for order in "<>"
    ]
    assert photo.renditions
    for rendition in photo.renditions:
        content = rendition.content
        for word in (*photo_files.SECRETS, *numbers, b"Photoshop", b"http:", b"xmpmeta", b"GPSLat"):
            assert word.lower() not in content.lower()
        for block in (b"Exif", b"ICC_PROFILE", b"8BIM", b"tEXt", b"mp42"):
            assert block not in content
        image = shown(rendition)
        assert not image.getexif()
        assert not image.getexif().get_ifd(0x8825)
        # what a decoder says of any still picture
        still = {"duration", "timestamp", "jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert set(image.info) <= still
        # SOI, APP0, then tables: no other segment can hold anything
        if rendition.format == "jpeg":
            assert segments(content) == ["e0"] + ["db"] * segments(content).count("db") + ["c0"] + [
                "c4"
            ] * segments(content).count("c4") + ["da"]


DIRECTORIES = {
    "image": None,
    "camera": ExifTags.IFD.Exif,
    "position": ExifTags.IFD.GPSInfo,
    "preview": ExifTags.IFD.IFD1,
}


@pytest.fixture(scope="module")
def private_tags():
    """Tags that tell where or who, by directory, each with a text of its own."""
    with (REFERENCE / "11-exif-strip.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert len(rows) > 40
    tags = {name: {} for name in DIRECTORIES}
    for row in rows:
        tag = int(row["tag"], 16)
        names = ExifTags.GPSTAGS if row["directory"] == "position" else ExifTags.TAGS
        assert names[tag] == row["name"]
        tags[row["directory"]][tag] = f"Gullhaven {row['name']}".encode()
    return tags


# Exif 2.3 by way of the reference table: every tag of it is in the photo and in nothing made of it
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_no_tag_that_tells_where_or_who_is_left(tmp_path, form, private_tags):
    path = tmp_path / f"p.{FORMS[form]}"
    exif = photo_files.tagged_exif(private_tags)
    photo_files.smooth_photo(360, 240).save(path, form, exif=exif)
    with Image.open(path) as photo:
        carried = photo.getexif()
        for name, place in DIRECTORIES.items():
            own = carried if place is None else carried.get_ifd(place)
            assert private_tags[name].keys() <= dict(own).keys(), name
    texts = [text for own in private_tags.values() for text in own.values()]
    assert all(text in path.read_bytes() for text in texts)
    for rendition in prepare_photo(path).renditions:
        assert b"Gullhaven" not in rendition.content
        assert not shown(rendition).getexif()


def segments(content: bytes) -> list[str]:
    """Markers of a JPEG up to its pixels."""
    found, at = [], 2
    while True:
        marker, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4], "big")
        found.append(f"{marker:02x}")
        if marker == 0xDA:
            return found
        at += 2 + length


# ---------------------------------------------------------------- colours


def test_an_embedded_profile_is_turned_to_srgb(tmp_path):
    path = tmp_path / "p.png"
    codes = ((200, 120, 90), (90, 160, 110), (110, 120, 190), (180, 180, 180))
    picture = Image.new("RGB", (64, 48))
    for number, colour in enumerate(codes):
        x, y = number % 2 * 32, number // 2 * 24
        picture.paste(colour, (x, y, x + 32, y + 24))
    picture.save(path, icc_profile=photo_files.wide_profile())
    # by hand: the curve, to XYZ (D50) by the profile's columns, back by those of sRGB, which
    # are published adapted to D50 (ICC, "sRGB v4" notes; from memory), and sRGB's curve
    to_xyz = np.array(
        [[0.51512, 0.29198, 0.15710], [0.24120, 0.69225, 0.06657], [-0.00105, 0.04189, 0.78407]]
    )
    srgb = np.array(
        [[0.43607, 0.38515, 0.14307], [0.22249, 0.71687, 0.06061], [0.01392, 0.09708, 0.71410]]
    )
    wanted = []
    for colour in codes:
        light = np.linalg.solve(srgb, to_xyz @ (np.array(colour) / 255) ** 1.8)
        wanted.append(tuple(255 * np.where(light <= 0.0031308, 12.92 * light,
                                           1.055 * light ** (1 / 2.4) - 0.055)))  # fmt: skip
    photo = prepare_photo(path, modern=False)
    assert photo.notes == ()
    assert_corners(shown(photo.renditions[0]), tuple(wanted), 4)
    assert np.abs(np.subtract(wanted[0], codes[0])).max() > 8  # it would show


@pytest.mark.parametrize("profile", [b"nonsense", photo_files.wide_profile()[:200]])
def test_a_broken_profile_is_said_and_left_out(tmp_path, profile):
    path = tmp_path / "p.jpg"
    photo_files.quarters().save(path, quality=95, icc_profile=profile)
    photo = prepare_photo(path)
    assert "colour profile cannot be used" in photo.notes[0]
    assert_corners(shown(photo.renditions[-1]), photo_files.QUARTERS, CODES)


def test_a_profile_of_another_kind_of_colour_is_left_out(tmp_path):
    path = tmp_path / "p.png"
    Image.new("L", (40, 30), 120).save(path, icc_profile=photo_files.wide_profile())
    photo = prepare_photo(path)
    assert "colour profile cannot be used" in photo.notes[0]
    assert shown(photo.renditions[-1]).convert("L").getpixel((20, 15)) in range(118, 123)


# ---------------------------------------------------------------- odd files


def odd(name: str) -> tuple[Image.Image, str, dict[str, object], tuple[int, int, int]]:
    """A file of an unusual kind: picture, format, how to save it, the colour to be seen."""
    grey = 32_896  # of 65535: code 128
    cases = {
        "greyscale": (Image.new("L", (40, 30), 128), "JPEG", {}, (128, 128, 128)),
        "16 bit grey": (Image.new("I;16", (40, 30), grey), "PNG", {}, (128, 128, 128)),
        "one bit": (Image.new("1", (40, 30), 1), "PNG", {}, (255, 255, 255)),
        "few colours": (
            Image.new("RGB", (40, 30), (200, 100, 50)).quantize(4),
            "PNG",
            {},
            (200, 100, 50),
        ),
        "one clear colour": (
            Image.new("P", (40, 30), 0),
            "PNG",
            {"transparency": 0},
            (255, 255, 255),
        ),
        "half clear": (
            Image.new("RGBA", (40, 30), (200, 100, 50, 128)),
            "PNG",
            {},
            (227, 177, 152),
        ),
        "clear grey": (Image.new("LA", (40, 30), (100, 0)), "PNG", {}, (255, 255, 255)),
        "clear WebP": (
            Image.new("RGBA", (40, 30), (200, 100, 50, 0)),
            "WEBP",
            {"lossless": True},
            (255, 255, 255),
        ),
        "CMYK": (Image.new("CMYK", (40, 30), (0, 128, 255, 0)), "JPEG", {}, (255, 127, 0)),
        "no chroma halved": (
            Image.new("RGB", (40, 30), (200, 100, 50)),
            "JPEG",
            {"subsampling": 0},
            (200, 100, 50),
        ),
        "progressive": (
            Image.new("RGB", (40, 30), (200, 100, 50)),
            "JPEG",
            {"progressive": True},
            (200, 100, 50),
        ),
        "one pixel": (Image.new("RGB", (1, 1), (200, 100, 50)), "PNG", {}, (200, 100, 50)),
    }
    return cases[name]


@pytest.mark.parametrize(
    "name",
    [
        "greyscale",
        "16 bit grey",
        "one bit",
        "few colours",
        "one clear colour",
        "half clear",
        "clear grey",
        "clear WebP",
        "CMYK",
        "no chroma halved",
        "progressive",
        "one pixel",
    ],
)
def test_an_odd_file_is_shown_as_it_looks(tmp_path, name):
    image, form, options, wanted = odd(name)
    path = tmp_path / "p.jpg"
    image.save(path, form, **options)
    photo = prepare_photo(path)
    for rendition in photo.renditions:
        picture = shown(rendition)
        assert picture.mode in ("L", "RGB")
        middle = picture.convert("RGB").getpixel((picture.width // 2, picture.height // 2))
        assert np.abs(np.subtract(middle, wanted)).max() <= CODES
    assert bool(photo.notes) == (name == "CMYK")


def test_16_bits_of_three_colours(tmp_path):
    path = tmp_path / "p.png"
    rows = b"".join(b"\0" + struct.pack(">HHH", 51_400, 25_700, 12_850) * 20 for _ in range(10))
    import zlib

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + content))
        return struct.pack(">I", len(content)) + kind + content + check

    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", 20, 10, 16, 2, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
    seen = shown(prepare_photo(path).renditions[-1]).getpixel((10, 5))
    assert np.abs(np.subtract(seen, (200, 100, 50))).max() <= CODES


@pytest.mark.parametrize("form", ["WEBP", "PNG"])
def test_of_a_moving_picture_the_first_is_used_and_said(tmp_path, form):
    path = tmp_path / "p.webp"
    frames = [Image.new("RGB", (40, 30), colour) for colour in ((200, 60, 40), (40, 60, 200))]
    frames[0].save(path, form, save_all=True, append_images=frames[1:], duration=100, quality=95)
    photo = prepare_photo(path)
    assert any("first image" in note for note in photo.notes)
    seen = shown(photo.renditions[-1]).convert("RGB").getpixel((20, 15))
    assert np.abs(np.subtract(seen, (200, 60, 40))).max() <= CODES


def test_a_preview_embedded_by_a_phone_is_not_taken_for_the_photo(tmp_path):
    # two pictures in one file, as phones write them (CIPA DC-007)
    path = tmp_path / "p.jpg"
    photo_files.quarters().save(
        path,
        "MPO",
        save_all=True,
        append_images=[Image.new("RGB", (16, 12), (9, 9, 9))],
        quality=95,
    )
    photo = prepare_photo(path)
    assert (photo.width, photo.height) == (64, 48)
    assert_corners(shown(photo.renditions[-1]), photo_files.QUARTERS, CODES)
    assert photo.notes == ()


@pytest.mark.parametrize("form", FORMS)
@examples(40, like=settings(suppress_health_check=list(HealthCheck)))
@given(data=st.data())
def test_any_broken_file_is_a_photo_or_a_problem(tmp_path, form, data):
    whole = tmp_path / "whole"
    if not whole.exists():
        photo_files.smooth_photo(48, 32).save(whole, form, exif=photo_files.exif_of(orientation=6))
    content = bytearray(whole.read_bytes())
    cut = data.draw(st.integers(0, len(content)), "cut")
    hits = data.draw(
        st.lists(st.tuples(st.integers(0, len(content) - 1), st.integers(0, 255)), max_size=4),
        "hits",
    )
    for at, value in hits:
        content[at] = value
    path = tmp_path / f"p.{FORMS[form]}"
    path.write_bytes(content[:cut] if cut > 8 else content)
    try:
        assert isinstance(prepare_photo(path), PreparedPhoto)
    except PhotoProblem as problem:
        assert problem.what
        assert problem.hint


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
@pytest.mark.parametrize("form", FORMS)
def test_a_photo_cut_short_is_a_problem(tmp_path, form, share, monkeypatch):
    # Other libraries ask Pillow to let such pictures pass, in the whole process.
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    path = tmp_path / f"p.{FORMS[form]}"
    photo_files.smooth_photo(120, 90).save(path, form)
    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)])
    with pytest.raises(PhotoProblem, match="broken or cut short"):
        prepare_photo(path)


def test_a_tall_strip_that_would_fill_the_memory_is_refused(tmp_path):
    path = tmp_path / "p.jpg"
    path.write_bytes(photo_files.claiming_jpeg(1_900, 60_000))
    with pytest.raises(PhotoProblem, match="more than can be opened safely"):
        prepare_photo(path)


# ---------------------------------------------------------------- made once, the same bytes


def test_the_name_goes_by_content_and_recipe(tmp_path, monkeypatch):
    one, same, other = (tmp_path / name for name in ("one.jpg", "same.jpg", "other.jpg"))
    photo_files.quarters().save(one)
    same.write_bytes(one.read_bytes())
    photo_files.quarters(66, 48).save(other)
    assert photo_digest(one) == photo_digest(same) == prepare_photo(one).digest
    assert photo_digest(one) != photo_digest(other)
    assert len(photo_digest(one)) == 32
    before = photo_digest(one)
    monkeypatch.setattr(prepare, "_RECIPE", "another way")
    assert photo_digest(one) != before
    with pytest.raises(PhotoProblem, match=r'"none\.jpg" cannot be read'):
        photo_digest(tmp_path / "none.jpg")


def test_two_processes_make_the_same_bytes(tmp_path):
    path = tmp_path / "p.jpg"
    photo_files.smooth_photo(1700, 1100).save(path, quality=88)
    script = (
        "import sys, hashlib, pathlib\n"
        "from journal.photos.prepare import prepare_photo\n"
        "photo = prepare_photo(pathlib.Path(sys.argv[1]))\n"
        "print(photo.digest, *[hashlib.sha256(r.content).hexdigest() for r in photo.renditions])\n"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", script, str(path)],
            check=True,
            capture_output=True,
            text=True,
            cwd=PROJECT,
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone},
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(said) == 1
    assert len(said.pop().split()) == 7


# ---------------------------------------------------------------- many


def test_many_at_a_time_in_order_and_one_bad_stops_none(tmp_path):
    paths = []
    for number in range(9):
        path = tmp_path / f"{number}.jpg"
        if number == 4:
            path.write_bytes(b"not a photo")
        else:
            photo_files.smooth_photo(360 + number, 240, number).save(path)
        paths.append(path)
    results = list(prepare_photos(paths, workers=3))
    assert [path for path, _ in results] == paths
    for number, (path, result) in enumerate(results):
        if number == 4:
            assert isinstance(result, PhotoProblem)
        else:
            assert result == prepare_photo(path)


def test_many_of_none_is_nothing_and_stopping_early_waits_for_no_more(tmp_path):
    assert list(prepare_photos([], workers=1)) == []
    paths = []
    for number in range(30):
        path = tmp_path / f"{number}.jpg"
        photo_files.quarters(40, 30 + number).save(path)
        paths.append(path)
    running = prepare_photos(paths, workers=1)
    assert next(running)[0] == paths[0]
    running.close()
    assert not [t for t in threading.enumerate() if t.name.startswith("photo")]


def test_large_photos_wait_for_room():
    room = prepare._MemoryBudget(100)
    inside = 0
    most = 0
    guard = threading.Lock()

    def hold(pixels: int) -> None:
        nonlocal inside, most
        with room.reserved(pixels):
            with guard:
                inside += pixels
                most = max(most, inside)
            threading.Event().wait(0.002)
            with guard:
                inside -= pixels

    threads = [threading.Thread(target=hold, args=(size,)) for size in (60, 60, 30, 250, 30, 60)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(300)
    assert most == 250  # alone, since it is over the bound by itself
    assert inside == 0


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks Linux for the memory")
@pytest.mark.long  # draws 48 million pixels
def test_memory_does_not_grow_with_the_photo(tmp_path):
    path = tmp_path / "p.jpg"
    tile = photo_files.smooth_photo(2000, 1000)
    whole = Image.new("RGB", (8000, 6000))
    for x in range(0, 8000, 2000):
        for y in range(0, 6000, 1000):
            whole.paste(tile, (x, y))
    whole.save(path, quality=85)
    script = (
        "import sys, pathlib\n"
        "from journal.photos.prepare import prepare_photo\n"
        "prepare_photo(pathlib.Path(sys.argv[1]))\n"
        "print(pathlib.Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", script, str(path)],
        check=True,
        capture_output=True,
        text=True,
        cwd=PROJECT,
    ).stdout
    assert int(said) < 140 * 1024  # KiB; 94 MiB were seen


def test_a_progressive_photo_is_held_whole_however_small_it_is_decoded(tmp_path):
    plain, scans = tmp_path / "plain.jpg", tmp_path / "scans.jpg"
    for path in (plain, scans):
        photo_files.smooth_photo(1600, 800).save(
            path, quality=85, subsampling="4:2:0", progressive=path == scans
        )
    held = []
    for path in (plain, scans):
        with open_photo(path) as source:
            whole = source.size
            held.append(decoder_bytes(source, whole, draft_decoder(source, 400)))
    # A quarter each way, and by hand: of four pixels four samples of Y, one of Cb and one of Cr
    # (4:2:0), each a coefficient of two bytes.
    assert held[0] == 4 * 400 * 200
    assert held[1] == held[0] + 1600 * 800 // 4 * 6 * 2
