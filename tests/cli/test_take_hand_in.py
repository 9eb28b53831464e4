"""``journal take`` of what the bench page hands in: a pour, later looks, and what is no hand-in."""

from __future__ import annotations

import json
import shutil
import sys
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from demo import KELP_ON_CLAY
from msgspec.structs import replace
from PIL import Image
from synthetic_tree import Died, dies_at
from take_cases import copy_beside, write_up

from journal.cli import main
from journal.cli.take import write_change
from journal.errors import ContentError, Problem, errors_in
from journal.records.models.settings import notebook_id
from journal.records.models.write_up import Pour, Reading
from journal.records.notebook import Notebook, read_notebook
from journal.records.taking.hand_in import hand_in_of
from journal.records.taking.photos import place_of
from journal.records.taking.pour_trees import may_be_same_pour
from journal.records.taking.take import TakenChange, take_hand_ins

READINGS = {"clay": [["10:02", "152 F", "melted"], ["10:24", "131 F", "poured"]]}
POUR = {
    "date": "2026-12-01",
    "room": "69 F",
    "melted": {"clay": "22 oz"},
    "readings": READINGS,
    "poured": {"body": "131 F"},
    "bars": [
        {"bar": "1", "variant": "clear", "at": "2", "lip": "1.5 mm", "lifted": "no", "keep": "no"},
        {"bar": "2", "variant": "opaque", "at": "1", "note": "a dent, see photo", "scent": ""},
    ],
}
ADDED = """\
  - pour: E
    date: 2026-12-01
    room: 69 F
    melted: {clay: 22 oz}
    readings:
      clay:
        - [10:02, 152 F, melted]
        - [10:24, 131 F, poured]
    poured: {body: 131 F}
    bars:
      - {bar: E1, variant: clear, at: 2, lip: 1.5 mm, lifted: no, keep: no}
      - {bar: E2, variant: opaque, at: 1, note: "a dent, see photo"}
"""


def hand_in(pour: Any = POUR, later: Any = (), **other: Any) -> dict[str, Any]:
    return {
        "format": "soap-design-journal/hand-in/1", "notebook": "hollin-quay",
        "design": KELP_ON_CLAY, "hand_in": "k3v9" * 5, "pour": pour, "later": list(later),
    } | other  # fmt: skip


@pytest.fixture(scope="module")
def whole(demo_content: Path) -> Notebook:
    return read_notebook(demo_content)


