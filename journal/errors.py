"""Problems and errors: what is wrong, in which place, and how it is put into words.

Every message for the maker has one form, made here and nowhere else:
``file:line:column: what is wrong. How to mend it.``
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Final

from msgspec import Struct

#: So many problems of a file are told; of more there is a count. A program made them, or one slip.
MOST_OF_A_FILE: Final = 50


class Position(Struct, frozen=True, order=True):
    """A place in a file of the notebook.

    ``path`` is relative to the content folder, with forward slashes; ``line``
    and ``column`` count from 1, ``column`` in characters.
    """

    path: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.path}:{self.line}:{self.column}"


class Problem(Struct, frozen=True, order=True):
    """One thing that is wrong in the notebook, with its place and a hint.

    ``warning`` is False for an error (no notebook is made) and True for a
    warning (it is made, and the warning is reported).
    """

    position: Position
    what: str
    hint: str
    warning: bool = False

    def __str__(self) -> str:
        kind = "warning: " if self.warning else ""
        return f"{self.position}: {kind}{self.what}. {self.hint}".rstrip()


class HintedError(Exception):
    """An error that says what is wrong and how to put it right."""

    def __init__(self, what: str, hint: str = "") -> None:
        super().__init__(what, hint)
        self.what = what
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.what}. {self.hint}".rstrip()


class QuantityError(HintedError, ValueError):
    """A text is no quantity of the kind that belongs there."""


class UsageError(HintedError):
    """The command was called in a way that makes no sense (exit status 2)."""


class FigureError(ValueError):
    """Numbers outside the domain of a figure; the caller knows their place."""


class ContentError(ValueError):
    """The notebook cannot be used as it is written; carries every problem."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(problems)
        self.problems = tuple(sorted(problems))

    def __str__(self) -> str:
        return "\n".join(map(str, self.problems))


def errors_in(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems that are errors, in their order."""
    return tuple(problem for problem in problems if not problem.warning)


def raise_errors(problems: Iterable[Problem]) -> None:
    """Raise ContentError with the errors among the problems, if there are any."""
    errors = errors_in(problems)
    if errors:
        raise ContentError(errors)


def first_of_each_file(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems by place, each once; of a file with too many the first, and a count."""
    told: list[Problem] = []
    for _, of_file in groupby(sorted(set(problems)), key=lambda problem: problem.position.path):
        first = list(of_file)
        more = first[MOST_OF_A_FILE:]
        told += first[:MOST_OF_A_FILE]
        if len(more) > 1:
            kind = "mistakes" if errors_in(more) else "warnings"
            what = f"the file has {len(more):,} more {kind} from here on"
            told.append(
                Problem(more[0].position, what, "Mend these first.", warning=not errors_in(more))
            )
        else:
            told += more
    return tuple(told)
