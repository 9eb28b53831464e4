"""The files of the notebook; groups of pages that cannot have changed are known, the others are
laid out and made, on all cores.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial

from msgspec import Struct

from journal.command_line.ledger import Ledger, Worked
from journal.command_line.photo_work import waiting
from journal.command_line.progress import shown
from journal.command_line.workers import as_done
from journal.output import Part, Ready, Store
from journal.pages.book import Book
from journal.pages.notebook import Group, groups_of, other_sheets
from journal.pages.sheet import Sheet, digest

# The files of a group: their keys by their paths.
Files = Mapping[str, str]


def laid_out(store: Store, book: Book) -> Iterator[Part | Ready]:
    """Every file of the notebook; those of groups that may have changed are made as they come.

    What a group was made from need not be declared: it is given a traced book, and all
    that it asks for is kept with what came of it.
    """
    ledger = Ledger(store, f"laid-{book.edition}", book, book.ground)
    pages: list[str] = []
    todo: list[Group] = []
    for group in groups_of(book):
        files: Files | None = ledger.known(group.name)
        if files is None:
            todo.append(group)
        else:
            again = _Again(group, book)
            pages.extend(files)
            yield from (Part(path, key, again.maker(path)) for path, key in files.items())
    made = as_done(
        [
            partial(ledger.worked, partial(_made, group, ledger.before(group.name) or {}))
            for group in todo
        ],
        together=lambda number: todo[number].of,
    )
    for number, worked in shown(made, len(todo), "parts of the notebook made"):
        group = todo[number]
        files = {file.path: file.key for file in worked.outcome}
        ledger.note(group.name, Worked(files, worked.ways))
        pages.extend(files)
        again = _Again(group, book)
        for file in worked.outcome:
            if file.data is None:
                yield Part(file.path, file.key, again.maker(file.path))
            else:
                yield Ready(file.path, file.key, file.data)
    ledger.keep()
    yield from map(as_part, other_sheets(book, pages, partial(waiting, store)))


def as_part(sheet: Sheet) -> Part:
    """A sheet as a file to be made; one without a key is made at once."""
    if sheet.key:
        return Part(sheet.path, sheet.key, sheet.make, sheet.lasting)
    data = sheet.make()
    return Part(sheet.path, digest(data), data.__bytes__)


class _File(Struct, frozen=True):
    """A file of a group; ``data`` is None where its key tells that it is as it was."""

    path: str
    key: str
    data: bytes | None


def _made(group: Group, before: Files, book: Book) -> tuple[_File, ...]:
    """The files of a group, made as far as they may be others than before."""
    return tuple(_file(sheet, before) for sheet in group.lay(book))


def _file(sheet: Sheet, before: Files) -> _File:
    if sheet.key and before.get(sheet.path) == sheet.key:
        return _File(sheet.path, sheet.key, None)
    data = sheet.make()
    return _File(sheet.path, sheet.key or digest(data), data)


class _Again:
    """Lays a group out once more, where one of its files is not there after all."""

    def __init__(self, group: Group, book: Book) -> None:
        self._group, self._book = group, book
        self._sheets: Mapping[str, Sheet] | None = None

    def maker(self, path: str) -> Callable[[], bytes]:
        """What makes the file at ``path``."""
        return partial(self._make, path)

    def _make(self, path: str) -> bytes:
        if self._sheets is None:
            self._sheets = {sheet.path: sheet for sheet in self._group.lay(self._book)}
        return self._sheets[path].make()
