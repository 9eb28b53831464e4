"""Comparisons as lines for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from journal.comparison.across import Across
from journal.comparison.comparing import Comparison
from journal.comparison.derive import AcrossResults, Compared
from journal.comparison.sentences import across_sentences, sentences, verdict_sentence
from journal.records.notebook import Notebook

WIDTH = 88


def comparison_lines(notebook: Notebook, compared: Compared, only: str | None) -> list[str]:
    """What is known about the variants of one design or comparison, or of all of them."""
    lines: list[str] = []
    for name, results in compared.designs.items():
        if results.comparisons and only in (None, name):
            lines += ["", notebook.designs[name].title, *_design(results.comparisons, only == name)]
    for name, found in compared.across.items():
        if only in (None, name):
            lines += ["", found.asked.asked.title, *_across(found)]
    return lines[1:]


def _design(comparisons: Iterable[Comparison], whole: bool) -> Iterator[str]:
    """The deciding comparisons in full; of the looks a line each, or all that is known."""
    for entry in comparisons:
        mark = "decides" if entry.deciding else "a look"
        head = f"{entry.by} ({mark}): {verdict_sentence(entry)}"
        yield from _wrapped(head, "  ")
        if entry.deciding or whole:
            for sentence in sentences(entry)[1:]:
                yield from _wrapped(sentence, "    ")


def _across(found: AcrossResults) -> Iterator[str]:
    if found.why:
        yield from _wrapped(f"Nothing to compare: {found.why}.", "  ")
    for entry in found.results:
        mark = "decides" if entry.deciding else "a look"
        first, *rest = across_sentences(entry)
        yield from _wrapped(f"{entry.by} ({mark}): {first}", "  ")
        yield from _rows(entry)
        for sentence in rest:
            yield from _wrapped(sentence, "    ")


def _rows(entry: Across) -> Iterator[str]:
    wide = max((len(row.design) for row in entry.rows), default=0)
    for row in entry.rows:
        said = row.why or "nothing to pair"
        if row.difference is not None:
            said = f"{row.difference:+.2f} {entry.unit}".rstrip()
            if row.low is not None and row.high is not None:
                said += f"  ({row.low:+.2f} to {row.high:+.2f})"
        yield f"    {row.design:<{wide}}  {said}"


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")
