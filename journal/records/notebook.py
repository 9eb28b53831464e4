"""The whole notebook: every file read, checked, and checked against the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from journal.errors import ContentError, Position, Problem
from journal.records.asked import AcrossDesigns, Comparison, Order, WrittenOrder
from journal.records.crossed import crossed
from journal.records.designs import ID_MEND, bad_id, read_design
from journal.records.settings import Settings
from journal.records.shelf import KINDS, ONE, Shelf, ShelfRecord
from journal.records.source import Table, parse_yaml, read_text, split_write_up
from journal.records.typed import checked, nearest
from journal.records.write_up import Design

SETTINGS_FILE = "journal.yaml"
PARTS = ("shelf", "designs", "comparisons", "orders", "theme")


@dataclass(frozen=True, slots=True)
class Notebook:
    """Everything the maker wrote, checked.

    ``problems`` are sorted by place; a design that could not be read is in
    ``unread``, not in ``designs``.
    """

    root: Path
    settings: Settings
    shelf: Shelf
    designs: Mapping[str, Design]
    comparisons: Mapping[str, Comparison] = field(default_factory=dict)
    orders: Mapping[str, Order] = field(default_factory=dict)
    unread: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def errors(self) -> tuple[Problem, ...]:
        """Problems that stop a build."""
        return tuple(problem for problem in self.problems if not problem.warning)

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """Problems that the maker is told of."""
        return tuple(problem for problem in self.problems if problem.warning)


def read_notebook(root: Path) -> Notebook:
    """Read and check the whole notebook in ``root``.

    Fails:  never for what stands in the files: see ``Notebook.problems``;
            ContentError if there is no notebook in ``root`` at all
    """
    if not root.is_dir():
        raise ContentError(
            (
                Problem(
                    Position(root.as_posix()),
                    "there is no notebook here",
                    "Begin one with: journal begin " + root.as_posix(),
                ),
            )
        )
    problems: list[Problem] = []
    settings = _settings(root, problems)
    _strangers(root, problems)
    shelf = _shelf(root, problems)
    measures, symptoms = settings.all_measures(), settings.all_symptoms()
    designs: dict[str, Design] = {}
    unread: list[str] = []
    for design_id in _folders(root, problems):
        design = read_design(root, design_id, measures, symptoms, problems)
        if design is None:
            unread.append(design_id)
        else:
            designs[design_id] = design
    comparisons = _comparisons(root, problems)
    orders = _orders(root, problems)
    problems.extend(crossed(root, settings, shelf, designs, frozenset(unread), comparisons, orders))
    return Notebook(
        root=root,
        settings=settings,
        shelf=shelf,
        designs=designs,
        comparisons=comparisons,
        orders=orders,
        unread=tuple(unread),
        problems=tuple(sorted(set(problems))),
    )


def _tree(root: Path, path: str, problems: list[Problem]) -> Table | None:
    try:
        tree = parse_yaml(read_text(root, path), path)
    except ContentError as error:
        problems.extend(error.problems)
        return None
    if not isinstance(tree, Table):
        problems.append(
            Problem(tree.at, "the file is no list of keys", 'Write "key: value" lines.')
        )
        return None
    return tree


def _settings(root: Path, problems: list[Problem]) -> Settings:
    tree = _tree(root, SETTINGS_FILE, problems)
    found = checked(Settings, tree, SETTINGS_FILE, problems) if tree is not None else None
    if found is not None:
        for name, added in found.measures.items():
            try:
                Settings(studio="-", measures={name: added}).all_measures()
            except ValueError as error:
                assert tree is not None
                problems.append(
                    Problem(
                        tree["measures"][name]["matters"].at,
                        getattr(error, "what", str(error)),
                        getattr(error, "mend", ""),
                    )
                )
                found = None
                break
    # The rest can still be checked, with settings that say nothing.
    return found if found is not None else Settings(studio="-")


def _strangers(root: Path, problems: list[Problem]) -> None:
    for entry in sorted(root.iterdir()):
        if entry.name.startswith(".") or entry.name == SETTINGS_FILE or entry.name in PARTS:
            continue
        if entry.suffix in (".yaml", ".yml") or entry.is_dir():
            problems.append(
                Problem(
                    Position(entry.name),
                    f'"{entry.name}" is no part of a notebook, and is not read',
                    nearest(entry.name, (SETTINGS_FILE, *PARTS)),
                    warning=True,
                )
            )


def _shelf(root: Path, problems: list[Problem]) -> Shelf:
    kinds: dict[str, Mapping[str, ShelfRecord]] = {}
    written: dict[str, Table] = {}
    folder = root / "shelf"
    for file in sorted(folder.glob("*")) if folder.is_dir() else ():
        if not file.name.startswith(".") and (file.suffix != ".yaml" or file.stem not in KINDS):
            problems.append(
                Problem(
                    Position(f"shelf/{file.name}"),
                    f'the shelf has no file "{file.name}"',
                    nearest(file.name, [f"{kind}.yaml" for kind in KINDS]),
                )
            )
    for kind, model in KINDS.items():
        path = f"shelf/{kind}.yaml"
        if not (root / path).exists():
            continue
        tree = _tree(root, path, problems)
        if tree is None:
            continue
        records: dict[str, ShelfRecord] = {}
        for name, entry in tree.items():
            if bad_id(name):
                problems.append(Problem(tree.keys_at[name], f'"{name}" cannot be an id', ID_MEND))
                continue
            if not isinstance(entry, Table):
                problems.append(
                    Problem(
                        entry.at, f'"{name}" is no mapping', "Write its keys below it, indented."
                    )
                )
                continue
            record = checked(model, entry, f"{ONE[kind]} {name}", problems)
            if record is not None:
                records[name] = record
        kinds[kind] = records
        written[kind] = tree
    return Shelf(**kinds, written=written)  # type: ignore[arg-type]


def _folders(root: Path, problems: list[Problem]) -> list[str]:
    folder = root / "designs"
    if not folder.is_dir():
        return []
    found = []
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.name.startswith("."):
            continue
        path = f"designs/{entry.name}"
        if not entry.is_dir():
            problems.append(
                Problem(Position(path), "a file stands among the designs",
                        "A design is a folder with a design.md in it.", warning=True)
            )  # fmt: skip
        elif not entry.resolve().is_relative_to(root.resolve()):
            problems.append(
                Problem(Position(path), "the folder is a link out of the notebook", "Copy it in.")
            )
        elif bad_id(entry.name):
            problems.append(Problem(Position(path), f'"{entry.name}" cannot be an id', ID_MEND))
        elif not (entry / "design.md").exists():
            problems.append(
                Problem(Position(path), "the folder has no design.md, and is not read",
                        "Write one, or move the folder.", warning=True)
            )  # fmt: skip
        else:
            found.append(entry.name)
    return found


def _files(root: Path, folder: str, suffix: str, problems: list[Problem]) -> list[str]:
    if not (root / folder).is_dir():
        return []
    found = []
    for entry in sorted((root / folder).iterdir(), key=lambda entry: entry.name):
        if entry.name.startswith(".") or not entry.is_file():
            continue
        if entry.suffix != suffix:
            problems.append(
                Problem(Position(f"{folder}/{entry.name}"), "the file is not read",
                        f"Files here end in {suffix}.", warning=True)
            )  # fmt: skip
        elif bad_id(entry.stem):
            problems.append(
                Problem(
                    Position(f"{folder}/{entry.name}"), f'"{entry.stem}" cannot be an id', ID_MEND
                )
            )
        else:
            found.append(entry.stem)
    return found


def _comparisons(root: Path, problems: list[Problem]) -> dict[str, Comparison]:
    found = {}
    for name in _files(root, "comparisons", ".md", problems):
        path = f"comparisons/{name}.md"
        try:
            parts = split_write_up(read_text(root, path), path)
        except ContentError as error:
            problems.extend(error.problems)
            continue
        asked = checked(AcrossDesigns, parts.front, "comparison", problems)
        if asked is not None:
            found[name] = Comparison(name, path, asked, parts.body, parts.body_line, parts.front)
    return found


def _orders(root: Path, problems: list[Problem]) -> dict[str, Order]:
    found = {}
    for name in _files(root, "orders", ".yaml", problems):
        path = f"orders/{name}.yaml"
        tree = _tree(root, path, problems)
        asked = checked(WrittenOrder, tree, "order", problems) if tree is not None else None
        if asked is not None and tree is not None:
            found[name] = Order(name, path, asked, tree)
    return found
