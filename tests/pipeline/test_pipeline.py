"""A build from what was kept is the build from nothing; what was kept may be anything."""

from __future__ import annotations

import marshal
import os
import pickle
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import CodeType
from typing import Any

import pytest
from long_run import LONG
from piped import piped, pipeline_for
from small_notebook import lay_down_asking, lay_down_small

from journal import pipeline as of_pipeline
from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.errors import ContentError
from journal.output import CacheStore
from journal.photos.prepare import photo_digest, prepare_photo
from journal.preview.session import NotebookRebuilder
from journal.records import notebook as of_notebook
from journal.records.notebook import read_notebook
from journal.views.notebook import other_sheets

DIGEST_BYTES = 16  # at the head of each kept file, see ``journal.output.store``


class Calls:
    """Which designs were read, derived and compared in a run."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.read: list[str] = []
        self.derived: list[str] = []
        self.compared: list[str] = []
        patch.setenv("JOURNAL_WORKERS", "1")
        for where, name, noted, at in (
            (of_notebook, "read_design", self.read, 1),
            (of_pipeline, "derive_for_bench", self.derived, 1),
            (of_pipeline.comparison, "design_results", self.compared, 2),
        ):
            patch.setattr(where, name, self._noting(getattr(where, name), noted, at))

    @staticmethod
    def _noting(real: Callable[..., Any], noted: list[str], at: int) -> Callable[..., Any]:
        def call(*asked: Any, **more: Any) -> Any:
            noted.append(getattr(asked[at], "id", asked[at]))
            return real(*asked, **more)

        return call


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Calls:
    return Calls(monkeypatch)


@pytest.fixture(scope="module")
def small_once(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Path:
    """The small notebook in ``content``, and in ``kept`` all that is kept of it."""
    root = tmp_path_factory.mktemp("small")
    piped(lay_down_small(root / "content", demo_content), root / "kept")
    return root


@pytest.fixture
def small(tmp_path: Path, small_once: Path) -> Path:
    """The content of the small notebook, of which all is kept in ``kept`` beside it."""
    for folder in ("content", "kept"):
        shutil.copytree(small_once / folder, tmp_path / folder)
    return tmp_path / "content"


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


def test_what_has_not_changed_is_not_looked_into(small: Path, calls: Calls) -> None:
    again = piped(small, small.parent / "kept")
    assert (calls.read, calls.derived, calls.compared) == ([], [], [])
    assert not again.remade()


def test_what_is_known_is_known_in_every_process(small: Path) -> None:
    """Where names are taken out of a set, their order is another one in another process."""
    known = "from piped import piped; from pathlib import Path; import sys\n"
    known += "content = Path(sys.argv[1])\n"
    known += "assert not piped(content, content.parent / 'kept').remade()"
    tests = Path(__file__).resolve().parents[1]
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", known, small],
            env={**os.environ, "PYTHONPATH": f"{tests}{os.pathsep}{tests.parent}",
                 "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr


def test_another_program_makes_everything_anew(small: Path, calls: Calls) -> None:
    again = piped(small, small.parent / "kept", program="another program")
    everything = sorted(path.parent.name for path in small.glob("designs/*/design.md"))
    assert sorted(calls.read) == sorted(calls.derived) == sorted(calls.compared) == everything
    assert again.remade()


KELPS = {"kelp-on-clay", "kelp-on-sea-grey"}
ALL = {*KELPS, "barley-ears"}


@pytest.mark.parametrize(
    ("path", "old", "new", "derived", "compared"),
    [
        # A property counts for the designs made with it, and for no others; a price for what
        # they cost, which is worked out apart.
        ("shelf/mats.yaml", "thickness: 3.4 mm", "thickness: 3.5 mm", KELPS, set()),
        ("shelf/mats.yaml", "price: 38.00", "price: 39.00", set(), set()),
        # Only the text of a write-up is other: nothing that is reckoned depends on it.
        ("designs/kelp-on-clay/design.md", "nobody had the patience.", "nobody was patient.",
         set(), set()),
        ("designs/kelp-on-clay/design.md", "0:28, 123 F", "0:28, 122 F", {"kelp-on-clay"},
         {"kelp-on-clay"}),
        ("journal.yaml", "studio: ", "studio: The ", ALL, ALL),
        # Bars are counted by the pieces that they were cast on.
        ("shelf/pieces.yaml", "name: ", "name: The ", None, ALL),
    ],
)  # fmt: skip
def test_only_what_a_change_may_touch_is_worked_out_again(
    small: Path, calls: Calls, path: str, old: str, new: str,
    derived: set[str] | None, compared: set[str],
) -> None:  # fmt: skip
    edit(small / path, old, new)
    after = piped(small, small.parent / "kept")
    if derived is not None:
        assert set(calls.derived) == derived
    assert set(calls.compared) == compared
    assert len(calls.derived) == len(set(calls.derived))
    assert after.made == piped(small).made


@pytest.fixture(scope="module")
def asking(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Path:
    """The small notebook with a question across designs and an order; its cache in ``cache``."""
    root = tmp_path_factory.mktemp("asking")
    content = lay_down_asking(root / "content", demo_content)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JOURNAL_CACHE", str(root / "cache"))
        build_notebook(BuildOptions(content, root / "one"))
    assert (root / "one" / "compared" / "cut.html").exists()
    assert (root / "one" / "orders" / "dozen.html").exists()
    return root


def kept_names(cache: Path) -> set[str]:
    """Names of what is kept, without the digests of single values."""
    return {path.name.partition(".")[0] for path in cache.glob("*/*")}


#: Everything that is kept; ``seen`` is kept only of files that have rested a while.
KEPT = (
    "records", "measured", "figures", "prices", "rounds", "failures-studio",
    "scatters-studio", "results-studio",
    "across-studio", "contrasts-studio", "bars-studio", "orders-studio", "pages-studio",
    "beside-studio", "answers",
    "photos", "program",
)  # fmt: skip


def test_all_that_is_kept_is_known_here(asking: Path) -> None:
    assert kept_names(asking / "cache") - {"seen"} == set(KEPT)


class Runs:
    """What a pickle may be made of: unpickling it makes a folder."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def __reduce__(self) -> tuple[Callable[..., object], tuple[object, ...]]:
        return os.mkdir, (str(self._path),)


