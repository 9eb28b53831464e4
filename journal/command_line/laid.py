"""The files of the notebook; groups of pages that cannot have changed are known, not laid out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial

from journal.command_line.ledger import Ledger
from journal.command_line.photo_work import waiting
from journal.output import Store
from journal.pages.book import Book
from journal.pages.notebook import Group, lay_out
from journal.pages.sheet import Sheet

# A file of a group: its path, its key, and whether it lasts.
File = tuple[str, str, bool]


def laid_out(store: Store, book: Book) -> tuple[Sheet, ...]:
    """Every file of the notebook.

    Of the studio's own edition, which is made day by day, only those groups are laid out
    anew that may have changed.
    """
    made = partial(waiting, store)
    if not book.studio:
        return lay_out(book, made)
    ledger = Ledger(store, "laid", book, book.ground)
    sheets = lay_out(book, made, partial(_laid, ledger, book))
    ledger.keep()
    return sheets


def _laid(ledger: Ledger[Book], book: Book, group: Group) -> Sequence[Sheet]:
    files: tuple[File, ...] | None = ledger.known(group.name)
    if files is not None:
        again = _Again(group, book)
        return [Sheet(path, key, again.maker(path), last) for path, key, last in files]
    sheets: list[Sheet] = []

    def lay(traced: Book) -> tuple[File, ...]:
        sheets.extend(group.lay(traced))
        return tuple((sheet.path, sheet.key, sheet.lasting) for sheet in sheets)

    ledger.done(group.name, lay)
    return sheets


class _Again:
    """Lays a known group out after all, once, where one of its files is not there any more."""

    def __init__(self, group: Group, book: Book) -> None:
        self._group, self._book = group, book
        self._sheets: Iterable[Sheet] | None = None

    def maker(self, path: str) -> Callable[[], bytes]:
        """What makes the file at ``path``."""
        return lambda: self._made(path)

    def _made(self, path: str) -> bytes:
        if self._sheets is None:
            self._sheets = tuple(self._group.lay(self._book))
        return next(sheet for sheet in self._sheets if sheet.path == path).make()
