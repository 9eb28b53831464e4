"""JSON with its places: the values of the standard library, or a problem with a place."""

from __future__ import annotations

import json
import re
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from long_run import examples

from journal.errors import ContentError
from journal.records.taking.edit import plain_values
from journal.records.taking.hand_in import hand_in_of
from journal.records.yaml.json_tree import parse_json

TEXTS = st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"),
                              exclude_characters="\ufeff\ufffe\uffff"), max_size=8)  # fmt: skip
VALUES: st.SearchStrategy[Any] = st.recursive(
    TEXTS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


@examples(60)
@given(VALUES, st.booleans(), st.sampled_from([None, 1, "\t"]))
def test_it_reads_what_the_standard_library_reads(value: Any, escaped: bool, indent: Any) -> None:
    text = json.dumps(value, ensure_ascii=escaped, indent=indent)
    tree = parse_json(text, "x.json")
    assert plain_values(tree) == value
    at = tree.at
    assert text.split("\n")[at.line - 1][at.column - 1] == text[0]


@examples(60)
@given(VALUES, st.integers(0, 200), st.sampled_from('{}[]",:\\ 1n\0\ud800'), st.booleans())
def test_what_is_broken_has_a_place(value: Any, at: int, sign: str, cut: bool) -> None:
    """Where the standard library refuses a text, it is refused here too, and nothing stumbles."""
    text = json.dumps(value, ensure_ascii=False)
    text = text[:at] if cut else text[:at] + sign + text[at:]
    try:
        plain_values(parse_json(text, "x.json"))
    except ContentError as error:
        (problem,) = error.problems
        assert problem.position.path == "x.json"
    else:
        json.loads(text)


@examples(60)
@given(st.binary(max_size=60) | VALUES.map(lambda value: json.dumps(value).encode()))
def test_any_bytes_are_a_hand_in_or_refused(raw: bytes) -> None:
    try:
        hand_in_of(raw, "x.json")
    except ContentError as error:
        assert all(re.match(r"x\.json:\d+:\d+: ", str(one)) for one in error.problems)
    else:
        raise AssertionError("no such bytes are a hand-in")
