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


#: What other work on the machine makes fail, in one of the folders that have a second try.
LATE = """
import pytest
tried = []

@pytest.fixture(scope="session")
def server():
    tried.append("server")
    if tried == ["server"]: raise OSError("it does not begin")

def test_whose_server_is_late(server): pass

def test_that_is_late():
    tried.append("late")
    assert tried.count("late") == 2

def test_that_fails_twice():
    tried.append("twice")
    raise AssertionError(f"{tried.count('twice')} times")
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
    (folder / "preview").mkdir(exist_ok=True)
    (folder / "preview" / "test_late.py").write_text(LATE)
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = long\n")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-rA", "--rerun-show-tracebacks", "-p", "no:cacheprovider",
         "-p", "no:xdist", "--continue-on-collection-errors"],
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
    assert "1 failed, 4 passed, 2 skipped, 1 deselected, 1 xfailed, 3 rerun in" in here
    assert "2 failed, 4 passed, 1 deselected, 1 xfailed, 1 error, 3 rerun in" in in_ci
    assert "could not import 'no_such_tool'" in in_ci
    assert "this one was skipped: Skipped: there is no such tool" in in_ci
    assert drawn(here) == drawn(in_ci)
    assert len(drawn(here)) == 100
    assert "1 failed, 5 passed, 2 skipped, 1 xfailed, 3 rerun in" in long
    # What passed at the second try is listed with why; what failed twice fails.
    for late, why in (
        ("whose_server_is_late", "it does not begin"),
        ("that_is_late", "assert 1 == 2"),
    ):
        (_, listed) = here.split(f"RERUN preview/test_late.py::test_{late}\n")
        assert why in listed.partition(f"PASSED preview/test_late.py::test_{late}\n")[0]
    assert "FAILED preview/test_late.py::test_that_fails_twice - AssertionError: 2 times" in here
    assert len(drawn(long)) == 2000
    assert drawn(long)[:100] != drawn(here)
