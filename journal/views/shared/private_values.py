"""What an edition leaves out, value by value, and where the maker wrote it among what is shown."""

from __future__ import annotations

import html
import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property, lru_cache
from pathlib import Path
from urllib.parse import unquote

from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.html.sandbox import read_own_theme
from journal.html.theme import themes_folder
from journal.quantities.number import excerpt
from journal.records.models.questions import ComparisonFile, OrderFile
from journal.records.models.shelf import KINDS
from journal.records.models.write_up import Design
from journal.records.notebook import SETTINGS_FILE, Notebook
from journal.records.yaml.source import parse_yaml, read_text
from journal.records.yaml.tree import LineIndex, WrittenList, WrittenTable, WrittenText
from journal.views.shared.editions import MONEY_SETTINGS, Edition
from journal.views.shared.last_gate import (
    WORD,
    Form,
    PrivateValue,
    PrivateValueSearch,
    can_be_found,
    folded,
)

# What stands under a key that only the studio sees, whatever record has it.
PRIVATE_TEXTS = {
    "supplier": "a supplier", "customer": "a customer", "private": "a private note",
    "complaints": "a complaint",
}  # fmt: skip
PRIVATE_MONEY = {
    "price": "a price", "labour": "what an hour costs", "fixed_costs": "what a month costs",
}  # fmt: skip
# Shares that only the studio sees, with the form that they are looked for in.
PRIVATE_SHARES: dict[str, tuple[str, Form]] = {
    "margin": ("the margin", "margin"), "wholesale": ("the wholesale share", "wholesale"),
}  # fmt: skip
_UNITS_OF_SETTINGS = {"labour": "hour", "fixed_costs": "month"}
# Where a value is parted: a name at commas and brackets, a note between its sentences.
_PARTS_OF_NAME = re.compile(r"[,;/()]|\s[–—-]\s")
_PARTS_OF_NOTE = re.compile(r"[.!?](?:\s|$)|\n")
# A shorter sentence of a note may be said of anything.
_LEAST_WORDS_OF_NOTE = 8
_MONEY = re.compile(r"\d+(?:\.\d+)?")
# A letter with its accents, or as an address or HTML has it; what sets letters in emphasis.
_PIECES = re.compile(r"(?:%[0-9a-fA-F]{2})+|&#?\w{1,32};|.[\u0300-\u036f]*", re.DOTALL)
_EMPHASIS = ("*", "`", "~", "\\")
# Rooms whose texts come to stand on pages; their docstrings do not.
_SPEAKING_ROOMS = (
    "quantities", "records", "figures", "comparison", "photos", "charts", "html", "views",
)  # fmt: skip
_LONG_TEXT = re.compile(r'"""(?s:.*?)"""')
_SHORT_TEXT = re.compile(r"\"(?:[^\"\\\n]|\\.)*\"|'(?:[^'\\\n]|\\.)*'")


class PrivateText(Struct, frozen=True):
    """What stands under a private key, as it was written."""

    key: str
    text: str
    at: Position


def private_texts(tree: object) -> Iterator[PrivateText]:
    """Yield what stands under private keys anywhere in a written tree."""
    if isinstance(tree, WrittenTable):
        for key, value in tree.items():
            if key == "complaints" and isinstance(value, WrittenList):
                # What was said; a date and a bar by themselves say nothing.
                said = (one.get("what") for one in value if isinstance(one, WrittenTable))
                yield from (PrivateText(key, str(o), o.at) for o in said if o is not None)
            elif key in PRIVATE_TEXTS or key in PRIVATE_MONEY or key in PRIVATE_SHARES:
                yield from (PrivateText(key, str(one), one.at) for one in _texts_in(value))
            else:
                yield from private_texts(value)
    elif isinstance(tree, WrittenList):
        for value in tree:
            yield from private_texts(value)


def _texts_in(tree: object) -> Iterator[WrittenText]:
    """Yield every scalar of a written tree, the keys of its tables among them."""
    if isinstance(tree, WrittenText):
        yield tree
    elif isinstance(tree, WrittenList):
        for value in tree:
            yield from _texts_in(value)
    elif isinstance(tree, WrittenTable):
        keys_at = tree.keys_at
        for key, value in tree.items():
            yield WrittenText(key, keys_at[key])
            yield from _texts_in(value)


