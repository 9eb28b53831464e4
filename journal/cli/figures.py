"""``journal figures``: all figures as JSON, or as CSV tables."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from journal.cli.check import problem_json
from journal.cli.terminal import counted, print_lines, print_problems
from journal.cli.used import (
    faulty_designs,
    require_bench,
    require_known,
    require_sound,
    without_designs,
)
from journal.comparison.as_json import figures_json
from journal.comparison.as_tables import comparison_tables, merge_tables
from journal.comparison.derive import ComparisonResults, compare_designs
from journal.errors import Problem, UsageError, errors_in
from journal.figures.as_tables import FigureTable, figure_tables
from journal.figures.derive import AllFigures
from journal.figures.pieces.derive_pieces import derive_pieces
from journal.output import write_file, write_new_files
from journal.photos.derive import figures_with_photos
from journal.records.notebook import Notebook, read_notebook

# A row for each error of a design that has no figures for it.
_LEFT_OUT = ("design", "path", "line", "column", "what", "mend")


def figures(args: argparse.Namespace) -> int:
    """Run ``journal figures``; gives the exit status."""
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
        print_lines(_write_tables(notebook, derived, compared, args.designs, left_out, args.csv))
    else:
        values = figures_json(notebook, derived, compared, args.designs)
        values["left_out"] = {name: [*map(problem_json, of)] for name, of in left_out.items()}
        print_lines(json.dumps(values, indent=2, ensure_ascii=False, allow_nan=False))
    folders = tuple(f"designs/{name}/" for name in args.designs)
    errors = errors_in(
        problem
        for problem in (*(() if folders else problems), *derived.problems)
        if not folders or problem.position.path.startswith(folders)
    )
    print_problems(sorted(set(errors)), args.content)
    return 1 if errors else 0


def _write_tables(
    notebook: Notebook,
    figures: AllFigures,
    compared: ComparisonResults,
    designs: Sequence[str],
    left_out: Mapping[str, tuple[Problem, ...]],
    into: Path,
) -> str:
    """Write the tables of these designs, or of all, into a folder; gives a line to report.

    A new folder appears whole; in an old one only files of the tables' names are replaced.
    """
    of_figures = figure_tables(notebook, figures, derive_pieces(notebook), designs)
    errors = [
        (name, one.position.path, one.position.line, one.position.column, one.what, one.hint)
        for name, problems in left_out.items()
        for one in problems
    ]
    without = FigureTable("left_out", _LEFT_OUT, tuple(errors))
    tables = merge_tables((*of_figures, without, *comparison_tables(compared, designs)))
    if into.resolve().is_relative_to(notebook.root.resolve()):
        raise UsageError(
            f'"{into}" lies in "{notebook.root}", which is only read', "Name a folder elsewhere."
        )
    files = {f"{table.name}.csv": table.text.encode("utf-8") for table in tables}
    if into.exists():
        for name, content in sorted(files.items()):
            write_file(into / name, content, follow=False)
    else:
        write_new_files(files, into)
    rows = sum(len(table.rows) for table in tables)
    return f"Wrote {counted(len(files), 'table')} with {counted(rows, 'row')} into {into}."
