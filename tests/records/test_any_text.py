"""Whatever is written, reading it ends in a notebook with problems or without, never otherwise."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
import strategies
from case_notebooks import laid_out
from hypothesis import HealthCheck, Phase, given, note, settings
from hypothesis import strategies as st
from long_run import examples

from journal.errors import ContentError, Position, Problem
from journal.records.notebook import Notebook, read_notebook
from journal.records.yaml.rows import parse_csv
from journal.records.yaml.source import decode_text, parse_yaml
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText

#: To make a whole notebook smaller takes minutes; the place in it is told anyway.
AS_DRAWN = settings(
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=[
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
        HealthCheck.filter_too_much,
        HealthCheck.function_scoped_fixture,
    ],
)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sound notebook, into which files are written."""
    root = tmp_path_factory.mktemp("any") / "content"
    laid_out(None, root)
    (root / "designs" / "tried" / "photos").mkdir(parents=True)
    (root / "designs" / "tried" / strategies.PHOTO).write_bytes(b"GIF89a")
    for folder in ("comparisons", "orders", "designs/tried/readings"):
        (root / folder).mkdir(exist_ok=True)
    return root


def in_place(root: Path, problems: tuple[Problem, ...], changed: str) -> None:
    """Each problem stands in a file that is there, on a line and column that it has."""
    for problem in problems:
        at = problem.position
        assert problem.what, problem
        assert at.line >= 1, problem
        assert at.column >= 1, problem
        file = root / at.path
        if not file.is_file():
            continue
        raw = file.read_bytes()
        text = raw.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
        lines = text.split("\n")
        assert at.line <= len(lines), f"{problem} in {changed!r}"
        # An empty value stands behind its key, which may be the end of the line.
        assert at.column <= len(lines[at.line - 1]) + 2, f"{problem} in {changed!r}"
        assert "\n" not in str(problem), problem


def read_with(root: Path, path: str, raw: bytes) -> Notebook:
    """The notebook with one file of it changed; the file is put back."""
    file = root / path
    before = file.read_bytes() if file.exists() else None
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(raw)
    try:
        notebook = read_notebook(root)
        in_place(root, notebook.problems, path)
        return notebook
    finally:
        if before is None:
            file.unlink()
        else:
            file.write_bytes(before)


FILES = (
    "designs/tried/design.md",
    "comparisons/tried.md",
    "orders/tried.yaml",
    "journal.yaml",
    *(f"shelf/{kind}.yaml" for kind in ("bases", "pieces", "leftovers", "mats")),
)


@examples(40, 2000, AS_DRAWN)
@given(path=st.sampled_from(FILES), raw=st.binary(max_size=200))
def test_any_bytes_as_any_file(small: Path, path: str, raw: bytes) -> None:
    read_with(small, path, raw)


@examples(60, 3000, AS_DRAWN)
@given(path=st.sampled_from(FILES), text=strategies.near_yaml | st.text(max_size=60))
def test_any_text_as_any_file(small: Path, path: str, text: str) -> None:
    raw = text.encode("utf-8", "surrogatepass")
    read_with(small, path, raw)
    if path.endswith(".md"):
        read_with(small, path, b"---\n" + raw + b"\n---\n" + raw)


@examples(60, 3000, AS_DRAWN)
@given(path=st.sampled_from(FILES), data=strategies.scraps)
def test_any_tree_as_any_file(small: Path, path: str, data: Any) -> None:
    text = strategies.as_yaml(data, None)
    if path.endswith(".md"):
        text = f"---\n{text}\n---\n"
    read_with(small, path, text.encode())


KEYS = (
    "layers",
    "variants",
    "pours",
    "question",
    "failed",
    "photos",
    "minutes",
    "subjects",
    "trim",
)
OF_POURS = ("readings", "bars", "later", "did", "poured", "melted", "room", "pour", "date")
SOUND: Mapping[str, Any] = {
    "title": "Tried",
    "date": "2026-04-18",
    "state": "trial",
    "bars": "6",
    "layers": [{"name": "body", "base": "clear", "amount": "90 g"}],
    "variants": {"cool": {"layers": {"body": {"pour": "115 F"}}}},
}


@examples(40, 2000, AS_DRAWN)
@given(key=st.sampled_from(KEYS), inner=st.sampled_from(OF_POURS), data=strategies.scraps)
def test_any_tree_under_a_key_that_is_known(small: Path, key: str, inner: str, data: Any) -> None:
    for written in (
        {**SOUND, key: data},
        {**SOUND, "layers": [{**SOUND["layers"][0], "fragrance": data, "colours": data}]},
        {**SOUND, "pours": [{"date": "2026-04-18", inner: data}]},
        {
            **SOUND,
            "photos": [{"file": "photos/front.gif", "alt": "A.", "scale": data, "measure": data}],
        },
    ):
        read_with(small, FILES[0], strategies.as_write_up(written).encode())