def test_nothing_kept_is_a_pickle_or_code(asking: Path) -> None:
    looked_at = 0
    for path in (asking / "cache").rglob("*"):
        if not path.is_file():
            continue
        looked_at += 1
        assert path.suffix not in (".py", ".pyc", ".so")
        data = path.read_bytes()[DIGEST_BYTES:]
        with pytest.raises(Exception):  # noqa: B017  # whatever it says
            pickle.loads(data)
        # By chance a text may begin as a number or a None that marshal has written.
        found: object = None
        with suppress(Exception):
            found = marshal.loads(data)
        assert not isinstance(found, CodeType), path
    assert looked_at > len(KEPT)


def test_a_planted_pickle_is_not_run(
    asking: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each with its digest right, as somebody may write it who can write into the cache."""
    cache, ran = tmp_path / "cache", tmp_path / "ran"
    shutil.copytree(asking / "cache", cache)
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    (folder,) = cache.iterdir()
    store = CacheStore(folder)
    names = [path.name for path in folder.iterdir() if path.is_file()]
    for number, name in enumerate(names):
        plant = marshal.dumps(compile("1", "", "eval")) if number % 4 == 3 else None
        assert store.write(name, plant or pickle.dumps(Runs(ran), number % 3))
    build_notebook(BuildOptions(asking / "content", tmp_path / "two"))
    assert not ran.exists()
    assert _bytes(asking / "one") == _bytes(tmp_path / "two")
    # One at a time, among others that are sound.
    for name in sorted(names)[:: 1 if LONG else max(1, len(names) // 3)]:
        assert store.write(name, pickle.dumps(Runs(ran)))
        build_notebook(BuildOptions(asking / "content", tmp_path / name))
        assert not ran.exists(), name
        assert _bytes(asking / "one") == _bytes(tmp_path / name)
    pickle.loads(pickle.dumps(Runs(ran)))
    assert ran.exists(), "it would have run"


@pytest.mark.parametrize("kept", KEPT)
def test_what_is_kept_may_be_spoilt(
    asking: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kept: str
) -> None:
    """The list of all answers cut short: the same comes of it."""
    cache = tmp_path / "cache"
    shutil.copytree(asking / "cache", cache)
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    (own,) = cache.glob(f"*/{kept}")
    was = own.read_bytes()
    own.write_bytes(was[:-1])
    build_notebook(BuildOptions(asking / "content", tmp_path / "two"))
    assert _bytes(asking / "one") == _bytes(tmp_path / "two")
    if not kept.startswith("beside-"):
        # What stands beside a section apart is known again once its page is set whole.
        assert own.read_bytes() != was[:-1], "the list was written anew"


@pytest.mark.parametrize(
    "several", [KEPT, *(pytest.param((one,), marks=pytest.mark.long) for one in KEPT)]
)
def test_answers_may_be_gone(
    asking: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, several: tuple[str, ...]
) -> None:
    """Of each kind one gone and another cut short, or else the list itself gone."""
    cache = tmp_path / "cache"
    shutil.copytree(asking / "cache", cache)
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    for kept in several:
        answers = sorted(cache.glob(f"*/{kept}.*"))
        if answers:
            answers[0].unlink()
            answers[-1].write_bytes(b"") if len(answers) > 1 else None
        else:
            next(cache.glob(f"*/{kept}")).unlink()
    build_notebook(BuildOptions(asking / "content", tmp_path / "two"))
    assert _bytes(asking / "one") == _bytes(tmp_path / "two")


@pytest.mark.parametrize(
    ("path", "old", "new", "settled"),
    [
        ("shelf/bases.yaml", "price: ", "price: 1", True),
        ("shelf/bases.yaml", "name: ", "name: The ", True),
        ("shelf/mats.yaml", "barley-ear:", "another:\n  name: Another\n\nbarley-ear:", False),
        ("shelf/pieces.yaml", "name: ", "name: The ", False),
        ("journal.yaml", "studio: ", "studio: The ", False),
    ],
)
def test_a_design_is_read_again_where_the_shelf_may_judge_it_otherwise(
    small: Path, calls: Calls, path: str, old: str, new: str, settled: bool
) -> None:
    edit(small / path, old, new)
    piped(small, small.parent / "kept")
    assert set(calls.read) == (set() if settled else ALL)


def test_a_file_that_changes_while_it_is_read(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The notebook is of one moment, and no answer is kept for words that it does not belong to."""
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache"))
    content, out = tmp_path / "content", tmp_path / "out"
    lay_down_small(content, demo_content)
    path = content / "designs" / "kelp-on-clay" / "design.md"
    was = path.read_text("utf-8")
    reads = 0

    def reading(root: Path, *known: Any) -> object:
        nonlocal reads
        found = read_notebook(root, *known)
        reads += 1
        if reads == 1:
            path.write_text(was.replace("title: Kelp on clay", "title: Kelp on mud"), "utf-8")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("journal.pipeline.read_notebook", reading)
        build_notebook(BuildOptions(content, out))
    assert reads == 2
    assert "Kelp on mud" in (out / "designs" / "kelp-on-clay.html").read_text("utf-8")
    path.write_text(was, "utf-8")
    build_notebook(BuildOptions(content, out))
    assert "Kelp on mud" not in (out / "designs" / "kelp-on-clay.html").read_text("utf-8")


def test_a_file_that_never_rests(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The build ends all the same, and the next one does not take it for finished."""
    content, out = tmp_path / "content", tmp_path / "out"
    lay_down_small(content, demo_content)
    path = content / "designs" / "kelp-on-clay" / "design.md"
    was = path.read_bytes()

    def reading(root: Path, *known: Any) -> object:
        found = read_notebook(root, *known)
        path.write_bytes(path.read_bytes() + b"\nAnd more.\n")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("journal.pipeline.read_notebook", reading)
        build_notebook(BuildOptions(content, out))
    path.write_bytes(was)
    assert build_notebook(BuildOptions(content, out)).written is not None
    assert build_notebook(BuildOptions(content, out)).written is None


@pytest.mark.parametrize("kept", [False, True])
def test_a_photo_that_changes_between_two_looks_is_not_shown_under_the_old_name(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch, kept: bool
) -> None:
    """Its files are named by their content and never made again, so they must hold it."""
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "cache") if kept else "")
    content, out = tmp_path / "content", tmp_path / "out"
    lay_down_small(content, demo_content)
    photos = content / "designs" / "kelp-on-sea-grey" / "photos"

    before = photo_digest(photos / "front.jpg")

    def late(*asked: object) -> object:
        found = other_sheets(*asked)  # type: ignore[arg-type]
        shutil.copyfile(photos / "above.jpg", photos / "front.jpg")
        return found

    with monkeypatch.context() as patch:
        patch.setattr("journal.pipeline.other_sheets", late)
        if kept:
            # What was made of the photo as it was is at hand, and goes by that name.
            build_notebook(BuildOptions(content, out))
        else:
            with pytest.raises(ContentError, match=r"changed while .* Build again"):
                build_notebook(BuildOptions(content, out))
    shown = list((out / "photos").glob(f"{before[:16]}-1600.jpg"))
    assert len(shown) == int(kept)
    for path in shown:
        front = demo_content / "designs" / "kelp-on-sea-grey" / "photos" / "front.jpg"
        as_made = {one.content for one in prepare_photo(front).renditions}
        assert path.read_bytes() in as_made
    build_notebook(BuildOptions(content, out))
    assert not list((out / "photos").glob(f"{before[:16]}-*"))


def test_a_photo_that_is_taken_away_once_it_is_ready_is_looked_for_again(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is told where its files are made, unless the whole is read again before."""
    content = lay_down_small(tmp_path / "content", demo_content)
    ready = of_pipeline.prepare_photos

    def late(*asked: Any, **more: Any) -> Any:
        for path, prepared in ready(*asked, **more):
            path.unlink()
            yield path, prepared

    monkeypatch.setattr(of_pipeline, "prepare_photos", late)
    pipeline = pipeline_for(BuildOptions(content, tmp_path / "out"), tmp_path / "kept")
    assert pipeline._prepare_photos(pipeline.read())
    assert not pipeline._photos, "none is known by what it was"


def _bytes(root: Path) -> dict[str, bytes]:
    return {str(p.relative_to(root)): p.read_bytes() for p in root.rglob("*") if p.is_file()}


def test_a_preview_goes_on_when_what_was_kept_is_spoilt(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache = tmp_path / "cache"
    monkeypatch.setenv("JOURNAL_CACHE", str(cache))
    content = lay_down_small(tmp_path / "content", demo_content)
    desk = NotebookRebuilder(BuildOptions(content, tmp_path / "shown"))
    desk.make()
    for path in cache.glob("*/*.*"):
        path.write_bytes(path.read_bytes()[:-1])
    path = content / "designs" / "kelp-on-clay" / "design.md"
    path.write_text(path.read_text("utf-8").replace("title: Kelp", "title: Whitest kelp"), "utf-8")
    desk.make()
    build_notebook(BuildOptions(content, tmp_path / "built"))
    shown, built = _bytes(tmp_path / "shown"), _bytes(tmp_path / "built")
    assert {p: b for p, b in shown.items() if p.endswith(".html")} == {
        p: b for p, b in built.items() if p.endswith(".html")
    }
    assert any(b"Whitest" in data for data in shown.values())
