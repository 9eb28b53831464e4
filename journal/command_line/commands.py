"""What each command does: the order of stages, and a line or two of what was done."""

from __future__ import annotations

import argparse
import json
import webbrowser
from pathlib import Path

from journal.command_line.building import build_notebook, built_lines
from journal.command_line.compared import comparison_lines
from journal.command_line.tables import write_tables
from journal.command_line.terminal import counted, say, say_problems
from journal.command_line.unchanged import Asked
from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.errors import ContentError, Problem, UsageError
from journal.figures.derive import Figures, derive_figures
from journal.output import lay_down
from journal.records.notebook import Notebook, read_notebook
from journal.records.typed import nearest

STARTER = Path(__file__).resolve().parent.parent / "starter"


def begin(asked: argparse.Namespace) -> int:
    """``journal begin DIR``."""
    files: dict[str, bytes | Path] = {
        path.relative_to(STARTER).as_posix(): path
        for path in sorted(STARTER.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }
    lay_down(files, asked.dir)
    say(
        f"Laid out a notebook in {asked.dir}: {counted(len(files), 'file')}.",
        f"Build it with: journal build --content {asked.dir} --open",
    )
    return 0


def check(asked: argparse.Namespace) -> int:
    """``journal check``."""
    notebook = read_notebook(asked.content)
    found = all_problems(notebook, derive_figures(notebook, models=False))
    errors = [problem for problem in found if not problem.warning]
    if asked.json:
        say(json.dumps([problem_json(problem) for problem in found], indent=2, ensure_ascii=False))
        return 1 if errors else 0
    say_problems(found, asked.content)
    warnings = len(found) - len(errors)
    say(
        f"{counted(len(notebook.designs) + len(notebook.unread), 'design')} read:"
        f" {counted(len(errors), 'error')}, {counted(warnings, 'warning')}."
    )
    return 1 if errors else 0


def figures(asked: argparse.Namespace) -> int:
    """``journal figures``."""
    notebook = read_notebook(asked.content)
    _only_known(notebook, asked.designs)
    derived = derive_figures(notebook)
    _require_sound(notebook, derived, asked.designs)
    compared = compare_designs(notebook)
    if asked.csv is not None:
        say(write_tables(notebook, derived, compared, asked.designs, asked.csv))
        return 0
    found = figures_json(notebook, derived, compared, asked.designs)
    say(json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False))
    return 0


def compare(asked: argparse.Namespace) -> int:
    """``journal compare``."""
    notebook = read_notebook(asked.content)
    known = [*notebook.designs, *notebook.comparisons]
    if asked.id is not None and asked.id not in known:
        raise UsageError(
            f'no design or comparison is called "{asked.id}"', nearest(asked.id, known)
        )
    derived = derive_figures(notebook, models=False)
    _require_sound(notebook, derived, [asked.id] if asked.id in notebook.designs else [])
    compared = compare_designs(notebook)
    lines = comparison_lines(notebook, compared, asked.id)
    say(*(lines or ("Nothing to compare yet: no design has poured two variants.",)))
    return 0


def build(asked: argparse.Namespace) -> int:
    """``journal build``."""
    built = build_notebook(Asked(asked.content, asked.out, asked.edition, asked.bars, asked.theme))
    say_problems(built.warnings, asked.content)
    say(*built_lines(built, asked.out))
    if asked.open:
        open_in_browser(asked.out)
    return 0


def all_problems(notebook: Notebook, derived: Figures) -> tuple[Problem, ...]:
    """What reading and reckoning found, sorted by place."""
    return tuple(sorted({*notebook.problems, *derived.problems}))


def problem_json(problem: Problem) -> dict[str, object]:
    """A problem for other programs."""
    return {
        "kind": "warning" if problem.warning else "error",
        "path": problem.position.path,
        "line": problem.position.line,
        "column": problem.position.column,
        "what": problem.what,
        "mend": problem.mend,
    }


def _only_known(notebook: Notebook, designs: list[str]) -> None:
    known = [*notebook.designs, *notebook.unread]
    for name in designs:
        if name not in known:
            raise UsageError(f'no design is called "{name}"', nearest(name, known))


def _require_sound(notebook: Notebook, derived: Figures, designs: list[str]) -> None:
    """Raise ContentError for errors in what is used: these designs, or everything."""
    paths = [f"designs/{name}/" for name in designs]
    used = ("journal.yaml", "shelf/", *paths)
    found = tuple(
        problem
        for problem in all_problems(notebook, derived)
        if not problem.warning and (not designs or problem.position.path.startswith(used))
    )
    if found:
        raise ContentError(found)


def open_in_browser(out: Path) -> None:
    """Open the notebook's first page."""
    webbrowser.open((out / "index.html").resolve().as_uri())
