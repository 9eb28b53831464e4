"""``journal check``: every error and warning, with its place and a hint."""

from __future__ import annotations

import argparse
import json

from journal.build_options import BuildOptions
from journal.building import check_notebook
from journal.cli.progress import with_progress_bar
from journal.cli.terminal import counted, print_lines, print_problems
from journal.errors import Problem, errors_in


def check(args: argparse.Namespace) -> int:
    """Run ``journal check``; gives the exit status 1 if there is an error.

    Everything is laid out as a build would, so that what a build stumbles on is told here.
    """
    # No folder is written, so none is named.
    options = BuildOptions(args.content, args.content, args.edition)
    checked = check_notebook(options, with_progress_bar)
    problems = checked.problems
    errors = errors_in(problems)
    if args.json:
        print_lines(json.dumps(list(map(problem_json, problems)), indent=2, ensure_ascii=False))
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
