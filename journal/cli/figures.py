"""``journal figures``: all figures as JSON, or as CSV tables."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path

from journal.cli.terminal import counted, print_lines
from journal.cli.used import require_known, require_sound
from journal.comparison.as_json import figures_json
from journal.comparison.as_tables import comparison_tables, merge_tables
from journal.comparison.derive import ComparisonResults, compare_designs
from journal.errors import UsageError
from journal.figures.as_tables import figure_tables
from journal.figures.derive import AllFigures
from journal.figures.pieces.derive_pieces import derive_pieces
from journal.output import write_file, write_new_files
from journal.photos.derive import figures_with_photos
from journal.records.notebook import Notebook, read_notebook


def figures(args: argparse.Namespace) -> int:
    """Run ``journal figures``; gives the exit status."""
    notebook = read_notebook(args.content)
    require_known(notebook, args.designs)
    derived = figures_with_photos(notebook)
    require_sound(notebook, derived, args.designs)
    compared = compare_designs(notebook)
    if args.csv is not None:
        print_lines(_write_tables(notebook, derived, compared, args.designs, args.csv))
        return 0
    values = figures_json(notebook, derived, compared, args.designs)
    print_lines(json.dumps(values, indent=2, ensure_ascii=False, allow_nan=False))
    return 0


def _write_tables(
    notebook: Notebook,
    figures: AllFigures,
    compared: ComparisonResults,
    designs: Sequence[str],
    into: Path,
) -> str:
    """Write the tables of these designs, or of all, into a folder; gives a line to report.

    A new folder appears whole; in an old one only files of the tables' names are replaced.
    """
    of_figures = figure_tables(notebook, figures, derive_pieces(notebook), designs)
    tables = merge_tables((*of_figures, *comparison_tables(compared, designs)))
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
