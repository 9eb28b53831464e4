"""A skip passes for success nowhere in CI, long tests wait for the long command, and the usual
command draws the same examples for everybody."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
SOME = """
import sys
import pytest
from hypothesis import given, strategies as st

def test_that_passes(): pass

def test_that_wants_a_tool(): pytest.skip("there is no such tool")

@pytest.mark.xfail
def test_known_to_fail(): raise AssertionError

@pytest.mark.long
def test_that_takes_long(): pass

@given(st.integers())
def test_drawn(number): print("drawn", number)
"""


#: A module as one of the program's, full of numbers that a test could draw.
OURS = f"ALL = {list(range(1000, 2000))}"


def run(folder: Path, some: str, ci: str = "", long: str = "") -> str:
    """What a run of some tests says, and of a file that is skipped whole, under our conftest."""
    for name in ("conftest.py", "long_run.py", "paths.py"):
        shutil.copyfile(HERE / name, folder / name)
    (folder / "test_some.py").write_text(some)
    (folder / "ours.py").write_text(OURS)
    (folder / "test_whole.py").write_text("import pytest\npytest.importorskip('no_such_tool')\n")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = long\n")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-rA", "-p", "no:cacheprovider", "-p", "no:xdist",
         "--continue-on-collection-errors"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": f"{HERE.parent}{os.pathsep}{folder}", "CI": ci,
             "JOURNAL_LONG_TESTS": long, "PYTEST_ADDOPTS": ""},
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    return done.stdout + done.stderr


def drawn(said: str) -> list[str]:
    return [line for line in said.splitlines() if line.startswith("drawn")]


def test_the_same_for_everybody_but_in_ci_no_skip_and_in_the_long_command_all(
    tmp_path: Path,
) -> None:
    here, in_ci = run(tmp_path, SOME), run(tmp_path, "import ours\n" + SOME, "true")
    long = run(tmp_path, SOME, "", "1")
    assert "2 passed, 2 skipped, 1 deselected, 1 xfailed in" in here
    assert "1 failed, 2 passed, 1 deselected, 1 xfailed, 1 error in" in in_ci
    assert "could not import 'no_such_tool'" in in_ci
    assert "this one was skipped: Skipped: there is no such tool" in in_ci
    assert drawn(here) == drawn(in_ci)
    assert len(drawn(here)) == 100
    assert "3 passed, 2 skipped, 1 xfailed in" in long
    assert len(drawn(long)) == 2000
    assert drawn(long)[:100] != drawn(here)
