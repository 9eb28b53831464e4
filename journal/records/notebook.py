"""Read the whole notebook: each file is checked by itself, then against the others."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple, Protocol

from journal.errors import ContentError, Position, Problem, errors_in, first_of_each_file
from journal.quantities.number import excerpt
from journal.records.checks.batches import batch_clashes, lot_warnings, unknown_batches
from journal.records.checks.fitting import shelf_entry_problems
from journal.records.checks.plausibility import implausible_values
from journal.records.checks.references import ReferenceChecker, ancestry_cycles, order_problems
from journal.records.codec import LazyValues, cached_digest
from journal.records.designs import OWN_PAGES, bad_id, id_hint, read_design
from journal.records.models.fields import spelling_hint, validated
from journal.records.models.outlines import FOLDER as OUTLINES_FOLDER
from journal.records.models.outlines import read_outline
from journal.records.models.prose import prose_problems
from journal.records.models.questions import (
    ComparisonFile,
    OrderFile,
    WrittenComparison,
    WrittenOrder,
)
from journal.records.models.settings import Settings, read_settings
from journal.records.models.shelf import KINDS, Mat, Shelf, ShelfRecord
from journal.records.models.summary import DesignSummary, summary_of
from journal.records.models.write_up import Design
from journal.records.yaml.source import (
    may_exist,
    parse_yaml,
    printable_name,
    read_text,
    split_write_up,
    stays_in_notebook,
)
from journal.records.yaml.tree import SourceTree, WrittenTable, content_error, position_of

SETTINGS_FILE = "journal.yaml"
PARTS = ("shelf", "designs", "comparisons", "orders", "theme")


class FolderEntry(NamedTuple):
    """A file, folder or link in a folder; ``shown`` is its name as it can be printed."""

    name: str
    shown: str
    is_folder: bool
    is_link: bool


@dataclass(frozen=True, slots=True)
class Notebook:
    """Everything the maker wrote, checked.

    ``problems`` are sorted by place. A design that could not be read whole is in
    ``unreadable``, not in ``designs``. ``summaries`` are of the designs, in the same order;
    a cached design is decoded only when it is looked up in ``designs``.
    """

    root: Path
    settings: Settings
    shelf: Shelf
    designs: Mapping[str, Design]
    summaries: Mapping[str, DesignSummary] = field(default_factory=dict)
    comparisons: Mapping[str, ComparisonFile] = field(default_factory=dict)
    orders: Mapping[str, OrderFile] = field(default_factory=dict)
    unreadable: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def count_designs(self) -> int:
        """The number of designs, of those too that could not be read."""
        return len(self.summaries) + len(self.unreadable)

    @property
    def errors(self) -> tuple[Problem, ...]:
        """Problems that stop a build."""
        return errors_in(self.problems)

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """Problems that do not stop a build."""
        return tuple(problem for problem in self.problems if problem.warning)


class CachedDesign(NamedTuple):
    """The summary and the warnings of a design that has not changed since it was cached."""

    summary: DesignSummary
    warnings: tuple[Problem, ...]


class DesignCache(Protocol):
    """A cache of the designs that were read before."""

    def known_on(self, shelf: Shelf) -> Mapping[str, CachedDesign]:
        """Designs without errors that need not be read again, by id.

        Neither they nor the settings nor anything that they name or link to has changed.
        """

    def add(self, design: Design, summary: DesignSummary) -> bool:
        """Store a design that was read without an error; False if it cannot be stored."""

    def designs(self, names: Iterable[str]) -> Mapping[str, Design]:
        """The designs with these ids, which were known or added; each is decoded on first use."""


def read_notebook(root: Path, cache: DesignCache | None = None) -> Notebook:
    """Read and check the whole notebook in ``root``.

    Takes:  root   the notebook's folder
            cache  designs that need not be read again; None reads all of them
    Gives:  everything that was written
    Fails:  never for what stands in the files: see ``Notebook.problems``;
            ContentError if there is no notebook in ``root`` at all
    """
    if not os.path.isdir(root):
        hint = "Begin one with: journal begin " + root.as_posix()
        raise content_error(Position(root.as_posix()), "there is no notebook here", hint)
    collecting = gc.isenabled()
    # Nothing that is read is a reference cycle, and all of it stays in use: a garbage
    # collection in between would cost as much as the reading.
    gc.disable()
    try:
        return _read_parts(root, cache)
    finally:
        if collecting:
            gc.enable()


def _read_parts(root: Path, cache: DesignCache | None) -> Notebook:
    """Read all parts of the notebook; checks that need several parts come last."""
    problems: list[Problem] = []
    settings, settings_are_whole = _read_settings(root, problems)
    _warn_of_unknown_entries(root, problems)
    shelf = _read_shelf(root, problems)
    comparisons = _read_comparisons(root, problems)
    orders = _read_orders(root, problems)
    ids = _design_ids(root, problems)
    references = ReferenceChecker(root, shelf, ids, comparisons)
    cached = cache.known_on(shelf) if cache is not None else {}
    read: dict[str, Design] = {}  # those that are not cached
    summaries: dict[str, DesignSummary] = {}
    unread: list[str] = []
    for design_id in ids:
        if design_id in cached:
            summaries[design_id] = cached[design_id].summary
            problems.extend(cached[design_id].warnings)
            continue
        design_problems: list[Problem] = []
        result = read_design(root, design_id, settings, settings_are_whole, design_problems)
        if result is not None:
            design_problems.extend(references.of_design(result.design))
            if result.sound:
                design_problems.extend(implausible_values(root, result.design, settings))
            faulty = not result.sound or bool(errors_in(design_problems))
            summary = summaries[design_id] = summary_of(result.design)
            if faulty or cache is None or not cache.add(result.design, summary):
                read[design_id] = result.design
        if result is None or not result.sound:
            unread.append(design_id)
        problems.extend(design_problems)
    cached_designs = cache.designs(summaries.keys() - read.keys()) if cache is not None else {}

    def designs_by_id(names: Iterable[str]) -> Mapping[str, Design]:
        """The designs with these ids, from those that were read or else from the cache."""

        def source(name: str) -> Mapping[str, Design]:
            return read if name in read else cached_designs

        return LazyValues(
            names, lambda name: source(name)[name], lambda name: cached_digest(source(name), name)
        )

    designs = designs_by_id(summaries)
    problems.extend(references.of_shelf())
    if len(cached) < len(ids):
        problems.extend(ancestry_cycles(designs, summaries))
    problems.extend(batch_clashes(designs, summaries))
    for order in orders.values():
        problems.extend(order_problems(order, designs, unread))
        problems.extend(unknown_batches(order, summaries, unread))
    measures = settings.all_measures() if settings_are_whole else None
    # Names can only be judged against designs that were all read.
    layers = None if unread else {name for one in summaries.values() for name in one.layers}
    for comparison in comparisons.values():
        problems.extend(references.of_comparison(comparison, measures, layers))
    sound = [name for name in summaries if name not in unread]
    return Notebook(
        root=root,
        settings=settings,
        shelf=shelf,
        designs=designs_by_id(sound) if cached_designs else {name: read[name] for name in sound},
        summaries={name: summaries[name] for name in sound},
        comparisons=comparisons,
        orders=orders,
        unreadable=tuple(unread),
        problems=first_of_each_file(problems),
    )


def _read_mapping(root: Path, path: str, problems: list[Problem]) -> WrittenTable | None:
    """Read a YAML file that holds a mapping; None, with problems, if that fails."""
    try:
        tree = parse_yaml(read_text(root, path), path, problems=problems)
    except ContentError as error:
        problems.extend(error.problems)
        return None
    if isinstance(tree, WrittenTable):
        return tree
    problems.append(Problem(tree.at, "the file is no list of keys", 'Write "key: value" lines.'))
    return None


def _read_settings(root: Path, problems: list[Problem]) -> tuple[Settings, bool]:
    """Read the settings; gives them, and whether all measures and symptoms are among them."""
    tree = _read_mapping(root, SETTINGS_FILE, problems)
    # The rest can still be checked, with default settings.
    return read_settings(tree, problems) if tree is not None else (Settings(studio="-"), False)


def _folder_entry(entry: os.DirEntry[str]) -> FolderEntry:
    """Turn an entry of a folder's listing into a ``FolderEntry``; links are followed."""
    is_link = entry.is_symlink()
    # A link in a circle leads nowhere, without a failure.
    is_folder = os.path.isdir(entry.path) if is_link else entry.is_dir(follow_symlinks=False)
    return FolderEntry(entry.name, printable_name(entry.name), is_folder, is_link)


