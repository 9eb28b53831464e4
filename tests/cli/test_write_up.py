"""``journal write-up``: by options or by conversation, sound at once, over nothing there is."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
import yaml
from demo import BARLEY, HONEYCOMB, KELP_ON_CLAY, KELP_ON_GREY, MOTH
from PIL import Image

from journal.cli import main
from journal.figures.common.derive_context import RecipeContext
from journal.figures.recipe.derive_fill import FILL
from journal.records.notebook import read_notebook


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where copies of the demo stand, one after the other, and what is kept of them."""
    return tmp_path_factory.mktemp("written up")


@pytest.fixture
def content(demo_content: Path, place: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo's content, of which a check reckons anew what a test has changed."""
    monkeypatch.setenv("JOURNAL_CACHE", str(place / "kept"))
    made = place / "content"
    shutil.rmtree(made, ignore_errors=True)
    shutil.copytree(demo_content, made, copy_function=shutil.copyfile)
    return made


def write_up(content: Path, *words: str) -> int:
    return main(["write-up", *words, "--content", str(content)])


def is_sound(content: Path, name: str) -> None:
    """Nothing is wrong with what was written."""
    notebook = read_notebook(content)
    assert not notebook.errors
    assert name in notebook.designs


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["A plain one"], "a-plain-one"),
        (["Kelp on amber", "--mat", "kelp-frond", "--mould", "six-oblong"], "kelp-on-amber"),
        (["A loaf", "--mould", "loaf-tin"], "a-loaf"),
        (["Squares", "--mould", "guest-nine", "--mat", "moth-moon"], "squares"),
        (["Kelp again", "--from", KELP_ON_GREY], "kelp-again"),
        (["Other mat", "--from", MOTH, "--mat", "kelp-frond"], "other-mat"),
        (["Barley: a \"new\" one, #2", "--from", BARLEY], "barley-a-new-one-2"),
    ],
)  # fmt: skip
def test_what_is_written_is_sound(content: Path, words: list[str], name: str) -> None:
    assert write_up(content, *words) == 0
    is_sound(content, name)
    assert read_notebook(content).designs[name].title == words[0]
    assert main(["check", "--content", str(content)]) == 0


def test_in_a_metric_studio(content: Path) -> None:
    settings = content / "journal.yaml"
    settings.write_text(settings.read_text().replace("units: us", "units: metric"))
    assert write_up(content, "Metric", "--mat", "kelp-frond", "--mould", "six-oblong") == 0
    text = (content / "designs/metric/design.md").read_text("utf-8")
    is_sound(content, "metric")
    assert " F" not in text
    assert " oz" not in text


@pytest.mark.parametrize(
    "words",
    [
        ["--mat", "kelp-frond", "--mould", "six-oblong"],
        ["--mat", "moth-moon", "--mould", "guest-nine"],
        ["--mould", "six-oblong"],
        ["--mould", "loaf-tin"],
        ["--from", KELP_ON_CLAY, "--mould", "guest-nine"],
    ],
)
@pytest.mark.parametrize("holds", [True, False])
def test_the_bar_fills_its_cavity_and_no_more(content: Path, words: list[str], holds: bool) -> None:
    """By the figure itself, whether the mould says what it holds or only how large it is."""
    if not holds:
        moulds = content / "shelf/moulds.yaml"
        lines = moulds.read_text("utf-8").split("\n")
        moulds.write_text("\n".join(one for one in lines if "holds:" not in one), "utf-8")
    assert write_up(content, "Filled", *words) == 0
    notebook = read_notebook(content)
    design = notebook.designs["filled"]
    context = RecipeContext(
        notebook.settings, notebook.shelf, design, design.as_written, design.recipe.bars
    )
    filled = context.figure(FILL).value
    assert filled is not None
    assert 0.85 < filled.fill[0] <= filled.fill[1] < 1


def test_in_a_notebook_just_begun(tmp_path: Path) -> None:
    assert main(["begin", str(tmp_path / "soap")]) == 0
    assert write_up(tmp_path / "soap", "Mine", "--from", "fern-leaf") == 0
    is_sound(tmp_path / "soap", "mine")


