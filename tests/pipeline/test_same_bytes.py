"""The same content gives the same bytes, wherever, whenever and in whatever steps it is built."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from demo import BARLEY, KELP_ON_CLAY, KELP_ON_GREY
from long_run import LONG
from paths import PROJECT
from small_notebook import lay_down_small

from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.views.shared.editions import Edition

#: Lists every folder backwards, as another disk might; questions have processes of their own.
BACKWARDS = """
import builtins, os, sys
listdir, scandir = os.listdir, os.scandir
class Backwards:
    def __init__(self, found):
        with found:
            self.found = iter(list(found)[::-1])
    def __iter__(self): return self.found
    def __next__(self): return next(self.found)
    def __enter__(self): return self
    def __exit__(self, *_): pass
    def close(self): pass
os.listdir = lambda *a: listdir(*a)[::-1]
os.scandir = lambda *a: Backwards(scandir(*a))
import journal.pipeline
journal.pipeline.MANY_DESIGNS = 1
from journal.cli import main
sys.exit(main())
"""


def build(content: Path, out: Path, *more: str, cwd: Path, **environment: str) -> None:
    project = PROJECT
    done = subprocess.run(
        [sys.executable, "-c", BACKWARDS, "build", "--content", content, "--out", out, *more],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(project), **environment},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def build_here(content: Path, out: Path, edition: Edition = "studio") -> None:
    """From nothing, in this one process, whose hashes are others."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JOURNAL_CACHE", "")
        build_notebook(BuildOptions(content, out, edition))


def differences(one: Path, other: Path) -> list[str]:
    """Files that are not in both folders with the same bytes; dot files count."""

    def found(root: Path) -> dict[str, bytes]:
        return {
            path.relative_to(root).as_posix(): path.read_bytes()
            for path in root.rglob("*")
            if path.is_file()
        }

    first, second = found(one), found(other)
    assert len(first) > 5
    return sorted(
        path for path in first.keys() | second.keys() if first.get(path) != second.get(path)
    )


def test_elsewhere_at_another_time_and_in_another_order(
    notebook: Path, demo_content: Path, tmp_path: Path
) -> None:
    content = tmp_path / "a much longer path" / "inhalt"
    shutil.copytree(demo_content, content, copy_function=shutil.copyfile)
    for number, path in enumerate(sorted(content.rglob("*"))):
        os.utime(path, (10**9 + number, 10**9 + number))
    build(
        Path("inhalt"),
        Path("..") / "out",
        cwd=content.parent,
        PYTHONHASHSEED="4711",
        TZ="Pacific/Kiritimati",
        LC_ALL="C",
        LANG="C",
        COLUMNS="40",
        HOME=str(tmp_path),
        USER="somebody",
        SOURCE_DATE_EPOCH="86400",
    )
    assert differences(notebook, tmp_path / "out") == []


@pytest.mark.long  # of a smaller notebook, test_one_change_and_back asks the same
def test_by_steps_as_from_nothing(notebook: Path, demo_content: Path, tmp_path: Path) -> None:
    content, out = tmp_path / "content", tmp_path / "out"
    shutil.copytree(demo_content, content)
    designs = sorted(path.parent for path in content.glob("designs/*/design.md"))
    changed, unlinked = designs[0] / "design.md", _linked_by_nothing(content, designs)
    was = changed.read_text("utf-8")
    changed.write_text(
        was.replace("title: ", "title: Another ", 1) + "\nAnd a line more.\n", "utf-8"
    )
    shutil.move(unlinked, tmp_path / "aside")
    build(content, out, cwd=tmp_path, PYTHONHASHSEED="1")
    assert differences(notebook, out) != []
    changed.write_text(was, "utf-8")
    shutil.move(tmp_path / "aside", unlinked)
    build(content, out, cwd=tmp_path, PYTHONHASHSEED="2")
    assert differences(notebook, out) == []


Change = Callable[[Path], None]


def _a_write_up(content: Path) -> None:
    _edit(content / f"designs/{KELP_ON_CLAY}/design.md", "title: Kelp", "title: Broad kelp")


def _a_write_up_and_a_new_design(content: Path) -> None:
    _a_write_up(content)
    new = shutil.copytree(content / f"designs/{BARLEY}", content / "designs/another")
    _edit(new / "design.md", "title: ", "title: Another ")


def _a_thing_of_the_shelf(content: Path) -> None:
    _edit(content / "shelf/bases.yaml", "name: White shea", "name: White shea, best")


def _a_price(content: Path) -> None:
    _edit(content / "shelf/bases.yaml", "price: 4.10/lb", "price: 4.20/lb")


def _a_photo(content: Path) -> None:
    photos = content / f"designs/{KELP_ON_GREY}/photos"
    shutil.copyfile(photos / "front.jpg", photos / "above.jpg")


def _the_settings(content: Path) -> None:
    _edit(content / "journal.yaml", "studio: ", "studio: The new ")


def _the_theme(content: Path) -> None:
    (content / "theme").mkdir(exist_ok=True)
    (content / "theme" / "colours.css").write_text(":root { --ink: #123 }\n", "utf-8")


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


@pytest.mark.parametrize(
    "change",
    [
        _a_write_up_and_a_new_design,
        # test_edit_by_edit.py and test_pipeline.py have others.
        *(
            pytest.param(change, marks=pytest.mark.long)
            for change in (
                _a_write_up,
                _a_price,
                _a_thing_of_the_shelf,
                _a_photo,
                _the_settings,
                _the_theme,
            )
        ),
    ],
)
def test_one_change_and_back(change: Change, demo_content: Path, tmp_path: Path) -> None:
    """With all that is kept and on several cores, as from nothing in one process; then back."""
    content, out = lay_down_small(tmp_path / "content", demo_content), tmp_path / "out"
    kept = str(tmp_path / "kept")
    build(content, out, cwd=tmp_path, JOURNAL_CACHE=kept, JOURNAL_WORKERS="3")
    shutil.copytree(out, tmp_path / "before")
    shutil.copytree(content, tmp_path / "was")
    change(content)
    build(content, out, cwd=tmp_path, JOURNAL_CACHE=kept, JOURNAL_WORKERS="3")
    build_here(content, tmp_path / "whole")
    assert differences(out, tmp_path / "before") != []
    assert differences(out, tmp_path / "whole") == []
    shutil.rmtree(content)
    shutil.copytree(tmp_path / "was", content)
    build(content, out, cwd=tmp_path, JOURNAL_CACHE=kept, JOURNAL_WORKERS="3")
    assert differences(out, tmp_path / "before") == []


def _linked_by_nothing(content: Path, designs: list[Path]) -> Path:
    """A design that no other file names, so that the notebook is sound without it."""
    for design in reversed(designs[1:]):
        others = (
            path
            for path in content.rglob("*")
            if path.suffix in (".md", ".yaml") and not path.is_relative_to(design)
        )
        if not any(design.name in path.read_text("utf-8") for path in others):
            return design
    raise AssertionError("every design is named by another")


@pytest.mark.parametrize("edition", ["public", pytest.param("helpers", marks=pytest.mark.long)])
def test_the_other_editions_too(demo_content: Path, tmp_path: Path, edition: Edition) -> None:
    """Of a small notebook; in the long command of the whole demo."""
    content = demo_content if LONG else lay_down_small(tmp_path / "content", demo_content)
    build(content, tmp_path / "there", "--edition", edition, cwd=tmp_path, JOURNAL_CACHE="",
          PYTHONHASHSEED="1")  # fmt: skip
    build_here(content, tmp_path / "here", edition)
    assert differences(tmp_path / "here", tmp_path / "there") == []
