"""Tables and hand-ins taken into a write-up: what was there stays byte for byte, what is new reads
back."""

from __future__ import annotations

import csv
import difflib
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
import strategies
from hypothesis import given, note
from hypothesis import strategies as st
from long_run import examples
from test_any_notebook import AS_DRAWN, lay_down

from journal.errors import Problem
from journal.records.models.write_up import Pour
from journal.records.notebook import read_notebook
from journal.records.taking.edit import EditFailed, NoBlock, WriteUpEdit, flow_value
from journal.records.taking.hand_in import FORMAT, is_hand_in, read_hand_ins
from journal.records.taking.tables import table_of
from journal.records.taking.take import TakenChange, take_hand_ins, take_tables
from journal.records.yaml.source import parse_yaml, split_write_up

#: What the notebook of a studio "A" is known by: BLAKE2b of 8 bytes, by b2sum -l 64.
STUDIO_ID = "1a89a399ca7c5046"
#: What no table has: a recipe's change, and texts about the pour.
UNTOLD = ("did", "private")


def table(rows: list[dict[str, Any]], separator: str) -> str:
    """Rows as a spreadsheet saves them, every cell in quotes."""
    columns = list(dict.fromkeys(key for row in rows for key in row))
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([row.get(key, "") for key in columns] for row in rows)
    return text.getvalue()


def tables_of(pour: dict[str, Any], separator: str) -> dict[str, str]:
    """A pour of the strategies as tables: its own values, readings, bars, later looks."""
    named = {key: pour[key] for key in ("pour", "date") if key in pour}
    own = {key: pour[key] for key in ("room", "humidity", "wrapped") if key in pour}
    for key in ("melted", "poured"):
        own.update({f"{key}: {name}": value for name, value in pour.get(key, {}).items()})
    made = {"pour.csv": table([named | own], separator)}
    readings = pour.get("readings", {})
    if isinstance(readings, str):
        head, *lines = (line.split("  ") for line in readings.splitlines())
        rows = [dict(zip(head, line, strict=True)) for line in lines]
    else:
        rows = [
            dict(zip(("pot", "time", "temperature", "did"), (pot, *row), strict=False))
            for pot, of_pot in readings.items() for row in of_pot
        ]  # fmt: skip
    for name, told in (("readings.csv", rows), ("bars.csv", pour.get("bars", [])),
                       ("later.csv", pour.get("later", []))):  # fmt: skip
        if told:
            cells = [{k: " ".join(v) if isinstance(v, list) else v for k, v in row.items()}
                     for row in told]  # fmt: skip
            made[name] = table([named | row for row in cells], separator)
    return made


def texts_only(value: Any) -> Any:
    """The value with a text for each number."""
    if isinstance(value, dict):
        return {key: texts_only(one) for key, one in value.items()}
    return [texts_only(one) for one in value] if isinstance(value, list) else str(value)


def hand_in_of_pour(pour: dict[str, Any]) -> dict[str, str]:
    """A pour of the strategies as the bench page hands it in."""
    pour = dict(pour)
    if isinstance(pour.get("readings"), str):
        head, *lines = (line.split("  ") for line in pour["readings"].splitlines())
        rows = [dict(zip(head, line, strict=True)) for line in lines]
        pots = [name for name in head if name not in ("time", "did", "sure")]
        pour["readings"] = {
            pot: [[row["time"], row[pot], *([row["did"]] if row.get("did") else [])]
                  for row in rows if row[pot] != "-"]
            for pot in pots
        }  # fmt: skip
    made = {"format": FORMAT, "notebook": STUDIO_ID, "design": "one", "hand_in": "a" * 16,
            "pour": texts_only(pour), "later": []}  # fmt: skip
    return {"pour.json": json.dumps(made, ensure_ascii=False)}


def compared(pour: Pour) -> Any:
    """All that is read of a pour, without its places in the file."""
    readings = [(r.pot, r.minutes, r.temperature_c, r.did) for r in pour.readings]
    bars = [(b.bar, b.variant, b.piece, b.poured_c, b.measures, b.note, b.cavity)
            for b in pour.bars]  # fmt: skip
    looks = [(look.bar, look.day, look.measures) for look in pour.later]
    return (pour.label, pour.date, pour.room_c, pour.humidity, pour.wrapped_min, pour.melted_g,
            pour.poured_c, sorted(readings, key=lambda r: r[0]), bars, looks, pour.did or None,
            pour.private)  # fmt: skip


Drawn = tuple[dict[str, str], str, str, dict[str, str]]


@st.composite
def pours_to_take(draw: st.DrawFn) -> Drawn:
    """A notebook's files; its design with and without its last pour; that pour as files to take."""
    separator = draw(st.sampled_from([",", ";", "\t", "|", ""]))
    shelf = draw(strategies.shelves())
    written = draw(strategies.write_ups(shelf).filter(lambda made: made["pours"]))
    for key in ("failed", "photos"):
        written.pop(key, None)
    pour = {key: value for key, value in written["pours"][-1].items()
            if not (separator and key in UNTOLD)}  # fmt: skip
    for row in (*pour.get("bars", ()), *pour.get("later", ())):
        if isinstance(row.get("poured"), dict):
            del row["poured"]
        if "note" in row:
            row["note"] = re.sub(r"\W+", " ", row["note"]).strip() or "x"
    if any(one["date"] == pour["date"] for one in written["pours"][:-1]):
        # Without its letter it would be taken for the pour of that day that is there.
        pour.setdefault("pour", "second")
    flow = draw(st.sampled_from([False, None]))
    files = {"journal.yaml": "studio: A\n"}
    files |= {f"shelf/{kind}.yaml": strategies.as_yaml(made) for kind, made in shelf.items()}
    body = draw(strategies.prose)
    whole = {**written, "pours": [*written["pours"][:-1], pour]}
    less = {key: value for key, value in whole.items() if key != "pours"}
    if len(whole["pours"]) > 1:
        less["pours"] = whole["pours"][:-1]
    # Keys that come behind the pours: what is put in stands between, not at the end.
    less |= {key: less.pop(key) for key in draw(st.lists(st.sampled_from(sorted(less)), max_size=2))
             if key in less}  # fmt: skip
    return (files, strategies.as_write_up(whole, body, flow),
            strategies.as_write_up(less, body, flow),
            tables_of(pour, separator) if separator else hand_in_of_pour(pour))  # fmt: skip


