"""Designs kept from one run to the next, and what must be as it was for one to be known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from journal.command_line.kept import KeptRecords, parts_of
from journal.command_line.seen import Seen
from journal.errors import Problem
from journal.output import Store
from journal.pages.notebook import by_design
from journal.pages.sheet import digest
from journal.records.links import links_in, target_of
from journal.records.notebook import SETTINGS_FILE, KnownDesign, Notebook
from journal.records.shelf import Shelf
from journal.records.source import read_text
from journal.records.write_up import Design

#: Small, and asked for of every design whatever is done.
_AT_ONCE = ("id", "path", "title", "date", "state", "grew_from", "things", "pictures", "photos")
_PIECES = "shelf/pieces.yaml"

#: What pages about all designs ask for.
_SMALL = ("brief", "failed", "question", "summary", "subjects", "groups", "private")

#: The pours and the failures of a thousand designs, which pages of the shelf go through again
#: and again, thing by thing.
_MOST_HELD_BYTES = 1 << 20


class Beside(Struct, frozen=True):
    """What is kept beside a design.

    ``files`` it was read from; ``there`` are files that it names, which must be there;
    ``front`` is a digest of everything but its prose.
    """

    files: tuple[str, ...]
    there: tuple[str, ...]
    front: str
    warnings: tuple[Problem, ...]


class KeptDesigns:
    """The designs of a notebook: those of the last run, and those of this one."""

    def __init__(self, root: Path, store: Store, seen: Seen, program: str) -> None:
        self._root, self._seen = root, seen
        self._kept = KeptRecords(store, "designs", Design, _AT_ONCE, _SMALL, _MOST_HELD_BYTES)
        self._program = program
        self._ground = ""

    def known_on(self, shelf: Shelf) -> Mapping[str, KnownDesign]:
        """The designs that need not be read again, by id; to be asked before any is put by."""
        # A design is judged by the settings, by what things there are on the shelf, and by the
        # pieces that its bars were cast on.
        names = sorted(f"{kind}/{name}" for kind, table in shelf.written.items() for name in table)
        files = (self._seen.digests.get(path, "") for path in (SETTINGS_FILE, _PIECES))
        self._ground = digest(self._program, *files, *sorted(shelf.unread), "", *names)
        return dict(self._known())

    def _known(self) -> Iterator[tuple[str, KnownDesign]]:
        """The designs that need not be read again, by id."""
        there = self._seen.digests
        for name, row in self._kept.rows().items():
            beside: Beside = row.more
            if all(path in there for path in beside.there):
                design = self._kept.known(name, self._key(beside.files))
                if design is not None:
                    yield name, KnownDesign(design, beside.warnings)

    def front(self, design: Design) -> str:
        """A digest of all that a design was read from but its prose, on which no figure depends."""
        row = self._kept.rows_now().get(design.id)
        if row is None:
            return self._front(design)
        beside: Beside = row.more
        return beside.front

    def _front(self, design: Design) -> str:
        lines = read_text(self._root, design.path).split("\n")[: design.body_line - 1]
        others = (self._seen.digests.get(path, "") for path in design.files[1:])
        return digest("\n".join(lines), *others)

    def put_by(self, design: Design) -> Design:
        """Keep a design that was read in this run; gives one that fetches its parts."""
        if not all(self._seen.digests.get(path) for path in design.files):
            return design  # by a way that is not looked at, such as a link to a folder
        beside = Beside(design.files, tuple(_named_files(design)), self._front(design), ())
        return self._kept.add(design.id, self._key(design.files), parts_of(design), beside)

    def keep(self, notebook: Notebook) -> None:
        """Keep all of them for the next run.

        Takes:  notebook  without errors
        """
        warnings = by_design(notebook.problems)
        for name, row in self._kept.rows_now().items():
            beside: Beside = row.more
            told = warnings.get(name, ())
            if beside.warnings != told:
                self._kept.say_beside(name, replace(beside, warnings=told))
        self._kept.keep()

    def _key(self, files: tuple[str, ...]) -> str:
        return digest(self._ground, *(f"{path} {self._seen.digests.get(path)}" for path in files))


def _named_files(design: Design) -> Iterator[str]:
    """The files that a design names and that must be there, or it has an error."""
    folder = design.path.rpartition("/")[0]
    if design.grew_from is not None:
        yield f"designs/{design.grew_from}/design.md"
    yield from (path for _, path in design.pictures)
    for _, link, _ in links_in(design.body, design.path, design.body_line):
        target = target_of(link, folder)
        if target.kind == "design":
            yield f"designs/{target.name}/design.md"
        elif target.kind == "comparison":
            yield f"comparisons/{target.name}.md"
        elif target.kind == "file":
            yield target.name