def _folder_entries(root: Path, folder: str, problems: list[Problem]) -> list[FolderEntry] | None:
    """The entries of a folder of the notebook, sorted by name, without hidden files.

    [] if there is no such folder; None, with a problem, if it cannot be read.
    """
    path = root / folder
    at = Position(folder or root.as_posix())
    if not os.path.lexists(path):
        return []
    if folder and os.path.islink(path) and not stays_in_notebook(root, folder):
        problems.append(Problem(at, "the folder is a link out of the notebook", "Copy it in."))
        return None
    try:
        with os.scandir(path) as listing:
            entries = [_folder_entry(entry) for entry in listing if not entry.name.startswith(".")]
    except NotADirectoryError:
        problems.append(Problem(at, "a file stands where a folder belongs", "Move it."))
        return None
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        problems.append(Problem(at, f"the folder cannot be read ({reason})", "Allow reading it."))
        return None
    return sorted(entries)


def _warn_of_unknown_entries(root: Path, problems: list[Problem]) -> None:
    """Add a warning for each folder and YAML file in ``root`` that is no part of a notebook."""
    for entry in _folder_entries(root, "", problems) or ():
        if entry.name == SETTINGS_FILE or entry.name in PARTS:
            continue
        if entry.is_folder or entry.name.endswith((".yaml", ".yml")):
            what = f"{excerpt(entry.name)} is no part of a notebook, and is not read"
            hint = spelling_hint(entry.name, (SETTINGS_FILE, *PARTS))
            problems.append(Problem(Position(entry.shown), what, hint, warning=True))


