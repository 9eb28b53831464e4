"""Opening photos: what they are, how large, what is wrong with them."""

from __future__ import annotations

import csv
import struct
import tracemalloc
from pathlib import Path
from zlib import compress, crc32

import pytest
from paths import REFERENCE
from photos import photo_files
from PIL import Image

from journal.photos.source import (
    MOST_PIXELS,
    PhotoProblem,
    PhotoSize,
    open_photo,
    photo_size,
    taken_at,
)

FORMS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "HEIF": "heic"}
KINDS = {"JPEG": "JPEG", "PNG": "PNG", "WEBP": "WebP", "HEIF": "HEIC"}


@pytest.fixture(scope="module", autouse=True)
def heic_can_be_written():
    pillow_heif = pytest.importorskip("pillow_heif")
    pillow_heif.register_heif_opener()


@pytest.mark.parametrize("form", FORMS)
def test_a_photo_is_known_by_its_bytes_not_by_its_name(tmp_path, form):
    path = tmp_path / "photo.txt"
    photo_files.quarters(50, 30).save(path, form)
    assert photo_size(path) == PhotoSize(50, 30, KINDS[form])


# Exif 2.3 by way of the reference table: which orientations change width and height
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_the_size_is_that_of_the_upright_photo(tmp_path, form):
    with (REFERENCE / "11-exif-orientation.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert len(rows) == 8
    for row in rows:
        path = tmp_path / f"{row['value']}.{FORMS[form]}"
        exif = photo_files.exif_of(orientation=int(row["value"]))
        photo_files.quarters(50, 30).save(path, form, exif=exif)
        size = photo_size(path)
        wanted = (30, 50) if row["width_height_swap"] == "yes" else (50, 30)
        assert (size.width, size.height) == wanted


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_an_orientation_that_makes_no_sense_is_none(tmp_path, value):
    path = tmp_path / "photo.jpg"
    photo_files.quarters().save(path, exif=photo_files.exif_of(orientation=value))
    with open_photo(path) as source:
        assert source.orientation == 1


@pytest.mark.parametrize("cut", [1, 7, 9, 14, 20, 30])
def test_broken_exif_is_no_obstacle(tmp_path, cut):
    path = tmp_path / "photo.jpg"
    photo_files.quarters().save(path, exif=photo_files.exif_of(orientation=6)[:cut])
    assert photo_size(path).kind == "JPEG"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"GIF89a" + b"\0" * 20, "GIF"),
        (b"BM" + b"\0" * 60, "BMP"),
        (b"II*\0" + b"\0" * 60, "TIFF"),
        (b"%PDF-1.7\n", "PDF"),
        (b"\xef\xbb\xbf  <!doctype html>", "web page"),
        (b"PK\x03\x04", "packed"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0", "film"),
        (b"\0\0\0\x1cftypavif\0\0\0\0", "AVIF"),
        (b"title: Kelp\n", "no photo"),
        (b"\xff\xd8\xff", "broken"),
        (b"\x89PNG\r\n\x1a\n", "broken"),
        (b"RIFF\x10\0\0\0WEBPVP8 ", "broken"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "broken"),
    ],
)
def test_what_is_no_photo_is_said_with_its_mend(tmp_path, content, said):
    path = tmp_path / "photo.jpg"
    path.write_bytes(content)
    with pytest.raises(PhotoProblem) as caught:
        photo_size(path)
    assert said in caught.value.what
    assert "photo.jpg" in caught.value.what
    assert str(tmp_path) not in str(caught.value)
    assert caught.value.hint.endswith(("that", "write-up"))


def test_a_photo_that_is_not_there_or_a_folder(tmp_path):
    with pytest.raises(PhotoProblem, match="there is no photo"):
        photo_size(tmp_path / "none.jpg")
    with pytest.raises(PhotoProblem, match="cannot be opened"):
        photo_size(tmp_path)


