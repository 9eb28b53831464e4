"""The pages of a preview: the notebook's files, with problems at their head, and changes."""

from __future__ import annotations

import os
import re
import secrets
import threading
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Final
from urllib.parse import unquote

from msgspec import Struct

from journal.errors import Problem, errors_in
from journal.html.policy import with_extra_head

# Files that every page is made with.
OF_ALL: Final = ("look.css",)
# Of the index, whose words come from scripts.
INDEX_PAGE, INDEX_FOLDER = "terms.html", "index/"
# More problems than this are for ``journal check``.
MOST_SHOWN: Final = 12
# So many changes are remembered; who has been away for longer loads the page anew.
MOST_CHANGES: Final = 200

_BODY = re.compile(r"<body[^>]*>")
# A page lets no script ask for anything; the one that waits for changes must.
_POLICY: Final = ("script-src 'self' file:;", "script-src 'self' file:; connect-src 'self';")
_SCRIPT: Final = '<script src="/preview/reload.js" defer data-version="{}"{}></script>'
# Pages that are one file: nothing is loaded into them, and a pour that is tapped in is not broken
# off by a save.
_ALONE: Final = "bench/"
_STYLE: Final = '<link rel="stylesheet" href="/preview/band.css">'
_NOT_THERE: Final = (
    '<!doctype html><html lang="en-GB"><head><meta charset="utf-8"><title>Not here</title></head>'
    "<body><main><h1>There is no such page</h1><p>It may have gone, or not be made yet. "
    '<a href="/index.html">To the first page</a></p></main></body></html>'
)


class SiteChange(Struct, frozen=True):
    """One change of the notebook: the paths of files that were added, changed or removed.

    ``errors`` says whether the errors that every page shows have changed.
    """

    paths: frozenset[str]
    errors: bool


class PreviewSite:
    """The notebook as a preview shows it; read by many threads, changed by one."""

    def __init__(self, out: Path, run: str) -> None:
        self._root = os.path.realpath(out)
        self._run = run
        self._news = threading.Condition()
        self._over: Mapping[str, bytes] = {}
        self._problems: tuple[Problem, ...] = ()
        self._changes: list[SiteChange] = []
        self._first = 0  # the number of the first change that is remembered
        self._writing = False

    # Changed by the one that makes the notebook ---------------------------------------

    def begin_writing(self) -> None:
        """Note that files may be missing until ``end_writing``."""
        with self._news:
            self._writing = True

    def end_writing(self) -> None:
        """Note that the folder is complete again."""
        with self._news:
            self._writing = False
            self._news.notify_all()

    def lay_over(self, pages: Mapping[str, bytes]) -> None:
        """Show these pages in place of those in the folder, until it has been made anew."""
        with self._news:
            self._over = {**self._over, **pages}
            self._announce(SiteChange(frozenset(pages), False))

    def publish(self, paths: Iterable[str], problems: tuple[Problem, ...]) -> None:
        """Show the folder's files anew, with these problems; ``paths`` are those that changed."""
        with self._news:
            shown = frozenset((*paths, *self._over))
            self._over = {}
            other_errors = _errors(problems) != _errors(self._problems)
            self._problems = problems
            if shown or other_errors:
                self._announce(SiteChange(shown, other_errors))

    def _announce(self, change: SiteChange) -> None:
        """Remember a change, and wake those that wait for one; the lock is held."""
        self._changes.append(change)
        if len(self._changes) > MOST_CHANGES:
            del self._changes[0]
            self._first += 1
        self._news.notify_all()

    # Used by those that show it -------------------------------------------------------

    @property
    def version(self) -> str:
        """The number of the present state; a page names it when it waits for changes."""
        return f"{self._run}.{self._first + len(self._changes)}"

    def wait_for_change(self, page: str, since: str, seconds: float) -> bool:
        """Wait up to ``seconds`` for a change of a page since a version; tells if there was one."""
        run, _, number = since.partition(".")
        if run != self._run or not number.isascii() or not number.isdigit():
            return True  # of another preview: nothing is known of it
        with self._news:
            return self._news.wait_for(lambda: self._changed(page, int(number)), seconds)

    def _changed(self, page: str, number: int) -> bool:
        """Whether a page has changed since the change of this number."""
        if number < self._first:
            return True
        return any(
            change.errors
            or page in change.paths
            or any(path in change.paths for path in OF_ALL)
            or (page == INDEX_PAGE and any(p.startswith(INDEX_FOLDER) for p in change.paths))
            for change in self._changes[number - self._first :]
        )

    def file(self, path: str) -> bytes | None:
        """The bytes of a file of the notebook, by its path from ``path_of``; None for no file."""
        with self._news:
            if path in self._over:
                return self._over[path]
        for _ in range(2):
            data = self._read(path)
            if data is not None:
                return data
            # Once more also where the writing is over: it may be over since the look.
            with self._news:
                self._news.wait_for(lambda: not self._writing, timeout=5)
        return self._read(path)

    def _read(self, path: str) -> bytes | None:
        """The bytes of a file in the notebook's folder; None for no file, or one outside."""
        full = os.path.realpath(os.path.join(self._root, *path.split("/")))
        if not full.startswith(os.path.join(self._root, "")) or not os.path.isfile(full):
            return None
        try:
            return Path(full).read_bytes()
        except OSError:
            return None

    def page(self, path: str) -> tuple[bytes, bool]:
        """A page with its problems at its head, and whether there is such a page."""
        version = self.version
        raw = self.file(path)
        if raw is not None and path.startswith(_ALONE):
            return raw, True
        html = _NOT_THERE if raw is None else raw.decode("utf-8", "replace")
        nonce, head = secrets.token_urlsafe(), ""
        with self._news:
            problems = self._problems
        band = band_for(problems, path)
        if band:
            head += _STYLE
            html = _BODY.sub(lambda body: body[0] + band, html, count=1)
        # Of a theme of the notebook's own nothing stands before it, or could know the nonce.
        with_head = with_extra_head(
            html, nonce, _SCRIPT.format(version, f' nonce="{nonce}"') + head
        )
        if with_head is not None:
            return with_head.encode(), raw is not None
        html = html.replace(*_POLICY, 1)
        head = _SCRIPT.format(version, "") + head
        return html.replace("</head>", head + "</head>", 1).encode(), raw is not None