def _read_shelf(root: Path, problems: list[Problem]) -> Shelf:
    """Read the shelf: all things that can be read; problems are added for the others."""
    kinds: dict[str, Mapping[str, ShelfRecord]] = {}
    unread: set[str] = set()
    written: dict[str, WrittenTable] = {}
    entries = _folder_entries(root, "shelf", problems)
    if entries is None:
        return Shelf(unread=frozenset(KINDS))
    for entry in entries:
        if entry.name == OUTLINES_FOLDER.rpartition("/")[2] and entry.is_folder:
            continue
        kind, _, ending = entry.name.rpartition(".")
        if ending != "yaml" or kind not in KINDS:
            what = f"the shelf has no file {excerpt(entry.name)}"
            hint = spelling_hint(entry.name, [f"{kind}.yaml" for kind in KINDS])
            problems.append(Problem(Position(f"shelf/{entry.shown}"), what, hint))
    for kind, row in KINDS.items():
        path = f"shelf/{kind}.yaml"
        if not may_exist(root, path):
            continue
        tree = _read_mapping(root, path, problems)
        if tree is None:
            unread.add(kind)
            continue
        records: dict[str, ShelfRecord] = {}
        for name, entry in tree.items():
            if bad_id(name):
                problems.append(_bad_id_problem(name, tree.key_at(name)))
                continue
            if not isinstance(entry, WrittenTable):
                hint = "Write its keys below it, indented."
                problems.append(Problem(entry.at, f"{excerpt(name)} has no keys", hint))
                continue
            record = validated(row.record, entry, f"{row.noun} {name}", problems)
            if record is not None:
                records[name] = _with_outline(root, record, entry, problems)
                problems.extend(shelf_entry_problems(record, entry))
                problems.extend(lot_warnings(record, entry))
        kinds[kind] = records
        written[kind] = tree
    return Shelf(**kinds, written=written, unread=frozenset(unread))  # type: ignore[arg-type]


