"""Firefox without a window, that prints pages as its own dialogue does.

It is spoken to by Marionette, its own protocol: a message is its length in bytes, a colon,
and a JSON array (https://firefox-source-docs.mozilla.org/testing/marionette/Protocol.html).
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

#: No look-ups of names, no greetings home; a port that is free.
_SETTINGS = """\
user_pref("marionette.port", 0);
user_pref("network.dns.disabled", true);
user_pref("network.captive-portal-service.enabled", false);
user_pref("network.connectivity-service.enabled", false);
user_pref("app.normandy.enabled", false);
user_pref("datareporting.policy.dataSubmissionEnabled", false);
user_pref("browser.shell.checkDefaultBrowser", false);
user_pref("browser.startup.page", 0);
"""
#: What a printer on its own says it leaves bare, in inches: the usual quarter. WebDriver's own
#: command to print knows no such margins, so it is asked for as the dialogue asks.
_PRINT = """
const [paper, bare, done] = arguments;
const { print } = ChromeUtils.importESModule("chrome://remote/content/shared/PDF.sys.mjs");
const asked = print.addDefaultSettings({ background: true, page: paper });
const settings = print.getPrintSettings(asked);
for (const side of ["Top", "Right", "Bottom", "Left"]) settings["unwriteableMargin" + side] = bare;
settings.usePageRuleSizeAsPaperSize = bare === 0;
print.printToBinaryString(gBrowser.selectedBrowser.browsingContext, settings)
  .then(pdf => done(btoa(pdf)), wrong => done(": " + wrong));
"""
BARE_IN = 0.25
_START_S = 100.0

#: Width and height of paper in cm.
LETTER_CM = {"width": 21.59, "height": 27.94}


def firefox_path() -> str | None:
    """A Firefox on this machine."""
    names = (os.environ.get("FIREFOX", ""), "firefox-esr", "firefox")
    return next(filter(None, map(shutil.which, filter(None, names))), None)


class FirefoxBrowser:
    """A Firefox that is running."""

    def __init__(self, connection: socket.socket) -> None:
        self._stream = connection.makefile("rwb")
        self._asked = 0
        self._read()  # its greeting
        self._ask("WebDriver:NewSession", {})

    def _read(self) -> Any:
        length = b""
        while (digit := self._stream.read(1)) != b":":
            assert digit, "Firefox has gone"
            length += digit
        return json.loads(self._stream.read(int(length)))

    def _ask(self, command: str, given: dict[str, Any]) -> Any:
        self._asked += 1
        message = json.dumps([0, self._asked, command, given]).encode()
        self._stream.write(b"%d:%b" % (len(message), message))
        self._stream.flush()
        _, _, wrong, answer = self._read()
        assert not wrong, wrong
        return answer

    def print_page(self, html: Path, pdf: Path, paper_cm: dict[str, float] | None = None) -> None:
        """Print a file to a PDF, with all that is usual: fitted to the width of the paper.

        Without ``paper_cm`` as "Save to PDF", on sheets of the size that the page asks for;
        else as a printer with such paper, which leaves a quarter of an inch bare.
        """
        self._ask("Marionette:SetContext", {"value": "content"})
        self._ask("WebDriver:Navigate", {"url": html.as_uri()})
        self._ask("Marionette:SetContext", {"value": "chrome"})
        # Letter stands for the paper of somebody who has another in the printer.
        given = [paper_cm or LETTER_CM, BARE_IN if paper_cm else 0]
        answer = self._ask("WebDriver:ExecuteAsyncScript", {"script": _PRINT, "args": given})
        assert not answer["value"].startswith(":"), answer["value"]
        pdf.write_bytes(base64.b64decode(answer["value"]))


@contextmanager
def running_firefox(path: str) -> Iterator[FirefoxBrowser]:
    """A Firefox with an empty profile of its own, ended with all of its processes."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        Path(profile, "user.js").write_text(_SETTINGS)
        process = subprocess.Popen(
            [path, "--headless", "--no-remote", "--marionette", "--remote-allow-system-access",
             "--profile", profile],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            # It refuses to run as root in somebody else's home.
            env={**os.environ, "HOME": profile},
        )  # fmt: skip
        try:
            listens, latest = Path(profile, "MarionetteActivePort"), time.monotonic() + _START_S
            while not listens.exists() or not listens.read_text():
                assert process.poll() is None, "Firefox did not start"
                assert time.monotonic() < latest, "Firefox is not heard of"
                time.sleep(0.05)
            with socket.create_connection(("127.0.0.1", int(listens.read_text()))) as connection:
                yield FirefoxBrowser(connection)
        finally:
            process.terminate()
            process.wait(120)