def taken(root: Path, texts: dict[str, str], name: str = "one") -> TakenChange:
    notebook = read_notebook(root)
    problems: list[Problem] = []
    paths = []
    for file, text in texts.items():
        note(f"== {file}\n{text}")
        paths.append(root.parent / file)
        paths[-1].write_text(text, "utf-8")
    if is_hand_in(paths[0]):
        given = read_hand_ins(paths[0], problems)
        change = take_hand_ins(notebook, name, given, problems)
    else:
        rows = [table_of(path, problems) for path in paths]
        change = take_tables(notebook, notebook.designs[name], rows, problems)
    assert change is not None, [str(problem) for problem in problems]
    return change


def only_put_in(before: str, after: str) -> bool:
    """Whether ``after`` is ``before`` with text put in, and nothing taken away or altered."""
    steps = difflib.SequenceMatcher(None, before.splitlines(True), after.splitlines(True),
                                    autojunk=False).get_opcodes()  # fmt: skip
    return all(step[0] in ("equal", "insert") for step in steps)


@examples(5, 400, AS_DRAWN)
@given(drawn=pours_to_take(), ends=st.sampled_from(["\n", "\r\n"]), mark=st.booleans())
def test_a_pour_reads_back_and_all_else_stays(
    tmp_path_factory: pytest.TempPathFactory, drawn: Drawn, ends: str, mark: bool
) -> None:
    files, whole, less, texts = drawn
    root = tmp_path_factory.mktemp("take") / "content"
    lay_down({**files, "designs/one/design.md": whole}, root)
    read = read_notebook(root)
    assert not read.errors, [str(error) for error in read.errors]
    expected = read.designs["one"].pours
    path = root / "designs/one/design.md"
    raw = ("\ufeff" * mark + less.replace("\r\n", "\n").replace("\n", ends)).encode()
    path.write_bytes(raw)
    change = taken(root, texts)
    note(change.after.decode())
    assert only_put_in(raw.decode(), change.after.decode())
    assert change.after.decode().count("\n") == change.after.decode().count(ends)
    path.write_bytes(change.after)
    again = read_notebook(root)
    assert not again.errors, [str(error) for error in again.errors]
    pours = again.designs["one"].pours
    assert [compared(one) for one in pours] == [compared(one) for one in expected]
    # The same files once more add nothing.
    assert taken(root, texts).after == change.after


@given(st.lists(strategies.words | st.just("0:00") | strategies.near_yaml, max_size=3))
def test_a_value_on_one_line_reads_as_it_is(values: list[str]) -> None:
    values = [re.sub("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029]", "", one) for one in values]
    text = f"- {flow_value({'a: b': values})}\n"
    assert parse_yaml(text, "x") == [{"a: b": values}]


def edit_of(text: str) -> WriteUpEdit:
    parts = split_write_up(text, "x")
    return WriteUpEdit(text.encode(), parts.front, parts.body_line)


def test_text_goes_behind_remarks_that_are_set_in_as_the_list_is() -> None:
    text = """\
---
pours:
- pour: A
  bars:
  - {bar: A1 }   # one
  # two was dropped

# of what failed
failed: []
---
"""
    edit = edit_of(text)
    edit.add_key(["pours", 0, "bars", 0], "lip", "1 mm")
    edit.add_rows(["pours", 0, "bars"], [{"bar": "A3"}])
    edit.add_key(["pours", 0], "later", [{"day": "3", "bar": "A1"}])
    edit.add_pour({"pour": "B", "date": "2026-01-01"})
    assert (
        edit.result("x").decode()
        == """\
---
pours:
- pour: A
  bars:
  - {bar: A1, lip: 1 mm }   # one
  # two was dropped
  - {bar: A3}
  later:
    - {day: 3, bar: A1}
- pour: B
  date: 2026-01-01

# of what failed
failed: []
---
"""
    )


@pytest.mark.parametrize("head", ["{title: x}", "pours: [{pour: A}]"])
def test_brackets_are_left_to_her(head: str) -> None:
    with pytest.raises(NoBlock) as refused:
        edit_of(f"---\n{head}\n---\n").add_pour({"pour": "B", "date": "2026-01-01"})
    assert "  - pour: B\n    date: 2026-01-01" in refused.value.text


def test_what_would_not_read_as_it_should_is_not_written() -> None:
    edit = edit_of("---\n  title: x\n---\n")
    edit.add_pour({"pour": "B"})
    with pytest.raises(EditFailed):
        edit.result("x")
    other = edit_of("---\ntitle: x\n---\n")
    other.expected["title"] = "y"
    with pytest.raises(EditFailed, match="not as they should be"):
        other.result("x")
