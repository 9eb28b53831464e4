"""``journal figures``: all figures as JSON, or as CSV tables."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path

from journal.cli.check import problem_json
from journal.cli.terminal import counted, print_json, print_lines, print_problems
from journal.cli.used import (
    faulty_designs,
    require_bench,
    require_known,
    require_sound,
    without_designs,
)
from journal.comparison.as_json import figures_json
from journal.comparison.as_tables import (
    comparison_tables,
    conditions_table,
    merge_tables,
    worth_table,
)
from journal.comparison.as_tables_poured import poured_tables
from journal.comparison.derive import ComparisonResults, compare_designs
from journal.errors import Problem, UsageError, errors_in
from journal.figures.as_tables import FigureTable, figure_tables, wear_table
from journal.figures.derive import AllFigures
from journal.figures.pieces.derive_pieces import derive_pieces
from journal.output import write_file, write_new_files
from journal.photos.derive import figures_with_photos
from journal.records.notebook import Notebook, read_notebook

# A row for each error of a design that has no figures for it.
_LEFT_OUT = ("design", "path", "line", "column", "what", "mend")


def figures(args: argparse.Namespace) -> int:
    """Run ``journal figures``; gives the exit status."""
    if args.decimal != "." and args.csv is None:
        raise UsageError("JSON has a point in its numbers", "Add --csv DIR for tables.")
    notebook = read_notebook(args.content)
    require_known(notebook, args.designs)
    problems, left_out = notebook.problems, faulty_designs(notebook)
    if args.designs:
        require_sound(notebook, args.designs)
        left_out = {}
    else:
        require_bench(notebook)
        notebook = without_designs(notebook, left_out)
    derived = figures_with_photos(notebook)
    compared = compare_designs(notebook)
    if args.csv is not None:
        tables = _tables(notebook, derived, compared, args.designs, left_out)
        files = {f"{one.name}.csv": one.text(args.decimal).encode("utf-8") for one in tables}
        _write_tables(files, notebook, args.csv)
        rows = counted(sum(len(table.rows) for table in tables), "row")
        print_lines(f"Wrote {counted(len(tables), 'table')} with {rows} into {args.csv}.")
    else:
        values = figures_json(notebook, derived, compared, args.designs)
        values["left_out"] = {name: [*map(problem_json, of)] for name, of in left_out.items()}
        print_json(values)
    folders = tuple(f"designs/{name}/" for name in args.designs)
    errors = errors_in(
        problem
        for problem in (*(() if folders else problems), *derived.problems)
        if not folders or problem.position.path.startswith(folders)
    )
    print_problems(sorted(set(errors)), args.content)
    return 1 if errors else 0


def _tables(
    notebook: Notebook,
    figures: AllFigures,
    compared: ComparisonResults,
    designs: Sequence[str],
    left_out: Mapping[str, tuple[Problem, ...]],
) -> tuple[FigureTable, ...]:
    """All tables, of these designs or of all."""
    errors = [
        (name, one.position.path, one.position.line, one.position.column, one.what, one.hint)
        for name, problems in left_out.items()
        for one in problems
    ]
    return merge_tables(
        (
            *figure_tables(notebook, figures, derive_pieces(notebook), designs),
            *poured_tables(notebook, designs),
            FigureTable("left_out", _LEFT_OUT, tuple(errors)),
            *comparison_tables(compared, designs),
            worth_table(notebook, figures, compared, designs),
            conditions_table(compared, designs),
            wear_table(notebook, figures, designs),
        )
    )


def _write_tables(files: Mapping[str, bytes], notebook: Notebook, into: Path) -> None:
    """Write files into a folder outside the notebook's.

    A new folder appears whole; in an old one only files of the same names are replaced.
    """
    if into.resolve().is_relative_to(notebook.root.resolve()):
        raise UsageError(
            f'"{into}" lies in "{notebook.root}", which is only read', "Name a folder elsewhere."
        )
    if into.exists():
        for name, content in sorted(files.items()):
            write_file(into / name, content, follow=False)
    else:
        write_new_files(files, into)