def values_left_out(
    notebook: Notebook, of_designs: Iterable[PrivateText], titles: Mapping[str, str]
) -> tuple[PrivateValue, ...]:
    """The values that an edition may not show, each once.

    Takes:  notebook    the whole of it
            of_designs  what stands under private keys in all write-ups
            titles      of the designs that the edition leaves out, by id
    """
    trees: list[object] = [*notebook.shelf.written.values()]
    trees += [one.written for one in notebook.orders.values()]
    trees += [one.written for one in notebook.comparisons.values()]
    texts = [*of_designs, *(text for tree in trees for text in private_texts(tree))]
    settings = ((key, getattr(notebook.settings, key)) for key in MONEY_SETTINGS)
    for key, amount in settings:
        if amount is not None:
            shown = f"{100 * amount:.6g}" if key in PRIVATE_SHARES else str(amount)
            texts.append(PrivateText(key, shown, Position(SETTINGS_FILE)))
    private = [
        *(value for text in texts for value in _values_of(text)),
        *(value for name, title in titles.items() for value in _values_of_design(name, title)),
    ]
    values = [value for value in private if can_be_found(value)]
    allowed = PrivateValueSearch(values, notebook.settings.currency)
    shown_anyway = {
        value.key
        for text in notebook.settings.may_show
        for value in allowed.in_readings((folded(text),))
    }
    first = {value.key: value for value in reversed(values)}
    return tuple(value for key, value in sorted(first.items()) if key not in shown_anyway)


def _values_of(written: PrivateText) -> Iterator[PrivateValue]:
    """Yield the values to look for of what stands under a private key: it, and its parts."""
    key, text, at = written.key, written.text, written.at
    if key in PRIVATE_SHARES:
        what, form = PRIVATE_SHARES[key]
        yield PrivateValue(text, what, at, form)
    elif key in PRIVATE_MONEY:
        paid, _, per = text.partition("/")
        if amount := _MONEY.search(paid):
            unit = _UNITS_OF_SETTINGS.get(key, per.strip())
            unit = "" if unit == "each" else folded(" ".join(unit.split()))
            yield PrivateValue(amount[0], PRIVATE_MONEY[key], at, "money", unit)
    else:
        what = PRIVATE_TEXTS[key]
        yield PrivateValue(text, what, at)
        is_note = key in ("private", "complaints")
        parts = (_PARTS_OF_NOTE if is_note else _PARTS_OF_NAME).split(text)
        for part in map(str.strip, parts) if len(parts) > 1 else ():
            if not is_note or len(WORD.findall(part)) >= _LEAST_WORDS_OF_NOTE:
                yield PrivateValue(part, f"part of {what}", at, part=True)


def _values_of_design(name: str, title: str) -> Iterator[PrivateValue]:
    """Yield title and id of a design that is left out; an id of one word stands for anything."""
    at = Position(f"designs/{name}/design.md")
    yield PrivateValue(title, "a design", at, part=len(WORD.findall(title)) == 1)
    if "-" in name:
        yield PrivateValue(name, "the id of a design", at, "id")


def leaks_in_text(
    notebook: Notebook, cut: Notebook, edition: Edition, text: str, page: str
) -> tuple[Problem, ...]:
    """The errors for what one page, or one text, of an edition gives away.

    Takes:  notebook  the whole of it; ``cut`` is what the edition holds
            page      what the text is called, should it not be known where a value was written
    """
    of_designs = [text for one in notebook.designs.values() for text in private_texts(one.written)]
    hidden = notebook.summaries.keys() - cut.summaries.keys() if edition == "public" else ()
    titles = {name: notebook.summaries[name].title for name in hidden}
    values = values_left_out(notebook, of_designs, titles)
    search = PrivateValueSearch(values, notebook.settings.currency)
    judge = EditionJudge(cut, edition, search)
    found = search.in_file(f"{page}.html", text.encode())
    return tuple(sorted({one for value in found for one in judge.problems(value, page)}))