@examples(60, 3000, AS_DRAWN)
@given(
    table=st.lists(
        st.lists(
            st.sampled_from(["bar", "time", "pot", "lip", "A1", "1 mm", "0:00", "150 F", "-", ""])
            | strategies.words, max_size=5,
        ),
        max_size=5,
    ),
    apart=st.sampled_from([",", " ", "  ", ";", "\t", '","', ' "']),
)  # fmt: skip
def test_any_table(small: Path, table: list[list[str]], apart: str) -> None:
    text = "\n".join(apart.join(row) for row in table)
    csv = "designs/tried/readings/any.csv"
    for form in (csv.removeprefix("designs/tried/"), text + "\n"):
        pour = {"date": "2026-04-18", "readings": form, "bars": form, "later": form}
        written = strategies.as_write_up({**SOUND, "pours": [pour]}).encode()
        (small / csv).write_text(text, encoding="utf-8")
        read_with(small, FILES[0], written)


@examples(150, 7500, AS_DRAWN)
@given(text=strategies.near_yaml | st.text(max_size=40))
def test_any_text_is_a_tree_or_is_refused_with_its_place(text: str) -> None:
    for read in (parse_yaml, parse_csv):
        try:
            tree = read(text, "here")
        except ContentError as error:
            assert error.problems
        else:
            assert list(places(tree))


def places(tree: Any) -> Iterator[Position]:
    """The place of everything in a tree."""
    assert isinstance(tree, WrittenTable | WrittenList | WrittenText)
    yield tree.at
    if isinstance(tree, WrittenTable):
        for key, at in tree.keys_at.items():
            yield at
            yield from places(tree[key])
    elif isinstance(tree, WrittenList):
        for entry in tree:
            yield from places(entry)


@examples(60, 3000, AS_DRAWN)
@given(raw=st.binary(max_size=60))
def test_any_bytes_are_text_or_are_refused_with_their_place(raw: bytes) -> None:
    try:
        text = decode_text(raw, "here")
    except ContentError as error:
        (problem,) = error.problems
        assert problem.position.path == "here"
    else:
        assert "\r" not in text


# What is written as it should be.


def lay_down(files: Mapping[str, str], root: Path) -> None:
    for path, text in files.items():
        file = root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8", newline="")
        if path.endswith("/design.md"):
            (file.parent / "photos").mkdir(exist_ok=True)
            (file.parent / strategies.PHOTO).write_bytes(b"GIF89a")


@examples(12, 600, AS_DRAWN)
@given(files=strategies.notebooks())
def test_what_is_written_as_it_should_be_reads_without_an_error(
    tmp_path_factory: pytest.TempPathFactory, files: dict[str, str]
) -> None:
    root = tmp_path_factory.mktemp("sound")
    lay_down(files, root)
    for path, text in files.items():
        note(f"== {path}\n{text}")
    notebook = read_notebook(root)
    assert [str(problem) for problem in notebook.errors] == []
    assert not notebook.unreadable


@st.composite
def _mutated(draw: strategies.Draw) -> tuple[dict[str, str], str]:
    """A sound notebook with one character, line or word of one file changed."""
    files = draw(strategies.notebooks())
    path = draw(st.sampled_from(sorted(files)))
    text = files[path]
    at = draw(st.integers(0, len(text)))
    how = draw(st.sampled_from(["drop", "put", "line", "swap"]))
    if how == "drop":
        text = text[:at] + text[at + draw(st.integers(1, 8)) :]
    elif how == "put":
        text = text[:at] + draw(st.text(max_size=4) | strategies.near_yaml) + text[at:]
    else:
        lines = text.split("\n")
        number = draw(st.integers(0, len(lines) - 1))
        line = lines.pop(number)
        if how == "swap":
            lines.insert(draw(st.integers(0, len(lines))), line)
        text = "\n".join(lines)
    return {**files, path: text}, path


@examples(12, 600, AS_DRAWN)
@given(changed=_mutated())
def test_a_slip_is_refused_with_its_place_or_read(
    tmp_path_factory: pytest.TempPathFactory, changed: tuple[dict[str, str], str]
) -> None:
    files, path = changed
    root = tmp_path_factory.mktemp("slip")
    try:
        lay_down(files, root)
    except UnicodeEncodeError:
        return
    notebook = read_notebook(root)
    in_place(root, notebook.problems, path)


@examples(6, 300, AS_DRAWN)
@given(files=strategies.notebooks())
def test_line_ends_and_byte_order_marks_change_nothing(
    tmp_path_factory: pytest.TempPathFactory, files: dict[str, str]
) -> None:
    root = tmp_path_factory.mktemp("ends")
    lay_down(files, root)
    before = read_notebook(root)
    lay_down({path: "\ufeff" + text.replace("\n", "\r\n") for path, text in files.items()}, root)
    after = read_notebook(root)
    assert after.problems == before.problems
    assert after.settings == before.settings
    assert after.designs == before.designs
    assert after.shelf.bases == before.shelf.bases
