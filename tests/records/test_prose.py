"""Prose that would hang a build or end it is refused, at its place; what hands write is not."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from case_notebooks import laid_out

from journal.errors import ContentError, Position
from journal.html import markdown
from journal.html.markdown import render_prose
from journal.records.models.prose import (
    DEEPEST_LEVEL,
    LARGEST_BLOCK_BYTES,
    MOST_BRACKETS,
    MOST_FOOTNOTES,
    MOST_HEADINGS,
    prose_problems,
)
from journal.records.notebook import read_notebook

HEAD = """---
title: Tried
date: 2026-04-18
state: trial
bars: 6
layers: [{name: body, base: clear, amount: 90 g}]
---
"""
FIRST = HEAD.count("\n") + 1


def told(body: str) -> list[str]:
    return [str(problem) for problem in prose_problems(body, "x.md", 1)]


def notes(count: int) -> str:
    return "\n\n".join(f"[^{number}]: a" for number in range(count))


@pytest.mark.parametrize(
    ("sound", "beyond", "said"),
    [
        ("[" * MOST_BRACKETS, "a\n\nb " + "[" * (MOST_BRACKETS + 1),
         "x.md:3:503: more than 500 brackets [ stand in one block. Part it with blank lines."),
        ("\n\n".join(["[" * MOST_BRACKETS] * 4), "\n\n".join(["[" * 400] * 5 + ["a ["]),
         "x.md:11:3: more than 2,000 brackets [ stand in the text. Leave some out, or write a"
         " second page."),
        ("a" * LARGEST_BLOCK_BYTES, "a\n\n" + "é\n" * 7000,
         "x.md:3:1: the block has 20 kB without a blank line. Part it with blank lines."),
        ("> " * DEEPEST_LEVEL + "a", "a\n" + "> " * (DEEPEST_LEVEL + 1) + "a",
         "x.md:2:1: the line stands in 21 lists or quotations, one within the other. Use 20 at the"
         " most."),
        (notes(MOST_FOOTNOTES), notes(MOST_FOOTNOTES + 1),
         "x.md:1001:1: more than 500 footnotes stand in the text. Leave some out, or write a"
         " second page."),
        ("# a\n" * MOST_HEADINGS, "a\n---\n" * (MOST_HEADINGS + 1),
         "x.md:402:1: more than 200 headings or rules stand in one block. Part it with blank"
         " lines."),
    ],
    ids=["brackets of a block", "brackets", "size", "levels", "footnotes", "headings"],
)  # fmt: skip
def test_each_bound(sound: str, beyond: str, said: str) -> None:
    assert told(sound) == []
    assert told(beyond) == [said]
    # As many as are allowed are set, and soon: the least machine has seconds for it.
    began = time.process_time()
    render_prose(sound, lambda _: None, lambda _: None, Position("x.md"))
    assert time.process_time() - began < 10


@pytest.mark.parametrize(
    "line",
    ["    " * 21 + "- a", "\t" * 21 + "a", "- " * 21 + "a", "1. " * 21 + "a", ">" * 21 + "a",
     "> - " * 11 + "a", "    " * 10 + "- " * 11 + "a"],
)  # fmt: skip
def test_levels_are_counted_however_they_are_written(line: str) -> None:
    assert len(told(f"- a\n{line}\n- b")) == 1


def test_what_hands_write_is_not_refused() -> None:
    lists = "\n".join(f"{'    ' * level}- level {level}" for level in range(8))
    assert told(f"{lists}\n\n| a | b |\n|---|---|\n{'| 1 | 2 |' * 1}\n\n* * *\n\n- - -\n") == []
    assert told("It was 2 - 3 mm * 4 > 5 [see](a.md).\n" * 400) == []


@pytest.mark.parametrize(
    "bomb",
    ["\n".join("    " * level + "- a" for level in range(300)), "[" * 50_000, "[a](" * 20_000,
     "> " * 900 + "a", "a\n---\n" * 3300],
    ids=["nested lists", "brackets", "unclosed links", "quotations", "headings"],
)  # fmt: skip
@pytest.mark.parametrize("file", ["designs/tried/design.md", "comparisons/tried.md"])
def test_a_text_made_to_hang_is_an_error_at_its_place(tmp_path: Path, bomb: str, file: str) -> None:
    root = tmp_path / "content"
    laid_out(None, root)
    (root / file).parent.mkdir()
    head = HEAD if "designs" in file else "---\ntitle: Q\nby: [lip]\nbetween: trim\n---\n"
    (root / file).write_text(f"{head}{bomb}\n", "utf-8")
    found = [problem for problem in read_notebook(root).errors if problem.position.path == file]
    assert found
    assert all(problem.position.line > head.count("\n") for problem in found)


def test_a_text_too_deep_for_the_stack_is_a_problem_at_its_deepest_line(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Within all bounds; whoever calls may have little of the stack left."""
    converter, _ = markdown._converter()

    def nowhere_left(text: str) -> str:
        raise RecursionError

    monkeypatch.setattr(converter, "convert", nowhere_left)
    at = Position("designs/a/design.md", 10)
    with pytest.raises(ContentError) as refused:
        render_prose("a\n\n- b\n    - c\n- d", lambda _: None, lambda _: None, at)
    assert str(refused.value) == (
        "designs/a/design.md:13:1: the line stands in 2 lists or quotations, which cannot be set."
        " Nest less deep."
    )
