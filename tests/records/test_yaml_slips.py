"""What YAML allows and a notebook does not, and what the YAML library says in its own words."""

from __future__ import annotations

import pytest

from journal.errors import ContentError, Problem
from journal.records.yaml.source import parse_yaml

LONG = "k" * 1100


def told(text: str) -> list[str]:
    problems: list[Problem] = []
    try:
        parse_yaml(text, "x", problems=problems)
    except ContentError as error:
        problems.extend(error.problems)
    return [str(problem) for problem in problems]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("&a title: x\n", 'x:1:1: "&a" marks a value to be used again. Leave it away.'),
        ("!k title: x\n", 'x:1:1: "!k" is a type mark of YAML. Leave it away.'),
        ("a: 1\n---\nb: 2\n", "x:2:1: a second document begins here. Keep one document in a file."),
        (f"{LONG}: x\n", "x:1:1101: the key is too long. Write a shorter one."),
        (f"\n\n{LONG}: x\n", "x:3:1101: the key is too long. Write a shorter one."),
        ("a: !<x\n", "x:1:4: ! cannot begin a value. Put the value in quotes."),
        ("a: !e!x b\n", "x:1:4: ! cannot begin a value. Put the value in quotes."),
        ("a: 'x", "x:1:4: a quote is opened and never closed. Close the quote."),
        ("- [a\n", 'x:1:3: a bracket is opened and never closed. Close it with "]".'),
        (
            "a: [x]\nb: [  # in order\n  - c: d\n",
            'x:2:4: a bracket is opened here, and lines that begin with "-" follow before it is '
            "closed. Take the bracket away: such lines need none.",
        ),
        (
            "a: [b, {c: d,\n- e\n",
            'x:1:8: a brace is opened here, and lines that begin with "-" follow before it is '
            'closed. Close it with "}".',
        ),
        ("a: [- b]\n", 'x:1:5: "-" cannot begin a value. Put the value in quotes.'),
        ('a: "\ud800"\n', "x:1:5: a control character (U+D800) stands in the text. Delete it."),
    ],
)
def test_slips(text: str, said: str) -> None:
    assert told(text) == [said]


@pytest.mark.parametrize(
    ("text", "tree"),
    [
        ("a: |\n\n\n", {"a": ""}),
        ("a: |\n", {"a": ""}),
        ("{a: 1,5}\n", {"a": "1,5"}),
        ("{a: x,5}\n", {"a": "x", "5": ""}),
        ("{a: [1],5}\n", {"a": ["1"], "5": ""}),
    ],
)
def test_odd_forms_that_are_read(text: str, tree: object) -> None:
    assert parse_yaml(text, "x") == tree
