"""Lint and types, so that the one test command answers for them too."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest


def run(*command: str, cwd: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=cwd, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_lint(project: Path) -> None:
    run("ruff", "check", "--no-cache", ".", cwd=project)


@pytest.mark.first
def test_types(project: Path, tmp_path: Path) -> None:
    """``MYPY_CACHE_DIR`` may name a folder for what is known of the files from the last run."""
    run("mypy", f"--cache-dir={os.environ.get('MYPY_CACHE_DIR') or tmp_path}", cwd=project)


def test_the_lock_of_the_page_checkers_names_no_place(project: Path) -> None:
    tools = project / "tests" / "tools"
    lock = (tools / "package-lock.json").read_text()
    assert "://" not in lock
    assert '"resolved"' not in lock
    assert lock.count('"integrity"') == lock.count('"node_modules/') > 0


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash here")
def test_the_script_of_the_checks_can_be_read(project: Path) -> None:
    script = project / ".ci" / "run"
    assert script.stat().st_mode & 0o100
    subprocess.run(["bash", "-n", script], check=True)


def test_the_readme_sets_up_a_bare_machine_in_one_line_each(project: Path) -> None:
    readme = (project / "README.md").read_text("utf-8")
    lines = {line.strip().replace("'", '"') for line in readme.splitlines()}
    setup = "python3 -m venv .venv && .venv/bin/pip install -q -e"
    assert f"{setup} . && .venv/bin/journal build --open" in lines
    # .ci/run finds this one by its form, and runs it.
    assert f'{setup} ".[tests]" && .venv/bin/python -m pytest' in lines
