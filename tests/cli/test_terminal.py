"""What is said at the terminal: the line quoted, the value underlined, in its width and colour."""

from __future__ import annotations

import io
import json
from contextlib import redirect_stderr
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.cli import main
from journal.cli.quoting import INDENT, column_width, underlined, value_length
from journal.cli.signs import near_sign
from journal.cli.terminal import BOLD, PLAIN, RED, YELLOW, filled_lines, print_json, print_problems
from journal.errors import Position, Problem


class Terminal(io.StringIO):
    """A stream that somebody looks at."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """A terminal of 80 columns in colour."""
    stream = Terminal()
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return stream


def told(tmp_path: Path, line: str, value: str, what: str = "") -> Problem:
    """A problem with the value in the second line of a file."""
    (tmp_path / "design.md").write_text(f"---\n{line}\n", "utf-8")
    place = Position("design.md", 2, line.index(value) + 1)
    return Problem(place, what or f'"{value}" is a volume', 'Write a mass, such as "85 g".')


def test_the_line_is_quoted_and_the_value_underlined(terminal: Terminal, tmp_path: Path) -> None:
    problem = told(tmp_path, "    amount: 3 mL   # a note", "3 mL")
    with redirect_stderr(terminal):
        print_problems([problem], tmp_path)
    assert terminal.getvalue() == (
        f'{BOLD}design.md:2:13:{PLAIN} {RED}"3 mL" is a volume.{PLAIN}'
        ' Write a mass, such as "85 g".\n'
        "        amount: 3 mL   # a note\n"
        f"{RED}                ~~~~{PLAIN}\n"
        "1 error.\n"
    )


def test_a_warning_is_of_another_colour(terminal: Terminal, tmp_path: Path) -> None:
    at = told(tmp_path, "bars: 6", "6").position
    with redirect_stderr(terminal):
        print_problems([Problem(at, "six are few", "Pour more.", warning=True)], tmp_path)
    assert f"{YELLOW}warning: six are few.{PLAIN} Pour more." in terminal.getvalue()
    assert "error" not in terminal.getvalue()


@pytest.mark.parametrize(("name", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_without_colour_it_is_underlined_all_the_same(
    terminal: Terminal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, value: str
) -> None:
    monkeypatch.setenv(name, value)
    with redirect_stderr(terminal):
        print_problems([told(tmp_path, "amount: 3 mL", "3 mL")], tmp_path)
    assert "\x1b" not in terminal.getvalue()
    assert "    amount: 3 mL\n            ~~~~\n" in terminal.getvalue()


def test_elsewhere_a_problem_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    problem = told(tmp_path, "amount: 3 mL", "3 mL")
    print_problems([problem], tmp_path)
    assert capsys.readouterr().err == f"{problem}\n1 error.\n"


@pytest.mark.parametrize("path", ["gone.md", "design.md"])
def test_a_line_that_is_not_there_is_not_quoted(
    terminal: Terminal, tmp_path: Path, path: str
) -> None:
    (tmp_path / "design.md").write_text("one line\n")
    with redirect_stderr(terminal):
        print_problems([Problem(Position(path, 7, 3), "it is bad", "Mend it.")], tmp_path)
    assert terminal.getvalue().count("\n") == 2


def test_wrong_use_is_in_colour_too(terminal: Terminal) -> None:
    with redirect_stderr(terminal):
        assert main(["biuld"]) == 2
    assert terminal.getvalue() == (
        f'{BOLD}journal:{PLAIN} {RED}there is no command "biuld".{PLAIN}'
        " Did you mean: journal build\n"
    )


@pytest.mark.parametrize(
    ("line", "start", "shown", "stroke"),
    [
        ("a: b", 3, "a: b", "   ~"),
        ("\tkey: bad", 6, "    key: bad", "         ~~~"),
        ("a\tb", 2, "a   b", "    ~"),
        # wide letters take two columns, marks on letters none
        ("名前: 悪い", 4, "名前: 悪い", "      ~~~~"),
        ("cafe\u0301: no", 7, "cafe\u0301: no", "      ~~"),
        ("bar\x1b[31m: x", 10, "bar?[31m: x", "          ~"),
        ("a\u202eb: c", 5, "a?b: c", "     ~"),
    ],
)
def test_underlined_by_columns(line: str, start: int, shown: str, stroke: str) -> None:
    length = len(line) - start
    assert underlined(line, start, length, 80) == (INDENT + shown, INDENT + stroke)


def test_a_long_line_is_cut_around_the_value() -> None:
    line = f"{'x ' * 60}bad value{' y' * 60}"
    shown, stroke = underlined(line, 120, 9, 60)
    assert shown.startswith(f"{INDENT}…")
    assert shown.endswith("…")
    assert shown[stroke.index("~") : stroke.rindex("~") + 1] == "bad value"
    assert column_width(shown) < 60


@given(
    st.text(st.characters(exclude_characters="\n\r", exclude_categories=["Cs"]), min_size=1),
    st.integers(0, 200),
    st.integers(1, 80),
    st.integers(1, 200),
)
def test_no_line_breaks_the_stroke(line: str, start: int, length: int, width: int) -> None:
    start = min(start, len(line) - 1)
    shown, stroke = underlined(line, start, length, width)
    assert "~" in stroke
    assert set(stroke) <= {" ", "~"}
    assert not set("\x1b\n") & set(shown)
    # At least as wide as what a message needs to be read.
    assert max(column_width(shown), len(stroke)) < max(width, 20 + len(INDENT) + 1) + 1


@pytest.mark.parametrize(
    ("line", "value", "what", "meant"),
    [
        ("a: {b: 3 mL, c: 4}", "3 mL", "", "3 mL"),
        ("a: [3 mL, 4]", "3 mL", "", "3 mL"),
        ("a: two words   # note", "two", "", "two words"),
        ("a: a#b", "a#b", "", "a#b"),
        ("molde: x", "molde", 'unknown key "molde"', "molde"),
        ("a: \"say 'hi'\" # x", '"say', "", "\"say 'hi'\""),
        ("- {bar: A1, keep: no} # x", "{bar", "the bar has no name", "{bar: A1, keep: no}"),
        ("a: 1, 2", "1", "", "1, 2"),
    ],
)
def test_how_far_a_value_reaches(line: str, value: str, what: str, meant: str) -> None:
    start = line.index(value)
    assert line[start : start + value_length(line, start, what)] == meant


@pytest.mark.parametrize(
    ("sign", "before", "near"),
    [
        # An amount stays the amount: 2⅞ is not 27/8, 10² not 102.
        ("⅞", "2", " 7/8"), ("⅞", "", "7/8"), ("½", " ", "1/2"), ("²", "0", "^2"), ("³", "m", "3"),
        ("–", "8", "-"), ("−", "", "-"), ("×", " ", "x"), ("…", "a", "..."), ("é", "", "e"),
        ("\u0301", "e", ""), ("ß", "", "ss"), ("漢", "", "?"), ("\udcff", "", "?"),
    ],
)  # fmt: skip
def test_a_sign_that_a_stream_has_not(sign: str, before: str, near: str) -> None:
    assert near_sign(sign, before) == near


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_a_stream_shows_what_it_has(encoding: str, monkeypatch: pytest.MonkeyPatch) -> None:
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding) for _ in range(2))
    monkeypatch.setattr("sys.stdout", out)
    monkeypatch.setattr("sys.stderr", err)
    assert main(["figures", "2⅞ – ½\udcff"]) == 2
    raw = err.buffer.getvalue().decode(encoding)
    shown = {"cp1252": "2 7/8 – ½?", "ascii": "2 7/8 - 1/2?", "utf-8": "2⅞ – ½?"}
    assert f'"{shown[encoding]}"' in raw
    print_json({"amount": "2⅞"})
    written = out.buffer.getvalue().decode(encoding)
    assert json.loads(written) == {"amount": "2⅞"}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device")
def test_no_room_for_the_output(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for command in (["completion", "bash"], ["--help"]):
        with Path("/dev/full").open("w") as full:
            monkeypatch.setattr("sys.stdout", full)
            assert main(command) == 2
        assert capsys.readouterr().err == (
            "journal: the output cannot be written: No space left on device."
            " Make room, or write it elsewhere.\n"
        )


@pytest.mark.parametrize("width", [40, 80])
def test_a_plan_fits_the_terminal(
    demo_content: Path, width: int, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("COLUMNS", str(width))
    assert main(["order", "lantern-fair", "--content", str(demo_content)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert width - 4 < max(map(column_width, lines)) <= width


@pytest.mark.long
@pytest.mark.parametrize("width", [40, 80])
def test_what_commands_say_fits_the_terminal(
    demo_content: Path, tmp_path: Path, width: int, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("COLUMNS", str(width))
    monkeypatch.chdir(tmp_path)
    content = ["--content", "soap"]
    calls = [
        ["begin", "soap"], ["check", *content], ["write-up", "Leaf and moon", *content],
        ["schema", *content], ["compare", *content], ["build", *content], ["build", *content],
        ["figures", "--csv", "a/folder/for/tables/of/figures", *content],
        ["cards", "fern-leaf", "--bars", "24", *content], ["cards", "fern-leaf", "--day", *content],
        ["sheet", "pour-day", "fern-leaf", *content], ["label", "fern-leaf", *content],
        ["figures", "no-such-design", *content],
        ["compare", "moth-and-moon", "--content", str(demo_content)],
        ["template", "moth-moon", "six-oblong", "--content", str(demo_content)],
    ]  # fmt: skip
    for call in calls:
        main(call)
        lines = "".join(capsys.readouterr()).splitlines()
        wide = [line for line in lines if column_width(line) > width and " " in line.strip()]
        assert not wide, call


def test_words_are_filled_into_lines() -> None:
    words = [("path:1:1:", BOLD), *((word, RED) for word in ("one", "two", "three", "four"))]
    assert filled_lines(words, 16, colour=False) == ["path:1:1: one", "  two three four"]
    assert filled_lines(words[:2], 16, colour=True) == [f"{BOLD}path:1:1:{PLAIN} {RED}one{PLAIN}"]


@given(st.lists(st.text("ab漢", min_size=1, max_size=12), min_size=1), st.integers(20, 60))
def test_filled_lines_are_no_wider(words: list[str], width: int) -> None:
    lines = filled_lines([(word, "") for word in words], width, colour=False)
    assert " ".join(lines).split() == words
    widest = max(map(column_width, words)) + 2
    assert all(column_width(line) <= max(width, widest) for line in lines)