def _with_outline(
    root: Path, record: ShelfRecord, entry: WrittenTable, problems: list[Problem]
) -> ShelfRecord:
    """A mat with the outline that its record names; without one, with problems, if that fails."""
    if not isinstance(record, Mat) or record.outline is None:
        return record
    outline, path = None, f"{OUTLINES_FOLDER}/{record.outline.file}"
    if may_exist(root, path):
        try:
            outline = read_outline(root, record.outline.file)
        except ContentError as error:
            problems.extend(error.problems)
    else:
        hint = "Save the drawing there, or take the key away."
        problems.append(Problem(position_of(entry, "outline"), f"there is no {path}", hint))
    return record.model_copy(update={"outline": outline})


def _bad_id_problem(name: str, at: Position) -> Problem:
    return Problem(at, f"{excerpt(name)} cannot be an id", id_hint(name))


def _bad_page_name(name: str, at: Position) -> Problem | None:
    """The problem of a name that no page can have; None for a sound one."""
    if name in OWN_PAGES:
        what = f"the notebook has a page of its own that is called {excerpt(name)}"
        return Problem(at, what, f"Rename it, such as {name}-2.")
    return _bad_id_problem(name, at) if bad_id(name) else None


def _design_ids(root: Path, problems: list[Problem]) -> list[str]:
    """The ids of all folders in ``designs/`` that hold a write-up; problems for the others."""
    ids = []
    for entry in _folder_entries(root, "designs", problems) or ():
        path = f"designs/{entry.name}"
        at = Position(f"designs/{entry.shown}")
        if not entry.is_folder and not entry.is_link:
            hint = "A design is a folder with a design.md in it."
            problems.append(Problem(at, "a file stands among the designs", hint, warning=True))
        elif entry.is_link and not stays_in_notebook(root, path):
            problems.append(Problem(at, "the folder is a link out of the notebook", "Copy it in."))
        elif not entry.is_folder:
            problems.append(Problem(at, "the link leads nowhere", "Take it away."))
        elif (bad := _bad_page_name(entry.name, at)) is not None:
            problems.append(bad)
        elif not may_exist(root, f"{path}/design.md"):
            what = "the folder has no design.md, and is not read"
            problems.append(Problem(at, what, "Write one, or move the folder.", warning=True))
        else:
            ids.append(entry.name)
    return ids


def _names_in(root: Path, folder: str, suffix: str, problems: list[Problem]) -> list[str]:
    """The names, without the suffix, of the files to be read in a folder; problems for others."""
    names = []
    for entry in _folder_entries(root, folder, problems) or ():
        at = Position(f"{folder}/{entry.shown}")
        name = entry.name.removesuffix(suffix)
        if entry.is_folder or name == entry.name:
            what = f"the {'folder' if entry.is_folder else 'file'} is not read"
            problems.append(Problem(at, what, f"Files here end in {suffix}.", warning=True))
        elif (bad := _bad_page_name(name, at)) is not None:
            problems.append(bad)
        else:
            names.append(name)
    return names


def _read_comparisons(root: Path, problems: list[Problem]) -> dict[str, ComparisonFile]:
    """Read the questions across designs, by id; problems are added for unreadable ones."""
    comparisons = {}
    for name in _names_in(root, "comparisons", ".md", problems):
        path = f"comparisons/{name}.md"
        try:
            parts = split_write_up(read_text(root, path), path, problems)
        except ContentError as error:
            problems.extend(error.problems)
            continue
        problems.extend(prose_problems(parts.body, path, parts.body_line))
        question = validated(WrittenComparison, parts.front, "comparison", problems)
        if question is not None:
            source = SourceTree(parts.front)
            comparison = ComparisonFile(name, path, question, parts.body, parts.body_line, source)
            comparisons[name] = comparison
    return comparisons


def _read_orders(root: Path, problems: list[Problem]) -> dict[str, OrderFile]:
    """Read the orders, by id; problems are added for unreadable ones."""
    orders = {}
    for name in _names_in(root, "orders", ".yaml", problems):
        path = f"orders/{name}.yaml"
        tree = _read_mapping(root, path, problems)
        order = validated(WrittenOrder, tree, "order", problems) if tree is not None else None
        if order is not None and tree is not None:
            orders[name] = OrderFile(name, path, order, SourceTree(tree))
    return orders
