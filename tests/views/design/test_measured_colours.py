"""What photos show stands on the pages: colours, how they moved, edges, the pair at one scale."""

from __future__ import annotations

import json
import re
import shutil
from decimal import Decimal
from pathlib import Path

import pytest
from paths import MEASURABLE
from photos.photo_files import smooth_photo

from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.figures.colour.spaces import ciede2000, difference_words
from journal.photos.derive import measured_photos
from journal.quantities.show import show_length
from journal.records.notebook import read_notebook
from journal.views.design.photo_pair import width_classes
from journal.views.shared.measured_colours import difference_text, lab_text

EDGES = MEASURABLE
TRUTHS = [json.loads((EDGES / f"edge-0{n}.json").read_text("utf-8")) for n in (1, 3)]
# The wider edge is the later one.
DAYS = (1, 60)


def across(truth: dict) -> str:
    """4 mm to either side of the edge, from body to detail."""
    (x, y), (nx, ny) = truth["edge"]["point_px"], truth["edge"]["normal_towards_relief"]
    reach = (truth["bleed"]["w10_90_mm"] * 1.3 + 1.5) / truth["mm_per_px"]
    ends = (x - nx * reach, y - ny * reach, x + nx * reach, y + ny * reach)
    return ", ".join(f"{end:.2f}" for end in ends)


def box(rect: list[float]) -> str:
    x1, y1, x2, y2 = rect
    return f"[{x1}, {y1}, {x2 - x1}, {y2 - y1}]"


def entry(number: int) -> str:
    truth = TRUTHS[number]
    grey = truth["grey_patch"]
    return (
        f"  - file: photos/day-{DAYS[number]}.jpg\n    alt: The edge on day {DAYS[number]}\n"
        f"    bar: A1\n    day: {DAYS[number]}\n    scale: {truth['mm_per_px']} mm/px\n"
        f"    measure:\n      across: [{across(truth)}]\n"
        f"      regions: {{body: {box(truth['body_patch']['rect_px'])},"
        f" detail: {box(truth['relief_patch']['rect_px'])}}}\n"
        f"      neutral: {{at: {box(grey['rect_px'])}, srgb: 118}}\n"
    )


def lay_down(root: Path, photos: str, more: str = "") -> Path:
    folder = root / "designs" / "blue"
    (folder / "photos").mkdir(parents=True)
    (root / "shelf").mkdir()
    (root / "journal.yaml").write_text("studio: A bench\n", "utf-8")
    (root / "shelf" / "bases.yaml").write_text("plain: {name: Plain}\n", "utf-8")
    (root / "shelf" / "colourants.yaml").write_text(
        "dusk: {name: Dusk blue, kind: mica}\n", "utf-8"
    )
    (folder / "design.md").write_text(
        "---\ntitle: Blue\ndate: 2026-01-01\nstate: trial\nbars: 2\nlayers:\n"
        "  - {name: detail, base: plain, amount: 6 g}\n"
        "  - name: body\n    base: plain\n    amount: 90 g\n"
        "    colours: [{colourant: dusk, dose: 1 g/kg}]\n"
        f"{more}photos:\n{photos}---\n",
        "utf-8",
    )
    return folder / "photos"


