"""Content that means harm, or was made by a program: told with its place, and quickly."""

from __future__ import annotations

import os
import re
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from case_notebooks import CASES, laid_out, outcome
from long_run import LONG as LONG_RUN

from journal.errors import ContentError
from journal.records.models.links import links_in
from journal.records.notebook import Notebook, read_notebook
from journal.records.yaml import source
from journal.records.yaml.rows import parse_csv
from journal.records.yaml.source import decode_text, parse_yaml, path_in_notebook, stays_in_notebook

HEAD = "---\ntitle: {title}\ndate: 2026-04-18\nstate: trial\nbars: 6\n"
LAYERS = "layers: [{name: body, base: clear, amount: 90 g}]\n"
SOUND = HEAD.format(title="Sound") + LAYERS + "---\n"

#: What is quick: ten times what is measured on a slow machine, and far less than the same
#: text takes where each character is looked at again for every other.
QUICK_S = 10.0


@contextmanager
def quickly() -> Iterator[None]:
    began = time.process_time()
    yield
    assert time.process_time() - began < QUICK_S


@pytest.fixture
def content(tmp_path: Path) -> Path:
    """A sound notebook to do harm to."""
    laid_out(None, tmp_path / "content")
    return tmp_path / "content"


def told(content: Path) -> list[str]:
    return [str(problem) for problem in read_notebook(content).problems]


def design(content: Path, text: str | bytes, name: str = "hostile") -> Path:
    folder = content / "designs" / name
    folder.mkdir(exist_ok=True)
    raw = text.encode() if isinstance(text, str) else text
    (folder / "design.md").write_bytes(raw)
    return folder


# Encodings.


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_utf_16_is_told_as_such(content: Path, encoding: str) -> None:
    design(content, SOUND.encode(encoding))
    (line,) = told(content)
    assert line.startswith("designs/hostile/design.md:1:")
    assert "UTF-" in line or "U+0000" in line


@pytest.mark.parametrize(
    ("raw", "line"),
    [
        (b"a: \xff\n", "x:1:4: the byte 0xff is not UTF-8 text. Save the file as UTF-8."),
        (b"a\r\nb: caf\xe9\n", "x:2:7: the byte 0xe9 is not UTF-8 text. Save the file as UTF-8."),
        (
            b"\xef\xbb\xbfa: \xf0\x9f\xa7\xbc\xc3\n",
            "x:1:5: the byte 0xc3 is not UTF-8 text. Save the file as UTF-8.",
        ),
        (b"a: \xed\xa0\x80\n", "x:1:4: the byte 0xed is not UTF-8 text. Save the file as UTF-8."),
        (
            b"a: \xc3\xa9\x00b\n",
            "x:1:5: a control character (U+0000) stands in the text. Delete it.",
        ),
        (b"a\n\x1b[31mred\n", "x:2:1: a control character (U+001B) stands in the text. Delete it."),
        (
            b"a \xef\xbb\xbfb\n",
            "x:1:3: a control character (U+FEFF) stands in the text. Delete it.",
        ),
        (
            "a\u2028b\n".encode(),
            "x:1:2: a control character (U+2028) stands in the text. Delete it.",
        ),
        ("a\x85b\n".encode(), "x:1:2: a control character (U+0085) stands in the text. Delete it."),
    ],
)
def test_bytes_that_are_no_text_are_told_with_their_place(raw: bytes, line: str) -> None:
    with pytest.raises(ContentError) as refused:
        decode_text(raw, "x")
    assert str(refused.value) == line


@pytest.mark.parametrize("change", [
    lambda raw: b"\xef\xbb\xbf" + raw,
    lambda raw: raw.replace(b"\n", b"\r\n"),
    lambda raw: raw.replace(b"\n", b"\r"),
    lambda raw: b"\xef\xbb\xbf" + raw.replace(b"\n", b"\r\n"),
])  # fmt: skip
@pytest.mark.parametrize("name", ["plain", "readings-in-columns"])
def test_line_ends_and_byte_order_marks_change_nothing(
    tmp_path: Path, change: Callable[[bytes], bytes], name: str
) -> None:
    case = CASES / "valid" / f"{name}.md"
    notebook = laid_out(case, tmp_path / "content")
    file = tmp_path / "content" / "designs" / name / "design.md"
    file.write_bytes(change(file.read_bytes()))
    assert outcome(case, read_notebook(tmp_path / "content")) == outcome(case, notebook)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-8"])
