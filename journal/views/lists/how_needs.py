"""The keys that the figures need, and the default that replaces a missing one."""

from __future__ import annotations

from collections.abc import Mapping

from journal.figures.derive_needs import KEYS, Key, KeyDefault
from journal.html import blocks
from journal.quantities.rounding import decimal_of_twelve_digits, plain_digits
from journal.records.models.shelf import KINDS
from journal.records.notebook import SETTINGS_FILE
from journal.views.lists.methods import PARTS
from journal.views.shared.words import list_text, no_break

# The file that holds the keys of each kind.
FILES: Mapping[str, str] = {
    **{kind: f"shelf/{kind}.yaml" for kind in KINDS},
    "settings": SETTINGS_FILE,
}


def needs_part() -> blocks.Section:
    """The section with a table of all keys of the shelf and the settings, a row for each."""
    effects = ("Without it", "Figures that change")
    heads = (blocks.Heading("Key"), *(blocks.Heading(text, wide=True) for text in effects))
    groups = tuple(
        blocks.RowGroup(tuple(_key_row(entry) for entry in KEYS if entry.kind == kind), (file,))
        for kind, file in FILES.items()
    )
    sentence = (
        "Only the names must be there: any other key may be left out. Here is what happens"
        " then. The design's page says which figures it lacks."
    )
    standfirst = blocks.Paragraph((sentence,))
    table = blocks.PageTable(
        "Keys of the shelf and of the settings", heads, groups, wide=True, quiet=True
    )
    return blocks.simple_section("g-keys", "What a figure needs", standfirst, table)


def _key_row(entry: Key) -> tuple[blocks.PageCell, ...]:
    """A row of the table: the key, what happens without it, the figures that use it."""
    touched = list_text([part.name for part in PARTS if part.touched_by(entry.kind, entry.key)])
    return (
        blocks.PageCell((_written_path(entry.key),), head=True),
        blocks.PageCell(without_key_text(entry)),
        blocks.PageCell((touched or "none",), tone="" if touched else "soft"),
    )


def _written_path(key: str) -> str:
    """A dotted key as the maker writes it: ``motif.pitch`` is ``motif: pitch``, ``*`` is each."""
    return ": ".join("each" if step == "*" else step for step in key.split("."))


def without_key_text(entry: Key) -> blocks.Words:
    """The effect of leaving out a key: an error, no figure, or the default that is used."""
    more = f"; {entry.says}" if entry.says else ""
    if entry.effect == "refused":
        return ("an error",)
    if entry.effect == "needed":
        return (f"cannot be worked out{more}",)
    if entry.effect == "shown":
        return (f"no figure changes{more}",)
    if entry.default is None:
        return (entry.says,)
    return (f"{default_text(entry.default)}{more}",)


def default_text(default: KeyDefault) -> str:
    """A default with its unit, and its range if it has one: ``1.06 g/mL (1.01 to 1.12)``."""
    text = no_break(f"{_number(default.value)} {default.unit}".rstrip())
    if default.low is None or default.high is None:
        return text
    return f"{text} ({_number(default.low)} to {_number(default.high)})"


def _number(value: float) -> str:
    """A number in plain digits, rounded to twelve."""
    return plain_digits(decimal_of_twelve_digits(value))
