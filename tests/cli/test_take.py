"""``journal take``: tables of past pours into a write-up, which else stays as it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from demo import KELP_ON_CLAY
from synthetic_tree import Died, dies_at
from take_cases import copy_beside, write_up

from journal.cli import main
from journal.output import OutputError, write_file
from journal.records.notebook import read_notebook

BARS = 'Date;bar;variant;Lip, mm;keep;note\n2026-11-20;1;opaque;1,5;no;"# <b>""x"""\n'


@pytest.fixture
def content(demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo's content; tables are written beside it."""
    return copy_beside(demo_content, tmp_path, monkeypatch)


def take(content: Path, table: str | bytes, *words: str, name: str = "table.csv") -> int:
    data = table.encode() if isinstance(table, str) else table
    (content.parent / name).write_bytes(data)
    return main(["take", name, "--content", "content", "--into", KELP_ON_CLAY, *words])


def test_a_new_pour_is_shown_and_written(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = write_up(content).read_text("utf-8")
    assert take(content, BARS, "--yes") == 0
    added = (
        "  - pour: E\n    date: 2026-11-20\n    bars:\n"
        '      - {bar: E1, variant: opaque, lip: 1.5 mm, keep: no, note: "# <b>\\"x\\""}\n'
    )
    after = write_up(content).read_text("utf-8")
    assert added in after
    assert after.replace(added, "") == before
    out = capsys.readouterr()
    assert '"Lip, mm" as lip in mm' in out.out
    assert "+  - pour: E\n" in out.out
    assert "New: pour E of 2026-11-20, 1 bar.\n" in out.out
    assert '"1,5" is read as 1.5' in out.err
    assert take(content, BARS, "--yes") == 0
    assert "already. Nothing was written." in " ".join(capsys.readouterr().out.split())
    assert write_up(content).read_text("utf-8") == after


def test_what_a_bar_lacks_is_filled_in(content: Path) -> None:
    """Later looks and a weight, of bars that the tables alone name."""
    before = write_up(content).read_text("utf-8")
    assert take(content, "bar,weight g,keep\nA1,91,no\n", "--yes") == 0
    assert (
        take(content, "bar  day  bleed mm\nA1   30   1\nB1   30   0\n", "--yes", name="a.txt") == 0
    )
    pours = {pour.label: pour for pour in read_notebook(content).designs[KELP_ON_CLAY].pours}
    assert pours["A"].bars[0].measures["weight"] == 91
    assert [(look.bar, look.day, look.measures) for look in pours["A"].later] == [
        ("A1", 30, {"bleed": 1.0})
    ]
    assert [look.bar for look in pours["B"].later] == ["B1"]
    after = write_up(content).read_text("utf-8")
    put_in = (
        ", weight: 91 g",
        "    later:\n      - {bar: A1, day: 30, bleed: 1 mm}\n",
        "    later:\n      - {bar: B1, day: 30, bleed: 0 mm}\n",
    )
    for text in put_in:
        assert after.count(text) == 1
        after = after.replace(text, "")
    assert after == before


def test_readings_go_behind_those_that_are_there(content: Path) -> None:
    table = "date,time,clay F,did\n2024-10-05,0:28,123,poured\n2024-10-05,0:40,118,\n"
    assert take(content, table, "--yes") == 0
    text = write_up(content).read_text("utf-8")
    assert "        - [0:28, 123 F, poured]\n        - [0:40, 118 F]\n    poured:" in text


@pytest.mark.parametrize(
    ("table", "said"),
    [
        # Conflicts are told, not guessed.
        ("bar,lip mm\nA1,3\n", 'table.csv:2:4: the bar "A1" has another "lip" in the write-up, not'
         ' "3 mm". Keep the one that is right, here or there.'),
        ("pour,date,room F\nA,2024-10-05,75\n", 'the pour "A" has another "room" in the write-up'),
        ("pour,date\nA,2024-10-07\n", 'the pour "A" was on 2024-10-05 by the write-up'),
        ("date,time,clay F\n2024-10-05,0:10,120\n",
         'the pot "clay" has no such reading at 0:10 in the write-up'),
        ("pour,room F\nA,70\nA,71\n", '"room" is "71 F" here and "70 F" on line 2'),
        # What a table leaves open, or has wrong.
        ("bar,variant,keep\nX1,clear,no\n", "the table does not say which pour it is of"),
        ("pour,bar,variant\nZ,Z1,clear\n", 'the new pour "Z" has no date. Add a column "date".'),
        ("date,bar,variant\n20/11/2026,E1,clear\n", '"20/11/2026" is not a date'),
        ("date,bar,variant,lip g\n2026-11-20,E1,clear,3\n", "table.csv:2:21: "),
        ("date,bar,variant\n2026-11-20,E1,grey\n", 'table.csv:2:15: no variant is called "grey"'),
        ("date,bar,variant\n2026-11-20,A1,clear\n", 'two bars are called "A1"'),
        # No table at all.
        ("", "the table has no rows. Name the columns in its first line"),
        (b"PK\x03\x04" + b"x" * 5_000_000, "this is a spreadsheet, not a table in text. Save it"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "this is a spreadsheet"),
        (b"bar\0", "this is no text. Save the spreadsheet as CSV, "),
        (b"bar,note\nE1,\xff\n", "is not UTF-8 text"),
        (b"x" * 10_000_000, "the file has 9 MB, which is no table. Keep tables below 4 MB."),
        ("bar," + "x" * 100_000 + "\nA1,2\n", "All of it is in"),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_is_said_and_nothing_written(
    content: Path, table: str | bytes, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = write_up(content).read_bytes()
    status = take(content, table, "--yes")
    out = capsys.readouterr()
    assert said in out.err + out.out
    assert status == (0 if "already" in out.out else 1)
    assert write_up(content).read_bytes() == before


def test_where_the_list_is_no_block_the_text_is_shown(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = write_up(content).read_text("utf-8")
    head, _, rest = text.partition("pours:\n")
    tail = rest[rest.index("\nfailed:") :].partition("failed:")[2]
    tail = tail[tail.index("---\n") :]
    write_up(content).write_text(f"{head}pours: [{{date: 2024-10-05}}]\n{tail}", "utf-8")
    before = write_up(content).read_bytes()
    assert take(content, BARS, "--yes") == 1
    out = capsys.readouterr().out
    assert "pours is not written line by line. Paste this there yourself:" in " ".join(out.split())
    assert "  - pour: B\n    date: 2026-11-20\n" in out
    assert write_up(content).read_bytes() == before


def test_without_a_yes_nothing_is_written(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = write_up(content).read_bytes()
    assert take(content, BARS) == 2
    assert "Add --yes." in capsys.readouterr().err
    assert write_up(content).read_bytes() == before


def test_killed_at_any_step_it_is_the_old_one_or_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "design.md"
    found = set()
    for step in range(1, 9):
        path.write_bytes(b"old")
        try:
            write_file(path, b"new", was=b"old", disk=dies_at(step))
        except Died:
            pass
        found.add((step, path.read_bytes()))
    assert {data for _, data in found} == {b"old", b"new"}


def test_whom_it_can_be_read_by_stays(tmp_path: Path) -> None:
    path = tmp_path / "design.md"
    path.write_bytes(b"old")
    path.chmod(0o600)
    write_file(path, b"new", was=b"old")
    assert path.stat().st_mode & 0o777 == 0o600


def test_what_was_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "design.md"
    path.write_bytes(b"hers")
    with pytest.raises(OutputError, match="was changed meanwhile"):
        write_file(path, b"new", was=b"old")
    assert path.read_bytes() == b"hers"
    path.unlink()
    with pytest.raises(OutputError, match="was changed meanwhile"):
        write_file(path, b"new", was=b"old")
    assert not path.exists()


def test_a_folder_is_no_table(content: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("bars").mkdir()
    call = ["take", "bars", "--content", str(content), "--into", KELP_ON_CLAY]
    assert main(call) == 1
    assert "bars:1:1: a folder stands where a file belongs" in capsys.readouterr().err