@pytest.fixture
def content(demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo's content; hand-ins are written beside it."""
    return copy_beside(demo_content, tmp_path, monkeypatch)


def take(content: Path, what: Any, *words: str, name: str = "hand-in.json") -> int:
    """Take a file of this JSON, or of these bytes."""
    data = what if isinstance(what, bytes) else json.dumps(what, indent=1).encode()
    (content.parent / name).write_bytes(data)
    return main(["take", name, "--content", "content", *words])


def test_a_pour_from_the_bench_goes_behind_the_others(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = write_up(content).read_text("utf-8")
    assert take(content, hand_in(), "--yes") == 0
    after = write_up(content).read_text("utf-8")
    assert ADDED in after
    assert after.replace(ADDED, "") == before
    assert "New: pour E of 2026-12-01, 2 readings, 2 bars.\n" in capsys.readouterr().out
    # Again, also under another id: nothing is added.
    assert take(content, hand_in(hand_in="z" * 20), "--yes") == 0
    assert "already. Nothing was written." in " ".join(capsys.readouterr().out.split())
    assert write_up(content).read_text("utf-8") == after


def test_what_was_noted_after_the_first_hand_in_is_filled_in(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert take(content, hand_in(), "--yes") == 0
    bars = [POUR["bars"][0] | {"tidy": "4 min"}, *POUR["bars"][1:]]  # type: ignore[index]
    more = POUR | {"bars": bars, "wrapped": "26 h", "private": "the kettle was empty"}
    looks = [
        {"bar": "A2", "day": "30", "bleed": "1 mm"}, {"bar": "2", "day": "1", "scent": "4"},
        {"bar": "E1", "day": "2", "scent": "3"},
    ]  # fmt: skip
    assert take(content, hand_in(more, looks), "--yes") == 0
    text = write_up(content).read_text("utf-8")
    assert "lifted: no, keep: no, tidy: 4 min}\n" in text
    assert "    later:\n      - {bar: A2, day: 30, bleed: 1 mm}\n" in text
    own = "      - {bar: E2, day: 1, scent: 4}\n      - {bar: E1, day: 2, scent: 3}\n"
    assert f"    later:\n{own}    wrapped: 26 h\n" in text
    assert text.count("2026-12-01") == 1
    # What befell a bar, told later: what was measured before is the same still.
    dropped = hand_in(more | {"bars": [bars[0] | {"spoilt": "dropped"}]})
    assert take(content, dropped, "--yes") == 0
    assert ", tidy: 4 min, spoilt: dropped}\n" in write_up(content).read_text("utf-8")
    text = write_up(content).read_text("utf-8")
    # A remark that she has put right meanwhile stays.
    again = hand_in(more | {"bars": [], "private": "the kettle was empty, twice"})
    assert take(content, again, "--yes") == 0
    assert write_up(content).read_text("utf-8") == text
    assert 'the pour "E" has another private note, which stays' in capsys.readouterr().err


def test_another_pour_of_the_day_is_told_by_its_times(content: Path) -> None:
    assert take(content, hand_in(), "--yes") == 0
    readings = {"clay": [["14:02", "150 F"], ["14:20", "130 F", "poured"]]}
    assert take(content, hand_in(POUR | {"readings": readings}), "--yes") == 0
    pours = read_notebook(content).designs[KELP_ON_CLAY].pours
    assert [(pour.label, [bar.bar for bar in pour.bars]) for pour in pours[4:]] == [
        ("E", ["E1", "E2"]), ("F", ["F1", "F2"]),
    ]  # fmt: skip
    # At the same time it is a conflict, unless she says that it is another.
    before = write_up(content).read_bytes()
    other = hand_in(POUR | {"room": "71 F"})
    assert take(content, other, "--yes") == 1
    assert write_up(content).read_bytes() == before
    assert take(content, other, "--yes", "--pour", "G") == 0
    assert [p.label for p in read_notebook(content).designs[KELP_ON_CLAY].pours][6:] == ["G"]


def test_what_the_server_kept_counts_as_its_last_lines(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line a tap; the power failed while two of them were written."""
    early = hand_in(POUR | {"bars": []})
    lines = [json.dumps(one) for one in (early, hand_in(), hand_in(hand_in="b" * 16))]
    kept = "\n".join([lines[0], lines[1][:100], *lines[1:], lines[0][:100]]).encode()
    assert take(content, kept, "--yes", name="kept.jsonl") == 0
    assert write_up(content).read_text("utf-8").count("2026-12-01") == 1
    assert ADDED in write_up(content).read_text("utf-8")
    said = capsys.readouterr().err
    assert "kept.jsonl:2:1: warning: the line is cut off, and left out" in said
    assert "kept.jsonl:5:1: warning: the line is cut off, and left out" in said


def pour_with(**changed: Any) -> dict[str, Any]:
    return hand_in(POUR | changed)


def bar_with(**changed: Any) -> dict[str, Any]:
    return pour_with(bars=[POUR["bars"][0] | changed])  # type: ignore[index]


@pytest.mark.parametrize(
    ("what", "said"),
    [
        (hand_in(notebook="another"), "this was handed in for another notebook. Take it into"),
        (hand_in(design="../../etc"), '"../../etc" is no design\'s id'),
        (hand_in(hand_in="1"), '"1" is no hand-in\'s id'),
        (hand_in(format="x/2"), "the hand-in has another format than this journal reads"),
        (hand_in(None), "nothing is handed in"),
        (hand_in("no"), "a pour has keys of its own"),
        (hand_in(photos=["../../x.jpg"]), 'unknown key "photos"'),
        (pour_with(photos=["../x.jpg"]), 'hand-in.json:46:3: unknown key "photos"'),
        (bar_with(photo="../../x.jpg"), 'unknown measure "photo"'),
        (bar_with(piece="../../x"), 'no piece "../../x" is on the shelf'),
        (bar_with(at="9"), "has no cavity 9"),
        (bar_with(lip="1,5 mm"), "hand-in.json:"),
        (bar_with(variant="grey"), 'no variant is called "grey"'),
        (bar_with(lip="1.5 mm", bar={"a": "b"}), '"bar" is one value'),
        (pour_with(bars="../../secret.csv"), '"bars" is a list'),
        (pour_with(readings="../../secret.csv"), "readings go by pot"),
        (pour_with(date="2026-13-01"), '"2026-13-01" is no day of the calendar'),
        (pour_with(bars=[{"bar": str(n), "variant": "clear"} for n in range(10_000)]),
         "kB are more than any pour has"),
        (pour_with(bars=[{"bar": str(n)} for n in range(501)]), "501 bars are more than a pour"),
        (pour_with(room=float("nan")), '"NaN" stands without quotes. Every value is a text'),
        (pour_with(room=69), '"69" stands without quotes'),
        (bar_with(note="a\0b"), "a control character (U+0000) stands in the text"),
        (bar_with(note="\ud800"), "a control character (U+D800) stands in the text"),
        (hand_in(None, [{"bar": "Z9", "day": "30"}]), 'no bar of the write-up is called "Z9"'),
        (hand_in(None, [{"bar": "A1", "day": "30", "bleed": "x"}]), "hand-in.json:"),
        (b"{" + b'"pour": {"a": ' * 100_000, "kB are more than any pour has"),
        (b'{"pour": ' + b"[" * 5000, "more than 40 levels stand inside each other"),
        (b'{"format": "x", "format": "y"}', 'the key "format" stands here twice'),
        (b'{"format": "x"} {}', "the JSON is at its end, and text follows"),
        (b'{"format": "x', "a text is broken here"),
        (b'{"format" "x"}', "a colon belongs here"),
        (b'{"format": }', '"}" stands for a value'),
        (b'{"format": "x"', "the JSON breaks off"),
        (b'{"format": ["x" "y"]}', '"\\"" stands for a comma'.replace("\\", "")),
        (b'{"later": [null]}', "null stands in a list"),
        (b"{1: 2}", "a key in quotes belongs here"),
        (b"[]", "this is no hand-in of the bench page"),
        (b"null", "null stands where a value belongs"),
        (b"", "the JSON breaks off"),
        (b"\xff", "is not UTF-8 text"),
        (b"x" * 10_000_000, "9,765 kB are more than any pour has"),
    ],
)  # fmt: skip
def test_what_is_no_hand_in_is_said(whole: Notebook, what: Any, said: str) -> None:
    raw = what if isinstance(what, bytes) else json.dumps(what, indent=1).encode()
    problems: list[Problem] = []
    try:
        taken = [hand_in_of(raw, "hand-in.json")]
        assert take_hand_ins(whole, KELP_ON_CLAY, taken, problems) is None
    except ContentError as error:
        problems.extend(error.problems)
    assert said in "\n".join(map(str, errors_in(problems)))


def test_nothing_of_it_is_written(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = write_up(content).read_bytes()
    for what in (bar_with(lip="1.5 g"), hand_in(notebook="x"), b"{}", b"{" * 9_000_000):
        assert take(content, what, "--yes") == 1
        assert "hand-in.json:" in capsys.readouterr().err
    assert write_up(content).read_bytes() == before


def test_a_script_in_a_note_is_text(content: Path) -> None:
    note = '<script>alert("1")</script>\n---\nfailed: x # \x7e'
    assert take(content, bar_with(note=note), "--yes") == 0
    assert read_notebook(content).designs[KELP_ON_CLAY].pours[-1].bars[0].note == note


def test_what_is_asked_for_otherwise_is_told(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert take(content, hand_in(), "--into", "barley-ears") == 2
    assert f'this was handed in for "{KELP_ON_CLAY}"' in capsys.readouterr().err
    assert take(content, hand_in(design="kelp-on-cley"), "--yes") == 2
    assert 'no design is called "kelp-on-cley". Did you mean "kelp-on-clay"' in (
        capsys.readouterr().err
    )
    (content.parent / "bars.csv").write_text("bar,lip mm\nA1,2\n")
    assert main(["take", "hand-in.json", "bars.csv", "--content", "content"]) == 2
    assert "Take one kind after the other." in capsys.readouterr().err
    assert take(content, hand_in(None, [{"bar": "A1", "day": "3"}]), "--pour", "E") == 2


def test_a_notebook_without_an_id_has_one_of_its_studio(content: Path) -> None:
    settings = read_notebook(content).settings
    assert notebook_id(settings) == "hollin-quay"
    without = settings.model_copy(update={"notebook": None})
    # The digest is that of the name in UTF-8: BLAKE2b of 8 bytes (RFC 7693), by b2sum -l 64.
    assert notebook_id(without) == "1bf7d89c411b0511"


def photo(path: Path, taken: str = "", form: str = "JPEG", shade: int = 0) -> None:
    """A small photo with the time of a camera (Exif 2.3: DateTimeOriginal, 0x9003)."""
    exif = Image.Exif()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    path.parent.mkdir(exist_ok=True)
    Image.new("L", (8, 8), shade).save(path, form, exif=exif.tobytes())


def test_photos_come_with_their_pour(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    camera = content.parent / "camera"
    photo(camera / "IMG_2.jpg", "2026:12:01 10:40:12")
    photo(camera / "IMG_1.JPG", "2026:12:01 10:05:00", shade=9)
    photo(camera / "x ..\\..\\ <b>.jpg", "2026:12:08 09:00:00", shade=20)
    photo(camera / "later.png", "2026:12:31 09:00:00", "PNG")
    photo(camera / "untold.jpg", shade=70)
    (camera / "broken.heic").write_bytes(b"\0\0\0\x18ftypheic")
    (camera / "notes.txt").write_text("no photo")
    later = [{"bar": "1", "day": "7", "scent": "4"}]
    before = write_up(content).read_text("utf-8")
    words = ("--photos", "camera", "--yes")
    assert take(content, hand_in(POUR | {"later": later}), *words) == 0
    rows = (
        '  - {file: photos/e-img-1.jpg, alt: "Pour E: …", day: 0}\n'
        '  - {file: photos/e-img-2.jpg, alt: "Pour E: …", day: 0}\n'
        '  - {file: photos/e-x-b.jpg, alt: "Pour E: …", bar: E1, day: 7}\n'
    )
    after = write_up(content).read_text("utf-8")
    assert f"{rows}---\n" in after
    looks = "    later:\n      - {bar: E1, day: 7, scent: 4}\n"
    assert after.replace(rows, "").replace(ADDED + looks, "") == before
    folder = write_up(content).parent / "photos"
    assert (folder / "e-img-2.jpg").read_bytes() == (camera / "IMG_2.jpg").read_bytes()
    said = " ".join(capsys.readouterr().out.split())
    for words_said in (
        "IMG_1.JPG: 2026-12-01 10:05, pour E, day 0, as photos/e-img-1.jpg.",
        "later.png: left out, taken on 2026-12-31, no day of this pour.",
        "untold.jpg: left out, it does not say when it was taken.",
        'broken.heic: left out: the photo "broken.heic" is broken or cut short',
        "Copied 3 photos: say in the write-up what each shows.",
    ):
        assert words_said in said
    assert read_notebook(content).designs[KELP_ON_CLAY].photos[-1].day == 7
    # The same again adds nothing, and copies nothing.
    names = sorted(path.name for path in folder.iterdir())
    assert take(content, hand_in(POUR | {"later": later}), *words) == 0
    assert write_up(content).read_text("utf-8") == after
    assert sorted(path.name for path in folder.iterdir()) == names


def test_killed_at_any_step_no_row_lacks_its_photo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The write-up is the old one or the new one, whole; the new one's photo is there."""
    photo(tmp_path / "a.jpg")
    change = TakenChange("design.md", b"old", b"new", (), (), ())
    found = set()
    for step in range(1, 30):
        folder = tmp_path / str(step)
        folder.mkdir()
        (folder / "design.md").write_bytes(b"old")
        disk = dies_at(step)
        monkeypatch.setattr("journal.output.files.Disk", lambda disk=disk: disk)
        try:
            write_change(folder, change, {"e-a.jpg": tmp_path / "a.jpg"})
        except Died:
            pass
        copied = folder / "photos/e-a.jpg"
        whole = copied.is_file() and copied.read_bytes() == (tmp_path / "a.jpg").read_bytes()
        assert whole or not copied.exists()
        found.add(((folder / "design.md").read_bytes(), whole))
    assert found == {(b"old", False), (b"old", True), (b"new", True)}


def test_a_photo_that_was_copied_alone_is_named_the_next_time(content: Path) -> None:
    """As after a stop between the photos and the write-up."""
    photo(content.parent / "camera" / "a.jpg", "2026:12:01 10:05:00")
    folder = write_up(content).parent / "photos"
    shutil.copyfile(content.parent / "camera" / "a.jpg", folder / "e-a.jpg")
    assert take(content, hand_in(), "--photos", "camera", "--yes") == 0
    assert "{file: photos/e-a.jpg, " in write_up(content).read_text("utf-8")
    assert not (folder / "e-a-2.jpg").exists()


def test_heic_without_its_reader_is_said(
    content: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (content.parent / "camera").mkdir()
    (content.parent / "camera" / "a.heic").write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0")
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    assert take(content, hand_in(), "--photos", "camera", "--yes") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert 'a.heic: left out: the photo "a.heic" is HEIC, and what reads HEIC is not' in said
    assert "e-a" not in write_up(content).read_text("utf-8")


def test_a_pour_is_the_same_where_its_pots_were_in_use_at_the_same_time(whole: Notebook) -> None:
    (first, *_) = whole.designs[KELP_ON_CLAY].pours

    def read_at(*times: tuple[str, float]) -> Pour:
        readings = (Reading(pot, minutes, 60, "", first.at) for pot, minutes in times)
        return replace(first, readings=tuple(readings))

    old = read_at(("clay", 602), ("clay", 624))
    assert may_be_same_pour(read_at(("clay", 610)), old)
    assert may_be_same_pour(read_at(("clay", 500), ("clay", 602)), old)
    assert not may_be_same_pour(read_at(("clay", 625), ("clay", 640)), old)
    assert not may_be_same_pour(read_at(("white", 610)), old)
    assert may_be_same_pour(read_at(), old)
    assert not may_be_same_pour(replace(old, date=date(2024, 10, 6)), old)


def test_of_two_pours_of_a_day_the_nearer_has_the_photo(whole: Notebook) -> None:
    (first, *_) = whole.designs[KELP_ON_CLAY].pours
    morning = [Reading("clay", 600 + n, 60, "", first.at) for n in (2, 24)]
    pours = [
        replace(first, label="M", readings=tuple(morning)),
        replace(first, label="N", readings=(Reading("clay", 850, 60, "", first.at),)),
        replace(first, label="O", readings=()),
    ]
    found = [
        place_of(datetime(2024, 10, 5, hour, minute), pours)
        for hour, minute in ((9, 0), (10, 10), (12, 16), (12, 18), (23, 0))
    ]
    assert [place.pour for place in found if place is not None] == ["M", "M", "M", "N", "N"]
    assert place_of(datetime(2024, 10, 4, 10, 0), pours) is None


def test_what_can_hardly_be_is_said_before_it_is_written(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bar of ten grams, a slip of a decimal point; the write-up's other bars are not told of."""
    bars = [POUR["bars"][0] | {"weight": "10.1 g"}, *POUR["bars"][1:]]  # type: ignore[index, operator]
    path = tmp_path / "hand-in.json"
    path.write_text(json.dumps(hand_in(POUR | {"bars": bars})), "utf-8")
    assert main(["take", str(path), "--content", str(content), "--yes"]) == 0
    told = capsys.readouterr()
    (warning,) = [line for line in told.err.splitlines() if "hardly" in line]
    line = int(warning.split(":")[1])
    assert "10.1 g" in write_up(content).read_text("utf-8").splitlines()[line - 1]
    assert 'Did you mean "101 g"?' in warning