def test_a_place_counts_characters_after_crlf_and_a_byte_order_mark(
    content: Path, encoding: str
) -> None:
    text = (
        HEAD.format(title='"é 🧼 \u200f"').replace("bars: 6", "bars: 6\nmat: é🧼")
        + LAYERS
        + "---\n"
    )
    design(content, text.replace("\n", "\r\n").encode(encoding))
    assert told(content)[0].startswith(
        'designs/hostile/design.md:6:6: no mat "é🧼" is on the shelf.'
    )


def test_marks_of_direction_are_not_printed_as_they_are(content: Path) -> None:
    design(content, SOUND.replace("base: clear", 'base: "\u202eraelc"'))
    (line,) = told(content)
    assert 'no base "\ufffdraelc" is on the shelf' in line


# YAML.


def test_an_alias_bomb_is_told_and_never_blown_up() -> None:
    levels = [f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 9)}]" for n in range(1, 12)]
    with quickly(), pytest.raises(ContentError) as refused:
        parse_yaml("l0: &l0 [x]\n" + "\n".join(levels) + "\n", "x")
    first, second, *_ = refused.value.problems
    assert str(first) == 'x:1:5: "&l0" marks a value to be used again. Leave it away.'
    assert str(second).startswith('x:2:5: "&l1"')
    assert len(refused.value.problems) == source.MOST_SLIPS


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? ", "[{a: ", "{? "])
@pytest.mark.parametrize("times", [41, 999, 50_000])
def test_deep_nesting_is_refused_before_it_is_followed(opening: str, times: int) -> None:
    said = "a key must be a plain word" if "?" in opening else "levels stand inside each other"
    with quickly(), pytest.raises(ContentError, match=said):
        parse_yaml(opening * times, "x")


def test_the_deepest_nesting_that_is_read() -> None:
    assert parse_yaml("[" * source.DEEPEST + "]" * source.DEEPEST, "x")
    with pytest.raises(ContentError, match=f"more than {source.DEEPEST} levels"):
        parse_yaml("[" * (source.DEEPEST + 1) + "]" * (source.DEEPEST + 1), "x")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("!!python/object/apply:os.system [true]", 'os.system" is a type mark of YAML'),
        ("!!binary aGk=", 'binary" is a type mark of YAML'),
        ("!<tag:x> y", '"tag:x" is a type mark of YAML'),
        ("!x!y z", "! cannot begin a value"),
        ("<<: {a: 1}", '"<<" takes over keys from elsewhere'),
    ],
)
def test_marks_that_run_or_merge_are_refused(line: str, said: str) -> None:
    with pytest.raises(ContentError, match=rf"^x:2:3: .*{re.escape(said)}"):
        parse_yaml(f"a:\n  {line}\n", "x")


def test_a_key_of_any_length_is_told_shortly(content: Path) -> None:
    design(content, SOUND.replace("bars: 6", f"bars: 6\n{'k' * 1000}: v\n? {'q' * 5000}\n: v"))
    for line in told(content):
        assert len(line) < 400


# Size.

#: Enough for a second look at each character to take an hour.
LONG = 1_000_000


@pytest.mark.parametrize(
    "line",
    ["x", "[", "]", "`", "``` ", "[a](", "![", "[a]", "[[a]", "(", "<", "\\[", "*_", "[a](b 'c",
     "- ", "a|b|", "[x]: ", "🧼", "](", "`` ` "],
)  # fmt: skip
def test_the_links_of_a_very_long_line_are_found_quickly(line: str) -> None:
    with quickly():
        found = sum(1 for _ in links_in(line * (LONG // len(line)), "x", 1))
    # Where a link is told of below, all that follows is the place that it leads to.
    assert found == (line == "[x]: ")


def test_a_line_of_ten_megabytes_is_read_quickly(content: Path) -> None:
    folder = design(content, f"{SOUND}[a](gone.md) {'a word, [x] (y) ' * 650_000}\n")
    assert (folder / "design.md").stat().st_size > 10_000_000
    with quickly():
        lines = told(content)
    link = 'designs/hostile/design.md:8:1: the link leads to the file "gone.md"'
    assert any(line.startswith(link) for line in lines)
    # Such a line is told of too: no page of it could be made.
    assert any("the block has 10400 kB without a blank line" in line for line in lines)


@pytest.mark.parametrize("value", ["x", "1", "a b ", "é", '\\"', ", "])
def test_a_very_long_value_is_read_quickly(content: Path, value: str) -> None:
    long = value * (LONG // len(value))
    design(content, SOUND.replace("base: clear", f'base: "{long}"').replace("90 g", f'"{long}"'))
    with quickly():
        lines = told(content)
    assert lines
    assert max(map(len, lines)) < 600


def test_a_file_that_is_too_large_is_not_read(content: Path) -> None:
    folder = design(content, SOUND)
    with open(folder / "design.md", "ab") as file:
        file.truncate(source.LARGEST_BYTES + 1)
    assert told(content) == [
        "designs/hostile/design.md:1:1: the file has 16 MB, which is no write-up."
        " Keep text files below 16 MB."
    ]


def test_a_huge_cell_is_read_quickly_and_told_shortly(content: Path) -> None:
    cell = "x" * LONG
    pours = "pours: [{date: 2026-04-18, bars: b.csv}]\n"
    folder = design(content, SOUND.replace("layers", f"{pours}layers"))
    (folder / "b.csv").write_text(
        f'bar,lip,note\nA1,{cell},y\nA2,1 mm,"{cell}"\n', encoding="utf-8"
    )
    with quickly():
        (line,) = told(content)
    assert line.startswith('designs/hostile/b.csv:2:4: "xxxxx')
    assert len(line) < 300


def test_a_table_of_very_many_rows_is_refused() -> None:
    with quickly(), pytest.raises(ContentError, match="more than 20000 rows"):
        parse_csv("bar\n" + "A1\n" * 1_000_000, "x")


@pytest.mark.parametrize("text", ['"' * 99_999, 'a,"' * 50_000, "," * 100_000, '"a""' * 50_000])
def test_quotes_and_commas_without_end_are_read_quickly(text: str) -> None:
    with quickly():
        try:
            parse_csv(text, "x")
        except ContentError as error:
            assert len(str(error)) < 300


# Names of files.


@pytest.mark.parametrize(
    "name",
    ["CON", "con", "nul", "com1", "lpt9", "a b", "é", "🧼", "-a", "a.b", "A", "a" * 81, "a\nb",
     "a'b", "a\u202eb", 'a"b', "aux"],
)  # fmt: skip
def test_a_folder_that_cannot_be_an_address_is_refused(content: Path, name: str) -> None:
    design(content, SOUND, name)
    (line,) = told(content)
    assert "cannot be an id" in line
    assert "\n" not in line


def test_a_name_that_is_no_text_is_told(content: Path) -> None:
    folder = os.fsencode(content / "designs") + b"/caf\xe9"
    try:
        os.mkdir(folder)
    except OSError:
        pytest.skip("the file system holds only names that are text")
    (line,) = told(content)
    assert line.startswith("designs/caf?:1:1: ")
    line.encode()


@pytest.mark.parametrize(
    "name",
    ["x" * 5000, "a/" * 3000, "..", ".", "", "/", "//", "~", "a\\b", "C:x", "nul", "\u202e", "x\t"],
)
def test_a_path_that_cannot_be_is_told(content: Path, name: str) -> None:
    text = SOUND.replace("---\n", "", 1).replace("---\n", "")
    quoted = name.replace("\\", "\\\\").replace("\t", "\\t")
    pours = f'pours: [{{date: 2026-04-18, bars: "{quoted}.csv", readings: "{quoted}"}}]\n'
    photos = f'photos: [{{file: "{quoted}", alt: A bar.}}]\n'
    design(content, f"---\n{text}{pours}{photos}---\n[x](<{name}>)\n")
    lines = told(content)
    assert len(lines) >= 3
    assert all(line.startswith("designs/hostile/design.md:") for line in lines)
    assert max(map(len, lines)) < 300


@pytest.mark.parametrize(
    ("path", "folder", "found"),
    [
        ("a.jpg", "designs/x", "designs/x/a.jpg"),
        ("../y/a.jpg", "designs/x", "designs/y/a.jpg"),
        ("./a/./b", "designs/x", "designs/x/a/b"),
        ("../../journal.yaml", "designs/x", "journal.yaml"),
        ("../../../x", "designs/x", None),
        ("../../../content/x", "designs/x", None),
        ("/etc/passwd", "designs/x", None),
        ("\\x", "designs/x", None),
        ("a\\..\\..\\b", "designs/x", None),
        ("c:x", "designs/x", None),
        ("", "designs/x", "designs/x"),
    ],
)
def test_where_a_path_leads(path: str, folder: str, found: str | None) -> None:
    assert path_in_notebook(path, folder) == found


# Files, folders and links in each other's place.


@pytest.mark.parametrize("path", ["designs", "shelf", "comparisons", "orders"])
def test_a_file_where_a_folder_should_be(content: Path, path: str) -> None:
    if (content / path).exists():
        shutil.rmtree(content / path)
    (content / path).write_text("x", encoding="utf-8")
    assert f"{path}:1:1: a file stands where a folder belongs. Move it." in told(content)


@pytest.mark.parametrize(
    "path",
    ["journal.yaml", "shelf/bases.yaml", "designs/hostile/design.md", "designs/hostile/b.csv"],
)
def test_a_folder_where_a_file_should_be(content: Path, path: str) -> None:
    folder = design(
        content, SOUND.replace("bars: 6", "bars: 6\npours: [{date: 2026-04-18, bars: b.csv}]")
    )
    (folder / "b.csv").write_text("bar\n", encoding="utf-8")
    (content / path).unlink()
    (content / path).mkdir()
    lines = told(content)
    assert any("folder stands where a file" in line or "there is no file" in line for line in lines)


def test_there_is_no_notebook(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    for root in (tmp_path / "none", tmp_path / "file"):
        with pytest.raises(ContentError, match="there is no notebook here"):
            read_notebook(root)


def test_an_empty_folder_is_a_notebook_without_settings(tmp_path: Path) -> None:
    assert [str(p) for p in read_notebook(tmp_path).problems] == [
        "journal.yaml:1:1: there is no such file. Write it, or mend its name."
    ]


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    """Something beside the notebook that is none of its business."""
    folder = tmp_path / "secret"
    (folder / "photos").mkdir(parents=True)
    (folder / "design.md").write_text(SOUND.replace("Sound", "Secret"), encoding="utf-8")
    (folder / "photos" / "a.gif").write_bytes(b"GIF89a")
    (folder / "b.csv").write_text("bar\nSECRET\n", encoding="utf-8")
    (folder / "bases.yaml").write_text("secret: {name: Secret}\n", encoding="utf-8")
    return folder


def refused_link(notebook: Notebook) -> bool:
    text = "\n".join(map(str, notebook.problems))
    seen = repr((notebook.designs, notebook.shelf, notebook.orders))
    return "Secret" not in seen and "SECRET" not in seen and "out of the notebook" in text


def test_links_out_of_the_notebook_are_refused(content: Path, secret: Path) -> None:
    (content / "designs" / "link").symlink_to(secret)
    assert refused_link(read_notebook(content))
    (content / "designs" / "link").unlink()

    folder = design(content, SOUND)
    (folder / "design.md").unlink()
    (folder / "design.md").symlink_to(secret / "design.md")
    assert refused_link(read_notebook(content))
    (folder / "design.md").unlink()

    text = SOUND.replace(
        "bars: 6", "bars: 6\npours: [{date: 2026-04-18, bars: r/b.csv}]\n"
        "photos: [{file: photos/a.gif, alt: A bar.}]",
    )  # fmt: skip
    design(content, text + "[x](r/b.csv)\n")
    (folder / "r").symlink_to(secret)
    (folder / "photos").symlink_to(secret / "photos")
    notebook = read_notebook(content)
    assert refused_link(notebook)
    assert len(notebook.problems) == 3

    (content / "shelf" / "bases.yaml").unlink()
    (content / "shelf" / "bases.yaml").symlink_to(secret / "bases.yaml")
    assert refused_link(read_notebook(content))
    shutil.rmtree(content / "shelf")
    (content / "shelf").symlink_to(secret)
    assert refused_link(read_notebook(content))


def test_links_in_circles_and_to_nothing_are_told(content: Path) -> None:
    folder = design(content, SOUND)
    (folder / "design.md").unlink()
    (folder / "design.md").symlink_to("design.md")
    (content / "designs" / "round").symlink_to("round")
    (content / "designs" / "nothing").symlink_to("gone")
    (content / "designs" / "up").symlink_to("..")
    (content / "orders").symlink_to("orders")
    (content / "comparisons").mkdir()
    (content / "comparisons" / "a.md").symlink_to("a.md")
    lines = told(content)
    for path in ("designs/hostile/design.md", "designs/round", "designs/nothing", "designs/up",
                 "orders", "comparisons/a.md"):  # fmt: skip
        assert any(line.startswith(f"{path}:1:1:") for line in lines), (path, lines)


def test_a_link_within_the_notebook_is_followed(content: Path) -> None:
    folder = design(content, SOUND)
    (folder / "design.md").rename(content / "designs" / "first-try" / "other.md")
    (folder / "design.md").symlink_to("../first-try/other.md")
    assert told(content) == []
    assert stays_in_notebook(content, "designs/hostile/design.md")


def test_a_pipe_is_not_waited_for(content: Path) -> None:
    folder = design(content, SOUND)
    (folder / "design.md").unlink()
    if not hasattr(os, "mkfifo"):
        pytest.skip("no pipes here")
    os.mkfifo(folder / "design.md")
    assert told(content) == [
        "designs/hostile/design.md:1:1: this is no ordinary file. Put a text file in its place."
    ]


def test_a_file_that_may_not_be_read_is_told(
    content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    design(content, SOUND)
    real = os.stat

    def denied(path: object, *rest: object, **more: object) -> object:
        if str(path).endswith(("hostile/design.md", "shelf/mats.yaml")):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr("journal.records.yaml.source.os.stat", denied)
    assert told(content) == [
        "designs/hostile/design.md:1:1: the file cannot be read (Permission denied)."
        " Allow reading it.",
        "shelf/mats.yaml:1:1: the file cannot be read (Permission denied). Allow reading it.",
    ]


def test_a_folder_that_may_not_be_read_is_told(
    content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.scandir

    def denied(path: object) -> object:
        if str(path).endswith("designs"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)  # type: ignore[call-overload]

    monkeypatch.setattr("journal.records.notebook.os.scandir", denied)
    assert "designs:1:1: the folder cannot be read (Permission denied). Allow reading it." in told(
        content
    )


# Many mistakes.

THINGS = 100_000 if LONG_RUN else 5_000


@pytest.mark.parametrize(
    ("head", "line", "first"),
    [
        (HEAD.format(title="Many") + LAYERS, "k{}: x", 7),
        (HEAD.format(title="Many") + "layers:\n  - name: body\n    base: clear\n    amount: 90 g\n",
         "    k{}: x", 10),
        (HEAD.format(title="Many") + LAYERS + "failed:\n", "  - what: k{}", 8),
        (HEAD.format(title="Many") + LAYERS + "pours:\n  - date: 2026-04-18\n    bars:\n",
         "      - {{bar: A{0}, variant: as written, k{0}: 1}}", 10),
    ],
    ids=["unknown keys", "unknown keys of a layer", "entries", "bars"],
)  # fmt: skip
def test_of_many_mistakes_the_first_are_told_with_a_count(
    content: Path, head: str, line: str, first: int
) -> None:
    """Each was compared with every known word, and a layer copied for each."""
    text = "\n".join(line.format(number) for number in range(THINGS))
    design(content, f"{head}{text}\n---\n")
    with quickly():
        lines = [one for one in told(content) if "hostile" in one]
    assert len(lines) == 51
    assert lines[0].startswith(f"designs/hostile/design.md:{first}:")
    assert re.fullmatch(
        rf"designs/hostile/design\.md:{first + 50}:\d+: the file has (\d+,\d+) more mistakes from"
        r" here on\. Mend these first\.",
        lines[-1],
    )


def test_a_device_in_place_of_a_table_is_told(content: Path) -> None:
    """It would never end."""
    folder = design(
        content,
        SOUND.replace("---\n", "", 1).replace(
            "---\n", "pours: [{date: 2026-04-18, bars: endless.csv}]\n---\n"
        ).join(("---\n", "")),
    )  # fmt: skip
    (folder / "endless.csv").symlink_to("/dev/zero")
    (line,) = told(content)
    assert "endless.csv" in line
