"""Serves bench pages and the helpers' edition to the studio's own network, and takes hand-ins.

What is sent can be overheard by whoever is in that network, since it is not encrypted. So there
is nothing to be had here but what helpers may read; nothing here writes into a write-up; and
nobody is let in without a code that the maker reads from her terminal.
"""

from __future__ import annotations

import ipaddress
import json
import socket
import threading
from html import escape
from http import HTTPStatus
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs, urlsplit

from journal.errors import UsageError
from journal.preview.door import BenchDoor, RateLimit
from journal.preview.hand_ins import DeskAnswer, HandInDesk
from journal.preview.pages import PreviewSite, path_of, with_connections
from journal.preview.server import KINDS, WHOLE_REQUEST_S, AnsweringHandler, BoundedServer, Places
from journal.records.taking.hand_in import LARGEST_HAND_IN_BYTES

# B E N C H on the keys of a telephone. What a phone keeps belongs to one address and port.
BENCH_PORT: Final = 23624
COOKIE: Final = "journal-bench"
# A working day.
COOKIE_LASTS_S: Final = 14 * 3600
# So many connections are answered at a time, and of one address as many as a phone opens at most:
# browsers open six to a host. Source: Chromium, net/socket/client_socket_pool_manager.cc; from
# memory.
MOST_CONNECTIONS: Final = 24
MOST_OF_A_PHONE: Final = 6
LARGEST_FORM_BYTES: Final = 200

TAPS: Final = "/taps"
HAND_IN: Final = "/hand-in"
CODE: Final = "/code"

_POLICY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
_FORM: Final = """\
<!doctype html><html lang="en-GB"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width"><title>The bench</title>
<style>body{{font:1.25rem/1.5 sans-serif;max-width:30rem;margin:2rem auto;padding:0 1rem}}
input,button{{font:inherit;padding:.6rem;margin:.3rem 0}}input{{width:11rem}}</style></head>
<body><main><h1>The bench</h1><p>{said}</p>
<form method="post" action="/code"><label>The code at the computer:<br>
<input name="c" value="{code}" autocomplete="off" autocapitalize="none" spellcheck="false"
 maxlength="20" required></label><br><button>Come in</button></form></main></body></html>
"""
_ASK: Final = "Whoever sits at the computer can read the code to you."
_WRONG: Final = "That was not the code, or it has been used. Ask for another at the computer."
_CODE_FIRST: Final = "Scan the code at the computer first, then hand it over again."


class _BenchServer(BoundedServer):
    """The server, with what its handler asks."""

    allow_reuse_address = True
    pages: PreviewSite
    door: BenchDoor
    desk: HandInDesk
    taps: RateLimit
    hand_overs: RateLimit
    origin: str


