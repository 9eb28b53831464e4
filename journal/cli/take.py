"""``journal take``: hand-ins of the bench page and tables of pours into a write-up, after a yes."""

from __future__ import annotations

import argparse
import difflib
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path

from journal.cli.taken_photos import find_photos
from journal.cli.terminal import (
    at_terminal,
    counted,
    print_lines,
    print_problems,
    print_text,
    wrapped,
)
from journal.errors import ContentError, Problem, UsageError
from journal.output import write_file, write_new_files
from journal.quantities.number import excerpt
from journal.records.models.fields import spelling_hint
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook, read_notebook
from journal.records.taking.edit import EditFailed, NoBlock
from journal.records.taking.hand_in import HandIn, is_hand_in, read_hand_ins
from journal.records.taking.tables import TakenColumn, TakenTable, table_of
from journal.records.taking.take import TakenChange, take_hand_ins, take_tables, with_photos
from journal.records.yaml.tree import WrittenText

YES = ("yes", "y")
_NONE: Mapping[str, Path] = {}
#: Works out what is to be written, and adds what is wrong to its list.
WorkOut = Callable[[list[Problem]], TakenChange | None]


def take(args: argparse.Namespace) -> int:
    """Run ``journal take``; gives the exit status."""
    notebook = read_notebook(args.content)
    problems: list[Problem] = []
    try:
        hand_ins = [one for file in args.files if is_hand_in(file)
                    for one in read_hand_ins(file, problems)]  # fmt: skip
        tables = [table_of(file, problems) for file in args.files if not is_hand_in(file)]
    except ContentError as error:
        print_problems(error.problems, args.content)
        return 1
    if hand_ins and tables:
        raise UsageError("hand-ins and tables stand side by side", "Take one kind after the other.")
    if args.pour is not None:
        _put_label(hand_ins, args.pour)
    print_problems(problems, args.content)
    if tables:
        design = _design(notebook, args.into)
        return _write(args, notebook, design, partial(take_tables, notebook, design, tables))
    names = dict.fromkeys(str(one.design) for one in hand_ins)
    if args.into is not None and set(names) != {args.into}:
        what = f'this was handed in for "{next(n for n in names if n != args.into)}"'
        raise UsageError(what, f'Leave away "--into {args.into}".')
    status = 0
    for name in names:
        design = _design(notebook, name)
        own = [one for one in hand_ins if one.design == name]
        taking = partial(take_hand_ins, notebook, name, own)
        status = max(status, _write(args, notebook, design, taking))
    return status


def _put_label(hand_ins: Sequence[HandIn], label: str) -> None:
    """Call the pour that is handed in by a letter; UsageError if there is not one alone."""
    pours = [one.pour for one in hand_ins if one.pour is not None]
    if len(pours) != 1:
        hint = "Name the file of one hand-in."
        raise UsageError(f"--pour names one pour, and {len(pours)} are handed in", hint)
    pours[0].put("pour", WrittenText(label, pours[0].at), pours[0].at)


def _write(args: argparse.Namespace, notebook: Notebook, design: Design, work_out: WorkOut) -> int:
    """Show a change of one write-up, ask, and write it; gives the exit status."""
    path = args.content / design.path
    found = [one for one in notebook.errors if one.position.path == design.path]
    if found:
        print_problems(found, args.content)
        return 1
    change = worked_out(args.content, design.path, work_out)
    if change is None:
        return 1
    for table in change.tables:
        print_lines(*_table_lines(table))
    copies: Mapping[str, Path] = {}
    if args.photos is not None:
        named = [photo.file for photo in design.photos]
        photos = find_photos(args.photos, path.parent / "photos", change.pours, named)
        copies = photos.copies
        if photos.rows:
            with_rows = partial(with_photos, notebook, design.id, change, photos.rows)
            found_change = worked_out(args.content, design.path, lambda _: with_rows())
            if found_change is None:
                return 1
            change = found_change
    if change.before == change.after:
        print_lines(f"All of it is in {path} already. Nothing was written.")
        return 0
    print_change(change)
    if not args.yes and not _agreed(str(path)):
        print_lines("Nothing was written.")
        return 0
    write_change(args.content, change, copies)
    return 0


