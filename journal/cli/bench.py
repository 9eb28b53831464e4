"""The bench at the terminal: the code for a phone, and the question before anything is written."""

from __future__ import annotations

import io
import os
import queue
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

from journal.cache_folder import hand_ins_path
from journal.cli.take import YES, print_change, worked_out, write_change
from journal.cli.terminal import (
    at_terminal,
    in_colour,
    print_lines,
    print_problems,
    print_text,
    print_usage_error,
)
from journal.errors import UsageError
from journal.output import KeptLines
from journal.preview.bench_server import BENCH_PORT, BenchServer, read_address
from journal.preview.door import BenchDoor
from journal.preview.hand_ins import HandInDesk
from journal.preview.pages import PreviewSite
from journal.records.models.settings import notebook_id
from journal.records.notebook import Notebook
from journal.records.taking.hand_in import HandIn
from journal.records.taking.take import TakenChange

#: White on black, as a camera reads it in any terminal.
_QR_COLOURS: Final = ("\x1b[97;40m", "\x1b[0m")
ANOTHER: Final = "code"


def read_bench_at(text: str) -> tuple[str, int]:
    """Read ``192.168.1.20`` or ``192.168.1.20:8080``; UsageError for anything else."""
    address, colon, port = text.partition(":")
    if colon and not (port.isascii() and port.isdigit() and int(port) <= 65535):
        raise UsageError(f'"{port}" is no port', "Write a number up to 65535.")
    return read_address(address), int(port) if colon else BENCH_PORT


class TypedLines:
    """What is typed into a terminal, line by line, without waiting for it."""

    def __init__(self, read: Callable[[], bytes] | None = None) -> None:
        """``read`` gives what was typed since, and b"" at the end; by default from the keyboard."""
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        # Past the buffer of sys.stdin, whose lock a thread that waits would hold at the end.
        self._read = read or (lambda: os.read(sys.stdin.fileno(), 4096))
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        rest = b""
        while True:
            try:
                data = self._read()
            except OSError:
                return
            if not data:
                return
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                self._lines.put(line.decode("utf-8", "replace").strip().lower())

    def next(self) -> str | None:
        """The next line, in small letters; None if none was typed."""
        try:
            return self._lines.get_nowait()
        except queue.Empty:
            return None


class Bench:
    """The bench of a preview: its server, and what is asked at the terminal."""

    def __init__(
        self, content: Path, site: PreviewSite, read_notebook: Callable[[], Notebook],
        at: tuple[str, int], typed: TypedLines | None,
    ) -> None:  # fmt: skip
        """Serve the helpers' edition in ``site``; ``typed`` is None where nobody can be asked.

        UsageError if it cannot be served, or nothing be kept.
        """
        folder = hand_ins_path(notebook_id(read_notebook().settings))
        if folder is None:
            what = "there is no folder to keep hand-ins in"
            raise UsageError(what, "Name one with JOURNAL_HAND_INS.")
        self._content, self._typed = content, typed
        self.desk = HandInDesk(KeptLines(folder), read_notebook)
        self.door = BenchDoor()
        self._asked: tuple[HandIn, TakenChange] | None = None
        self._was_open = True
        self.server = BenchServer(site, self.desk, self.door, *at)

    def begin(self) -> None:
        """Say where the bench is, and the first code."""
        print_lines(
            "The bench is open to the studio's network, unencrypted: only helpers' pages, and only "
            "with a code.",
            f"What phones hand in is kept in {self.desk.lines.folder}.",
        )
        if self._typed is None:
            print_lines("Nobody can be asked here: put it in with journal take, from there.")
        self._say_code()

    def stop(self) -> None:
        """Close the bench; what is not answered is kept."""
        self.server.stop()
        waiting = self.desk.waiting()
        if waiting is not None:
            print_lines(f"Not put in yet: journal take {self.desk.path_of(waiting)}")

    def step(self) -> None:
        """Answer what was typed, and ask about what was handed in."""
        while (refused := self.desk.refused()) is not None:
            hand_in, problems = refused
            print_problems(problems, None)
            print_lines(f"It was not taken. It is kept: journal take {self._kept(hand_in)}")
        if self._typed is None:
            return
        if self._was_open and not self.door.is_open:
            self._was_open = False
            print_lines("The code is used up. For another phone type: code")
        while (line := self._typed.next()) is not None:
            if line == ANOTHER:
                self._say_code()
            elif self._asked is not None and line:
                hand_in, change = self._asked
                self._asked = None
                self._answer(hand_in, change, agreed=line in YES)
        waiting = self.desk.waiting()
        if self._asked is None and waiting is not None:
            self._ask(waiting)

    def _say_code(self) -> None:
        """Print a new code, as an address and for a camera."""
        code = self.door.open()
        self._was_open = True
        address = self.server.address_for(code)
        print_lines(f"For one phone: {self.server.address}/code, code {code}")
        picture = qr_code(address)
        if (sys.stdout.encoding or "").lower().startswith("utf"):
            before, after = _QR_COLOURS if in_colour(sys.stdout) else ("", "")
            print_text("".join(f"{before}{line}{after}\n" for line in picture))

    def _ask(self, hand_in: HandIn) -> None:
        """Show what a hand-in changes, and ask; one that changes nothing is settled."""
        try:
            change = worked_out(
                self._content, f"designs/{hand_in.design}/design.md",
                lambda problems: self.desk.change(hand_in, problems),
            )  # fmt: skip
        except UsageError as error:
            print_usage_error(error)
            change = None
        if change is None:
            print_lines(f"It is kept. When that is mended: journal take {self._kept(hand_in)}")
            self.desk.settle(hand_in, left_out=False)
        elif change.before == change.after:
            self.desk.settle(hand_in, left_out=False)
        else:
            print_change(change)
            print_lines(f"Write this into {self._content / change.path}? Type yes or no.")
            self._asked = hand_in, change

    def _answer(self, hand_in: HandIn, change: TakenChange, *, agreed: bool) -> None:
        """Do what the maker answered, if it is still what she was shown."""
        if not agreed:
            self.desk.settle(hand_in, left_out=True)
            print_lines(f"Nothing was written. It is kept: journal take {self._kept(hand_in)}")
            return
        if self.desk.waiting() is not hand_in:
            return  # the phone has handed in more, which is asked about next
        try:
            write_change(self._content, change)
        except UsageError as error:
            print_usage_error(error)  # it is asked about anew, as the write-up is now
            return
        self.desk.settle(hand_in, left_out=False)

    def _kept(self, hand_in: HandIn) -> str:
        return str(self.desk.path_of(hand_in))


def typed_at_terminal() -> TypedLines | None:
    """What is typed, where somebody sits at a terminal; else None."""
    return TypedLines() if at_terminal(sys.stdin) and at_terminal(sys.stdout) else None


def qr_code(text: str) -> list[str]:
    """A text as the lines of a QR code (ISO/IEC 18004), light on dark."""
    import segno

    drawn = io.StringIO()
    segno.make_qr(text, error="m").terminal(out=drawn, compact=True, border=2)
    return drawn.getvalue().splitlines()
