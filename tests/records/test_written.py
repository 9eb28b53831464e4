"""Trees of written text: every scalar as it was written, every part with its place."""

from __future__ import annotations

import pytest

from journal.errors import ContentError, Position, Problem
from journal.records.yaml.source import parse_yaml, split_write_up
from journal.records.yaml.tree import (
    SourceTree,
    WrittenBlock,
    WrittenList,
    WrittenTable,
    WrittenText,
    position_of,
)

AS_WRITTEN = [
    "no", "yes", "on", "off", "y", "n", "1:30", "190:20:30", "0x10", "0o17", "010", "0b1", "1e3",
    "1.0e3", "~", "null", "Null", "true", "False", "2026-04-18", "2026-04-18 10:00:00", "1_000",
    ".5", "+1", "-0", ".inf", ".NaN", "=", "3.10", "1,000", "--", "v1.0", "<", "é",
]  # fmt: skip


@pytest.mark.parametrize("scalar", AS_WRITTEN)
@pytest.mark.parametrize("form", ["{}", "'{}'", '"{}"', " {}  # a note"])
def test_a_scalar_comes_through_as_the_maker_wrote_it(scalar: str, form: str) -> None:
    tree = parse_yaml(f"key: {form.format(scalar)}\nlist:\n  - {form.format(scalar)}\n", "x")
    assert tree == {"key": scalar, "list": [scalar]}
    assert type(tree["key"]) is WrittenText


@pytest.mark.parametrize("scalar", [word for word in AS_WRITTEN if "," not in word])
def test_a_key_and_an_entry_in_brackets_come_through_as_written(scalar: str) -> None:
    tree = parse_yaml(f"{{{scalar}: [{scalar}, {scalar}]}}", "x")
    assert tree == {scalar: [scalar, scalar]}


TREE = """\
title: é🧼  # a note
list: [a, {b: "c", d: 'e'}, [f]]
nested:
  - name: one
    block: |
      first
        second
  - {x: y}
empty:
"""


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        ((), 3, 1),
        (("title",), 3, 8),
        (("list",), 4, 7),
        (("list", 0), 4, 8),
        (("list", 1), 4, 11),
        (("list", 1, "b"), 4, 15),
        (("list", 1, "d"), 4, 23),
        (("list", 2, 0), 4, 30),
        (("nested",), 6, 3),
        (("nested", 0), 6, 5),
        (("nested", 0, "block"), 7, 12),
        (("nested", 1, "x"), 10, 9),
        (("empty",), 11, 7),
        # Of its nearest parent if it is not there.
        (("none",), 3, 1),
        (("list", 9), 4, 7),
        (("list", 1, "none"), 4, 11),
        (("title", "none"), 3, 8),
        # A list of one may be written without its brackets.
        (("title", 0), 3, 8),
        (("list", 1, 0, "b"), 4, 15),
    ],
)
def test_where_a_value_stands(path: tuple[str | int, ...], line: int, column: int) -> None:
    tree = parse_yaml(TREE, "designs/x/design.md", 3)
    assert position_of(tree, *path) == Position("designs/x/design.md", line, column)


def test_where_keys_stand() -> None:
    tree = parse_yaml("é🧼: {a: 1, b: 2}\nc: 3\n", "x")
    assert tree.keys_at == {"é🧼": Position("x", 1, 1), "c": Position("x", 2, 1)}
    assert tree["é🧼"].key_at("b") == Position("x", 1, 12)
    assert tree["é🧼"].key_at("none") == tree["é🧼"].at


def test_a_block_knows_how_far_it_is_set_in() -> None:
    block = parse_yaml(TREE, "x")["nested"][0]["block"]
    assert isinstance(block, WrittenBlock)
    assert (str(block), block.indent) == ("first\n  second\n", 6)
    folded = parse_yaml("a: >\n  one\n  two\n", "x")["a"]
    assert not isinstance(folded, WrittenBlock)


def test_a_tree_can_be_kept_with_its_places() -> None:
    tree = parse_yaml(TREE, "x")
    copied = SourceTree(None, "x", SourceTree(tree).data).table
    assert copied == tree
    assert type(copied) is WrittenTable
    assert copied.keys_at == tree.keys_at
    for path in ((), ("title",), ("list", 1, "d"), ("nested", 0, "block")):
        assert position_of(copied, *path) == position_of(tree, *path)
    assert copied["nested"][0]["block"].indent == 6


def test_a_table_that_is_copied_leaves_the_first_as_it_was() -> None:
    tree = parse_yaml("a: 1\nb: 2\n", "x")
    other = tree.copy()
    other.put("c", WrittenText("3", Position("y", 9, 9)), Position("y", 9, 1))
    other.remove("a")
    assert (list(tree), list(other)) == (["a", "b"], ["b", "c"])
    assert other.key_at("c") == Position("y", 9, 1)
    third = WrittenTable(Position("z"))
    third.copy_key("b", tree)
    assert (third, third.key_at("b").line) == ({"b": "2"}, 2)


def test_a_list_that_is_made_has_its_place() -> None:
    items = WrittenList(Position("x", 2, 3))
    items.append(WrittenText("a", Position("x", 2, 4)))
    assert (position_of(items, 0), position_of(items, 1)) == (
        Position("x", 2, 4),
        Position("x", 2, 3),
    )


def test_slips_are_told_together_and_the_rest_is_read() -> None:
    found: list[Problem] = []
    tree = parse_yaml("a: 1\na: 2\nb: !x 3\nc: &d [4]\n<<: {e: 5}\n", "x", problems=found)
    assert tree == {"a": "1", "b": "3", "c": ["4"]}
    assert [(p.position.line, p.position.column) for p in found] == [(2, 1), (3, 4), (4, 4), (5, 1)]


def test_a_hole_in_the_tree_is_not_read_over() -> None:
    found: list[Problem] = []
    with pytest.raises(ContentError) as refused:
        parse_yaml("a: &b 1\nc: *b\n", "x", problems=found)
    assert len(refused.value.problems) == 2
    assert found == []


@pytest.mark.parametrize("rest", ["", "\n", "prose", "\n\nprose\n---\nmore\n"])
def test_a_write_up_is_taken_apart(rest: str) -> None:
    parts = split_write_up(f"---\na: 1\nb: 2\n---\n{rest}", "x")
    assert parts.front == {"a": "1", "b": "2"}
    assert parts.front.key_at("b") == Position("x", 3, 1)
    assert (parts.body, parts.body_line) == (rest, 5)


def test_a_tree_that_is_made_is_made_once_when_it_is_asked_for() -> None:
    made: list[WrittenTable] = []

    def make() -> WrittenTable:
        made.append(WrittenTable(Position("x", 1, 1)))
        return made[-1]

    source = SourceTree(None, "x", make=make)
    assert not made
    assert source.table is source.table
    assert len(made) == 1