def with_connections(page: bytes) -> bytes:
    """A page whose scripts may send to the server that it came from; as it is, if they may."""
    before, after = (part.encode() for part in _POLICY)
    return page if b"connect-src" in page else page.replace(before, after, 1)


def _errors(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(errors_in(problems)))


def path_of(address: str) -> str | None:
    """The path of the file that the address of a request names, with or without a query.

    None for one that leads out of the folder, or is no text in UTF-8.
    """
    try:
        path = unquote(address.partition("?")[0].partition("#")[0], errors="strict").lstrip("/")
    except UnicodeDecodeError:
        return None
    if path.endswith("/") or not path:
        path += "index.html"
    steps = path.split("/")
    odd = any(step in ("", ".", "..") or step.startswith(".") for step in steps)
    if odd or any(sign in path for sign in '\\:\0"'):
        return None
    return path


def band_for(problems: Sequence[Problem], path: str) -> str:
    """The band of problems, in HTML, at the head of a page: its own, then all other errors.

    Warnings of other pages are left out. "" if there is nothing to show.
    """
    folder = re.sub(r"^(designs|cards)/(.*)\.html$", r"designs/\2/", path)
    own_problems = [problem for problem in problems if problem.position.path.startswith(folder)]
    others = [problem for problem in _errors(problems) if problem not in own_problems]
    every = [*sorted(own_problems, key=lambda problem: (problem.warning, problem)), *others]
    if not every:
        return ""
    errors = len(errors_in(every))
    warnings = len(every) - errors
    counts = [f"{number} {word}{'s' * (number != 1)}"
              for number, word in ((errors, "error"), (warnings, "warning")) if number]  # fmt: skip
    rows = "".join(
        f"<li><code>{escape(str(problem.position))}</code>: "
        f"{'warning: ' * problem.warning}{escape(problem.what)}. {escape(problem.hint)}</li>"
        for problem in every[:MOST_SHOWN]
    )
    more = len(every) - MOST_SHOWN
    if more > 0:
        rows += f"<li>and {more} more, which journal check lists.</li>"
    return (
        '<aside class="preview-wrong" aria-label="What is wrong">'
        f"<p><b>{' and '.join(counts)}.</b>"
        f"{' What cannot be read stands as it was.' if errors else ''}</p><ul>{rows}</ul></aside>"
    )
