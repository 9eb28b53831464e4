"""A notebook through its pipeline, as a build takes it, without writing it anywhere."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from journal.build_options import BuildOptions
from journal.html.theme import Theme, read_theme
from journal.output import CacheStore, OutputFile
from journal.pipeline import Pipeline, ViewResult
from journal.scan import scan_content
from journal.views.shared.editions import Edition

Thing = TypeVar("Thing")

LATER = 10**10  # nanoseconds: beyond the steps that files' times come in
PROGRAM = "a program"


@dataclass(frozen=True, slots=True)
class Piped:
    """What came of a run: what was seen, and all files but photos, by path.

    ``known`` are the paths of those that were not made in this run; ``made`` holds them
    too, made anew from the inputs of this run.
    """

    viewed: ViewResult
    keys: Mapping[str, str]
    made: Mapping[str, bytes]
    known: frozenset[str]

    def remade(self) -> set[str]:
        """The paths of the pages that were made in this run."""
        return {path for path in self.made if path.endswith(".html")} - self.known


def untold(things: Iterable[Thing], _total: int, _what: str, /) -> Iterator[Thing]:
    """Work that nobody watches."""
    return iter(things)


def pipeline_for(options: BuildOptions, kept: Path | None, program: str = PROGRAM) -> Pipeline:
    """The pipeline of one run; ``kept`` is the folder of the cache."""
    store = CacheStore(kept)
    scan = scan_content(options.content, store, clock_ns=time.time_ns() + LATER)
    return Pipeline(options, store, program, scan, untold)


def theme_for(content: Path) -> Theme:
    """The usual theme with what the notebook puts in its place."""
    return read_theme(content=content)


def piped(
    content: Path,
    kept: Path | None = None,
    edition: Edition = "studio",
    *,
    strict: bool = False,
    program: str = PROGRAM,
) -> Piped:
    """One run of the pipeline from the files to the bytes of the pages, kept for the next."""
    options = BuildOptions(content, content.parent / "out", edition, strict=strict)
    pipeline = pipeline_for(options, kept, program)
    viewed = pipeline.view()
    keys: dict[str, str] = {}
    made: dict[str, bytes] = {}
    known: set[str] = set()
    for file in pipeline.render(viewed):
        if isinstance(file, OutputFile):
            if file.lasting:
                continue
            known.add(file.path)
        assert file.path not in made, f"{file.path} is made twice"
        keys[file.path] = file.key
        made[file.path] = file.make_bytes() if isinstance(file, OutputFile) else file.data
    pipeline.keep()
    pipeline.clear_waiting()
    return Piped(viewed, keys, made, frozenset(known))
