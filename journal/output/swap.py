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

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from typing import Any

import msgspec
from msgspec import Struct
from msgspec.structs import asdict

from journal.output import disk as disk_access
from journal.output.lock import folder_lock
from journal.output.part import check_path, folders_of
from journal.output.record import RECORD, BuildRecord, RecordedFile, lost_record_error, parse_record

WORK = ".journal-work"
#: How a file's name ends until all of it is written.
UNFINISHED = ".part"

_FORMAT = "soap-design-journal exchange/2"

#: What computers put into folders by themselves; a folder of these is empty.
_STREWN = frozenset((".DS_Store", "Thumbs.db", "desktop.ini"))

# Something else was put in there since, or has taken it away (POSIX.1-2017, rmdir).
_NO_LONGER_EMPTY = (errno.ENOTEMPTY, errno.EEXIST, errno.ENOENT)

_HALF = "The next command finishes what was begun"
EXCHANGED = "The new files are in their places; the next command clears away the rest"


class Exchange(Struct, frozen=True, forbid_unknown_fields=True):
    """The steps of an exchange: entries of the first level, and paths of lasting files.

    ``add`` are lasting files to be put in place, ``drop`` those to be removed; ``old`` are the
    entries that leave and ``new`` those that come. ``before`` and ``after`` are the digests of
    the record that is replaced ("" for none) and of the one that replaces it.
    """

    add: tuple[str, ...]
    old: tuple[str, ...]
    new: tuple[str, ...]
    drop: tuple[str, ...]
    before: str
    after: str


