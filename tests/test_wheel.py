"""The installed program, away from the checkout: everything it needs is in the wheel."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import tarfile
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

PACKAGE = "soap_design_journal"


def run(*command: str | Path, cwd: Path) -> str:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [str(word) for word in command], cwd=cwd, env=environment, capture_output=True, text=True,
        encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="session")
def wheel(make_once: Callable[[str, Callable[[Path], None]], Path], project: Path) -> Path:
    """The wheel, made without a network by the builder that is installed here."""

    def make(folder: Path) -> None:
        run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, project,
            cwd=project)  # fmt: skip

    (found,) = make_once("wheel", make).glob("*.whl")
    return found


@pytest.fixture(scope="session")
def installed(make_once: Callable[[str, Callable[[Path], None]], Path], wheel: Path) -> Path:
    """The folder of programs of a new environment with the wheel in it.

    The libraries are lent by the environment of the tests, whose own ``journal``, being
    linked to the checkout, is not seen there.
    """

    def make(folder: Path) -> None:
        cwd = folder.parent
        run(sys.executable, "-m", "venv", "--without-pip", folder, cwd=cwd)
        python = folder / bin_folder / "python"
        run(sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-index",
            "--no-deps", "--disable-pip-version-check", wheel, cwd=cwd)  # fmt: skip
        ours = run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=cwd)
        lent = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
        (Path(ours.strip()) / "lent.pth").write_text("\n".join(sorted(lent)))

    bin_folder = "Scripts" if sys.platform == "win32" else "bin"
    return make_once("installed", make) / bin_folder


def test_the_wheel_holds_the_package_and_its_themes_and_nothing_else(
    wheel: Path, project: Path
) -> None:
    with zipfile.ZipFile(wheel) as opened:
        names = set(opened.namelist())
    for path in sorted([*(project / "journal").rglob("*"), *(project / "themes").rglob("*")]):
        inside = path.relative_to(project).as_posix()
        if path.is_file() and "__pycache__" not in path.parts and "/." not in inside:
            assert (f"journal/{inside}" if inside.startswith("themes/") else inside) in names
    tops = {name.split("/")[0] for name in names}
    assert {top.split("-")[0] for top in tops} == {"journal", PACKAGE}


def test_nothing_is_in_the_wheel_twice(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as opened:
        held = Counter(filter(None, (opened.read(name) for name in opened.namelist())))
    assert not [text[:80] for text, times in held.items() if times > 1]


def test_both_licences_are_told(wheel: Path) -> None:
    """As PEP 639 has it; that of the fonts stands beside them, and LICENSE says so."""
    with zipfile.ZipFile(wheel) as opened:
        told = {name: opened.read(name).decode() for name in opened.namelist()
                if name.endswith(("METADATA", "licenses/LICENSE", ".txt"))}  # fmt: skip
    (metadata,) = (text for name, text in told.items() if name.endswith("METADATA"))
    assert "License-Expression: MIT AND OFL-1.1\nLicense-File: LICENSE\n" in metadata
    (licence,) = (text for name, text in told.items() if name.endswith("LICENSE"))
    for font in ("literata", "atkinson"):
        assert f"LICENSE-{font}.txt" in licence
        assert "SIL Open Font License" in told[f"journal/themes/desk/fonts/LICENSE-{font}.txt"]


@pytest.mark.long
@pytest.mark.timeout(900)
def test_the_source_passes_its_own_tests(project: Path, tmp_path: Path) -> None:
    """A part of them, from every room that looks at files beside the package."""
    run(sys.executable, "-m", "build", "--sdist", "--no-isolation", "--outdir", tmp_path, project,
        cwd=project)  # fmt: skip
    (packed,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(packed) as opened:
        opened.extractall(tmp_path, filter="data")
    unpacked = tmp_path / packed.name.removesuffix(".tar.gz")
    part = ("records/test_cases.py", "quantities", "test_templates.py", "test_how_tests_run.py",
            "cli/test_help.py", "cli/test_schema_command.py", "test_words.py")  # fmt: skip
    said = run(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist",
               *(f"tests/{name}" for name in part), cwd=unpacked)  # fmt: skip
    assert " passed" in said


def test_the_installed_package_is_the_one_in_the_wheel(installed: Path, tmp_path: Path) -> None:
    where = run(installed / "python", "-c", "import journal; print(journal.__file__)", cwd=tmp_path)
    assert Path(where.strip()).is_relative_to(installed.parent)


def test_the_program_says_what_it_does(installed: Path, tmp_path: Path) -> None:
    assert "build" in run(installed / "journal", "--help", cwd=tmp_path)
    assert run(installed / "python", "-m", "journal", "--version", cwd=tmp_path).startswith(
        "journal "
    )


def test_a_notebook_is_begun_and_built_away_from_the_checkout(
    installed: Path, tmp_path: Path
) -> None:
    run(installed / "journal", "begin", "soap", cwd=tmp_path)
    run(installed / "journal", "check", "--content", "soap", cwd=tmp_path)
    build = subprocess.run(
        [installed / "journal", "build", "--content", "soap"],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert build.returncode == 0, build.stdout + build.stderr
    assert (tmp_path / "notebook" / "index.html").is_file()
    assert sorted(os.listdir(tmp_path)) == ["notebook", "soap"]
