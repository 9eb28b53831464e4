"""``journal measure``: by options, as the write-up says, and what it refuses."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from paths import MEASURABLE

from journal.cli import main
from journal.photos.derive import bleed_widths, measured_photos
from journal.photos.measure import CardPose
from journal.photos.source import PhotoProblem
from journal.records.notebook import read_notebook

PHOTOS = MEASURABLE
EDGE = PHOTOS / "edge-01.jpg"
TRUTH = json.loads((PHOTOS / "edge-01.json").read_text(encoding="utf-8"))


def line_across() -> tuple[float, float, float, float]:
    """4 mm to either side of the edge, from the body to the relief."""
    (x, y), (nx, ny) = TRUTH["edge"]["point_px"], TRUTH["edge"]["normal_towards_relief"]
    reach = 4 / TRUTH["mm_per_px"]
    return x - nx * reach, y - ny * reach, x + nx * reach, y + ny * reach


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    assert main(["measure", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_shape_of_the_json(capsys: pytest.CaptureFixture[str]) -> None:
    across = ",".join(f"{number:.2f}" for number in line_across())
    found = said(
        capsys, str(EDGE), "--scale", f"{TRUTH['mm_per_px']} mm/px", "--across", across,
        "--region", "table=5,5,60,60",
    )  # fmt: skip
    assert set(found) >= {"scale_mm_per_px", "corrected", "regions", "bleed"}
    assert found["corrected"] == "none"
    assert found["scale_mm_per_px"] == pytest.approx(TRUTH["mm_per_px"])
    assert set(found["regions"]["table"]) >= {"srgb", "lab", "name"}
    bleed = found["bleed"]
    assert bleed["low_mm"] < bleed["width_mm"] < bleed["high_mm"]


def test_as_the_write_up_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photos = tmp_path / "designs" / "blue" / "photos"
    photos.mkdir(parents=True)
    photo = shutil.copy(EDGE, photos / "edge.jpg")
    (tmp_path / "journal.yaml").write_text("studio: A bench\n", encoding="utf-8")
    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf" / "bases.yaml").write_text("plain: {name: Plain}\n", encoding="utf-8")
    across = ", ".join(f"{number:.2f}" for number in line_across())
    (tmp_path / "designs" / "blue" / "design.md").write_text(
        "---\ntitle: Blue\ndate: 2026-01-01\nstate: trial\nbars: 1\n"
        "layers: [{name: body, base: plain, amount: 90 g}]\n"
        "pours: [{date: 2026-01-01, bars: [{bar: A1}]}]\n"
        "photos:\n"
        "  - file: photos/edge.jpg\n    alt: An edge\n    bar: A1\n    day: 30\n"
        f"    scale: {TRUTH['mm_per_px']} mm/px\n"
        f"    measure: {{across: [{across}], regions: {{table: [5, 5, 60, 60]}}}}\n"
        "  - file: photos/edge.jpg\n    alt: Nothing there\n"
        "    measure: {regions: {body: [5000, 5, 60, 60]}}\n"
        "---\n",
        encoding="utf-8",
    )
    notebook = read_notebook(tmp_path)
    assert not notebook.errors
    measured, problems = measured_photos(notebook)
    assert [problem.position.line for problem in problems] == [17]
    assert all(problem.warning for problem in problems)
    widths = bleed_widths(measured)["blue"]["A1"]
    assert [day for day, _ in widths] == [30]
    by_command = said(capsys, str(photo), "--content", str(tmp_path))
    assert by_command["bleed"]["width_mm"] == pytest.approx(widths[0][1])


LIES = "{card: {above: 25 mm, camera: 400 mm, ruler: 99.5 mm}}"


def test_how_the_card_lies_is_passed_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The write-up and the options say the same in their own words."""
    folder = tmp_path / "designs" / "blue"
    folder.mkdir(parents=True)
    photo = shutil.copy(EDGE, folder / "edge.jpg")
    (tmp_path / "journal.yaml").write_text("studio: A bench\n", encoding="utf-8")
    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf" / "bases.yaml").write_text("plain: {name: Plain}\n", encoding="utf-8")
    (folder / "design.md").write_text(
        "---\ntitle: Blue\ndate: 2026-01-01\nstate: trial\nbars: 1\n"
        "layers: [{name: body, base: plain, amount: 90 g}]\n"
        f"photos:\n  - file: edge.jpg\n    alt: An edge\n    scale: {LIES}\n"
        "    measure: {regions: {body: [5, 5, 60, 60]}}\n---\n",
        encoding="utf-8",
    )
    asked: list[object] = []

    def seeing(picture: object, scale: object, *more: object) -> object:
        asked.append(scale)
        raise PhotoProblem("seen", "So be it")

    monkeypatch.setattr("journal.photos.measure.find_card", lambda picture: object())
    monkeypatch.setattr(
        "journal.photos.measure._plane_by_card", lambda picture, card, scale: seeing(picture, scale)
    )
    assert main(["measure", str(photo), "--content", str(tmp_path)]) == 2
    options = ["--card", "--above", "25mm", "--camera", "40 cm", "--ruler", "99.5 mm"]
    assert main(["measure", str(photo), *options, "--region", "body=5,5,60,60"]) == 2
    assert main(["measure", str(photo), "--card", "--region", "body=5,5,60,60"]) == 2
    there = CardPose(above_mm=25.0, camera_mm=400.0, ruler_mm=99.5)
    assert asked == [there, there, CardPose()]
    capsys.readouterr()


