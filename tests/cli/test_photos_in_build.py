"""Photos in a build: whatever is wrong with one, the notebook is made, and says so."""

from __future__ import annotations

import io
import re
import shutil
import struct
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from photos.photo_files import (
    LATITUDE,
    SECRETS,
    TURNED_BACK,
    claiming_jpeg,
    claiming_png,
    claiming_webp,
    corners_of,
    quarters,
    smooth_photo,
    write_private,
    write_turned,
)
from PIL import Image

from journal.build_options import BuildOptions
from journal.building import BuildResult, build_notebook
from journal.cli import main
from journal.photos.derive import unreadable_photos
from journal.photos.prepare import WIDTHS, modern_format
from journal.records.notebook import read_notebook
from journal.views.shared.editions import Edition

DESIGN = "designs/blue/design.md"
FIRST_LINE = 11  # of the list of photos
LINES_EACH = 2


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))


def notebook_with(root: Path, names: Sequence[str], prose: str = "") -> Path:
    """A notebook of one design whose photos have these names; gives the folder of photos."""
    photos = root / "designs" / "blue" / "photos"
    photos.mkdir(parents=True)
    (root / "shelf").mkdir()
    (root / "journal.yaml").write_text("studio: A bench\n", "utf-8")
    (root / "shelf" / "bases.yaml").write_text("plain: {name: Plain}\n", "utf-8")
    rows = "".join(f"  - file: photos/{name}\n    alt: What {name} would show\n" for name in names)
    (root / DESIGN).write_text(
        "---\ntitle: Blue\ndate: 2026-01-01\nstate: keeper\nbars: 1\nlayers:\n"
        "  - name: body\n    base: plain\n    amount: 90 g\n"
        f"photos:\n{rows}---\n{prose}\n",
        "utf-8",
    )
    return photos


def built(content: Path, out: Path, edition: Edition = "studio") -> BuildResult:
    done = build_notebook(BuildOptions(content, out, edition))
    assert all(problem.warning for problem in done.problems)
    return done


def _jpeg(width: int = 640, height: int = 480) -> bytes:
    out = io.BytesIO()
    smooth_photo(width, height).save(out, "JPEG", quality=88)
    return out.getvalue()


def _as(form: str) -> bytes:
    out = io.BytesIO()
    quarters().save(out, form)
    return out.getvalue()


BROKEN: Mapping[str, tuple[Callable[[], bytes], str]] = {
    "empty.jpg": (lambda: b"", "empty"),
    "short.jpg": (lambda: _jpeg()[:9000], "broken or cut short"),
    "head-only.jpg": (lambda: _jpeg()[:300], "broken or cut short"),
    "short.png": (lambda: _as("PNG")[:-40], "broken or cut short"),
    "words.jpg": (lambda: b"these are words, not a photo", "no photo that can be read"),
    "page.jpg": (lambda: b"<!doctype html><p>404</p>", "a web page or a drawing"),
    "still.gif": (lambda: _as("GIF"), "a GIF"),
    "raw.tif": (lambda: _as("TIFF"), "a TIFF or a camera's raw file"),
    "film.jpg": (lambda: b"\0\0\0\x18ftypisom" + b"\0" * 60, "a film"),
    "huge.png": (lambda: claiming_png(60000, 60000), "more than can be opened safely"),
    "huge.jpg": (lambda: claiming_jpeg(65500, 65500), "more than can be opened safely"),
    "huge.webp": (lambda: claiming_webp(16000, 16000), "more than can be opened safely"),
}


