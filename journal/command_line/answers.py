"""Answers kept by what they were worked out from: a design's figures, its comparisons, photos.

A design's figures depend on its write-up, the settings, the things of the shelf that it
names, on what those name, on the leftovers, and on the program. All of that goes into
a key; an answer of another key is worked out anew. The same bytes come of it.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import pickle
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from journal.command_line.kept import KeptRecords, Parts, unpacked
from journal.command_line.seen import Seen
from journal.comparison.derive import DesignResults
from journal.errors import Problem
from journal.figures.derive import Derived, DesignFigures, PhotoWidths
from journal.output import Store
from journal.pages.photos import ReadyPhoto
from journal.photos.derive import measure_photo
from journal.photos.measurement import Measurement
from journal.photos.source import PhotoProblem
from journal.records.notebook import SETTINGS_FILE, Notebook
from journal.records.source import read_text
from journal.records.things import Thing
from journal.records.write_up import Design, Photo

#: Libraries whose answers may differ from one version to the next.
_RECKON_WITH = ("numpy", "scipy", "pydantic", "yaml", "PIL")

#: What pages about all designs ask for.
_SMALL = ("oils", "drafted", "bleed")

#: Names the form of what is kept; another form is nothing.
_FORM = "answers 2"

Answer = TypeVar("Answer")


class Answers:
    """Figures and comparisons of all designs: those that are known, and those of this run.

    A design is known while its files, the things of the shelf that it is made with and the
    widths measured in its photos are what they were; its prose does not count.
    """

    def __init__(
        self,
        store: Store,
        notebook: Notebook,
        seen: Seen,
        program: str,
        edition: str,
        front: Callable[[Design], str],
        widths: PhotoWidths,
    ) -> None:
        """``front`` gives a digest of all that a design was read from but its prose."""
        self._figures = KeptRecords(
            store, "figures", DesignFigures, small=("oils", "drafted", "bleed")
        )
        self._results = KeptRecords(store, f"results-{edition}", DesignResults)
        settings = seen.digests.get(SETTINGS_FILE, "")
        ground = _digest((program_and_libraries(program), settings))
        shelf = _Shelf(notebook)
        self._keys = {
            name: _digest((ground, front(design), shelf.key(design), repr(widths.get(name))))
            for name, design in notebook.designs.items()
        }

    def figures(self, name: str) -> Derived | None:
        """A design's figures and the problems that they found, if they are known."""
        found = self._figures.known(name, self._keys[name])
        return None if found is None else (found, self._figures.rows_now()[name].more)

    def add_figures(self, name: str, parts: Parts, problems: tuple[Problem, ...]) -> Derived:
        """The figures of a design, worked out in this run."""
        return self._figures.add(name, self._keys[name], parts, problems), problems

    def results(self, name: str) -> DesignResults | None:
        """A design's comparisons, if they are known."""
        return self._results.known(name, self._keys[name])

    def add_results(self, name: str, parts: Parts) -> DesignResults:
        """The comparisons of a design, worked out in this run."""
        return self._results.add(name, self._keys[name], parts)

    def keep(self) -> None:
        """Keep all of them for the next run."""
        self._figures.keep()
        self._results.keep()


def known_photos(store: Store, seen: Seen, program: str) -> dict[str, ReadyPhoto]:
    """Photos that were looked into before, by path, if they still are what they were."""
    rows = _of_form(store, "photos", program)
    return {path: ready for path, (digest, ready) in rows.items()
            if digest and seen.digests.get(path) == digest}  # fmt: skip


def keep_photos(
    store: Store, seen: Seen, program: str, before: Mapping[str, ReadyPhoto],
    photos: Mapping[str, ReadyPhoto],
) -> None:  # fmt: skip
    """Keep what is known of the photos for the next run; those of other editions stay known."""
    if photos.keys() - before.keys():
        every = {**before, **photos}
        rows = {path: (seen.digests.get(path, ""), ready) for path, ready in every.items()}
        store.write("photos", pickle.dumps((f"{_FORM} {program}", rows), pickle.HIGHEST_PROTOCOL))