def test_a_title_that_is_taken_gets_a_number_with_yes(content: Path) -> None:
    (content / "designs" / "kelp").mkdir()
    before = (content / f"designs/{BARLEY}/design.md").read_bytes()
    assert write_up(content, "Barley ears", "--yes") == 0
    assert write_up(content, "Kelp", "--yes") == 0
    assert (content / f"designs/{BARLEY}-2/design.md").is_file()
    assert (content / "designs/kelp-2/design.md").is_file()
    assert (content / f"designs/{BARLEY}/design.md").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], 'the new design has no title. Write: journal write-up "Kelp on clay"'),
        (
            ["///"],
            'the title "///" has no letter and no digit. Write: journal write-up "Kelp on clay"',
        ),
        (["X", "--from", "kelp-on-cly"], f'called "kelp-on-cly". Did you mean "{KELP_ON_CLAY}"?'),
        (["X", "--mat", "kelp-frnd"], 'no mat "kelp-frnd" is on the shelf. Did you mean "kelp-'),
        (["X", "--mould", "tin"], 'no mould "tin" is on the shelf'),
        (["Barley ears"], f"designs/{BARLEY} is there already. Give the new design another title,"
                          f" or make {BARLEY}-2 with --yes."),
        (["X", "--photos", "nowhere"], '"nowhere" is no folder'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_nothing_written(
    content: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(path.name for path in (content / "designs").iterdir())
    assert write_up(content, *words) == 2
    assert said in capsys.readouterr().err
    assert sorted(path.name for path in (content / "designs").iterdir()) == before


def test_without_a_base_there_is_nothing_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "journal.yaml").write_text("studio: A\n")
    assert write_up(tmp_path, "First") == 2
    assert (
        "there is no base on the shelf. Write one into shelf/bases.yaml" in capsys.readouterr().err
    )


def test_what_is_no_list_of_lines_is_not_taken_over(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = content / f"designs/{BARLEY}/design.md"
    front, _, body = path.read_text("utf-8").removeprefix("---\n").partition("\n---\n")
    tree = json.dumps(yaml.load(front, yaml.BaseLoader), ensure_ascii=False)
    path.write_text(f"---\n{tree}\n---\n{body}", "utf-8")
    assert BARLEY in read_notebook(content).designs
    assert write_up(content, "Again", "--from", BARLEY) == 2
    told = capsys.readouterr().err
    assert f'"designs/{BARLEY}/design.md" cannot be taken over: ' in told
    assert "Write each key on a line of its own there." in told
    assert not (content / "designs/again").exists()


def test_the_usual_base_is_one_of_the_shelf(tmp_path: Path) -> None:
    """A studio that has cast in nothing but leftovers yet."""
    assert main(["begin", str(tmp_path / "soap")]) == 0
    shelf = tmp_path / "soap" / "shelf"
    (shelf / "leftovers.yaml").write_text("ends: {name: Ends, amount: 300 g}\n")
    path = tmp_path / "soap/designs/fern-leaf/design.md"
    text = re.sub(r"base: [a-z-]+", "base: {leftover: ends}", path.read_text("utf-8"))
    path.write_text(text, "utf-8")
    assert write_up(tmp_path / "soap", "Next") == 0
    first = next(iter(read_notebook(tmp_path / "soap").shelf.bases))
    assert f"base: {first}" in (tmp_path / "soap/designs/next/design.md").read_text("utf-8")


# Photos --------------------------------------------------------------------------


@pytest.fixture
def camera(tmp_path: Path) -> Path:
    """Photos whose names are not in the order they were taken, and other files."""
    folder = tmp_path / "camera"
    folder.mkdir()
    for name, taken in (
        ("IMG_0002.JPG", "2026:04:18 09:30:00"),
        ("IMG_0001.jpg", "2026:04:18 11:00:00"),
        ("a b.jpg", "2026:04:17 23:59:59"),
    ):
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0x9003] = taken
        Image.new("RGB", (8, 6), "white").save(folder / name, "JPEG", exif=exif)
    Image.new("RGB", (8, 6)).save(folder / "plain.png")
    written = 1_776_000_000  # 2026-04-12, whatever the zone
    os.utime(folder / "plain.png", (written, written))
    (folder / "notes.txt").write_text("not a photo")
    (folder / ".hidden.jpg").write_bytes(b"")
    return folder


def test_photos_are_copied_in_the_order_they_were_taken(content: Path, camera: Path) -> None:
    before = {path.name: path.read_bytes() for path in camera.iterdir()}
    assert write_up(content, "Shot", "--photos", str(camera)) == 0
    design = read_notebook(content).designs["shot"]
    names = ["01-plain.png", "02-a-b.jpg", "03-img-0002.jpg", "04-img-0001.jpg"]
    assert [photo.file for photo in design.photos] == [f"photos/{name}" for name in names]
    copies = content / "designs/shot/photos"
    originals = ["plain.png", "a b.jpg", "IMG_0002.JPG", "IMG_0001.jpg"]
    for name, original in zip(names, originals, strict=True):
        assert (copies / name).read_bytes() == before[original]
    assert {path.name: path.read_bytes() for path in camera.iterdir()} == before
    is_sound(content, "shot")


def test_a_folder_without_photos(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert write_up(content, "X", "--photos", str(content / "shelf")) == 2
    assert "there is no photo in" in capsys.readouterr().err


# The day -------------------------------------------------------------------------


class Elsewhen(date):
    """A day on which the clock of the machine stands."""

    at = date(2026, 4, 18)

    @classmethod
    def today(cls) -> date:
        return cls.at


@pytest.fixture
def move_to(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Moves the machine to another time zone."""

    def move(zone: str) -> None:
        monkeypatch.setenv("TZ", zone)
        time.tzset()

    yield move
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("moment", "day"),
    [
        ("1776470400", "2026-04-18"),
        ("1776556799", "2026-04-18"),  # a second before midnight, in UTC
        ("0", "1970-01-01"),
        ("253402300799", "9999-12-31"),
    ],
)
def test_the_day_can_be_set(
    content: Path, moment: str, day: str,
    move_to: Callable[[str], None], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Whatever day it is where it is written, and whatever the zone."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", moment)
    monkeypatch.setattr("journal.cli.clock.date", Elsewhen)
    written = []
    for at, zone in (
        (date(2026, 4, 18), "Pacific/Kiritimati"),
        (date(2027, 5, 2), "Pacific/Pago_Pago"),
    ):
        monkeypatch.setattr(Elsewhen, "at", at)
        move_to(zone)
        assert write_up(content, "Dated", "--from", BARLEY) == 0
        folder = content / "designs" / "dated"
        written.append((folder / "design.md").read_bytes())
        shutil.rmtree(folder)
    assert written[0] == written[1]
    assert f"\ndate: {day}\n".encode() in written[0]


def test_without_it_the_day_is_todays(content: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "")
    monkeypatch.setattr("journal.cli.clock.date", Elsewhen)
    for day in (date(2027, 2, 3), date(2028, 2, 29)):
        monkeypatch.setattr(Elsewhen, "at", day)
        assert write_up(content, f"Of {day}") == 0
        assert read_notebook(content).designs[f"of-{day}"].date == day


@pytest.mark.parametrize("moment", ["soon", "-1", "1.5", "253402300800", "9" * 30, "٣"])
def test_a_moment_that_is_none(
    content: Path, moment: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", moment)
    assert write_up(content, "Undated") == 2
    assert f'SOURCE_DATE_EPOCH is "{moment}", which is no number' in capsys.readouterr().err
    assert not (content / "designs" / "undated").exists()


# The conversation -----------------------------------------------------------------

Talk = Callable[..., list[str]]


@pytest.fixture
def talk(monkeypatch: pytest.MonkeyPatch) -> Talk:
    """Sits at a terminal and gives these answers; gives the questions."""

    def sit(*answers: str) -> list[str]:
        asked: list[str] = []
        ready: Iterator[str] = iter(answers)

        def answer(question: str) -> str:
            asked.append(question)
            try:
                return next(ready)
            except StopIteration:
                raise EOFError from None

        monkeypatch.setattr("builtins.input", answer)
        monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
        monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
        return asked

    return sit


def test_a_conversation(content: Path, talk: Talk, capsys: pytest.CaptureFixture[str]) -> None:
    asked = talk("Kelp on rust", "", "kelp-frnd", "kelp-frond", "six-oblong")
    assert write_up(content) == 0
    assert [question.partition(" (")[0] for question in asked] == [
        "Title: ", "From which earlier design", "Mat", "Mat", "Mould",
    ]  # fmt: skip
    assert 'Did you mean "kelp-frond"?' in capsys.readouterr().out
    design = read_notebook(content).designs["kelp-on-rust"]
    assert (design.recipe.mat, design.recipe.mould) == ("kelp-frond", "six-oblong")
    is_sound(content, "kelp-on-rust")


def test_from_an_earlier_design_no_more_is_asked(content: Path, talk: Talk) -> None:
    asked = talk("Kelp once more", KELP_ON_CLAY)
    assert write_up(content) == 0
    assert len(asked) == 2
    assert read_notebook(content).designs["kelp-once-more"].grew_from == KELP_ON_CLAY


def test_the_tab_key_fills_in_the_names(content: Path, talk: Talk) -> None:
    readline = pytest.importorskip("readline")
    talk("Kelp on rust", "", "kelp-frond", "six-oblong")
    assert write_up(content) == 0
    complete = readline.get_completer()  # for the last question, which mould
    found = [complete("six", number) for number in range(3)]
    assert found[0] == "six-oblong"
    assert found[-1] is None


def test_a_conversation_that_ends_early_writes_nothing(
    content: Path, talk: Talk, capsys: pytest.CaptureFixture[str]
) -> None:
    talk("Kelp on rust")
    assert write_up(content) == 2
    assert "Nothing was written." in capsys.readouterr().err
    assert not (content / "designs/kelp-on-rust").exists()


@pytest.mark.parametrize("answer", ["y", "Yes"])
def test_a_title_that_is_taken_is_asked_about(content: Path, talk: Talk, answer: str) -> None:
    asked = talk(answer)
    assert write_up(content, "Barley ears") == 0
    assert asked == [f"designs/{BARLEY} is there already. Make {BARLEY}-2? (y; Enter for no): "]
    assert read_notebook(content).designs[f"{BARLEY}-2"].title == "Barley ears"


@pytest.mark.parametrize("answer", ["", "n", "why"])
def test_without_a_yes_a_taken_title_writes_nothing(
    content: Path, talk: Talk, answer: str, capsys: pytest.CaptureFixture[str]
) -> None:
    talk(answer)
    assert write_up(content, "Barley ears") == 1
    assert capsys.readouterr().out == "Nothing was written.\n"
    assert not (content / f"designs/{BARLEY}-2").exists()


def test_a_title_as_an_option_asks_nothing(content: Path, talk: Talk) -> None:
    asked = talk()
    assert write_up(content, "Quiet") == 0
    assert not asked


def test_the_chance_of_the_test_that_it_offers(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As the comparison says it once the hash marks are gone; nothing where there is no variant."""
    assert write_up(content, "Bees again", "--from", HONEYCOMB) == 0
    lines = capsys.readouterr().out.splitlines()
    at = lines.index("It offers a test of close against straight by lip, below its recipe:")
    chance = lines[at + 1].strip()
    assert re.fullmatch(
        r"3 pots of 6 bars: \d\d in 100 that a difference of 0.5 mm is told.", chance
    )
    written = content / "designs" / "bees-again" / "design.md"
    text = written.read_text("utf-8")
    written.write_text(text.replace("# question:", "question:").replace("# plan:", "plan:"))
    assert main(["compare", "bees-again", "--content", str(content)]) == 0
    assert chance in " ".join(capsys.readouterr().out.split())
    assert write_up(content, "A plain bar") == 0
    assert "offers" not in capsys.readouterr().out
