"""``journal check``: every error and warning, with its place and a hint."""

from __future__ import annotations

import argparse

from journal.build_options import BuildOptions
from journal.building import check_notebook
from journal.cli.clock import today
from journal.cli.progress import with_progress_bar
from journal.cli.terminal import counted, print_json, print_lines, print_problems
from journal.errors import Problem, errors_in
from journal.figures.lots.derive_trace import past_on_shelf


def check(args: argparse.Namespace) -> int:
    """Run ``journal check``; gives the exit status 1 if there is an error.

    Everything is laid out as a build would, so that what a build stumbles on is told here. What
    is past its date on the shelf goes by the day that is given: a build says nothing of it.
    """
    # No folder is written, so none is named.
    options = BuildOptions(args.content, args.content, args.edition)
    checked = check_notebook(options, with_progress_bar)
    past = () if checked.shelf is None else past_on_shelf(checked.shelf, args.on or today())
    problems = tuple(sorted({*checked.problems, *past}))
    errors = errors_in(problems)
    if args.json:
        print_json(list(map(problem_json, problems)))
    else:
        print_problems(problems, args.content)
        print_lines(
            f"{counted(checked.designs, 'design')} read: {counted(len(errors), 'error')},"
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