@pytest.mark.parametrize(
    ("scale", "part"),
    [
        ("{card: {above: 25}}", "25"),
        ("{card: {height: 25 mm}}", "height"),
        ("{card: {camera: 0 mm}}", "0 mm"),
        ("{card: yes}", "has no keys"),
        ("{card: {above: 25 mm}, from: [1, 2]}", "a scale is of one kind"),
    ],
)
def test_a_card_that_lies_nowhere_is_an_error(tmp_path: Path, scale: str, part: str) -> None:
    folder = tmp_path / "designs" / "blue"
    folder.mkdir(parents=True)
    shutil.copy(EDGE, folder / "edge.jpg")
    (tmp_path / "journal.yaml").write_text("studio: A bench\n", encoding="utf-8")
    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf" / "bases.yaml").write_text("plain: {name: Plain}\n", encoding="utf-8")
    (folder / "design.md").write_text(
        "---\ntitle: Blue\ndate: 2026-01-01\nstate: trial\nbars: 1\n"
        "layers: [{name: body, base: plain, amount: 90 g}]\n"
        f"photos:\n  - file: edge.jpg\n    alt: An edge\n    scale: {scale}\n---\n",
        encoding="utf-8",
    )
    (problem,) = read_notebook(tmp_path).errors
    assert problem.position.line == 10
    assert part in str(problem)


@pytest.mark.parametrize(
    ("options", "part"),
    [
        (["--region", "body"], "is no region"),
        (["--region", "body=1,2,3"], "is not 4 numbers"),
        (["--scale", "0.05"], "0.05"),
        (["--across", "1,2,3,x"], "--across"),
        (["--region", "body=1,1,5,5", "--neutral", "1,2,3,4"], "--neutral"),
        (["--card", "--region", "body=1,1,5,5"], "card"),
        (["--card", "--above", "25", "--region", "body=1,1,5,5"], "25"),
        (["--above", "25mm", "--scale", "0.05 mm/px"], "--card"),
        ([], "no write-up says"),
    ],
)
def test_wrong_use_is_told(
    options: list[str], part: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "journal.yaml").write_text("studio: A bench\n", encoding="utf-8")
    assert main(["measure", str(EDGE), "--content", str(tmp_path), *options]) == 2
    assert part in capsys.readouterr().err


def test_no_photo(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", "nowhere.jpg", "--region", "body=1,1,5,5"]) == 2
    assert "nowhere.jpg" in capsys.readouterr().err


def test_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    asked = [str(EDGE), "--scale", f"{TRUTH['mm_per_px']} mm/px"]
    across = ",".join(f"{number:.2f}" for number in line_across())
    assert main(["measure", *asked, "--across", across]) == 0
    assert " mm" in capsys.readouterr().out
    assert main(["measure", *asked]) == 0
    assert capsys.readouterr().out == f"scale: {TRUTH['mm_per_px']:.4f} mm/px\n"
    assert main(["measure", str(EDGE), "--blur", "0.8 px"]) == 0
    assert "name a --region" in capsys.readouterr().out


def test_a_grey_that_is_known_takes_the_light_out(capsys: pytest.CaptureFixture[str]) -> None:
    plain = said(capsys, str(EDGE), "--region", "table=5,5,60,60")
    found = said(capsys, str(EDGE), "--region", "table=5,5,60,60", "--neutral", "100,5,40,40=118")
    assert plain["corrected"] == "none"
    assert found["corrected"] == "neutral"
    assert found["regions"]["table"]["lab"] != plain["regions"]["table"]["lab"]
