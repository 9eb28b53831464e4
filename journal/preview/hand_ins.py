"""What phones hand in: kept line by line, checked, and held for the maker's yes.

Nothing here writes into a write-up. Whoever sits at the computer is asked, and nothing that comes
over the network can answer.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections import deque
from collections.abc import Callable
from http import HTTPStatus
from pathlib import Path
from typing import Final

from msgspec import Struct

from journal.errors import ContentError, Problem, UsageError, errors_in
from journal.output import KeptLines
from journal.records.models.settings import notebook_id
from journal.records.notebook import Notebook
from journal.records.taking.edit import EditFailed, NoBlock
from journal.records.taking.hand_in import LARGEST_KEPT_BYTES, HandIn, hand_in_of
from journal.records.taking.take import TakenChange, take_hand_ins

# What problems of a hand-in are said to stand in.
SHOWN_PATH: Final = "the hand-in"
# So many files of a notebook are kept, and so many hand-ins wait for an answer.
MOST_FILES: Final = 2000
MOST_WAITING: Final = 20

HANDED_OVER: Final = "Handed over. At the computer, say yes to have it in the write-up."
KEPT: Final = "Kept."
LEFT_OUT: Final = "At the computer it was left out. It is kept."
THERE_ALREADY: Final = "All of it is in the write-up already."


class DeskAnswer(Struct, frozen=True):
    """What a phone is told: a status, and a sentence to show."""

    status: HTTPStatus
    said: str


class HandInDesk:
    """Takes hand-ins from many threads, and gives them to the one that asks the maker."""

    def __init__(self, lines: KeptLines, read_notebook: Callable[[], Notebook]) -> None:
        """``read_notebook`` gives the notebook's settings and shelf; it may be a moment old."""
        self.lines = lines
        self._read_notebook = read_notebook
        self._lock = threading.Lock()
        self._waiting: dict[str, HandIn] = {}
        self._left_out: set[bytes] = set()
        self._refused: deque[tuple[HandIn, tuple[Problem, ...]]] = deque(maxlen=MOST_WAITING)

    # Called by threads of the server --------------------------------------------------

    def keep(self, raw: bytes) -> DeskAnswer:
        """Keep what was tapped so far, whole or not."""
        return self._take(raw, lambda _: DeskAnswer(HTTPStatus.OK, KEPT))

    def hand_over(self, raw: bytes) -> DeskAnswer:
        """Keep what is handed over, and hold it for the maker's yes if it can be taken."""
        return self._take(raw, self._hold)

    def _take(self, raw: bytes, then: Callable[[HandIn], DeskAnswer]) -> DeskAnswer:
        try:
            hand_in = hand_in_of(raw, SHOWN_PATH)
        except ContentError as error:
            return _refusal(error.problems)
        notebook = self._read_notebook()
        if hand_in.notebook != notebook_id(notebook.settings):
            said = "This page is of another notebook. Hand it in there."
            return DeskAnswer(HTTPStatus.CONFLICT, said)
        if not (notebook.root / f"designs/{hand_in.design}/design.md").is_file():
            said = f"The notebook has no design {hand_in.design} any more."
            return DeskAnswer(HTTPStatus.NOT_FOUND, said)
        # One line, whatever blanks the phone has put in.
        line = json.dumps(json.loads(raw), separators=(",", ":")).encode()
        name = file_of(hand_in)
        try:
            with self._lock:
                if self.lines.last(name) != line:
                    if self._is_full(name, len(line)):
                        said = "The computer keeps no more of this. Hand it over as a file."
                        return DeskAnswer(HTTPStatus.INSUFFICIENT_STORAGE, said)
                    self.lines.add(name, line)
        except UsageError:
            said = "The computer cannot keep it. It is safe on this phone: look at the computer."
            return DeskAnswer(HTTPStatus.INTERNAL_SERVER_ERROR, said)
        return then(hand_in)

    def _is_full(self, name: str, more: int) -> bool:
        names = self.lines.names()
        if name not in names and len(names) >= MOST_FILES:
            return True
        return self.lines.size(name) + more > LARGEST_KEPT_BYTES

    def _hold(self, hand_in: HandIn) -> DeskAnswer:
        problems: list[Problem] = []
        try:
            change = self.change(hand_in, problems)
        except (ContentError, NoBlock, EditFailed, OSError):
            change = None  # the maker is told
        own = [one for one in errors_in(problems) if one.position.path == SHOWN_PATH]
        if own:
            with self._lock:
                self._refused.append((hand_in, tuple(own)))
            return _refusal(tuple(own))
        if change is not None and change.before == change.after:
            return DeskAnswer(HTTPStatus.OK, THERE_ALREADY)
        with self._lock:
            if _digest(hand_in) in self._left_out:
                return DeskAnswer(HTTPStatus.CONFLICT, LEFT_OUT)
            if hand_in.hand_in not in self._waiting and len(self._waiting) >= MOST_WAITING:
                said = "Too many wait for a yes at the computer. This one is kept."
                return DeskAnswer(HTTPStatus.TOO_MANY_REQUESTS, said)
            held = self._waiting.get(hand_in.hand_in)
            # A second tap on "Hand over" takes back no question that is being answered.
            if held is None or _digest(held) != _digest(hand_in):
                self._waiting[hand_in.hand_in] = hand_in
        return DeskAnswer(HTTPStatus.OK, HANDED_OVER)

    # Called by the one that asks ------------------------------------------------------

    def waiting(self) -> HandIn | None:
        """The hand-in that has waited longest; None if none waits."""
        with self._lock:
            return next(iter(self._waiting.values()), None)

    def refused(self) -> tuple[HandIn, tuple[Problem, ...]] | None:
        """A hand-in that was refused, with what is wrong in it, once; None if there is none."""
        with self._lock:
            return self._refused.popleft() if self._refused else None

    def change(self, hand_in: HandIn, problems: list[Problem]) -> TakenChange | None:
        """What a hand-in changes in its write-up as it is now, as ``take_hand_ins`` says."""
        return take_hand_ins(self._read_notebook(), str(hand_in.design), [hand_in], problems)

    def settle(self, hand_in: HandIn, *, left_out: bool) -> None:
        """Note that a hand-in waits no more; ``left_out``: the same is not asked about again."""
        with self._lock:
            if self._waiting.get(hand_in.hand_in) is hand_in:
                del self._waiting[hand_in.hand_in]
            if left_out:
                self._left_out.add(_digest(hand_in))

    def path_of(self, hand_in: HandIn) -> Path:
        """The file that a hand-in is kept in."""
        return self.lines.folder / file_of(hand_in)


def file_of(hand_in: HandIn) -> str:
    """The name of the file that a hand-in is kept in; both ids are plain letters."""
    return f"{hand_in.design}-{hand_in.hand_in}.jsonl"


def _digest(hand_in: HandIn) -> bytes:
    """What tells a hand-in from one that says something else."""
    said = json.dumps([hand_in.design, hand_in.pour, hand_in.later], sort_keys=True)
    return hashlib.blake2b(said.encode(), digest_size=16).digest()


def _refusal(problems: tuple[Problem, ...]) -> DeskAnswer:
    """The first problem of a hand-in, without its line, which a phone does not show."""
    first = problems[0]
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    what = first.what[:1].upper() + first.what[1:]
    return DeskAnswer(HTTPStatus.UNPROCESSABLE_ENTITY, f"{what}. {first.hint}{more}")
