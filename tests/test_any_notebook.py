"""Any sound notebook builds, and shows no number that is none; a slip costs its own page.

JOURNAL_LONG_TESTS=1 draws many, and new ones each time.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import strategies
import yaml
from hypothesis import HealthCheck, Phase, assume, event, given, note, settings
from hypothesis import strategies as st
from long_run import examples
from test_numbers_shown import NONE, none_of

from journal.cli import CONTENT_WRONG, DONE, main

#: Keys whose values are quantities, days, choices, or names of things that must be there.
STRICT = frozenset(
    (
        "date", "due", "state", "amount", "overpour", "dose", "trim", "mould", "mat", "oil",
        "colourant", "density", "price", "on_hand", "depth", "holds", "cavities", "life", "lip",
        "bleed", "lifted", "keep", "weight", "asked", "until", "design", "takes_leftovers",
        "day", "grew_from", "labour", "margin", "room", "file", "scale", "units", "limit",
    )
)  # fmt: skip
#: What stands in no such place.
NONSENSE = ("gibberish-7", "-4 furlongs", "1e999 g", "NaN", "12:99", "2026-13-45")
PLACE = re.compile(r"^([^:\n]+):(\d+):(\d+): (warning: )?\S", re.MULTILINE)


# To make a whole notebook smaller takes minutes.
AS_DRAWN = settings(
    phases=(Phase.explicit, Phase.reuse, Phase.generate), suppress_health_check=list(HealthCheck)
)


def lay_down(files: Mapping[str, str], root: Path) -> None:
    for path, text in files.items():
        note(f"== {path}\n{text}")
        file = root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8", newline="")
        if path.endswith("/design.md"):
            (file.parent / "photos").mkdir(exist_ok=True)
            (file.parent / strategies.PHOTO).write_bytes(b"GIF89a")


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is kept from one to the next."""
    monkeypatch.setenv("JOURNAL_CACHE", "")
    monkeypatch.setenv("JOURNAL_WORKERS", "1")


def build(root: Path, out: Path, *more: str) -> int:
    return main(["build", "--content", str(root), "--out", str(out), *more])


def wrong_numbers(out: Path) -> list[str]:
    """Texts of pages that stand for no number."""
    return [
        f"{page.relative_to(out)}: {text}"
        for page in sorted(out.rglob("*.html"))
        for text in none_of(page.read_text("utf-8"))
    ]


#: What has a page of its own, which tells what is wrong with it.
PAGES = {"designs": "designs", "comparisons": "compared", "orders": "orders"}


def page_of(path: str) -> str | None:
    """The page that tells of a file; None for what all pages depend on."""
    folder, _, rest = path.partition("/")
    name = rest.partition("/")[0].partition(".")[0]
    return f"{PAGES[folder]}/{name}.html" if folder in PAGES else None


def told_in_place(root: Path, said: str) -> bool:
    """Whether something is said, and each line of it of a place that there is."""
    found = PLACE.findall(said)
    for path, line, column, _ in found:
        lines = (root / path).read_text("utf-8").split("\n")
        assert 1 <= int(line) <= len(lines), said
        assert 1 <= int(column) <= len(lines[int(line) - 1]) + 2, said
    return bool(found)


@examples(5, 400, AS_DRAWN)
@given(files=strategies.notebooks())
def test_any_sound_notebook_is_built(
    tmp_path_factory: pytest.TempPathFactory,
    capsys: pytest.CaptureFixture[str],
    files: dict[str, str],
) -> None:
    # What a maker writes is shown as it is.
    assume(not any(NONE.search(text) for text in files.values()))
    root = tmp_path_factory.mktemp("any")
    lay_down(files, root / "content")
    capsys.readouterr()
    status = build(root / "content", root / "out")
    event("built" if status == DONE else "refused")
    said = capsys.readouterr().err
    if status != DONE:  # no single file was wrong, but what they come to together
        assert status == CONTENT_WRONG, said
        assert told_in_place(root / "content", said)
        told = {path for path, _, _, warning in PLACE.findall(said) if not warning}
        assert (root / "out").exists() == all(page_of(path) is not None for path in told)
        if not (root / "out").exists():
            return
        for path in told:
            page = (root / "out" / (page_of(path) or "")).read_text("utf-8")
            # What only figures find, such as too much of an oil, stands at the head of its page.
            assert "has a mistake in it" in page or "Wrong: " in page
    wrong = wrong_numbers(root / "out")
    assert not wrong, "\n".join(wrong)


def strict_places(tree: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The ways to all values that cannot be just anything."""
    if isinstance(tree, dict):
        for key, value in tree.items():
            # Names of variants and what a question is asked of are the maker's own words.
            if key in ("variants", "where"):
                continue
            if key in STRICT and isinstance(value, str) and value:
                yield (*way, key)
            else:
                yield from strict_places(value, (*way, key))
    elif isinstance(tree, list):
        for number, value in enumerate(tree):
            yield from strict_places(value, (*way, number))


@st.composite
def spoilt(draw: strategies.Draw) -> tuple[dict[str, str], str]:
    """A sound notebook with one value made nonsense, and the file that it stands in."""
    files = draw(strategies.notebooks())
    ways = []
    for path, text in sorted(files.items()):
        front = text.split("\n---\n")[0].removeprefix("---\n") if path.endswith(".md") else text
        tree = yaml.load(front, yaml.BaseLoader)
        ways += [(path, tree, way) for way in strict_places(tree)]
    path, tree, way = draw(st.sampled_from(ways))
    holder = tree
    for step in way[:-1]:
        holder = holder[step]
    holder[way[-1]] = draw(st.sampled_from(NONSENSE))
    dumped = strategies.as_write_up(tree) if path.endswith(".md") else strategies.as_yaml(tree)
    return {**files, path: dumped}, path


@examples(12, 1500, AS_DRAWN)
@given(changed=spoilt())
def test_nonsense_in_any_notebook_costs_its_own_page(
    tmp_path_factory: pytest.TempPathFactory,
    capsys: pytest.CaptureFixture[str],
    changed: tuple[dict[str, str], str],
) -> None:
    """With ``--strict``, or in what all pages depend on, it costs the whole notebook."""
    files, path = changed
    # What a maker writes is shown as it is.
    assume(not any(NONE.search(text) for name, text in files.items() if name != path))
    root = tmp_path_factory.mktemp("spoilt")
    lay_down(files, root / "content")
    out = root / "out"
    for more in (("--strict",), ()):
        capsys.readouterr()
        assert build(root / "content", out, *more) == CONTENT_WRONG
        said = capsys.readouterr().err
        assert told_in_place(root / "content", said)
        assert f"{path}:" in said
        own = page_of(path)
        if more or own is None:
            assert not out.exists()
    if own is None:
        return
    page = (out / own).read_text("utf-8")
    assert "has a mistake in it" in page
    assert f"{path}:" in page
    wrong = [text for text in wrong_numbers(out) if not text.startswith(own)]
    assert not wrong, "\n".join(wrong)