class WorkFolder:
    """A folder that is being written, with its work folder."""

    def __init__(self, disk: disk_access.Disk, root: str, shown: str) -> None:
        """``shown`` is what the maker calls the folder ``root``."""
        self.disk, self.root, self.shown = disk, root, shown
        self.work = os.path.join(root, WORK)
        self.new, self.old, self.lasting, self.note = (
            os.path.join(self.work, name) for name in ("new", "old", "lasting", "note.json")
        )

    def clear(self, *, lasting: bool) -> None:
        """Delete what lies in the work folder; whole lasting files only with ``lasting``."""
        left = disk_access.files_at(self.lasting)
        for path in left:
            if path.endswith(UNFINISHED):
                self.disk.remove(os.path.join(self.lasting, path))
        whole = any(not path.endswith(UNFINISHED) for path in left)
        kept = "lasting" if whole and not lasting else ""
        for name in disk_access.folder_names(self.work):
            if name not in ("lock", kept):
                disk_access.remove_tree(self.disk, os.path.join(self.work, name))

    def begin_exchange(self, exchange: Exchange) -> None:
        """Write the note; from here on the exchange is carried out to its end."""
        draft = self.note + UNFINISHED
        self.disk.write(draft, msgspec.json.encode({"format": _FORMAT, **asdict(exchange)}))
        self.disk.sync(draft)
        self.disk.rename(draft, self.note)
        self.disk.sync(self.work)

    def refuse_to_lose_changes(self, exchange: Exchange) -> None:
        """Refuse an exchange that would lose a file that is not as it was written.

        A file may leave its place if the record has its digest, if it is recorded and empty, or
        if the same bytes take its place.

        Fails:  OutputError; nothing is touched
        """
        last = self._record_before(exchange)
        leaves = dict.fromkeys(exchange.drop, "")  # path -> what comes in its place
        placed, new = self._names_in_place(exchange), frozenset(exchange.new)
        for name in exchange.old:
            if name != RECORD and name.casefold() not in placed:
                for path in disk_access.files_at(os.path.join(self.root, name), name):
                    leaves[path] = os.path.join(self.new, path) if name in new else ""
        for path in exchange.add:
            ready = os.path.join(self.lasting, path)
            if disk_access.lstat_or_none(ready) is not None:
                leaves[path] = ready
        for path, instead in leaves.items():
            present = os.path.join(self.root, path)
            if not _may_leave(present, instead, last.parts.get(path)):
                if last.lost:
                    raise lost_record_error(self.shown, path)
                raise disk_access.OutputError(
                    f'"{path}" in "{self.shown}" is not as the journal made it',
                    "Move it elsewhere, or delete it.",
                )

    def _record_before(self, exchange: Exchange) -> BuildRecord:
        """The record that is replaced, whether it is still in its place or moved already."""
        for folder in (self.old, self.root):
            text = disk_access.bytes_of(os.path.join(folder, RECORD))
            if text is not None and disk_access.bytes_digest(text) == exchange.before:
                return parse_record(text)
        if exchange.before:
            raise self._unreadable_note()
        return BuildRecord({}, {})

    def finish_exchange(self, *, begun: bool = False) -> None:
        """Carry out the exchange of the note to its end, if there is a note.

        Takes:  begun  whether this command began it, so that it can be put back
        Fails:  OutputError: when the exchange itself failed, everything that this command did
                has been put back; when it was only that something no longer wanted could
                not be removed, the next command goes on
        """
        with disk_access.explain_os_errors(self.shown):
            exchange = self._exchange_in_note()
            if exchange is None:
                return
            if not begun:
                self.refuse_to_lose_changes(exchange)
        done: list[tuple[str, str]] = []
        with disk_access.explain_os_errors(
            self.shown, kept="Nothing was changed" if begun else _HALF
        ):
            try:
                self._move_into_place(exchange, done)
            except OSError:
                with disk_access.explain_os_errors(self.shown, kept=_HALF):
                    for source, target in reversed(done):
                        self.disk.rename(target, source)
                    if begun:
                        self._remove_empty_folders(exchange.add)
                        self.disk.remove(self.note)
                raise
        with disk_access.explain_os_errors(self.shown, kept=EXCHANGED):
            for path in exchange.drop:
                if disk_access.lstat_or_none(os.path.join(self.root, path)) is not None:
                    self.disk.remove(os.path.join(self.root, path))
            self._remove_empty_folders(exchange.drop)
            self.disk.sync(self.root)
            self.disk.remove(self.note)
            self.disk.sync(self.work)

    def _move_into_place(self, exchange: Exchange, done: list[tuple[str, str]]) -> None:
        """Move everything to its place; each (source, target) is added to ``done``."""
        disk, root = self.disk, self.root

        def move(source: str, target: str) -> None:
            disk.rename(source, target)
            done.append((source, target))

        made: set[str] = set()
        for path in exchange.add:
            source = os.path.join(self.lasting, path)
            if disk_access.lstat_or_none(source) is not None:
                above = path.rpartition("/")[0]
                if above not in made:
                    disk_access.make_folders(disk, root, above)
                    made.add(above)
                move(source, os.path.join(root, path))
        if not disk_access.is_folder(self.old):
            disk.make_folder(self.old)
        placed = self._names_in_place(exchange)
        for name in exchange.old:
            source = os.path.join(root, name)
            if name.casefold() not in placed and disk_access.lstat_or_none(source) is not None:
                move(source, os.path.join(self.old, name))
        for name in exchange.new:
            if name.casefold() not in placed:
                target = os.path.join(root, name)
                if disk_access.lstat_or_none(target) is not None:  # put there since
                    raise FileExistsError(errno.EEXIST, "It is there already", target)
                move(os.path.join(self.new, name), target)

    def _names_in_place(self, exchange: Exchange) -> set[str]:
        """The names, in small letters, of the new entries that are in their places already.

        On a disk where capitals do not count an old name can be a new one.
        """
        waiting = {name.casefold() for name in disk_access.folder_names(self.new)}
        return {name.casefold() for name in exchange.new} - waiting

    def _remove_empty_folders(self, paths: tuple[str, ...]) -> None:
        """Remove the folders that the files of ``paths`` left empty."""
        for folder in sorted({above for path in paths for above in folders_of(path)}, reverse=True):
            place = os.path.join(self.root, folder)
            try:
                if disk_access.is_folder(place) and not disk_access.folder_names(place):
                    self.disk.remove_folder(place)
            except OSError as error:
                if error.errno not in _NO_LONGER_EMPTY:
                    raise

    def _exchange_in_note(self) -> Exchange | None:
        """The exchange under way; None without a note, OutputError if the note is not sound."""
        text = disk_access.bytes_of(self.note)
        if text is None:
            return None
        try:
            note = msgspec.json.decode(text, type=dict[str, Any])
            if note.pop("format", "") != _FORMAT:
                raise self._unreadable_note()
            exchange = msgspec.convert(note, Exchange)
            entries = {*exchange.old, *exchange.new} - {RECORD}
            for path in (*exchange.add, *exchange.drop, *entries):
                check_path(path)
            if any("/" in name for name in entries):
                raise self._unreadable_note()
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError, disk_access.OutputError):
            raise self._unreadable_note() from None
        after = (
            disk_access.bytes_of(os.path.join(folder, RECORD)) for folder in (self.new, self.root)
        )
        if exchange.after not in {
            disk_access.bytes_digest(text) for text in after if text is not None
        }:
            raise self._unreadable_note()
        return exchange

    def _unreadable_note(self) -> disk_access.OutputError:
        return disk_access.OutputError(
            f'"{self.shown}" was left half written, and the note that tells how to finish'
            " cannot be read, or is not of the record beside it",
            "Look through the folder for what is yours, delete it and build again.",
        )


