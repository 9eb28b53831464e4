"""What a page must not do: faults that the checkers find in it, as lines of text."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page

WIDTHS = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1440, 900)}

#: Nothing but files: no look-ups of names, no greetings home.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)

#: The stack is for its parser of CSS, which overflows the default one; the other two
#: halve the time of a short run.
JAVA = ("java", "-Xss4m", "-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC", "-jar")


def browser_path() -> str | None:
    """A Chromium on this machine; one without windows, if there is one, takes half the time."""
    names = (
        os.environ.get("CHROMIUM", ""),
        "chromium-headless-shell",
        "chromium",
        "chromium-browser",
        "google-chrome",
    )
    return next(filter(None, map(shutil.which, filter(None, names))), None)


def watched(context: BrowserContext) -> tuple[list[str], list[str]]:
    """Addresses asked for in a context, and what went wrong in it; both grow as it is used."""
    asked: list[str] = []
    wrong: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    # A picture that was asked for and is let go of, since the page is left, has not failed.
    context.on(
        "requestfailed",
        lambda request: (
            wrong.append(f"failed: {request.url}")
            if request.failure != "net::ERR_ABORTED"
            else None
        ),
    )
    context.on("weberror", lambda error: wrong.append(f"script: {error.error}"))
    context.on(
        "console",
        lambda message: (
            wrong.append(f"console: {message.text}")
            if message.type in ("error", "warning")
            else None
        ),
    )
    return asked, wrong


def wait_until(page: Page, condition: Callable[[], bool], seconds: float = 60) -> None:
    """Let the page go on until a condition holds: a busy machine is late, not wrong."""
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        page.wait_for_timeout(20)


def refuse_faults(asked: list[str], wrong: list[str]) -> None:
    """Fail if anything went wrong, or beyond the notebook's own files."""
    assert not wrong, "\n".join(wrong)
    beyond = [url for url in asked if not url.startswith(("file:", "data:", "blob:"))]
    assert not beyond, "\n".join(beyond)


#: The rules of axe for contrast of level AA and of AAA.
CONTRAST = ("color-contrast", "color-contrast-enhanced")
#: What else can differ between two styles of one page: what is in sight, and moves.
STYLED = (
    "aria-hidden-focus",
    "button-name",
    "css-orientation-lock",
    "label",
    "landmark-one-main",
    "link-in-text-block",
    "link-name",
    "page-has-heading-one",
    "scrollable-region-focusable",
    "summary-name",
)


def accessibility_faults(
    page: Page,
    script: str,
    schemes: Sequence[str] = ("light", "dark"),
    *,
    enhanced: bool = False,
    styled: bool = False,
) -> list[str]:
    """What axe finds in a page, best practice included, in each colour scheme.

    Takes:  page     at the page to check
            script   the text of axe.min.js
            schemes  colour schemes to look at it in; between them nothing but colours differs,
                     so that in the later ones nothing else is looked at
            enhanced  whether contrast is to be of level AAA
            styled   whether only what a style has a part in is looked for
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(script)
    found = []
    for number, scheme in enumerate(schemes):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        # preload would read the stylesheets again by a request that file:// refuses. To bring all
        # that was looked at out of the browser would take four times as long as to look at it.
        asked: dict[str, Any] = {"preload": False, "resultTypes": ["violations"]}
        # The rule for level AAA looks only at what has that of AA.
        contrast = CONTRAST if enhanced else CONTRAST[:1]
        asked["rules"] = {rule: {"enabled": rule in contrast} for rule in CONTRAST}
        if styled and not number:
            asked["runOnly"] = {"type": "rule", "values": [*contrast, *STYLED]}
        if number:
            asked["runOnly"] = {"type": "rule", "values": [*contrast, "link-in-text-block"]}
        faults = page.evaluate("asked => axe.run(asked).then(found => found.violations)", asked)
        for fault in faults:
            for node in fault["nodes"]:
                found.append(f"{scheme}: {fault['id']}: {fault['help']}: {node['html'][:160]}")
    return found


def overflow_faults(page: Page) -> list[str]:
    """Elements that make a page wider than its window."""
    over = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    if over <= 0:
        return []
    wide: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter(e => e.getBoundingClientRect().right > window.innerWidth + 0.5)
            .slice(0, 5).map(e => e.outerHTML.slice(0, 120))"""
    )
    return [f"{over} px wider than the window: {' | '.join(wide)}"]


def markup_faults(checker: str, files: Iterable[Path]) -> list[str]:
    """What the checker of HTML and CSS finds in files.

    Takes:  checker  the path of vnu.jar
            files    HTML and CSS files, never a folder: of one it would read every script
    """
    paths = [str(path) for path in files]
    assert paths, "no file to check"
    found = []
    for at in range(0, len(paths), 200):
        done = subprocess.run(
            [
                *JAVA,
                checker,
                "--also-check-css",
                # It guesses by chance: the same page may be Danish at one start and not at another.
                "--no-langdetect",
                "--stdout",
                "--format",
                "json",
                *paths[at : at + 200],
            ],
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )
        messages = json.loads(done.stdout)["messages"]  # a crash says no JSON, and fails here
        assert done.returncode == 0 or messages, done.stderr
        found += [
            f"{Path(message['url']).name}:{message.get('lastLine', '?')}: {message['message']}"
            for message in messages
        ]
    return found