POURED = "pours: [{date: 2026-01-01, bars: [{bar: A1}]}]\n"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A notebook with two photos of one bar, a day and two months after its pour."""
    root = tmp_path_factory.mktemp("measured")
    photos = lay_down(root / "content", entry(0) + entry(1), POURED)
    for day, number in zip(DAYS, (1, 3), strict=True):
        shutil.copyfile(EDGES / f"edge-0{number}.jpg", photos / f"day-{day}.jpg")
    done = build_notebook(BuildOptions(root / "content", root / "out"))
    assert not done.problems, done.problems
    return root


def page_of(made: Path, path: str) -> str:
    text = (made / "out" / path).read_text("utf-8")
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_measured_in_photos(made: Path) -> None:
    measured, problems = measured_photos(read_notebook(made / "content"))
    assert not problems
    page = page_of(made, "designs/blue.html")
    part = re.search(r'<section class=part id="measured".*?</section>', page, re.DOTALL)
    assert part
    assert "Measured in photos" in part[0]
    for photo in measured:
        bleed = photo.measurement.bleed
        assert bleed is not None
        assert show_length(bleed.width_mm, Decimal("0.01")) in part[0]
        for region in photo.measurement.regions:
            assert lab_text(region.lab).replace("\N{NO-BREAK SPACE}", " ") in part[0]
            assert region.words in part[0]
    # Two days of each of two layers: a strip of patches and a chart for each.
    assert part[0].count("<ul class=colours ") == 2
    assert part[0].count("class=chart ") == 2
    assert "corrected by a grey in the picture" in part[0]
    first, last = (photo.measurement.regions[0] for photo in measured)
    assert difference_text(first.lab, last.lab) in part[0]


def test_bleed_by_photo_is_marked(made: Path) -> None:
    page = page_of(made, "designs/blue.html")
    part = re.search(r'<section class=part id="later".*?</section>', page, re.DOTALL)
    assert part
    assert "Bleed, mm, by photo" in part[0]
    assert "A1, by photo" in part[0]
    for truth in TRUTHS:
        shown = [float(cell) for cell in re.findall(r">(\d(?:\.\d)?)(?: \([^<]*)?</td>", part[0])]
        # What is printed is rounded to 0.1 mm; the edges are known to 10 %.
        assert any(abs(width - truth["bleed"]["w10_90_mm"]) < 0.3 for width in shown)


def test_swatches_on_the_colourants_page(made: Path) -> None:
    page = page_of(made, "shelf/colourant-dusk.html")
    part = re.search(r'<section class=part id="swatches".*?</section>', page, re.DOTALL)
    assert part
    assert "2 swatches, since 2 January 2026" in part[0]
    assert part[0].count("the first recorded") == 1
    ladder = re.search(r'<section class=part id="ladder".*?</section>', page, re.DOTALL)
    assert ladder
    assert ladder[0].count("<rect ") == 2
    assert "measured in a photo yet" not in ladder[0]
    measured, _ = measured_photos(read_notebook(made / "content"))
    body = [photo.measurement.regions[0].lab for photo in measured]
    apart = ciede2000(*body)
    assert f"{difference_words(apart)} ({apart:.1f})" in part[0]


def test_the_photo_card_shows_the_tints(made: Path) -> None:
    page = page_of(made, "sheets/photo-card.html")
    measured, _ = measured_photos(read_notebook(made / "content"))
    first = measured[0].measurement.regions[0].srgb
    fill = "#" + "".join(f"{round(code):02x}" for code in first)
    # The tint stands right of the six greys, and its name beneath, after its number.
    assert f'<rect x="76" y="16" width="10" height="8" fill="{fill}"/>' in page
    assert ">1 Dusk blue</text>" in page
    assert "Check the ruler: it is 100 mm long." in page
    assert 'href="sheets/photo-card.html"' in page_of(made, "how.html")


def test_a_rebuild_measures_nothing_again(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    content, out = tmp_path / "content", tmp_path / "out"
    shutil.copytree(made / "content", content)
    build_notebook(BuildOptions(content, out))
    path = content / "designs" / "blue" / "design.md"
    path.write_text(path.read_text("utf-8").replace("title: Blue", "title: Bluer"), "utf-8")

    def never(*asked: object) -> None:
        raise AssertionError("measured again")

    monkeypatch.setattr("journal.pipeline.measure_photo", never)
    build_notebook(BuildOptions(content, out))
    assert "Measured in photos" in (out / "designs" / "blue.html").read_text("utf-8")
    text = path.read_text("utf-8")
    path.write_text(text.replace("srgb: 118", "srgb: 117", 1), "utf-8")
    with pytest.raises(AssertionError, match="measured again"):
        build_notebook(BuildOptions(content, out))


@pytest.mark.parametrize(
    ("scales", "says", "classes"),
    [
        (("0.1 mm/px", "0.05 mm/px"), "At one scale: a column is 80 mm wide.",
         ["tens-10", "tens-5"]),
        (("0.1 mm/px", "{from: [0, 0], to: [300, 400], is: 30 mm}"),
         "At one scale: a column is 80 mm wide.", ["tens-10", "tens-6"]),
        (("0.1 mm/px", None), "These photos are not at one scale", []),
        ((None, None), "These photos are not at one scale", []),
    ],
)  # fmt: skip
def test_the_pair_is_at_one_scale_where_it_can_be(
    tmp_path: Path, scales: tuple[str | None, ...], says: str, classes: list[str]
) -> None:
    rows = "  - {file: photos/whole.jpg, alt: The whole}\n"
    for name, scale in zip(("close", "straight"), scales, strict=True):
        rows += f"  - file: photos/{name}.jpg\n    alt: Cut {name}\n    variant: {name}\n"
        rows += f"    scale: {scale}\n" if scale else ""
    photos = lay_down(
        tmp_path / "content", rows,
        "trim: close\nvariants: {close: {trim: close}, straight: {trim: straight 3 mm}}\n",
    )  # fmt: skip
    for number, name in enumerate(("whole", "close", "straight")):
        smooth_photo(800, 500, seed=number).save(photos / f"{name}.jpg")
    build_notebook(BuildOptions(tmp_path / "content", tmp_path / "out"))
    page = (tmp_path / "out" / "designs" / "blue.html").read_text("utf-8")
    page = page.replace("\N{NO-BREAK SPACE}", " ")
    assert says in page
    assert re.findall(r'<figure class="to-scale (tens-\d+) ', page) == classes


@pytest.mark.parametrize(
    ("share", "named"),
    [
        (1.0, "tens-10 ones-0 tenths-0"),
        (0.834, "tens-8 ones-3 tenths-4"),
        (0.0004, "tens-0 ones-0 tenths-1"),
        (0.0996, "tens-1 ones-0 tenths-0"),
    ],
)
def test_width_classes(share: float, named: str) -> None:
    assert width_classes(share) == named
    sizes = {"tens": 10.0, "ones": 1.0, "tenths": 0.1}
    words = (word.split("-") for word in named.split())
    percent = sum(sizes[place] * int(digit) for place, digit in words)
    assert percent == pytest.approx(100 * share, abs=0.1)  # to the nearest tenth, at least one