class Remembered:
    """Measures a photo, or remembers what the same photo and the same question gave."""

    def __init__(self, store: Store, notebook: Notebook, seen: Seen, program: str) -> None:
        self._store, self._seen = store, seen
        self._root = notebook.root
        self._program = program_and_libraries(program)
        self._before: dict[str, Measurement | PhotoProblem] = _of_form(
            store, "measured", self._program
        )
        self._now: dict[str, Measurement | PhotoProblem] = {}

    def __call__(self, file: Path, photo: Photo) -> Measurement:
        path = file.relative_to(self._root).as_posix()
        key = _digest(
            (file.name, self._seen.digests.get(path, ""), repr(photo.measure), repr(photo.scale))
        )
        if key not in self._now:
            self._now[key] = self._before.get(key) or _measured(file, photo)
        answer = self._now[key]
        if isinstance(answer, PhotoProblem):
            raise answer
        return answer

    def keep(self) -> None:
        """Keep what was measured for the next run."""
        if self._now.keys() != self._before.keys():
            told = (f"{_FORM} {self._program}", self._now)
            self._store.write("measured", pickle.dumps(told, pickle.HIGHEST_PROTOCOL))


def _measured(file: Path, photo: Photo) -> Measurement | PhotoProblem:
    try:
        return measure_photo(file, photo)
    except PhotoProblem as problem:
        return problem


def _of_form(store: Store, name: str, program: str) -> dict[str, Any]:
    """What was kept under a name in this form, by this program; else nothing."""
    found = unpacked(store.read(name))
    if isinstance(found, tuple) and len(found) == 2 and isinstance(found[1], dict):
        return found[1] if found[0] == f"{_FORM} {program}".strip() else {}
    return {}


class _Shelf:
    """Digests of things of the shelf, as they are written and where."""

    def __init__(self, notebook: Notebook) -> None:
        self._written: dict[Thing, str] = {}
        self._names: dict[Thing, set[Thing]] = {}
        self._keys: dict[frozenset[Thing], str] = {}
        by_id: dict[str, list[Thing]] = {}
        trees = notebook.shelf.written
        for kind, tree in trees.items():
            for name in tree:
                by_id.setdefault(name, []).append((kind, name))
        for kind, tree in trees.items():
            lines = read_text(notebook.root, f"shelf/{kind}.yaml").split("\n")
            starts = sorted((tree.key_at(name).line, name) for name in tree)
            ends = [line for line, _ in starts[1:]] + [len(lines) + 1] * bool(starts)
            for (line, name), end in zip(starts, ends, strict=True):
                # Mistakes are told with their lines, so the place counts.
                text = "\n".join(lines[line - 1 : end - 1])
                self._written[kind, name] = _digest((str(line), text))
                self._names[kind, name] = {
                    thing for leaf in _leaves(tree[name]) for thing in by_id.get(leaf, ())
                }
        self._always = [thing for thing in self._written if thing[0] == "leftovers"]

    def key(self, design: Design) -> str:
        """A digest of everything on the shelf that a design's figures may ask for."""
        todo = [*design.things, *self._always]
        reached: set[Thing] = set()
        while todo:
            thing = todo.pop()
            if thing not in reached:
                reached.add(thing)
                todo.extend(self._names.get(thing, ()))
        chosen = frozenset(reached)
        if chosen not in self._keys:
            self._keys[chosen] = _digest(
                f"{kind}/{name} {self._written.get((kind, name), 'is not there')}"
                for kind, name in sorted(chosen)
            )
        return self._keys[chosen]


def _leaves(tree: object) -> Iterable[str]:
    if isinstance(tree, dict):
        for name, value in tree.items():
            yield str(name)
            yield from _leaves(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from _leaves(value)
    else:
        yield str(tree)


def program_and_libraries(program: str) -> str:
    """What answers depend on beside what was asked."""
    return _digest((program, _libraries()))


def _libraries() -> str:
    """The libraries that figures are reckoned with, as their files stand there."""
    told = [sys.version]
    for name in _RECKON_WITH:
        spec = importlib.util.find_spec(name)
        if spec is not None and spec.origin is not None:
            told.append(f"{spec.origin} {os.stat(spec.origin).st_mtime_ns}")
    return " ".join(told)


def _digest(parts: Iterable[str]) -> str:
    found = hashlib.blake2b(digest_size=16)
    for part in parts:
        raw = part.encode("utf-8", "surrogatepass")
        found.update(b"%d:" % len(raw) + raw)
    return found.hexdigest()
