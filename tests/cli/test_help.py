"""Help that teaches, and what the Tab key fills in."""

from __future__ import annotations

import io
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from demo import KELP_ON_CLAY, KELP_ON_GREY, MOTH, PEBBLES

from journal.cli import main
from journal.cli.arguments import commands, program_parser, read_arguments
from journal.cli.completion import words_for
from journal.cli.progress import CLEARED, bar, with_progress_bar
from journal.cli.quoting import column_width

PARSER, COMMANDS = program_parser(), tuple(commands())


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_teaches_itself_by_an_example_that_works(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as left:
        main([name, "--help"])
    assert left.value.code == 0
    said = capsys.readouterr().out
    example = commands()[name]["example"]
    assert f"Example:\n  {example}\n" in said.replace(" \\\n   ", "")
    words = shlex.split(example.removeprefix('eval "$(').removesuffix(')"'))
    assert words[:2] == ["journal", name]
    assert callable(read_arguments(words[1:]).run)
    assert max(map(len, said.splitlines())) <= 80


@pytest.mark.parametrize("name", ["", *COMMANDS])
def test_help_fits_a_narrow_terminal(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    with pytest.raises(SystemExit):
        main([*filter(None, [name]), "--help"])
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 40
    # What goes on in the next line can be copied.
    if name:
        command = " ".join(lines[lines.index("Example:") + 1 :]).replace(" \\    ", "")
        assert commands()[name]["example"] in command


def test_the_help_lists_every_command_and_fits(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit):
        main(["--help"])
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    for name in COMMANDS:
        assert any(line.split()[:1] == [name] and len(line.split()) > 3 for line in lines), name
    assert not any("complete-words" in line for line in lines)


def fill(*words: str) -> list[str]:
    return [line.partition("\t")[0] for line in words_for(PARSER, len(words) - 1, words)]


def test_commands_and_options_are_filled_in() -> None:
    assert fill("") == list(COMMANDS)
    assert fill("co") == ["compare", "completion"]
    assert "--version" in fill("-")
    assert fill("build", "--ed") == ["--edition"]
    assert fill("build", "--edition", "") == ["studio", "helpers", "public"]
    assert fill("build", "--edition=p") == ["--edition=public"]
    assert fill("build", "--edition", "=", "p") == ["public"]
    assert fill("build", "--open", "--o") == ["--out"]
    assert fill("completion", "") == ["bash", "zsh", "fish"]
    assert fill("nothing", "") == []


def test_names_of_the_notebook_are_filled_in(
    demo_content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(demo_content.parent)
    assert fill("cards", "kelp") == [KELP_ON_CLAY, KELP_ON_GREY]
    assert fill("cards", PEBBLES, "kelp-on-c") == [KELP_ON_CLAY]
    assert fill("compare", "cl") == ["clear-or-milky", "close-or-straight"]
    assert fill("order", "") == ["harbour-kiosk", "inn-bedrooms", "lantern-fair"]
    assert "six-oblong" in fill("write-up", "A title", "--mould", "")
    assert "kelp-frond" in fill("write-up", "A title", "--mat", "k")
    assert fill("write-up", "--from", "moth") == [MOTH]
    assert fill("cards", "--content", "nowhere", "") == []
    assert fill("cards", "--content", str(demo_content), "moth") == [MOTH]


def test_where_files_belong_the_shell_fills_in() -> None:
    assert fill("measure", "") == []
    assert fill("build", "--out", "") == []
    assert fill("cards", KELP_ON_CLAY, "--bars", "") == []


# What each shell does to fill in the last word. Zsh, whose words only its line editor knows, begins
# without its completions and is asked what it would call; fish says the words with their meanings.
FILLS_IN = {
    "bash": (
        'eval "$(journal completion bash)"; COMP_WORDS=(journal cards kelp-on-s); COMP_CWORD=2\n'
        '_journal; echo "${COMPREPLY[@]}"',
        f"{KELP_ON_GREY}\n",
    ),
    "zsh": (
        'eval "$(journal completion zsh)"; print $_comps[journal]\n'
        "_describe() { print $found }; words=(journal cards kelp-on-s); CURRENT=3; _journal",
        f"_journal\n{KELP_ON_GREY}:a design\n",
    ),
    "fish": (
        'journal completion fish | source; complete -C "journal cards kelp-on-s"',
        f"{KELP_ON_GREY}\ta design\n",
    ),
}


@pytest.mark.parametrize("shell", FILLS_IN)
def test_in_a_shell(shell: str, project: Path, tmp_path: Path) -> None:
    path = shutil.which(shell)
    if path is None:
        pytest.skip(f"{shell} is not installed")
    program = tmp_path / "journal"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m journal "$@"\n')
    program.chmod(0o755)
    script, said = FILLS_IN[shell]
    without_start_files = {"bash": ["-eu"], "zsh": ["-f"], "fish": ["-N"]}[shell]
    done = subprocess.run(
        [path, *without_start_files, "-c", script],
        cwd=project,
        env={
            "PATH": f"{tmp_path}:/usr/bin:/bin", "PYTHONPATH": str(project), "HOME": str(tmp_path),
        },
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.stdout, done.stderr) == (said, "")


# Progress ------------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """A clock that goes on by so much at each look."""
    now, step = [0.0], [0.0]

    def look() -> float:
        now[0] += step[0]
        return now[0]

    def set_step(seconds: float) -> None:
        step[0] = seconds

    monkeypatch.setattr("journal.cli.progress.time.monotonic", look)
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setenv("TERM", "xterm")
    return set_step


def test_long_work_is_shown_and_cleared(clock: Callable[[float], None]) -> None:
    clock(0.4)
    stream = Terminal()
    assert list(with_progress_bar(iter("abcd"), 4, "photos", stream)) == list("abcd")
    lines = stream.getvalue().split(CLEARED)
    assert lines[0] == lines[-1] == ""
    assert lines[1] == "2 of 4 photos  ====================····················"
    assert lines[-2].startswith("4 of 4 photos  ====")
    assert all(column_width(line) < 60 for line in lines)


def test_short_work_says_nothing(clock: Callable[[float], None]) -> None:
    clock(0.001)
    stream = Terminal()
    assert list(with_progress_bar(range(100), 100, "pages", stream)) == list(range(100))
    assert stream.getvalue() == ""


def test_nothing_is_said_where_nobody_looks(clock: Callable[[float], None]) -> None:
    clock(9.0)
    stream = io.StringIO()
    assert list(with_progress_bar(range(5), 5, "pages", stream)) == list(range(5))
    assert stream.getvalue() == ""


def test_work_that_fails_leaves_no_bar(clock: Callable[[float], None]) -> None:
    clock(1.0)
    stream = Terminal()

    def broken() -> object:
        yield 1
        yield 2
        raise ValueError("x")

    with pytest.raises(ValueError, match="x"):
        list(with_progress_bar(broken(), 3, "pages", stream))
    assert stream.getvalue().endswith(CLEARED)


@pytest.mark.parametrize("width", [10, 20, 30, 200])
def test_a_bar_is_no_wider(width: int) -> None:
    assert all(len(bar(number, 7, "pages and photos made", width)) <= width for number in range(9))
