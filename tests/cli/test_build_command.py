"""``journal build``: all or nothing, what it says, and never a traceback."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from journal.cli import main


@dataclass(frozen=True)
class Done:
    """What a command gave and said; an exception that gets out fails the test."""

    status: int
    said: str
    wrong: str


Run = Callable[..., Done]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def run(*arguments: str | Path) -> Done:
        status = main([*map(str, arguments)])
        captured = capsys.readouterr()
        return Done(status, captured.out, captured.err)

    return run


@pytest.fixture
def content(tmp_path: Path, project: Path) -> Path:
    return Path(shutil.copytree(project / "journal" / "starter", tmp_path / "soap"))


@pytest.fixture
def build(run: Run, content: Path, tmp_path: Path) -> Run:
    return lambda *more: run("build", "--content", content, "--out", tmp_path / "out", *more)


def files(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_it_says_what_it_made_and_where_to_open_it(build: Run, tmp_path: Path) -> None:
    done = build()
    assert done.status == 0
    assert done.said.startswith("Made ")
    assert f"1 design in {tmp_path / 'out'}." in done.said
    assert f"Open it at {tmp_path / 'out' / 'index.html'}" in done.said
    assert (tmp_path / "out" / "index.html").is_file()


def test_with_nothing_new_it_says_so_and_touches_nothing(build: Run, tmp_path: Path) -> None:
    build()
    before = {p: p.stat().st_mtime_ns for p in (tmp_path / "out").rglob("*")}
    done = build()
    assert done.status == 0
    assert "Nothing has changed" in done.said
    assert {p: p.stat().st_mtime_ns for p in (tmp_path / "out").rglob("*")} == before


def test_an_error_costs_its_own_page(build: Run, content: Path, tmp_path: Path) -> None:
    build()
    before = files(tmp_path / "out")
    (design,) = content.glob("designs/*/design.md")
    design.write_text(design.read_text("utf-8").replace("state:", "sttate:"), "utf-8")
    for _ in range(2):
        done = build()
        assert done.status == 1
        assert f"designs/{design.parent.name}/design.md:" in done.wrong
        assert 'Did you mean "state"?' in done.wrong
        assert f"Open it at {tmp_path / 'out' / 'index.html'}" in done.said
    page = files(tmp_path / "out")[f"designs/{design.parent.name}.html"].decode()
    assert "has a mistake in it" in page
    assert "Did you mean &#34;state&#34;?" in page
    design.write_text(design.read_text("utf-8").replace("sttate:", "state:"), "utf-8")
    assert build().status == 0
    after = files(tmp_path / "out")
    before.pop(".journal-made.json"), after.pop(".journal-made.json")
    assert after == before


def test_with_strict_an_error_leaves_the_old_notebook_to_the_byte(
    build: Run, content: Path, tmp_path: Path
) -> None:
    build()
    before = files(tmp_path / "out")
    (design,) = content.glob("designs/*/design.md")
    design.write_text(design.read_text("utf-8").replace("state:", "sttate:"), "utf-8")
    done = build("--strict")
    assert done.status == 1
    assert f"designs/{design.parent.name}/design.md:" in done.wrong
    assert 'Did you mean "state"?' in done.wrong
    assert "Open it at" not in done.said
    assert files(tmp_path / "out") == before


def test_an_error_in_the_settings_leaves_the_old_notebook_to_the_byte(
    build: Run, content: Path, tmp_path: Path
) -> None:
    build()
    before = files(tmp_path / "out")
    path = content / "journal.yaml"
    path.write_text(path.read_text("utf-8").replace("studio:", "stuudio:"), "utf-8")
    done = build()
    assert done.status == 1
    assert 'Did you mean "studio"?' in done.wrong
    assert files(tmp_path / "out") == before


def test_a_design_that_goes_takes_its_pages_with_it(
    build: Run, content: Path, tmp_path: Path
) -> None:
    (folder,) = (content / "designs").iterdir()
    shutil.copytree(folder, content / "designs" / "zebra")
    build()
    assert (tmp_path / "out" / "designs" / "zebra.html").is_file()
    shutil.rmtree(content / "designs" / "zebra")
    done = build()
    assert not (tmp_path / "out" / "designs" / "zebra.html").exists()
    assert "removed 5" in done.said  # its page, card, pour-day sheet, bench page, batch records


def test_a_photo_that_is_none_stops_nothing_and_is_told_with_its_place(
    build: Run, content: Path
) -> None:
    (design,) = content.glob("designs/*/design.md")
    (design.parent / "photos").mkdir(exist_ok=True)
    (design.parent / "photos" / "torn.jpg").write_bytes(b"no picture")
    text = design.read_text("utf-8")
    head, mark, rest = text[4:].partition("\n---\n")
    assert "\nphotos:" not in head
    photo = "photos:\n  - {file: photos/torn.jpg, alt: A torn photo}"
    design.write_text(f"---\n{head}\n{photo}{mark}{rest}", "utf-8")
    done = build()
    assert done.status == 0
    assert "design.md:" in done.wrong
    assert 'warning: "torn.jpg" is no photo' in done.wrong


@pytest.mark.parametrize(
    ("read", "out", "status"),
    [("nowhere", "out", 1), ("soap", "soap/inside", 2), ("soap", "a/b/c", 2)],
)
def test_folders_that_cannot_be(
    run: Run, content: Path, tmp_path: Path, read: str, out: str, status: int
) -> None:
    assert content == tmp_path / "soap"
    done = run("build", "--content", tmp_path / read, "--out", tmp_path / out)
    assert done.status == status
    assert done.wrong


def test_an_empty_notebook_is_a_notebook(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bare").mkdir()
    (tmp_path / "bare" / "journal.yaml").write_text("studio: A new room\n")
    done = run("build", "--content", tmp_path / "bare", "--out", tmp_path / "out")
    assert done.status == 0, done.wrong
    assert "Nothing is written up yet." in (tmp_path / "out" / "index.html").read_text("utf-8")