def _may_leave(path: str, instead: str, made: RecordedFile | None) -> bool:
    """Whether nothing is lost if the file at ``path`` goes.

    ``instead`` is the file that takes its place, "" for none; ``made`` what the record says of it.
    """
    status = disk_access.lstat_or_none(path)
    if status is None:
        return True
    new = disk_access.lstat_or_none(instead) if instead else None
    if new is not None and os.path.samestat(status, new):
        return True
    if stat.S_ISLNK(status.st_mode) and new is not None and stat.S_ISLNK(new.st_mode):
        return os.readlink(path) == os.readlink(instead)  # copied: it could get no second name
    if not stat.S_ISREG(status.st_mode):
        return False
    if made is not None and not status.st_size:
        return True
    data = disk_access.bytes_of(path)
    return data is not None and (
        (made is not None and disk_access.bytes_digest(data) == made.digest)
        or (new is not None and stat.S_ISREG(new.st_mode) and data == disk_access.bytes_of(instead))
    )


def is_under_way(root: str) -> bool:
    """Whether an exchange was begun in a folder and not finished."""
    return disk_access.lstat_or_none(os.path.join(root, WORK, "note.json")) is not None


def refuse_foreign_folder(root: str, shown: str) -> None:
    """Refuse a folder that was not made here and has anything in it.

    Fails:  OutputError; OSError of the disk
    """
    if disk_access.lstat_or_none(root) is None:
        return
    if not disk_access.is_folder(root):
        raise disk_access.OutputError(f'"{shown}" is not a folder', "Name another folder.")
    names = set(disk_access.folder_names(root)) - _STREWN
    if not names or RECORD in names or WORK in names:
        return
    raise disk_access.OutputError(
        f'"{shown}" has files in it that the journal did not make',
        "Name a folder that is empty or new: everything in it is replaced at every build.",
    )


@contextmanager
def open_work_folder(disk: disk_access.Disk, root: str, shown: str) -> Iterator[WorkFolder]:
    """Lock a folder for the block, made if missing, and clear up what a dead command left.

    Fails:  OutputError if the folder is somebody else's or another command is at work in it;
            or if the disk cannot be written
    """
    with ExitStack() as stack:
        with disk_access.explain_os_errors(shown):
            refuse_foreign_folder(root, shown)
            if disk_access.lstat_or_none(root) is None:
                disk.make_folder(root)
                stack.callback(_remove_if_empty, root)
            place = WorkFolder(disk, root, shown)
            stack.enter_context(folder_lock(place.work, shown))
            place.finish_exchange()
            place.clear(lasting=False)
        yield place


def _remove_if_empty(root: str) -> None:
    with suppress(OSError):  # not empty: something else has been put there
        os.rmdir(root)
