"""Templates that came with a notebook, rendered by a separate process that can do no harm.

Whoever gives a notebook away could have written anything into its templates. So they are
read as texts, and sent with the views of the pages to a process of their own
(``confined``), which answers with the pages. One process renders page after page; time,
memory and length of each page are limited. On Windows memory is not limited.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
import weakref
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Final, cast

from msgspec import Raw

from journal.errors import ContentError, Position, Problem
from journal.html import messages
from journal.records.yaml.source import printable_name, read_text, stays_in_notebook

OWN_FOLDER: Final = "theme"
#: Seconds of CPU time for one page, and more for each megabyte of its view.
PAGE_S: Final = 5.0
_S_PER_MB: Final = 10.0
#: The limit by the clock is so many times as long, as other programs use the machine too.
_CLOCK: Final = 8
#: Seconds that a process that has closed its output has to exit.
_EXIT_S: Final = 2.0
#: Bytes of HTML for one page, and more: so many times the size of its view.
PAGE_BYTES: Final = 4_000_000
_BYTES_PER_BYTE: Final = 40

# The program that the process runs. Its arguments are the only folders it imports from.
_PROGRAM: Final = (
    "import sys; sys.path[:] = sys.argv[1:]; from journal.html.confined import serve; serve()"
)
# How often this process was forked: the pipes of its parent are not its own.
_forks = 0


def _count_fork() -> None:
    global _forks
    _forks += 1


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_count_fork)


class Sandbox:
    """Renders pages with the notebook's own templates and those of the program they extend."""

    def __init__(self, own: Mapping[str, str], shared: Mapping[str, str]) -> None:
        self.own = own
        self._sources = messages.Sources(own, shared)
        # One process for each fork of this one; the entries of other forks are left alone.
        self._by_fork: dict[int, _PageProcess] = {}

    def set_page(self, template: str, page: messages.View) -> str:
        """One page as HTML.

        Fails:  ContentError, with file and line, if a template is at fault, uses what is not
                allowed, or exceeds a limit; TypeError if ``page`` is no view
        """
        data = Raw(messages.ENCODER.encode(page))
        size = memoryview(data).nbytes
        seconds = PAGE_S + _S_PER_MB * size / 1_000_000
        request = messages.Request(
            template, cast(messages.View, data), seconds, PAGE_BYTES + _BYTES_PER_BYTE * size
        )
        answer = self._ask(request)
        if isinstance(answer, bytes):
            return answer.decode("utf-8", "replace")
        raise ContentError(tuple(self._problem(fault, request) for fault in answer))

    def problems(self) -> tuple[Problem, ...]:
        """The problems in the own templates that are found without rendering a page."""
        request = messages.Request(seconds=PAGE_S, most_bytes=PAGE_BYTES)
        faults = self._ask(request)
        assert not isinstance(faults, bytes)
        return tuple(sorted(self._problem(fault, request) for fault in faults))

    def blamed(self, template: str) -> Position:
        """The position to report if the line is not known: an own template, or their folder."""
        if template in self.own:
            return _position_in(template)
        return _position_in(next(iter(self.own))) if len(self.own) == 1 else Position(OWN_FOLDER)

    def _ask(self, request: messages.Request) -> bytes | tuple[messages.TemplateFault, ...]:
        """The answer of this fork's process, which is started if there is none."""
        process = self._by_fork.get(_forks)
        if process is None or not process.lives:
            process = self._by_fork[_forks] = _PageProcess(self._sources)
        return process.ask(request)

    def _problem(self, fault: messages.TemplateFault, request: messages.Request) -> Problem:
        """A fault as a problem for the maker; TypeError if the program is to blame."""
        if fault.kind == "program":
            raise TypeError(fault.what)
        place = (
            _position_in(fault.template, fault.line)
            if fault.template
            else self.blamed(request.template)
        )
        sentence, hint = _MESSAGES[fault.kind]
        # The text may hold control sequences for the terminal that shows it.
        what = printable_name(fault.what)
        return Problem(place, sentence.format(what=what, seconds=request.seconds), hint)


def _position_in(template: str, line: int = 1) -> Position:
    return Position(f"{OWN_FOLDER}/{template}", line)


# The sentence and the hint for each kind of fault.
_MESSAGES: Final = {
    "forbidden": (
        "the template reaches for something that a theme may not use: {what}",
        "Leave it out; themes/README.md lists what a notebook's own theme may use.",
    ),
    "time": (
        "the template takes more than {seconds:.0f} s to set one page",
        "Look for loops within loops: a page is set in less than a second.",
    ),
    "memory": (
        "the template takes more memory than one page may",
        "Look for a text or a list that grows in a loop.",
    ),
    "size": (
        "the template sets a page of more than {what}",
        "Look for loops within loops, or a text that grows in a loop.",
    ),
    "template": (
        "the template says something that cannot be set: {what}",
        "Compare it with the theme's own template of the same name.",
    ),
}


