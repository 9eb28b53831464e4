"""What answers at once loads nothing that takes long."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

ASK = """
import atexit, sys
atexit.register(lambda: print(*sorted({name.partition(".")[0] for name in sys.modules})))
from journal.cli import main
sys.exit(main())
"""
PICTURES = {"numpy", "scipy", "PIL", "pillow_heif", "weasyprint"}
SLOW = {*PICTURES, "jinja2", "markdown", "pydantic", "yaml"}

Loaded = Callable[..., set[str]]


@pytest.fixture
def loaded(project: Path, tmp_path: Path) -> Loaded:
    """Runs a command in a process of its own, and gives what that had loaded at its end."""

    def run(*arguments: str) -> set[str]:
        done = subprocess.run(
            [sys.executable, "-c", ASK, *arguments],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(project), "JOURNAL_CACHE": str(tmp_path / "kept")},
            capture_output=True,
            text=True,
            check=True,
        )
        return set(done.stdout.splitlines()[-1].split())

    return run


@pytest.mark.parametrize(
    "arguments", [["--help"], ["check", "--help"], ["build", "--help"], ["--version"]]
)
def test_help(loaded: Loaded, arguments: list[str]) -> None:
    found = loaded(*arguments)
    assert "journal" in found
    assert not found & PICTURES


def test_a_build_where_nothing_has_changed(loaded: Loaded) -> None:
    loaded("begin", "content")
    ask = ("build", "--content", "content", "--out", "out")
    assert loaded(*ask) >= {"jinja2", "pydantic", "yaml"}
    assert not loaded(*ask) & SLOW


def test_the_modules_of_a_build_load_nothing_for_pictures_or_arrays(project: Path) -> None:
    ask = "import sys, journal.cli.build; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", ask],
        env={**os.environ, "PYTHONPATH": str(project)},
        capture_output=True,
        text=True,
        check=True,
    )
    found = {name.partition(".")[0] for name in done.stdout.split()}
    assert "journal" in found
    assert not found & PICTURES
