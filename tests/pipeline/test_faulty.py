"""What has a mistake in it costs its own page, and no other; mended, it comes back."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from typing import NamedTuple
from urllib.parse import unquote

import pytest
from demo import BARLEY, KELP_ON_CLAY, KELP_ON_GREY
from piped import Piped, piped
from small_notebook import ORDER, QUESTION, lay_down_asking

from journal.cli import CONTENT_WRONG, DONE, main
from journal.errors import ContentError
from journal.views.shared.editions import EDITIONS
from journal.views.shared.words import NO_BREAK

CLAY = f"designs/{KELP_ON_CLAY}/design.md"
CLAY_PAGE = f"designs/{KELP_ON_CLAY}.html"
#: The page on which the pours of an order are tapped: without a plan there is none.
ORDER_BENCH = "bench/orders/dozen.html"
#: Files that there is nothing to make of while it has a mistake: its own, of what failed in no
#: other design, of weeks in which no other was poured, and of an order of it alone. Labels are
#: those of keepers.
CLAY_MORE = {
    f"cards/{KELP_ON_CLAY}.html", f"sheets/pour-{KELP_ON_CLAY}.html",
    f"batches/{KELP_ON_CLAY}.html", f"bench/{KELP_ON_CLAY}.html",
    f"index/designs/{KELP_ON_CLAY}.js",
    "failed/torn.html", "failed/faded.html", "weeks/2025.html", ORDER_BENCH,
}  # fmt: skip


class Fault(NamedTuple):
    """A mistake, what is told of it, its page; other pages that go while it is there."""

    path: str
    old: str
    new: str
    told: str
    page: str
    gone: frozenset[str] = frozenset()


FAULTS = {
    "a key that there is none of": Fault(
        CLAY, "state: ", "sttate: ", 'Did you mean "state"?', CLAY_PAGE, frozenset(CLAY_MORE)
    ),
    "front matter that cannot be read": Fault(
        CLAY, "title: ", "title: [", "a bracket is opened and never closed", CLAY_PAGE,
        frozenset(CLAY_MORE),
    ),
    "a mat that is not on the shelf": Fault(
        CLAY, "mat: kelp-frond", "mat: kelp-frnd", 'no mat "kelp-frnd" is on the shelf', CLAY_PAGE,
        frozenset(CLAY_MORE),
    ),
    "a link that leads nowhere": Fault(
        CLAY, "../kelp-on-sea-grey/design.md", "../kelp-on-sea-gray/design.md", "kelp-on-sea-gray",
        CLAY_PAGE, frozenset(CLAY_MORE),
    ),
    "a question by no measure": Fault(
        QUESTION, "by: [lip", "by: [lipp", '"lipp"', "compared/cut.html"
    ),
    "an order without a number": Fault(
        ORDER, "bars: 12", "bars: many", '"many"', "orders/dozen.html", frozenset({ORDER_BENCH})
    ),
    "an order of no design": Fault(
        ORDER, KELP_ON_CLAY, "kelp-on-cly", "kelp-on-cly", "orders/dozen.html",
        frozenset({ORDER_BENCH}),
    ),
}  # fmt: skip


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


def files(root: Path) -> dict[str, bytes]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and not path.name.startswith(".")
    }


def text_of(page: bytes) -> str:
    text = re.sub(r"<[^>]*>", "", page.decode().replace(NO_BREAK, " "))
    return re.sub(r"\s+", " ", unescape(text))


def dead_links(root: Path) -> list[str]:
    """Links of any page to a file that is not there."""
    return [
        f"{page.relative_to(root)} -> {to}"
        for page in root.rglob("*.html")
        for to in re.findall(r'(?:href|src)="([^"#?:]+)[#?"]', page.read_text("utf-8"))
        if not (page.parent / unquote(unescape(to))).exists()
    ]


@dataclass(frozen=True)
class Bench:
    """A notebook that was built once without a mistake."""

    content: Path
    out: Path
    sound: dict[str, bytes]

    def build(self, *more: str, out: Path | None = None) -> int:
        return main(["build", "--content", str(self.content), "--out", str(out or self.out), *more])


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Bench:
    root = tmp_path_factory.mktemp("faulty")
    work = root / "work"
    work.mkdir()
    bench = Bench(lay_down_asking(work / "content", demo_content), work / "out", {})
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JOURNAL_CACHE", str(work / "cache"))
        assert bench.build() == DONE
    shutil.copytree(work, root / "sound")
    return Bench(bench.content, bench.out, files(bench.out))


@pytest.fixture
def bench(built: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """It as it was, in its place: what is kept of it goes by the folder of the content."""
    work = built.content.parent
    shutil.rmtree(work)
    shutil.copytree(work.with_name("sound"), work)
    monkeypatch.setenv("JOURNAL_CACHE", str(work / "cache"))
    return built


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())
def test_it_costs_its_own_page(
    bench: Bench, tmp_path: Path, capsys: pytest.CaptureFixture[str], fault: Fault
) -> None:
    """And with --strict nothing is written at all."""
    was = (bench.content / fault.path).read_text("utf-8")
    edit(bench.content / fault.path, fault.old, fault.new)
    for out in (bench.out, tmp_path / "fresh"):
        assert bench.build("--strict", out=out) == CONTENT_WRONG
        assert fault.told in capsys.readouterr().err
    assert files(bench.out) == bench.sound
    assert not (tmp_path / "fresh").exists()
    for _ in range(2):  # it is told until it is mended
        assert bench.build() == CONTENT_WRONG
        said = capsys.readouterr()
        assert f"{fault.path}:" in said.err
        assert fault.told in said.err
        assert "Open it at " in said.out
    made = files(bench.out)
    # Its photos go too, and the index may need a part less; that no page lacks one is asked below.
    passing = ("photos/", "index/others")
    gone = {path for path in bench.sound.keys() - made.keys() if not path.startswith(passing)}
    assert gone == fault.gone
    page = text_of(made[fault.page])
    assert "has a mistake in it. Put it right, and the page comes back." in page
    assert f"{fault.path}:" in page
    assert fault.told in page
    assert page != text_of(bench.sound[fault.page])
    others = [path for path in made if path.endswith(".html") and path != fault.page]
    assert not [p for p in others if b"has a mistake in it. Put it right" in made[p]]
    assert dead_links(bench.out) == []
    # Nothing is written with --strict, nor after a build without it.
    assert bench.build("--strict") == CONTENT_WRONG
    assert files(bench.out) == made
    # The same again, into another folder.
    assert bench.build(out=tmp_path / "fresh") == CONTENT_WRONG
    assert files(tmp_path / "fresh") == made
    (bench.content / fault.path).write_text(was, "utf-8")
    assert bench.build() == DONE
    assert files(bench.out) == bench.sound


def test_strict_without_a_mistake_is_a_build(bench: Bench) -> None:
    edit(bench.content / CLAY, "title: Kelp on clay", "title: Kelp on red clay")
    assert bench.build("--strict") == DONE
    assert b"Kelp on red clay" in files(bench.out)[CLAY_PAGE]


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        ("journal.yaml", "studio: ", "stuudio: "),
        ("shelf/bases.yaml", "name: ", "nmae: "),
        ("shelf/bases.yaml", "white-shea:", "white-shea: ["),
        ("shelf/pieces.yaml", "mat: ", "mat: no-"),
    ],
)
def test_what_all_depend_on_still_refuses(
    bench: Bench, capsys: pytest.CaptureFixture[str], path: str, old: str, new: str
) -> None:
    edit(bench.content / path, old, new)
    edit(bench.content / CLAY, "state: ", "sttate: ")
    assert bench.build() == CONTENT_WRONG
    said = capsys.readouterr().err
    assert f"{path}:" in said
    assert f"{CLAY}:" in said, "all is told at once"
    assert files(bench.out) == bench.sound


def a_keeper_that_says(bench: Bench, words: str) -> None:
    """Barley ears as a keeper, whose prose names no other design but in these words."""
    path = bench.content / f"designs/{BARLEY}/design.md"
    text = path.read_text("utf-8").replace("\nstate: trial\n", "\nstate: keeper\n")
    text = re.sub(r"\[([^]]*)\]\(\.\./[^)]*design\.md[^)]*\)", r"\1", text)
    path.write_text(f"{text}\n{words}\n", "utf-8")


@pytest.mark.parametrize("edition", EDITIONS)
def test_who_is_told_what(bench: Bench, tmp_path: Path, edition: str) -> None:
    """Helpers are told that there is a mistake, the public of nothing."""
    grey = f"designs/{KELP_ON_GREY}/design.md"
    assert "\nstate: keeper\n" in (bench.content / grey).read_text("utf-8")
    a_keeper_that_says(bench, f"See [the grey one](../{KELP_ON_GREY}/design.md).")
    edit(bench.content / grey, "lip: 1.4 mm", "lip: 14 furlongs")
    asked = "---\ntitle: Velvet\nby: [velvt]\nbetween: trim\n---\n"
    (bench.content / QUESTION).write_text(asked, "utf-8")
    (bench.content / ORDER).write_text("title: Velour\ndesigns: none\n", "utf-8")
    out = tmp_path / edition
    assert bench.build("--edition", edition, out=out) == CONTENT_WRONG
    made = files(out)
    faulty = {f"designs/{KELP_ON_GREY}.html", "compared/cut.html", "orders/dozen.html"}
    whole = b"\n".join(data for path, data in made.items() if path.endswith((".html", ".js")))
    assert (b"furlongs" in whole) == (edition == "studio")
    assert (b"velvt" in whole) == (edition == "studio")
    barley = made[f"designs/{BARLEY}.html"]
    assert b"the grey one" in barley
    assert (f'href="{KELP_ON_GREY}.html"'.encode() in barley) == (edition != "public")
    if edition == "public":
        assert not faulty & made.keys()
        assert KELP_ON_GREY.encode() not in whole
        assert b"mistake in it" not in whole
    else:
        for path in faulty:
            assert "has a mistake in it. Put it right" in text_of(made[path])
    assert dead_links(out) == []


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            f"Better than Quaggaware ever was.\n\nBetter than {KELP_ON_CLAY}.",
            ('"Quaggaware" is a design that the public', f'"{KELP_ON_CLAY}" is the id of a design'),
        ),
        (f"See [this](../{KELP_ON_CLAY}/design.md).", (f'the link leads to "{KELP_ON_CLAY}"',)),
    ],
    ids=["names", "a link"],
)
@pytest.mark.parametrize(
    "mistake", [None, ("bars: ", "bars: many #"), ("mat: kelp-frond", "mat: kelp-frnd"),
                ("summary: ", "summary: [")],
)  # fmt: skip
def test_a_trial_with_a_mistake_is_not_given_away(
    bench: Bench, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    words: str, told: tuple[str, ...], mistake: tuple[str, str] | None,
) -> None:  # fmt: skip
    """The public edition holds neither it nor its name, whatever is wrong with it."""
    a_keeper_that_says(bench, words)
    edit(bench.content / CLAY, "title: Kelp on clay", "title: Quaggaware")
    if mistake is not None:
        edit(bench.content / CLAY, *mistake)
    out = tmp_path / "public"
    assert bench.build("--edition", "public", out=out) == CONTENT_WRONG
    said = capsys.readouterr().err
    assert [what for what in told if what not in said] == []
    assert not out.exists()


# ------------------------------------------------------------------ what is made again


@pytest.fixture(scope="module")
def sound_kept(tmp_path_factory: pytest.TempPathFactory, built: Bench) -> tuple[Path, Piped]:
    """What is kept of the notebook as it was without a mistake, and what it is made of that."""
    root = tmp_path_factory.mktemp("kept")
    shutil.copytree(built.content.parent.with_name("sound") / "content", root / "content")
    piped(root / "content", root / "kept")
    sound = piped(root / "content", root / "kept")
    assert not sound.remade()
    return root / "kept", sound


@pytest.fixture
def kept(sound_kept: tuple[Path, Piped], tmp_path: Path) -> Path:
    """What is kept of the notebook as it was without a mistake."""
    return Path(shutil.copytree(sound_kept[0], tmp_path / "kept"))


#: Another mistake in the same design, which keeps the same place.
ALIKE = ("front matter that cannot be read", "a link that leads nowhere")


@pytest.mark.parametrize(
    "fault",
    [
        pytest.param(fault, id=name, marks=[pytest.mark.long] if name in ALIKE else [])
        for name, fault in FAULTS.items()
    ],
)
def test_numbers_stay_and_only_what_shows_it_is_made_again(
    bench: Bench, kept: Path, sound_kept: tuple[Path, Piped], fault: Fault
) -> None:
    _, sound = sound_kept
    was = (bench.content / fault.path).read_text("utf-8")
    edit(bench.content / fault.path, fault.old, fault.new)
    faulty = piped(bench.content, kept)
    places = faulty.viewed.book.places
    before = {place.path: place.folio for place in sound.viewed.book.places.designs.values()}
    after = {place.path: place.folio for place in places.designs.values()}
    own = {place.path: place.folio for place in places.faulty.values() if "designs/" in place.path}
    assert {**after, **own} == before
    (bench.content / fault.path).write_text(was, "utf-8")
    mended = piped(bench.content, kept)
    assert mended.made == sound.made
    for remade in (faulty.remade(), mended.remade()):
        # These show neither designs that name it, nor what it is made with, nor count designs, as
        # those of the shelf do. A card says how long a pot takes by all pots that were read, so it
        # may change with the design's.
        shows_none = {
            "how.html", "safety.html", f"cards/{KELP_ON_GREY}.html", f"cards/{BARLEY}.html",
            f"labels/{KELP_ON_GREY}.html", f"sheets/pour-{KELP_ON_GREY}.html",
        }  # fmt: skip
        same = {path for path in shows_none if sound.made[path] == faulty.made.get(path)}
        assert len(same) >= 5
        assert not remade & same
        if not fault.page.startswith("designs/"):
            folder = fault.page.partition("/")[0]
            assert not {path for path in remade if path.startswith(("designs/", "shelf/"))} - {
                path for path in sound.made if sound.made[path] != faulty.made.get(path)
            }
            assert any(path.startswith(folder) for path in remade)


def test_with_strict_the_pipeline_stops_before_the_pages(bench: Bench, kept: Path) -> None:
    edit(bench.content / CLAY, "state: ", "sttate: ")
    with pytest.raises(ContentError, match='Did you mean "state"'):
        piped(bench.content, kept, strict=True)


def test_several_at_once(bench: Bench) -> None:
    for name in ("a key that there is none of", "a question by no measure",
                 "an order without a number"):  # fmt: skip
        fault = FAULTS[name]
        edit(bench.content / fault.path, fault.old, fault.new)
    assert bench.build() == CONTENT_WRONG
    made = files(bench.out)
    for path in (CLAY_PAGE, "compared/cut.html", "orders/dozen.html"):
        assert "has a mistake in it" in text_of(made[path])
    assert dead_links(bench.out) == []
    assert "Kelp on sea-grey" in text_of(made[f"designs/{KELP_ON_GREY}.html"])
