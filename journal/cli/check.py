"""``journal check``: every error and warning, with its place and a hint."""

from __future__ import annotations

import argparse
import json

from journal.cli.terminal import counted, print_lines, print_problems
from journal.errors import Problem, errors_in
from journal.figures.derive import derive_figures
from journal.html.theme import own_problems
from journal.photos.named import unreadable_photos
from journal.records.notebook import read_notebook


def check(args: argparse.Namespace) -> int:
    """``journal check``; exit status 1 if there is an error."""
    notebook = read_notebook(args.content)
    found = sorted(
        {
            *notebook.problems,
            *derive_figures(notebook, models=False).problems,
            *unreadable_photos(notebook),
            *own_problems(notebook.settings.theme, args.content),
        }
    )
    errors = errors_in(found)
    if args.json:
        print_lines(
            json.dumps([problem_json(problem) for problem in found], indent=2, ensure_ascii=False)
        )
        return 1 if errors else 0
    print_problems(found, args.content)
    warnings = len(found) - len(errors)
    print_lines(
        f"{counted(len(notebook.designs) + len(notebook.unread), 'design')} read:"
        f" {counted(len(errors), 'error')}, {counted(warnings, 'warning')}."
    )
    return 1 if errors else 0


def problem_json(problem: Problem) -> dict[str, object]:
    """A problem for other programs."""
    return {
        "kind": "warning" if problem.warning else "error",
        "path": problem.position.path,
        "line": problem.position.line,
        "column": problem.position.column,
        "what": problem.what,
        "mend": problem.hint,
    }