def worked_out(content: Path, design_path: str, work_out: WorkOut) -> TakenChange | None:
    """What a write-up is to become; None once it is said why it cannot be.

    Fails:  UsageError if nothing can be put into the write-up
    """
    path = content / design_path
    problems: list[Problem] = []
    try:
        change = work_out(problems)
    except ContentError as error:
        print_problems(error.problems, content)
        return None
    except NoBlock as error:
        print_lines(
            f"Nothing was written: in {path}, {error.place} is not written line by line.",
            "Paste this there yourself:", "",
        )  # fmt: skip
        print_text(f"{error.text}\n")  # to be copied as it is
        return None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        what = f'"{path}" cannot be read: {reason}'
        raise UsageError(what, "Put it back. Nothing was written.") from None
    except EditFailed:
        what = f'"{path}" is laid out in a way that nothing can be put into'
        raise UsageError(what, "Type the pour in by hand. Nothing was written.") from None
    print_problems(problems, content)
    if change is None:
        print_lines("Nothing was written.")
    return change


def write_change(content: Path, change: TakenChange, copies: Mapping[str, Path] = _NONE) -> None:
    """Write a change that was agreed to, and copies of photos beside the write-up, by their names.

    OutputError if the write-up is another meanwhile.
    """
    path = content / change.path
    if copies:
        # First: a photo that no row names does no harm, a row without its photo does.
        write_new_files(copies, path.parent, "photos")
        print_lines(f"Copied {counted(len(copies), 'photo')}: say in the write-up what each shows.")
    write_file(path, change.after, was=change.before)
    print_lines(f"Wrote it into {path}. Everything else there is as it was.")


def print_change(change: TakenChange) -> None:
    """Print the lines of a write-up that change, and what is new in words."""
    print_text("".join(f"{line}\n" for line in ("", *_difference(change), "")))
    print_lines(_printable(f"New: {', '.join(change.added)}."))


def _design(notebook: Notebook, name: str | None) -> Design:
    """The design of that name, or the only one."""
    names = sorted(notebook.designs)
    if name is None:
        if len(names) != 1:
            raise UsageError("it is not said which write-up", "Add --into and the design's id.")
        (name,) = names
    if name not in notebook.designs:
        raise UsageError(f'no design is called "{name}"', spelling_hint(name, names))
    return notebook.designs[name]


_KINDS = {
    "bars": "a bar in each row", "readings": "temperatures of pots", "later": "later looks at bars",
    "pours": "a pour in each row",
}  # fmt: skip


def _table_lines(table: TakenTable) -> Iterator[str]:
    """What a table was taken for, and each of its columns."""
    yield f"{table.path}: {counted(table.rows, 'row')}, {_KINDS[table.of]}."
    taken = [_column_text(one) for one in table.columns if one.name]
    yield from wrapped(f"Columns: {', '.join(taken)}.")
    for one in table.columns:
        if not one.name:
            yield from wrapped(f"Left out: {excerpt(one.written)}, which is not known. {one.hint}")


def _column_text(column: TakenColumn) -> str:
    """A column and what it was taken for, such as ``"Lip, mm" as lip in mm``."""
    if not column.unit and column.written == column.name:
        return column.name
    return f"{excerpt(column.written)} as {column.name}" + (
        f" in {column.unit}" if column.unit else ""
    )


def _difference(change: TakenChange) -> Iterator[str]:
    """The lines of the write-up that change, with two above and below."""
    before, after = (text.decode("utf-8").splitlines() for text in (change.before, change.after))
    lines = difflib.unified_diff(before, after, change.path, change.path, n=2, lineterm="")
    for line in lines:
        yield _printable(line)


def _printable(line: str) -> str:
    """A line without what a terminal takes for more than text."""
    return "".join(c if c.isprintable() else "\ufffd" for c in line)


def _agreed(path: str) -> bool:
    """Whether the maker agrees; UsageError where nobody can be asked."""
    if not (at_terminal(sys.stdin) and at_terminal(sys.stdout)):
        raise UsageError(f"nobody can be asked whether to write into {path}", "Add --yes.")
    try:
        return input(f"Write this into {path}? (yes, no): ").strip().lower() in YES
    except EOFError:
        return False
