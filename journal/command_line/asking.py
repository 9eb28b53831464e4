"""Dear questions, such as those to the bond model, answered from what was answered before.

An answer is kept by the function and by what it was asked, so that a write-up may change
in everything else.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from typing import Any, TypeVar, TypeVarTuple

from journal.command_line.kept import unpacked
from journal.command_line.packed import packed
from journal.output import Store

Answer = TypeVar("Answer")
Inputs = TypeVarTuple("Inputs")

#: Names the form of what is kept; another form is nothing.
_FORM = "asked 1"
_NAME = "asked"
#: How many answers are kept that nobody asked for in this run: those of designs that did not
#: change, and of what was tried before.
MOST_UNASKED = 2000
#: How many answers are held unpacked: the variants of a design ask for the same ones in turn.
AT_HAND = 32


class Asking:
    """Answers a question once, in whichever run and process it was first asked.

    A process that was forked hands back what it was answered: see ``noting`` and ``learn``.
    """

    def __init__(self, store: Store, program: str) -> None:
        """``program`` names the program and the libraries that it reckons with."""
        self._store, self._form = store, f"{_FORM} {program}"
        self._before: dict[str, bytes] | None = None
        self._asked: dict[str, bytes] = {}
        self._answers: dict[str, Any] = {}

    def load(self) -> Mapping[str, bytes]:
        """What was answered in earlier runs; read once, before processes are forked or at
        the first question."""
        if self._before is None:
            found = unpacked(self._store.read(_NAME))
            whole = isinstance(found, tuple) and len(found) == 2 and found[0] == self._form
            self._before = found[1] if whole else {}
        return self._before

    def __call__(self, function: Callable[[*Inputs], Answer], /, *asked: *Inputs) -> Answer:
        key = _digest(f"{function.__module__}.{function.__qualname__}{asked!r}")
        if key not in self._answers:
            kept = self._asked.get(key) or self.load().get(key)
            found = unpacked(kept)
            if kept is None or found is None:
                found = function(*asked)
                kept = packed(found)
            if len(self._answers) >= AT_HAND:
                self._answers.clear()
            self._answers[key], self._asked[key] = found, kept
        answer: Answer = self._answers[key]
        return answer

    def noting(self, task: Callable[[], Answer]) -> tuple[Answer, Mapping[str, bytes]]:
        """What a task gives, and the answers that were first asked for by it."""
        before = set(self._asked)
        answer = task()
        return answer, {key: kept for key, kept in self._asked.items() if key not in before}

    def learn(self, answers: Mapping[str, bytes]) -> None:
        """Take over what another process was answered."""
        self._asked.update(answers)

    def keep(self) -> None:
        """Keep the answers for the next run: those of this one, and the latest of earlier ones."""
        if not self._asked.keys() <= (self._before or {}).keys():
            unasked = [item for item in self.load().items() if item[0] not in self._asked]
            self._before = {**dict(unasked[-MOST_UNASKED:]), **self._asked}
            self._store.write(_NAME, packed((self._form, self._before)))


def _digest(text: str) -> str:
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()