class BenchHandler(AnsweringHandler):
    """Answers one phone's requests."""

    server: _BenchServer
    # Without a referrer a form is sent from the origin "null" (Fetch, "append a request Origin").
    referrer_policy = "same-origin"

    def do_GET(self) -> None:
        """Answer with the form for the code, or with a file of the helpers' edition."""
        if not self._is_ours():
            return
        address = urlsplit(self.path)
        if address.path == CODE:
            code = parse_qs(address.query).get("c", [""])[0][:20]
            self._send_form(HTTPStatus.OK, _ASK, code)
            return
        path = path_of(self.path) or ""
        ending = path[path.rfind(".") :] if "." in path else ""
        if not self._is_known():
            if ending == ".html":
                self._send_form(HTTPStatus.FORBIDDEN, _ASK)
            else:
                self.refuse(HTTPStatus.FORBIDDEN, _CODE_FIRST)
            return
        data = self.server.pages.file(path) if path else None
        if data is not None and ending == ".html" and path.startswith("bench/"):
            data = with_connections(data)
        self.send_file(KINDS.get(ending, "application/octet-stream"), data)

    do_HEAD = do_GET

    def do_POST(self) -> None:
        """Let somebody in by the code, or take what is handed in."""
        # What is refused may have a body that is not read: no other request is looked for in it.
        self.close_connection = True
        if not self._is_ours():
            return
        # Sent by a page of this server alone: browsers name the page's origin with every POST.
        if (
            self.headers.get("Origin") != self.server.origin
            or self.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin"
        ):
            self._say(HTTPStatus.FORBIDDEN, "Another site's page may not use this.")
            return
        if self.path == CODE:
            self._let_in()
            return
        if self.path not in (TAPS, HAND_IN):
            self._say(HTTPStatus.NOT_FOUND, "Nothing is taken there.")
            return
        if not self._is_known():
            self._say(HTTPStatus.FORBIDDEN, _CODE_FIRST)
            return
        limit = self.server.taps if self.path == TAPS else self.server.hand_overs
        if not limit.allows():
            self._say(HTTPStatus.TOO_MANY_REQUESTS, "Too much at once. Try again in a minute.")
            return
        raw = self._body("application/json", LARGEST_HAND_IN_BYTES)
        if raw is None:
            return
        desk = self.server.desk
        answer: DeskAnswer = desk.keep(raw) if self.path == TAPS else desk.hand_over(raw)
        self._say(answer.status, answer.said)

    def _is_ours(self) -> bool:
        """Whether the request is for this address, and not embedded by another site's page."""
        if f"http://{self.headers.get('Host', '').lower()}" != self.server.origin:
            self.refuse(HTTPStatus.MISDIRECTED_REQUEST, "This is the bench of a studio.")
            return False
        return not self.refuses_embedding()

    def _is_known(self) -> bool:
        """Whether the request has the cookie of somebody who was let in."""
        try:
            cookie = SimpleCookie(self.headers.get("Cookie", "")).get(COOKIE)
        except CookieError:
            return False
        return cookie is not None and self.server.door.knows(cookie.value)

    def _let_in(self) -> None:
        """Give a cookie to who knows the code."""
        raw = self._body("application/x-www-form-urlencoded", LARGEST_FORM_BYTES)
        if raw is None:
            return
        written = parse_qs(raw.decode("ascii", "replace")).get("c", [""])[0]
        cookie = self.server.door.enter(written)
        if cookie is None:
            self._send_form(HTTPStatus.FORBIDDEN, _WRONG)
            return
        self.send_response(HTTPStatus.SEE_OTHER)
        self.send_usual_headers(KINDS[".html"])
        self.send_header("Location", "/index.html")
        # No "Secure": there is no TLS within a studio's network, as README says.
        last = f"Path=/; Max-Age={COOKIE_LASTS_S}; HttpOnly; SameSite=Strict"
        self.send_header("Set-Cookie", f"{COOKIE}={cookie}; {last}")
        self.send_header("Content-Length", "0")
        self.end_headers()

    def _body(self, kind: str, most: int) -> bytes | None:
        """The body of a request of a MIME type; None, once it is refused."""
        length = self.headers.get("Content-Length", "")
        if self.headers.get("Content-Type", "").partition(";")[0].strip().lower() != kind:
            self._say(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "That is no hand-in.")
        elif self.headers.get("Transfer-Encoding") or not (length.isascii() and length.isdigit()):
            self._say(HTTPStatus.LENGTH_REQUIRED, "The size of it is not said.")
        elif len(length) > 9 or int(length) > most:
            self._say(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "That is more than any pour has.")
        else:
            raw = self._read(int(length))
            if raw is not None:
                return raw
            self._say(HTTPStatus.REQUEST_TIMEOUT, "It did not arrive whole. Try again.")
        return None

    def _read(self, length: int) -> bytes | None:
        """So many bytes; None if they do not come in time."""
        try:
            raw = self.rfile.read(length)
        except TimeoutError:
            return None
        return raw if len(raw) == length else None

    def _say(self, status: HTTPStatus, sentence: str) -> None:
        """Answer with a sentence that the page shows."""
        self.answer(status, "application/json", json.dumps({"said": sentence}).encode())

    def _send_form(self, status: HTTPStatus, sentence: str, code: str = "") -> None:
        """Answer with the form for the code."""
        page = _FORM.format(said=escape(sentence), code=escape(code))
        self.form = True
        self.answer(status, KINDS[".html"], page.encode())

    def end_headers(self) -> None:
        """Send the form's policy with it; the pages of the edition state their own."""
        if self.command == "POST":
            self.send_header("Connection", "close")
        if getattr(self, "form", False):
            self.send_header("Content-Security-Policy", _POLICY)
            self.form = False
        super().end_headers()


class BenchServer:
    """Bench pages that are being served on one address of the studio's network."""

    def __init__(
        self, pages: PreviewSite, desk: HandInDesk, door: BenchDoor, address: str, port: int,
        whole_request_s: float = WHOLE_REQUEST_S,
    ) -> None:  # fmt: skip
        """Serve on an address of ``own_address`` or ``read_address``, from now on.

        Who has not sent a request after ``whole_request_s`` is hung up on. UsageError if it cannot
        be served.
        """
        try:
            self._server = server = _BenchServer((address, port), BenchHandler)
        except OSError:
            raise UsageError(
                f"{address} cannot be listened on at port {port}",
                "Name another with --bench-at ADDRESS:PORT.",
            ) from None
        self.address = f"http://{address}:{server.server_address[1]}"
        server.pages, server.desk, server.door, server.origin = pages, desk, door, self.address
        server.places = Places(MOST_CONNECTIONS, MOST_OF_A_PHONE)
        server.whole_request_s = whole_request_s
        # A page sends a tap at a time; two phones with every hand busy send some 60 a minute.
        server.taps, server.hand_overs = RateLimit(240, 60), RateLimit(20, 60)
        threading.Thread(target=server.serve_forever, args=(0.1,), daemon=True).start()

    def address_for(self, code: str) -> str:
        """The address of the form with a code filled in."""
        return f"{self.address}{CODE}?c={code}"

    def stop(self) -> None:
        """Listen no more."""
        self._server.shutdown()
        self._server.server_close()


def own_address() -> str:
    """This computer's address in the network that it is in; UsageError if it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            # Nothing is sent: it only asks which way it would go (RFC 5737: an address of nobody).
            asking.connect(("192.0.2.1", 9))
            return read_address(str(asking.getsockname()[0]))
        except OSError:
            raise UsageError(
                "this computer is in no network", "Join the studio's, or name --bench-at ADDRESS."
            ) from None


def read_address(text: str) -> str:
    """An IPv4 address of a network of one's own (RFC 1918), or of this computer; else UsageError.

    One that the whole world can reach is refused.
    """
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError:
        raise UsageError(f'"{text}" is no address', "Write 192.168.1.20, say.") from None
    if not address.is_private or address.is_unspecified:
        hint = "Name one of the studio's own network with --bench-at."
        raise UsageError(f"{address} is no address of a network of your own", hint)
    return str(address)
