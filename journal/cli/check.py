"""``journal check``: every error and warning, with its place and a hint."""

from __future__ import annotations

import argparse

from journal.cli.terminal import counted, print_json, print_lines, print_problems
from journal.errors import Problem, errors_in
from journal.figures.derive import derive_figures
from journal.html.theme import own_theme_problems
from journal.photos.derive import unreadable_photos
from journal.records.notebook import read_notebook


def check(args: argparse.Namespace) -> int:
    """Run ``journal check``; gives the exit status 1 if there is an error."""
    notebook = read_notebook(args.content)
    problems = sorted(
        {
            *notebook.problems,
            *derive_figures(notebook, models=False).problems,
            *unreadable_photos(notebook),
            *own_theme_problems(notebook.settings.theme, args.content),
        }
    )
    errors = errors_in(problems)
    if args.json:
        print_json(list(map(problem_json, problems)))
    else:
        print_problems(problems, args.content)
        designs = len(notebook.designs) + len(notebook.unreadable)
        print_lines(
            f"{counted(designs, 'design')} read: {counted(len(errors), 'error')},"
            f" {counted(len(problems) - len(errors), 'warning')}."
        )
    return 1 if errors else 0


def problem_json(problem: Problem) -> dict[str, object]:
    """A problem as JSON, for other programs."""
    return {
        "kind": "warning" if problem.warning else "error",
        "path": problem.position.path,
        "line": problem.position.line,
        "column": problem.position.column,
        "what": problem.what,
        "mend": problem.hint,
    }
