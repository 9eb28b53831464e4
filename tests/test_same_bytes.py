"""The same content gives the same bytes, wherever, whenever and in whatever steps it is built."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

#: Lists every folder backwards, as another disk might.
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
from journal.command_line import main
sys.exit(main())
"""


def build(content: Path, out: Path, *, cwd: Path, **environment: str) -> None:
    project = Path(__file__).resolve().parent.parent
    done = subprocess.run(
        [sys.executable, "-c", BACKWARDS, "build", "--content", str(content), "--out", str(out)],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(project), **environment},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


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
    )
    assert differences(notebook, tmp_path / "out") == []


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
    pytest.skip("every design is named by another")


@pytest.mark.parametrize("edition", ["helpers", "public"])
def test_the_other_editions_too(
    run_journal: Callable[..., subprocess.CompletedProcess[str]],
    notebook: Path,
    demo_content: Path,
    tmp_path: Path,
    edition: str,
) -> None:
    for number in ("1", "2"):
        done = run_journal(
            "build", "--content", demo_content, "--out", tmp_path / number, "--edition", edition,
            cwd=tmp_path, PYTHONHASHSEED=number,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
    assert differences(tmp_path / "1", tmp_path / "2") == []
    assert differences(tmp_path / "1", notebook) != []
