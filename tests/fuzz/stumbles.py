"""What a stumble is, and how the first of each kind is kept for whoever mends it."""

from __future__ import annotations

import hashlib
import traceback
from collections.abc import Iterable
from pathlib import Path

from journal.errors import Problem


def lines_of(raw: bytes) -> list[str]:
    """The lines of a file as places count them."""
    text = raw.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def refuse_without_place(root: Path, problems: Iterable[Problem]) -> None:
    """Fail on a problem that says nothing, or names no place that there is in ``root``."""
    for problem in problems:
        at, said = problem.position, str(problem)
        assert problem.what, said
        assert "\n" not in said, said
        assert len(said) < 700, said
        assert at.path, said
        assert at.line >= 1, said
        assert at.column >= 1, said
        if (root / at.path).is_file():
            lines = lines_of((root / at.path).read_bytes())
            assert at.line <= len(lines), said
            assert at.column <= len(lines[at.line - 1]) + 2, said


def keep_first(folder: Path, stumble: BaseException, data: bytes) -> bool:
    """Write the first stumble of its kind, and the input that led to it; whether it was new.

    Its kind is its type and where it was raised.
    """
    steps = traceback.extract_tb(stumble.__traceback__)
    kind = repr([type(stumble).__name__, *[(s.filename, s.lineno) for s in steps[-6:]]])
    file = folder / hashlib.sha256(kind.encode()).hexdigest()[:12]
    if file.exists():
        return False
    file.write_bytes(data)
    file.with_suffix(".txt").write_text(
        "".join(traceback.format_exception(stumble)), encoding="utf-8", errors="replace"
    )
    return True
