"""Which paths a file may have, and which two get in each other's way."""

from __future__ import annotations

import pytest
from demo import KELP_ON_GREY
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.output import OutputError, OutputFile, check_path
from journal.output.part import _PLAIN, _reason_to_refuse, check_together


def part(path: str, *, lasting: bool = False) -> OutputFile:
    return OutputFile(path, "key", bytes, lasting)


@pytest.mark.parametrize(
    "path",
    [
        "index.html",
        f"designs/{KELP_ON_GREY}.html",
        "photos/0a/0a1b2c.jpg",
        ".nojekyll",
        "shelf/café au lait.html",
        "shelf/貝.html",
        "console.html",
        "com10.txt",
        "a" * 240,
    ],
)
def test_ordinary_paths_are_taken(path: str) -> None:
    check_path(path)


@examples(25)  # to draw one takes 40 ms
@given(st.from_regex(_PLAIN, fullmatch=True))
def test_plain_paths_are_sound_without_a_look_at_each_name(path: str) -> None:
    assert _reason_to_refuse(path) == ""


@pytest.mark.parametrize("path", ["con.html", "aux/a.html", "a/nul.css", "lpt9.x.html", "com1.a"])
def test_names_of_devices_are_not_plain(path: str) -> None:
    assert not _PLAIN.fullmatch(path)


@pytest.mark.parametrize(
    ("path", "why"),
    [
        ("", "empty name"),
        ("/etc/passwd", "not relative"),
        ("../x", "steps out"),
        ("a/../b", "steps out"),
        ("a//b", "empty name"),
        ("a/", "empty name"),
        ("./a", "steps out"),
        ("a\\b", "not allowed"),
        ("C:x", "not allowed"),
        ("a\x00b", "not allowed"),
        ("a\nb", "not allowed"),
        ("what?.html", "not allowed"),
        ("a*", "not allowed"),
        ("a.", "end in a dot"),
        ("a /b", "end in a dot or a space"),
        ("con", "device"),
        ("designs/NUL.html", "device"),
        ("aux .tar.gz", "device"),
        ("com1", "device"),
        ("lpt³.txt", "device"),
        ("conout$", "device"),
        ("a" * 241, "bytes long"),
        ("é" * 121, "bytes long"),
        ("cafe\u0301.html", "two pieces"),
        ("\ud800", "not text"),
        (".journal-made.json", "record of what was made"),
        (".journal-work/x", "record of what was made"),
    ],
)
def test_odd_paths_are_refused_with_the_reason(path: str, why: str) -> None:
    with pytest.raises(OutputError, match="no file can be called") as refused:
        part(path)
    assert why in refused.value.what
    assert refused.value.hint.startswith("Rename")
    str(refused.value).encode()


@given(st.text())
def test_any_text_is_taken_or_refused(path: str) -> None:
    try:
        check_path(path)
    except OutputError:
        return
    assert not path.startswith("/")
    assert ".." not in path.split("/")
    assert "\\" not in path


@pytest.mark.parametrize(
    ("paths", "why"),
    [
        (["Kelp.html", "kelp.html"], "capitals"),
        (["Designs/a.html", "designs/b.html"], "capitals"),
        (["a/B/c", "a/b"], "capitals"),
        (["straße", "STRASSE"], "capitals"),
        (["a", "a/b"], "both a file and a folder"),
        (["a/b", "a/b/c/d"], "both a file and a folder"),
        (["a/b", "a-b", "a/b/c"], "both a file and a folder"),
    ],
)
def test_paths_that_are_one_somewhere_are_refused(paths: list[str], why: str) -> None:
    for order in (paths, paths[::-1]):
        with pytest.raises(OutputError, match=why):
            check_together(map(part, order))


def test_a_path_given_twice_is_a_slip_of_the_caller() -> None:
    with pytest.raises(ValueError, match="twice"):
        check_together([part("a"), part("b"), part("a")])


def test_a_folder_of_lasting_parts_holds_no_others() -> None:
    check_together([part("p/1", lasting=True), part("p/x/2", lasting=True), part("q/1")])
    with pytest.raises(ValueError, match="lasting parts and others"):
        check_together([part("p/1", lasting=True), part("p/x/2")])


def test_a_part_needs_a_key_and_a_lasting_one_a_folder() -> None:
    with pytest.raises(ValueError, match="no key"):
        OutputFile("a", "", bytes)
    with pytest.raises(ValueError, match="no folder"):
        part("a", lasting=True)