class EditionJudge:
    """Tells of each value that was found whether it gives anything away, and where it stands.

    ``cut`` is what the edition holds of a notebook; ``search`` has looked for the values.
    """

    def __init__(self, cut: Notebook, edition: Edition, search: PrivateValueSearch) -> None:
        self._cut, self._edition, self._search = cut, edition, search
        self._files: dict[str, _ReadFile] = {}

    def problems(self, value: PrivateValue, page: str) -> tuple[Problem, ...]:
        """The errors for a value that a page shows, at their places in the maker's files.

        There is none for part of a value that is a word of the program or of a name that is
        shown, nor for a title or an id that is a whole such name.
        """
        if self._stands_for_other_things(value):
            return ()
        leak = f"{excerpt(value.text)} is {value.what} that the {self._edition} edition leaves out"
        shown = (
            value.text if value.form != "money" else f"{self._cut.settings.currency} {value.text}"
        )
        hint = f"Take it out, or move it to a private note; or let it through, in {SETTINGS_FILE}:"
        hint = f"{hint} may_show: [{excerpt(shown)}]."
        places = sorted(set(self._places(value)))
        if places:
            return tuple(Problem(at, leak, hint) for at in places)
        if value in self._search.in_readings((program_text(),)):
            return ()
        return (Problem(value.at, f"{leak}, and {page} would show it", hint),)

    def _stands_for_other_things(self, value: PrivateValue) -> bool:
        """Whether the program, or a name that the edition shows, says the same of other things."""
        words = tuple(WORD.findall(folded(value.text)))
        of_design = value.form == "id" or value.what == "a design"
        if of_design and words in self._names:
            return True
        if not value.part:
            return False
        if len(words) == 1 and any(words[0] in name for name in self._names):
            return True
        return bool(self._search.in_readings((program_text(),)) & {value})

    @cached_property
    def _names(self) -> frozenset[tuple[str, ...]]:
        """The words of each name that the edition shows: of designs, things, layers, measures."""
        cut = self._cut
        names: set[str] = {cut.settings.studio, *cut.comparisons}
        names.update(cut.settings.all_measures(), cut.settings.all_symptoms())
        for name, design in cut.summaries.items():
            choices = (choice for group in design.groups.values() for choice in group)
            names.update((name, design.title), design.layers, design.subjects, choices)
        for kind in KINDS:
            for name, record in cut.shelf.of_kind(kind).items():
                names.update((name, record.name))
        for base in cut.shelf.bases.values():
            names.update(one.inci for one in base.ingredients)
        return frozenset(tuple(WORD.findall(folded(name))) for name in names)

    def _places(self, value: PrivateValue) -> Iterator[Position]:
        """Yield where a value stands in what the maker wrote for this edition."""
        cut, search = self._cut, self._search
        prose: tuple[Design | ComparisonFile, ...] = (
            *cut.designs.values(), *cut.comparisons.values(),
        )  # fmt: skip
        written: tuple[Design | ComparisonFile | OrderFile, ...] = (*prose, *cut.orders.values())
        trees: list[object] = [*(one.written for one in written), *cut.shelf.written.values()]
        for path in (one.path for one in written):
            if value in search.in_readings((folded(path),)):
                yield Position(path)
        for text in (text for tree in (*trees, self._settings()) for text in _texts_in(tree)):
            if value in search.in_readings((folded(text),)):
                yield next(self._file(text.at.path).places(search, value, text.at), text.at)
        for file in prose:
            begin = Position(file.path, file.body_line)
            yield from self._file(file.path).places(search, value, begin)
        tables = (path for design in cut.designs.values() for path in design.files[1:])
        for path in (*tables, *(f"theme/{name}" for name in read_own_theme(cut.root))):
            yield from self._file(path).places(search, value, Position(path))

    def _settings(self) -> object:
        """The settings as they were written, but for what an edition leaves out of them."""
        root = self._cut.root
        try:
            tree = parse_yaml(read_text(root, SETTINGS_FILE), SETTINGS_FILE, problems=[])
        except ContentError:
            return None
        hidden = (*MONEY_SETTINGS, "may_show")
        return tree.subset(key for key in tree if key not in hidden)

    def _file(self, path: str) -> _ReadFile:
        """A file of the maker's, read once."""
        if path not in self._files:
            try:
                self._files[path] = _ReadFile(path, read_text(self._cut.root, path))
            except ContentError:
                self._files[path] = _ReadFile(path, "")
        return self._files[path]


class _ReadFile:
    """A file of the maker's, folded; each letter knows its place."""

    def __init__(self, path: str, text: str) -> None:
        self._lines = LineIndex(text, path, 1)
        self._starts = [0, *(one.end() for one in re.finditer("\n", text))]
        folds: list[str] = []
        self._offsets: list[int] = []
        for piece in _PIECES.finditer(text):
            letters = unquote(html.unescape(piece[0]))
            fold = "" if letters in _EMPHASIS else folded(letters)
            folds.append(fold)
            self._offsets += [piece.start()] * len(fold)
        self._folded = "".join(folds)

    def places(
        self, search: PrivateValueSearch, value: PrivateValue, begin: Position
    ) -> Iterator[Position]:
        """Yield where a value stands from a place of the file on."""
        line = min(begin.line, len(self._starts)) - 1
        start = bisect_left(self._offsets, self._starts[line] + begin.column - 1)
        for first in search.places_in(value, self._folded[start:]):
            yield self._lines.position(self._offsets[start + first])


@lru_cache(maxsize=1)
def program_text() -> str:
    """Everything that the program itself may say on a page, folded: a text a line."""
    package, themes = Path(__file__).resolve().parents[2], themes_folder()
    said: list[str] = []
    for room in _SPEAKING_ROOMS:
        for path in sorted((package / room).rglob("*")):
            if path.suffix == ".py":
                source = _LONG_TEXT.sub("", path.read_text("utf-8"))
                said += (one[0][1:-1] for one in _SHORT_TEXT.finditer(source))
            elif path.suffix in (".toml", ".yaml", ".csv"):
                said.append(path.read_text("utf-8"))
    for path in sorted(themes.rglob("*")):
        if path.suffix in (".html", ".css", ".js"):
            said.append(path.read_text("utf-8"))
    return folded("\n".join(said))