@pytest.mark.parametrize(
    "content",
    [
        photo_files.claiming_png(60_000, 60_000),
        photo_files.claiming_png(8_000, MOST_PIXELS // 8_000 + 1),
        photo_files.claiming_jpeg(65_000, 65_000),
        photo_files.claiming_jpeg(10_000, 9_000, progressive=True),
        photo_files.claiming_webp(16_000, 16_000),
    ],
    ids=["png", "png just over", "jpeg", "progressive jpeg", "webp"],
)
def test_a_bomb_is_refused_before_it_takes_memory(tmp_path, content):
    path = tmp_path / "bomb.jpg"
    path.write_bytes(content)
    with pytest.raises(PhotoProblem, match="more than can be opened safely") as caught:
        photo_size(path)
    assert "million pixels" in caught.value.hint


def test_a_large_plain_jpeg_is_only_as_large_as_it_is_decoded(tmp_path):
    path = tmp_path / "large.jpg"
    path.write_bytes(photo_files.claiming_jpeg(16_320, 12_240))  # 200 million pixels
    assert photo_size(path) == PhotoSize(16_320, 12_240, "JPEG")


def test_heic_without_its_reader_says_what_to_install(tmp_path, monkeypatch):
    path = tmp_path / "photo.heic"
    photo_files.quarters().save(path, "HEIF")
    monkeypatch.setitem(__import__("sys").modules, "pillow_heif", None)
    with pytest.raises(PhotoProblem, match="HEIC") as caught:
        photo_size(path)
    assert 'pip install "soap-design-journal[heic]"' in caught.value.hint


@pytest.mark.parametrize("form", FORMS)
def test_when_a_photo_was_taken(tmp_path, form):
    path = tmp_path / f"photo.{FORMS[form]}"
    exif = photo_files.exif_of(taken="2026:04:18 09:30:00")
    photo_files.quarters().save(path, form, exif=exif)
    assert taken_at(path) == "2026:04:18 09:30:00"


def test_without_a_time_none_is_said(tmp_path):
    path = tmp_path / "photo.jpg"
    photo_files.quarters().save(path)
    assert taken_at(path) == ""
    photo_files.quarters().save(path, exif=photo_files.exif_of(taken="0000"))
    assert taken_at(path) == ""
    path.write_bytes(b"no photo")
    assert taken_at(path) == ""
    assert taken_at(tmp_path / "none.jpg") == ""


def test_focal_length_is_read(tmp_path):
    path = tmp_path / "photo.jpg"
    photo_files.quarters().save(path, exif=photo_files.exif_of(focal_35_mm=26))
    with open_photo(path) as source:
        assert source.focal_35_mm == 26.0


def test_a_problem_can_be_handed_between_processes():
    import pickle

    problem = PhotoProblem("it is broken", "Mend it")
    again = pickle.loads(pickle.dumps(problem))
    assert (again.what, again.hint, str(again)) == ("it is broken", "Mend it", str(problem))


def test_pillow_is_not_told_anything_for_good():
    # the journal's limits are its own: the library's stay as they were
    assert Image.MAX_IMAGE_PIXELS is not None


@pytest.mark.parametrize("kind", [b"zTXt", b"iTXt", b"iCCP"])
def test_text_that_unpacks_to_megabytes_is_refused_before_it_does(
    tmp_path: Path, kind: bytes
) -> None:
    """A chunk of a PNG may hold a hundred thousand bytes and mean a hundred million."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", crc32(name + data))

    packed = compress(b"a" * 40_000_000, 1)
    head = b"k\0\1\0\0\0" if kind == b"iTXt" else b"k\0\0"
    path = tmp_path / "bomb.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", 8, 8, 8, 2, 0, 0, 0))
        + chunk(kind, head + packed)
        + chunk(b"IDAT", compress(bytes(25 * 8)))
        + chunk(b"IEND", b"")
    )
    tracemalloc.start()
    try:
        with pytest.raises(PhotoProblem):
            photo_size(path)
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()