def test_no_broken_photo_stops_the_build(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content, out = tmp_path / "content", tmp_path / "out"
    names = ["good.jpg", *BROKEN]
    photos = notebook_with(content, names, "Seen: ![the cut one](photos/short.jpg) and more.")
    (photos / "good.jpg").write_bytes(_jpeg())
    for name, (make, _) in BROKEN.items():
        (photos / name).write_bytes(make())
    assert main(["build", "--content", str(content), "--out", str(out)]) == 0
    said = capsys.readouterr()
    told = (said.out + said.err).replace("\n", " ")
    page = (out / "designs" / "blue.html").read_text("utf-8")
    for number, (name, (_, part)) in enumerate(BROKEN.items(), start=1):
        line = FIRST_LINE + LINES_EACH * number
        found = re.search(rf"{re.escape(DESIGN)}:{line}:11: warning: ([^.]|\.\w)*\. [A-Z]", told)
        assert found, (name, line, told)
        assert name in found[0]
        assert part in found[0]
        assert f"What {name} would show" in page
        assert not re.search(rf'<img[^>]*alt="What {re.escape(name)}', page)
    # The one that the prose shows as well is told there too, and its words stay.
    assert len(re.findall(r'"short\.jpg" is broken', told)) == 2
    assert "Seen: the cut one and more." in page
    assert '<img src="../photos/' in page
    assert {path.suffix for path in (out / "photos").iterdir()} <= {".jpg", ".avif"}


def test_check_tells_what_the_first_bytes_say(tmp_path: Path) -> None:
    photos = notebook_with(tmp_path, list(BROKEN))
    for name, (make, _) in BROKEN.items():
        (photos / name).write_bytes(make())
    notebook = read_notebook(tmp_path)
    assert not notebook.errors
    told = {problem.position.line: problem for problem in unreadable_photos(notebook)}
    decoded_only = {"short.jpg", "short.png"}
    for number, name in enumerate(BROKEN):
        line = FIRST_LINE + LINES_EACH * number
        assert (line in told) == (name not in decoded_only), name
    assert all(problem.warning and problem.hint.endswith(".") for problem in told.values())
    assert main(["check", "--content", str(tmp_path)]) == 0


def test_a_moving_picture_shows_its_first_image(tmp_path: Path) -> None:
    photos = notebook_with(tmp_path / "content", ["moving.webp", "moving.png"])
    frames = [quarters(), quarters().transpose(Image.Transpose.ROTATE_180)]
    for name, form in (("moving.webp", "WEBP"), ("moving.png", "PNG")):
        frames[0].save(photos / name, form, save_all=True, append_images=frames[1:], duration=90)
    done = built(tmp_path / "content", tmp_path / "out")
    assert not done.problems
    made = sorted((tmp_path / "out" / "photos").glob("*.jpg"))
    assert len(made) == 2
    for path in made:
        near(corners_of(Image.open(path)), corners_of(quarters()), 40)


def near(one: Sequence[Sequence[int]], other: Sequence[Sequence[int]], most: int) -> None:
    """Colours that differ by no more than what a lossy format does to flat quarters."""
    for left, right in zip(one, other, strict=True):
        assert max(abs(a - b) for a, b in zip(left, right, strict=True)) <= most


@pytest.mark.parametrize("form", ["JPEG"])
def test_every_orientation_is_shown_upright(tmp_path: Path, form: str) -> None:
    names = [f"turned-{turn}.{form.lower()}" for turn in TURNED_BACK]
    photos = notebook_with(tmp_path / "content", names)
    for turn, name in zip(TURNED_BACK, names, strict=True):
        write_turned(photos / name, turn, form)
    assert not built(tmp_path / "content", tmp_path / "out").problems
    page = (tmp_path / "out" / "designs" / "blue.html").read_text("utf-8")
    shown = re.findall(r'<img src="\.\./(photos/[^"]+)"[^>]*width=(\d+) height=(\d+)', page)
    assert len(shown) == len(TURNED_BACK)
    for file, width, height in shown:
        assert (width, height) == ("64", "48")
        with Image.open(tmp_path / "out" / file) as picture:
            assert picture.size == (64, 48)
            near(corners_of(picture), corners_of(quarters()), 40)


def test_nothing_private_is_in_any_byte_of_the_notebook(tmp_path: Path) -> None:
    forms = {"one.jpg": "JPEG", "two.png": "PNG", "three.webp": "WEBP"}
    try:
        import pillow_heif

        pillow_heif.register_heif_opener()
        forms["four.heic"] = "HEIF"
    except ImportError:
        pass
    photos = notebook_with(tmp_path / "content", list(forms), "![in prose](photos/one.jpg)")
    for name, form in forms.items():
        raw = write_private(photos / name, form).read_bytes()
        assert any(secret in raw for secret in SECRETS), name
    assert not built(tmp_path / "content", tmp_path / "out").problems
    position = struct.pack("<6I", *(part for pair in LATITUDE for part in pair))
    hidden = (*SECRETS, position, struct.pack(">6I", *struct.unpack("<6I", position)),
              b"Exif\0", b"xmpmeta", b"Photoshop", b"JFXX")  # fmt: skip
    files = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert len([path for path in files if path.parent.name == "photos"]) >= len(forms)
    for path in files:
        raw = path.read_bytes()
        for secret in hidden:
            assert secret not in raw, (path.name, secret)
            assert secret.decode("latin-1") not in path.name


def test_heic_is_read_where_it_can_be(tmp_path: Path) -> None:
    pillow_heif = pytest.importorskip("pillow_heif")
    photos = notebook_with(tmp_path / "content", ["phone.heic"])
    pillow_heif.register_heif_opener()
    quarters().save(photos / "phone.heic", "HEIF", quality=90)
    assert not built(tmp_path / "content", tmp_path / "out").problems
    (made,) = (tmp_path / "out" / "photos").glob("*.jpg")
    near(corners_of(Image.open(made)), corners_of(quarters()), 40)


def test_heic_without_its_reader_is_a_warning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    photos = notebook_with(tmp_path / "content", ["phone.heic"])
    (photos / "phone.heic").write_bytes(b"\0\0\0\x18ftypheic" + b"\0" * 200)
    (warning,) = built(tmp_path / "content", tmp_path / "out").problems
    assert str(warning.position) == f"{DESIGN}:{FIRST_LINE}:11"
    assert "what reads HEIC is not installed" in warning.what
    assert "heic" in warning.hint
    assert "or save a copy of the photo as JPEG." in warning.hint
    assert "What phone.heic would show" in (tmp_path / "out/designs/blue.html").read_text("utf-8")


# ------------------------------------------------------------------ formats


def test_in_public_a_modern_format_stands_beside_jpeg_where_it_is_smaller(tmp_path: Path) -> None:
    photos = notebook_with(tmp_path / "content", ["wide.jpg"], "![again](photos/wide.jpg)")
    (photos / "wide.jpg").write_bytes(_jpeg(1800, 1200))
    built(tmp_path / "content", tmp_path / "out", "public")
    page = (tmp_path / "out" / "designs" / "blue.html").read_text("utf-8")
    jpegs = {int(path.stem.rpartition("-")[2]): path
             for path in (tmp_path / "out" / "photos").glob("*.jpg")}  # fmt: skip
    assert sorted(jpegs, reverse=True) == list(WIDTHS)
    if not modern_format():
        assert "<picture>" not in page
        return
    assert page.count("<picture><source ") == 2  # at the head, and in the prose
    for source, image in re.findall(r"<picture><source([^>]*)><img([^>]*)></picture>", page):
        assert 'type="image/avif"' in source
        for tag, end in ((source, "avif"), (image, "jpg")):
            (offered,) = re.findall(r'srcset="([^"]*)"', tag)
            files = dict(reversed(entry.split(" ")) for entry in offered.split(", "))
            assert list(files) == [f"{width}w" for width in WIDTHS]
            for width, file in files.items():
                path = tmp_path / "out" / "designs" / file
                assert path.suffix == f".{end}"
                with Image.open(path) as picture:
                    assert f"{picture.width}w" == width
        assert re.search(r'width="?800\b', image)
        assert re.search(r'height="?533\b', image)
    for path in jpegs.values():
        assert path.with_suffix(".avif").stat().st_size < path.stat().st_size


def test_where_the_modern_format_is_larger_it_is_not_made(tmp_path: Path) -> None:
    photos = notebook_with(tmp_path / "content", ["tiny.png"])
    Image.new("RGB", (2, 2), (90, 20, 60)).save(photos / "tiny.png")
    built(tmp_path / "content", tmp_path / "out", "public")
    made = {path.suffix for path in (tmp_path / "out" / "photos").iterdir()}
    sizes = {}
    from journal.photos.prepare import prepare_photo

    for one in prepare_photo(photos / "tiny.png").renditions:
        sizes[one.format] = len(one.content)
    smaller = sizes.get("avif", 10**9) < sizes["jpeg"]
    assert made == ({".jpg", ".avif"} if smaller else {".jpg"})


@pytest.mark.skipif(not modern_format(), reason="AVIF cannot be written here")
def test_each_edition_has_its_formats_whichever_was_made_before(tmp_path: Path) -> None:
    photos = notebook_with(tmp_path / "content", ["wide.jpg"])
    (photos / "wide.jpg").write_bytes(_jpeg(900, 600))
    wanted: tuple[tuple[Edition, set[str]], ...] = (
        ("studio", {".jpg"}),
        ("public", {".jpg", ".avif"}),
        ("helpers", {".jpg"}),
        ("public", {".jpg", ".avif"}),
        ("studio", {".jpg"}),
    )
    for edition, suffixes in wanted:
        built(tmp_path / "content", tmp_path / "out", edition)
        assert {path.suffix for path in (tmp_path / "out" / "photos").iterdir()} == suffixes
        page = (tmp_path / "out" / "designs" / "blue.html").read_text("utf-8")
        assert ("image/avif" in page) == (edition == "public")


def test_files_of_photos_are_made_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import journal.photos.prepare as of_photos
    import journal.views.shared.photos as of_pages

    made: list[Path] = []
    real = of_photos.prepare_photo

    def counting(path: Path, **how: Any) -> of_photos.PreparedPhoto:
        made.append(path)
        return real(path, **how)

    monkeypatch.setattr(of_photos, "prepare_photo", counting)
    monkeypatch.setattr(of_pages, "prepare_photo", counting)
    content, out = tmp_path / "content", tmp_path / "out"
    photos = notebook_with(content, ["one.jpg", "two.jpg"], "Before.")
    (photos / "one.jpg").write_bytes(_jpeg())
    smooth_photo(300, 200, seed=2).save(photos / "two.jpg")
    built(content, out)
    assert sorted(path.name for path in made) == ["one.jpg", "two.jpg"]
    assert not list((tmp_path / "cache").rglob("made-*")), "what waited is thrown away"
    text = (content / DESIGN).read_text("utf-8")
    (content / DESIGN).write_text(text.replace("Before.", "After that."), "utf-8")
    again = built(content, out)
    assert again.written is not None
    assert again.written.made
    assert len(made) == 2, "a change of words makes no photo anew"


def test_with_and_without_a_store_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = tmp_path / "content"
    photos = notebook_with(content, ["one.jpg", "cut.jpg"])
    (photos / "one.jpg").write_bytes(_jpeg())
    (photos / "cut.jpg").write_bytes(_jpeg()[:9000])
    outs = []
    for name, cache in (("kept", str(tmp_path / "cache")), ("none", "")):
        monkeypatch.setenv("JOURNAL_CACHE", cache)
        built(content, tmp_path / name)
        outs.append({
            path.relative_to(tmp_path / name).as_posix(): path.read_bytes()
            for path in (tmp_path / name).rglob("*") if path.is_file()
        })  # fmt: skip
    assert outs[0] == outs[1]
    shutil.rmtree(tmp_path / "kept")
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    built(content, tmp_path / "kept")
    assert outs[1] == {
        path.relative_to(tmp_path / "kept").as_posix(): path.read_bytes()
        for path in (tmp_path / "kept").rglob("*") if path.is_file()
    }  # fmt: skip


@pytest.mark.usefixtures("like_anybody")
def test_a_photo_that_may_not_be_read_is_a_warning(tmp_path: Path) -> None:
    photos = notebook_with(tmp_path / "content", ["locked.jpg"])
    (photos / "locked.jpg").write_bytes(_jpeg())
    (photos / "locked.jpg").chmod(0)
    (warning,) = built(tmp_path / "content", tmp_path / "out").problems
    assert "cannot be" in warning.what
