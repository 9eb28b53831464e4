"""The state shared by the readers of one design's parts: folder, problems, files read."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, TypeVar

from msgspec import Struct, field

from journal.errors import ContentError, Position, Problem, QuantityError
from journal.quantities.number import excerpt
from journal.records.models.column_names import named_and_measured
from journal.records.models.fields import LONGEST_VALUE, too_long, unknown_name
from journal.records.yaml.rows import parse_columns, parse_csv
from journal.records.yaml.source import is_file, path_in_notebook, read_text, stays_in_notebook
from journal.records.yaml.tree import WrittenBlock, WrittenList, WrittenTable, WrittenText

T = TypeVar("T")
# What stands in a cell that holds nothing.
EMPTY_CELLS = ("-", "–", "—", "")


class DesignReader(Struct):
    """Reads values and tables of a design, and collects the problems and the files read."""

    root: Path
    folder: str  # the design's folder, relative to the notebook
    problems: list[Problem]
    files: list[str] = field(default_factory=list)

    def problem(self, at: Position, what: str, hint: str, warning: bool = False) -> None:
        """Add a problem of the design."""
        self.problems.append(Problem(at, what, hint, warning))

    def is_known(self, name: str, at: Position, names: Collection[str], kind: str) -> bool:
        """Whether ``name`` is one of ``names``; adds a problem, naming ``kind``, if not."""
        if name not in names:
            self.problems.append(unknown_name(name, at, names, kind))
        return name in names

    def is_known_key(
        self, table: WrittenTable, key: str, names: Collection[str], kind: str
    ) -> bool:
        """``is_known`` for a key of a table, at its position."""
        return self.is_known(key, table.key_at(key), names, kind)

    def value(self, text: Any, reader: Callable[[str], T]) -> T | None:
        """Read one text with ``reader``; None, with a problem, if it is no such value."""
        try:
            if text and isinstance(text, WrittenText):
                if len(text) > LONGEST_VALUE:
                    raise too_long(text)
                return reader(str(text))
        except QuantityError as error:
            self.problem(text.at, error.what, error.hint)
            return None
        if isinstance(text, WrittenText):
            self.problem(text.at, "there is no value", "Write one, or take the key away.")
        else:
            what = "keys stand" if isinstance(text, dict) else "a list stands"
            self.problem(text.at, f"{what} where one value belongs", "Write a single value.")
        return None

    def csv(self, path: WrittenText, names: Collection[str]) -> WrittenList | None:
        """Read the rows of a CSV file of the design; None, with a problem, if it cannot be read.

        Their columns are called by those of ``names`` that they mean.
        """
        file = path_in_notebook(path, self.folder)
        if not path.endswith(".csv"):
            hint = 'Name a file that ends in .csv, or begin a table with "|".'
            self.problem(path.at, f"{excerpt(path)} is no CSV file", hint)
            return None
        if file is None or not stays_in_notebook(self.root, file):
            what = f"{excerpt(path)} leads out of the notebook"
            self.problem(path.at, what, "Keep the file inside it.")
            return None
        if not is_file(self.root, file):
            what = f"there is no file {excerpt(path)}"
            self.problem(path.at, what, "Write it, or mend its name.")
            return None
        self.files.append(file)
        try:
            rows = parse_csv(read_text(self.root, file), file, self.problems)
        except ContentError as error:
            self.problems.extend(error.problems)
            return None
        return named_and_measured(rows, names, self.problems)

    def columns(self, table: WrittenBlock, names: Collection[str]) -> WrittenList:
        """Parse the rows of a text in columns; adds a problem for each row that does not fit.

        Their columns are called by those of ``names`` that they mean.
        """
        return named_and_measured(parse_columns(table, self.problems), names, self.problems)

    def rows(
        self, tree: Any, what: str, example: str, names: Collection[str]
    ) -> list[WrittenTable] | None:
        """Read rows, a table each, from a list, a text in columns or a CSV file.

        ``what`` and ``example`` are for messages: the plural of the rows, and one row. ``names``
        are what columns of a table may be called. Gives []
        where nothing is written; None, with a problem, if nothing can be read.
        """
        if tree is None:
            return []
        if isinstance(tree, WrittenText):
            if tree == "":
                hint = f"Write {example}, or take the key away."
                self.problem(tree.at, "there is no value", hint)
                return None
            if isinstance(tree, WrittenBlock):
                tree = self.columns(tree, names)
            else:
                tree = self.csv(tree, names)
            if tree is None:
                return None
        if not isinstance(tree, WrittenList):
            self.problem(tree.at, f"{what} are a list", f'Begin each with "- {example}".')
            return None
        rows = []
        for row in tree:
            if isinstance(row, WrittenTable):
                rows.append(row)
            else:
                self.problem(row.at, f"each of the {what} has keys of its own", f"Write {example}.")
        return rows