class _PageProcess:
    """A process that renders pages; ``lives`` says whether it can take another request."""

    def __init__(self, sources: messages.Sources) -> None:
        self.lives = True
        # Our own modules first; nothing is looked for where the program was started.
        ours = str(Path(__file__).resolve().parents[2])
        places = [ours, *(os.path.abspath(place) for place in sys.path if place)]
        process = subprocess.Popen(
            [sys.executable, "-I", "-c", _PROGRAM, *places],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=os.path.abspath(os.sep),
            # Nothing of the maker's surroundings; Windows starts no process without its own.
            env=None if sys.platform == "win32" else {},
        )
        self._process = process
        self._to = cast(BinaryIO, process.stdin)
        self._from = cast(BinaryIO, process.stdout)
        self._end = weakref.finalize(self, _end, process, _forks)
        self._first = messages.ENCODER.encode(sources)
        self._has_answered = False

    def ask(self, request: messages.Request) -> bytes | tuple[messages.TemplateFault, ...]:
        """The rendered page of a request, or the faults."""
        # If an exception interrupts this, the process is in an unknown state and not used again.
        self.lives = False
        late = threading.Event()

        def end() -> None:
            late.set()
            self._process.kill()

        clock = threading.Timer(_CLOCK * request.seconds, end)
        clock.daemon = True
        clock.start()
        try:
            answer = self._exchange(messages.ENCODER.encode(request), request.most_bytes)
        finally:
            # No thread is left: another process may be forked after this.
            clock.cancel()
            clock.join()
        if answer is None:
            return (self._fault_of_ended(late.is_set()),)
        self._has_answered = True
        self.lives = isinstance(answer, bytes) or not any(
            fault.kind in ("time", "memory") for fault in answer
        )
        if not self.lives:
            self._end()
        return answer

    def _exchange(
        self, request: bytes, most_bytes: int
    ) -> bytes | tuple[messages.TemplateFault, ...] | None:
        """Send a request and receive the page or the faults; None if the process has failed."""
        try:
            if self._first:
                messages.send(self._to, b"S", self._first)
                self._first = b""
            messages.send(self._to, b"R", request)
            answer = messages.receive(self._from, most_bytes)
            if answer is None or answer[0] == messages.PAGE:
                return answer[1] if answer is not None else None
            return messages.FAULTS.decode(answer[1])
        except (OSError, ValueError):  # it has ended, or says what none of ours would
            return None

    def _fault_of_ended(self, late: bool) -> messages.TemplateFault:
        """The fault of a process that ended without an answer: time if ``late``, else memory.

        RuntimeError if it failed before its first answer.
        """
        if not late:
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(_EXIT_S)
        self._end()
        if not self._has_answered and not late and self._process.returncode > 0:
            raise RuntimeError("the process that sets a notebook's own templates does not begin")
        return messages.TemplateFault("time" if late else "memory", "")


def _end(process: subprocess.Popen[bytes], forks: int) -> None:
    """End the process if this process started it; one of a parent is left alone."""
    if forks != _forks:
        return
    process.kill()
    for stream in (process.stdin, process.stdout):
        if stream is not None:
            with suppress(OSError):  # what was still to be sent goes nowhere
                stream.close()
    process.wait()


# Reading the templates --------------------------------------------------------------------

_TEMPLATE_ENDINGS: Final = (".html", ".svg", ".txt")
# Names become part of what Jinja compiles (CVE-2024-56201).
_ALLOWED_NAME: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_./-]*")


def read_own_theme(content: Path) -> dict[str, str]:
    """The templates and stylesheets of a notebook's theme folder, by path from that folder.

    Empty if there is no folder.

    Fails:  ContentError for a link that leads out of it, a name with other signs, and for
            what is no text
    """
    folder = content / OWN_FOLDER
    if not folder.is_dir():
        return {}
    if not stays_in_notebook(content, OWN_FOLDER):
        raise _file_error(OWN_FOLDER, "the folder is a link out of the notebook", "Copy it in.")
    texts = {}
    for here, folders, files in os.walk(folder):
        folders.sort()
        for file in sorted(files):
            name = Path(here, file).relative_to(folder).as_posix()
            path = f"{OWN_FOLDER}/{name}"
            if file.startswith(".") or not file.endswith((*_TEMPLATE_ENDINGS, ".css")):
                continue
            if not _ALLOWED_NAME.fullmatch(name):
                what = "the name of a template has other signs in it than a to z, 0 to 9, - and _"
                raise _file_error(path, what, "Rename it.")
            if not stays_in_notebook(folder, name):
                raise _file_error(
                    path, "the file is a link out of the theme's folder", "Copy it in."
                )
            texts[name] = read_text(content, path)
    return texts


def _file_error(path: str, what: str, hint: str) -> ContentError:
    return ContentError((Problem(Position(printable_name(path)), what, hint),))
