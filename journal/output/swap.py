"""The exchange of an old tree for a new one, all of it or none of it.

Everything new lies ready in a work folder inside the folder that is written:

    .journal-work/lock       held while a command is at work
                  new/       entries of the first level that take the place of old ones
                  lasting/   lasting files that are not in their place yet
                  old/       the entries that were replaced
                  note.json  there while the exchange is under way

Until the note is there, nothing outside the work folder has been touched, and
a command that finds the work folder throws it away (but for the lasting files,
which cost the most and are whole by themselves). Once the note is there, the
exchange is gone through to its end, by this command or by the next one. Each
step of it can be told from the folders to be done or not, so that going through
it again is harmless.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from msgspec import Struct

from journal.output.disk import (
    Disk,
    OutputError,
    entries,
    is_folder,
    make_folders,
    put_into_words,
    remove_tree,
)
from journal.output.lock import held
from journal.output.part import folders_of
from journal.output.record import RECORD

WORK = ".journal-work"
#: How a file's name ends until all of it is written.
UNFINISHED = ".part"

_FORMAT = "soap-design-journal exchange/1"

#: What computers put into folders by themselves; a folder of these is empty.
_STREWN = frozenset((".DS_Store", "Thumbs.db", "desktop.ini"))

_HALF = "The next command finishes what was begun"
EXCHANGED = "The new files are in their places; the next command clears away the rest"


class Exchange(Struct, frozen=True):
    """What an exchange does: entries of the first level, paths of lasting files."""

    add: tuple[str, ...]
    old: tuple[str, ...]
    new: tuple[str, ...]
    drop: tuple[str, ...]


class Workplace(Struct, frozen=True):
    """A folder that is being written, with its work folder."""

    disk: Disk
    root: str
    shown: str

    @property
    def work(self) -> str:
        return os.path.join(self.root, WORK)

    @property
    def new(self) -> str:
        return os.path.join(self.work, "new")

    @property
    def old(self) -> str:
        return os.path.join(self.work, "old")

    @property
    def lasting(self) -> str:
        return os.path.join(self.work, "lasting")

    @property
    def note(self) -> str:
        return os.path.join(self.work, "note.json")

    def clear(self, *, lasting: bool) -> None:
        """Throw away what lies in the work folder; whole lasting files only when told to."""
        for folder, _, files in os.walk(self.lasting):
            for name in files:
                if name.endswith(UNFINISHED):
                    self.disk.remove(os.path.join(folder, name))
        kept = "lasting" if not lasting and _holds_files(self.lasting) else ""
        for name in entries(self.work):
            if name not in ("lock", kept):
                remove_tree(self.disk, os.path.join(self.work, name))

    def begin_exchange(self, exchange: Exchange) -> None:
        """Put the note into its place: from here on there is no way but forward."""
        text = {
            "format": _FORMAT,
            "add": exchange.add,
            "old": exchange.old,
            "new": exchange.new,
            "drop": exchange.drop,
        }
        draft = self.note + UNFINISHED
        self.disk.write(draft, json.dumps(text).encode())
        self.disk.sync(draft)
        self.disk.rename(draft, self.note)
        self.disk.sync(self.work)

    def finish_exchange(self) -> None:
        """Go through the exchange of the note to its end, if there is a note.

        Fails:  OutputError: when the exchange itself failed, everything has been put
                back; when it was only that something no longer wanted could not
                be removed, the next command goes on
        """
        exchange = self._noted()
        if exchange is None:
            return
        with put_into_words(self.shown):
            try:
                self._forward(exchange)
            except OSError:
                with put_into_words(self.shown, kept=_HALF):
                    self._back(exchange)
                    self.disk.remove(self.note)
                raise
        with put_into_words(self.shown, kept=EXCHANGED):
            for path in exchange.drop:
                remove_tree(self.disk, os.path.join(self.root, path))
            self._prune(exchange.drop)
            self.disk.sync(self.root)
            self.disk.remove(self.note)
            self.disk.sync(self.work)

    def _forward(self, exchange: Exchange) -> None:
        disk, root = self.disk, self.root
        made: set[str] = set()
        for path in exchange.add:
            source = os.path.join(self.lasting, path)
            if os.path.lexists(source):
                above = path.rpartition("/")[0]
                if above not in made:
                    make_folders(disk, root, above)
                    made.add(above)
                disk.rename(source, os.path.join(root, path))
        if not is_folder(self.old):
            disk.make_folder(self.old)
        # On a disk where capitals do not count an old name can be a new one.
        waiting = {name.casefold() for name in entries(self.new)}
        placed = {name.casefold() for name in exchange.new} - waiting
        for name in exchange.old:
            if name.casefold() not in placed and os.path.lexists(os.path.join(root, name)):
                disk.rename(os.path.join(root, name), os.path.join(self.old, name))
        for name in exchange.new:
            if name.casefold() in waiting:
                disk.rename(os.path.join(self.new, name), os.path.join(root, name))

    def _back(self, exchange: Exchange) -> None:
        disk, root = self.disk, self.root
        for name in reversed(exchange.new):
            place, was = os.path.join(root, name), os.path.join(self.new, name)
            if not os.path.lexists(was) and os.path.lexists(place):
                disk.rename(place, was)
        for name in reversed(exchange.old):
            place, was = os.path.join(root, name), os.path.join(self.old, name)
            if os.path.lexists(was):
                disk.rename(was, place)
        for path in reversed(exchange.add):
            place, was = os.path.join(root, path), os.path.join(self.lasting, path)
            if not os.path.lexists(was) and os.path.lexists(place):
                disk.rename(place, was)
        self._prune(exchange.add)

    def _prune(self, paths: tuple[str, ...]) -> None:
        """Remove the folders that the files of ``paths`` left empty."""
        for folder in sorted({above for path in paths for above in folders_of(path)}, reverse=True):
            place = os.path.join(self.root, folder)
            if is_folder(place) and not entries(place):
                self.disk.remove_folder(place)

    def _noted(self) -> Exchange | None:
        try:
            with open(self.note, "rb") as file:
                text = file.read()
        except FileNotFoundError:
            return None
        try:
            found = json.loads(text)
            if found["format"] != _FORMAT:
                raise ValueError
            lists = [tuple(map(str, found[name])) for name in ("add", "old", "new", "drop")]
            if any(_leads_out(path) for paths in lists for path in paths):
                raise ValueError
        except (ValueError, KeyError, TypeError):
            raise OutputError(
                f'"{self.shown}" was left half written, and the note that tells how to finish'
                " cannot be read",
                "Delete the folder (it holds nothing that you wrote) and build again.",
            ) from None
        return Exchange(*lists)


def _holds_files(folder: str) -> bool:
    return any(files for _, _, files in os.walk(folder))


def _leads_out(path: str) -> bool:
    return os.path.isabs(path) or ".." in path.split("/") or path.startswith(WORK)


def is_under_way(root: str) -> bool:
    """Whether an exchange was begun in a folder and not finished."""
    return os.path.lexists(os.path.join(root, WORK, "note.json"))


def refuse_foreign(root: str, shown: str) -> None:
    """Refuse a folder that was not made here and has anything in it.

    Takes:  root   the folder; it need not be there
            shown  the name for the message
    Fails:  OutputError; OSError of the disk
    """
    if not os.path.lexists(root):
        return
    if not is_folder(root):
        raise OutputError(f'"{shown}" is not a folder', "Name another folder.")
    names = set(os.listdir(root)) - _STREWN
    if not names or RECORD in names or WORK in names:
        return
    raise OutputError(
        f'"{shown}" has files in it that the journal did not make',
        "Name a folder that is empty or new: everything in it is replaced at every build.",
    )


@contextmanager
def workplace(disk: Disk, root: str, shown: str) -> Iterator[Workplace]:
    """A folder made ready to be written: locked, what a dead command left cleared up.

    Takes:  disk   where to write
            root   the folder's real path; made if it is not there
            shown  the name for messages
    Fails:  OutputError if the folder is somebody else's or another command is at
            work in it; or if the disk cannot be written
    """
    with ExitStack() as stack:
        with put_into_words(shown):
            refuse_foreign(root, shown)
            if not os.path.lexists(root):
                disk.make_folder(root)
                stack.callback(_remove_if_empty, root)
            place = Workplace(disk, root, shown)
            stack.enter_context(held(place.work, shown))
            place.finish_exchange()
            place.clear(lasting=False)
        yield place


def _remove_if_empty(root: str) -> None:
    if not entries(root):
        os.rmdir(root)
