"""The templates that came with a notebook, set by a process that can run and touch nothing.

Whoever gives a notebook away could have written anything into its templates. So they are
read as texts, and sent with the views of the pages to a process of their own
(``confined``), which answers with the pages. One process sets page after page; of each
page the time, the memory and the length are bounded. On Windows nothing bounds the memory.
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
#: Of processor, for one page; and so many seconds more for a megabyte of what stands on it.
PAGE_S: Final = 5.0
_MORE_S: Final = 10.0
#: By the clock so many times as long, since others work on the machine as well.
_CLOCK: Final = 8
#: One that has closed its end has so long to be gone.
_LAST_S: Final = 2.0
#: Of HTML, for one page; and so many times what stands on it.
PAGE_BYTES: Final = 4_000_000
_TIMES: Final = 40

# The program of the process. Its arguments are the only places where it looks for modules.
_RUN: Final = (
    "import sys; sys.path[:] = sys.argv[1:]; from journal.html.confined import serve; serve()"
)
# How often this process was forked: pipes of the one that it was forked from are not its own.
_forks = 0


def _forked() -> None:
    global _forks
    _forks += 1


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forked)


class Sandbox:
    """The notebook's own templates, with those of the program that they build on."""

    def __init__(self, own: Mapping[str, str], shared: Mapping[str, str]) -> None:
        self.own = own
        self._sources = messages.Sources(own, shared)
        # One for each fork of this process; the entries of other forks are left alone.
        self._by_fork: dict[int, _Setter] = {}

    def set_page(self, template: str, page: messages.View) -> str:
        """One page as HTML.

        Fails:  ContentError, with file and line, where a template is at fault, reaches for
                what it may not, or takes more than it may; TypeError for what is no view
        """
        data = Raw(messages.ENCODER.encode(page))
        size = memoryview(data).nbytes
        seconds = PAGE_S + _MORE_S * size / 1_000_000
        request = messages.Request(
            template, cast(messages.View, data), seconds, PAGE_BYTES + _TIMES * size
        )
        answer = self._ask(request)
        if isinstance(answer, bytes):
            return answer.decode("utf-8", "replace")
        raise ContentError(tuple(self._problem(fault, request) for fault in answer))

    def problems(self) -> tuple[Problem, ...]:
        """What can be known to be wrong in the templates without a page."""
        request = messages.Request(seconds=PAGE_S, most_bytes=PAGE_BYTES)
        faults = self._ask(request)
        assert not isinstance(faults, bytes)
        return tuple(sorted(self._problem(fault, request) for fault in faults))

    def blamed(self, template: str) -> Position:
        """The place to name where no line is known: the template, or the one that there is."""
        if template in self.own:
            return _at(template)
        return _at(next(iter(self.own))) if len(self.own) == 1 else Position(OWN_FOLDER)

    def _ask(self, request: messages.Request) -> bytes | tuple[messages.TemplateFault, ...]:
        setter = self._by_fork.get(_forks)
        if setter is None or not setter.lives:
            setter = self._by_fork[_forks] = _Setter(self._sources)
        return setter.ask(request)

    def _problem(self, fault: messages.TemplateFault, request: messages.Request) -> Problem:
        if fault.kind == "program":
            raise TypeError(fault.what)
        place = _at(fault.template, fault.line) if fault.template else self.blamed(request.template)
        sentence, hint = _MESSAGES[fault.kind]
        # It may be meant for the terminal that it is shown at.
        what = printable_name(fault.what)
        return Problem(place, sentence.format(what=what, seconds=request.seconds), hint)


def _at(template: str, line: int = 1) -> Position:
    return Position(f"{OWN_FOLDER}/{template}", line)


# What is wrong, and a hint, by the kind of the fault.
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


class _Setter:
    """One process that sets pages."""

    def __init__(self, sources: messages.Sources) -> None:
        self.lives = True
        # Our own modules first; nothing is looked for where the program was started.
        ours = str(Path(__file__).resolve().parents[2])
        places = [ours, *(os.path.abspath(place) for place in sys.path if place)]
        process = subprocess.Popen(
            [sys.executable, "-I", "-c", _RUN, *places],
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
        """A page, or what is wrong with it."""
        # Whatever comes between, a process that is not where it should be sets no more pages.
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
        """What a process has that gave no reason: it was ended by us, or by the system."""
        if not late:
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(_LAST_S)
        self._end()
        if not self._has_answered and not late and self._process.returncode > 0:
            raise RuntimeError("the process that sets a notebook's own templates does not begin")
        return messages.TemplateFault("time" if late else "memory", "")


def _end(process: subprocess.Popen[bytes], forks: int) -> None:
    """End a process, if it is this one's; it ends by itself when nobody can ask any more."""
    if forks != _forks:
        return
    process.kill()
    for stream in (process.stdin, process.stdout):
        if stream is not None:
            with suppress(OSError):  # what was still to be sent goes nowhere
                stream.close()
    process.wait()


# Reading the templates --------------------------------------------------------------------

_TEMPLATES: Final = (".html", ".svg", ".txt")
# Names go into what Jinja compiles (CVE-2024-56201).
_NAME: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_./-]*")


def read_own_theme(content: Path) -> dict[str, str]:
    """The texts in the theme's folder of a notebook, by their paths from that folder.

    Fails:  ContentError for a link that leads out of it, and for what is no text
    """
    folder = content / OWN_FOLDER
    if not folder.is_dir():
        return {}
    if not stays_in_notebook(content, OWN_FOLDER):
        raise _refused(OWN_FOLDER, "the folder is a link out of the notebook", "Copy it in.")
    texts = {}
    for here, folders, files in os.walk(folder):
        folders.sort()
        for file in sorted(files):
            name = Path(here, file).relative_to(folder).as_posix()
            path = f"{OWN_FOLDER}/{name}"
            if file.startswith(".") or not file.endswith((*_TEMPLATES, ".css")):
                continue
            if not _NAME.fullmatch(name):
                what = "the name of a template has other signs in it than a to z, 0 to 9, - and _"
                raise _refused(path, what, "Rename it.")
            if not stays_in_notebook(folder, name):
                raise _refused(path, "the file is a link out of the theme's folder", "Copy it in.")
            texts[name] = read_text(content, path)
    return texts


def _refused(path: str, what: str, hint: str) -> ContentError:
    return ContentError((Problem(Position(printable_name(path)), what, hint),))
