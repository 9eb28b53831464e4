"""The last gate of a build: no file of an edition is written that gives a private value away.

What a file was found to hold is kept by its digest and those of the values, so that only new
files are looked through, and old ones only for new values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from journal.cache import Cache
from journal.errors import ContentError, Problem
from journal.output import OutputFile
from journal.records.codec import digest
from journal.records.notebook import Notebook
from journal.views.shared.editions import Edition
from journal.views.shared.last_gate import PrivateValue, PrivateValueSearch
from journal.views.shared.private_values import EditionJudge

# Stands for the path of a file in the row that has the values which were looked for.
_VALUES = ""


class SearchedFile(Struct, frozen=True):
    """A file that was looked through: its digest, and the keys of the values found in it."""

    digest: str
    found: tuple[str, ...]


class EditionGate:
    """Looks through the files of one edition.

    Takes:  cut     what the edition holds of the notebook; ``values`` are what it may not show
            out     the folder of the last build, for the bytes of files that are not made again
    """

    def __init__(
        self,
        cache: Cache,
        cut: Notebook,
        edition: Edition,
        values: Iterable[PrivateValue],
        out: Path,
    ) -> None:
        self._cache, self._table, self._out = cache, f"searched-{edition}", out
        self._search = PrivateValueSearch(values, cut.settings.currency)
        self._by_key = {value.key: value for value in self._search.values}
        self._judge = EditionJudge(cut, edition, self._search)
        self._before: dict[str, SearchedFile] = cache.table(self._table, SearchedFile)
        old = self._before.pop(_VALUES, SearchedFile("", ())).found
        new = [value for key, value in self._by_key.items() if key not in frozenset(old)]
        self._new = PrivateValueSearch(new, cut.settings.currency)
        self._now: dict[str, SearchedFile] = {}

    def search(self, files: Mapping[str, bytes]) -> dict[str, SearchedFile]:
        """What each file holds; any process may look."""
        return {
            path: SearchedFile(digest(data), _keys(self._search.in_file(path, data)))
            for path, data in files.items()
        }

    def add(self, searched: Mapping[str, SearchedFile]) -> None:
        """Add what was found in files that are to be written."""
        self._now.update(searched)

    def knows(self, path: str, file_digest: str) -> bool:
        """Whether it is known what a file holds that is not made again; it is added then.

        A file of the last build is read for values that are new; it counts if it is as it was.
        """
        before = self._before.get(path)
        searched = before is not None and before.digest == file_digest
        if before is not None and searched and not self._new.values:
            self._now[path] = before
            return True
        data = b""
        with suppress(OSError):
            data = (self._out / path).read_bytes()
        if digest(data) != file_digest:
            return False
        if before is not None and searched:
            found = {*before.found, *_keys(self._new.in_file(path, data))}
            self._now[path] = replace(before, found=tuple(sorted(found)))
        else:
            self.add(self.search({path: data}))
        return True

    def checked(self, file: OutputFile) -> OutputFile:
        """The file; a lasting one is looked through when it is made, any other at once."""
        if not file.lasting:
            self.add(self.search({file.path: file.make_bytes()}))
            return file
        return OutputFile(file.path, file.key, partial(self._make, file), lasting=True)

    def _make(self, file: OutputFile) -> bytes:
        """The bytes of a lasting file; ContentError if they give something away."""
        data = file.make_bytes()
        found = self._search.in_file(file.path, data)
        if problems := [one for value in found for one in self._judge.problems(value, file.path)]:
            raise ContentError(tuple(problems))
        return data

    def problems(self) -> tuple[Problem, ...]:
        """What all files together give away, each at its place in what the maker wrote.

        What was found is kept for the next build.
        """
        pages = {key: path for path in sorted(self._now, reverse=True)
                 for key in self._now[path].found if key in self._by_key}  # fmt: skip
        values = SearchedFile("", tuple(sorted(self._by_key)))
        self._cache.write_table(self._table, {**self._now, _VALUES: values})
        return tuple(
            sorted(
                {one for key, path in pages.items()
                 for one in self._judge.problems(self._by_key[key], path)}
            )
        )  # fmt: skip


def _keys(values: Iterable[PrivateValue]) -> tuple[str, ...]:
    return tuple(sorted(value.key for value in values))
