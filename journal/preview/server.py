"""Serves a preview to this computer alone, and tells open pages when they have changed.

Whatever is on the notebook's pages may be private, and any page of any site that is
open in the same browser can send requests to this computer. So only addresses of the
loopback are listened on; requests under another host's name are refused, since such a
name may be made to lead here; and so is whatever another site's page wants to embed.
"""

from __future__ import annotations

import io
import socket
import threading
import time
from collections import Counter
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Final
from urllib.parse import parse_qs, urlsplit

from journal.errors import UsageError
from journal.preview.pages import PreviewSite, path_of

# S O A P on the keys of a telephone.
USUAL_PORT: Final = 7627
# So many ports after it are tried, where others are at work already.
PORTS_TRIED: Final = 20
# So many connections are answered at a time, each by a thread; a browser opens some six.
MOST_CONNECTIONS: Final = 64
# Who sends nothing for so long, in s, gives its place to another.
PATIENCE_S: Final = 10
# Who has not sent a whole request by then either, however little comes at a time. A hand-in of the
# largest size comes in less, also over a weak signal.
WHOLE_REQUEST_S: Final = 30.0
# A waiting page is sent a comment so often, so that both sides notice an end.
BREATH_S: Final = 15.0

OWN_FILES: Final = {"reload.js": "text/javascript", "band.css": "text/css"}
KINDS: Final = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".xml": "application/xml",
    ".txt": "text/plain; charset=utf-8",
    ".svg": "image/svg+xml",
    ".jpg": "image/jpeg",
    ".png": "image/png",
    ".webp": "image/webp",
    ".avif": "image/avif",
    ".woff2": "font/woff2",
    ".pdf": "application/pdf",
}
_HEADERS: Final = (
    ("Cache-Control", "no-store"),
    ("X-Content-Type-Options", "nosniff"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("X-Frame-Options", "DENY"),
)
_NO_PLACE: Final = (
    b"HTTP/1.1 503 Service Unavailable\r\nRetry-After: 1\r\nContent-Length: 0\r\n"
    b"Connection: close\r\n\r\n"
)
_LIVE = Path(__file__).resolve().parent / "live"


class Places:
    """Places for so many connections, of which one address has at most a share."""

    def __init__(self, most: int, most_of_one: int | None = None) -> None:
        """``most_of_one`` is how many an address may have, None for all of them."""
        self._most, self._most_of_one = most, most if most_of_one is None else most_of_one
        self._lock = threading.Lock()
        self._taken: Counter[str] = Counter()

    def take(self, address: str) -> bool:
        """Take a place for an address; tells whether there was one."""
        with self._lock:
            full = self._taken.total() >= self._most or self._taken[address] >= self._most_of_one
            if not full:
                self._taken[address] += 1
            return not full

    def give_back(self, address: str) -> None:
        """Give back a place that was taken."""
        with self._lock:
            self._taken[address] -= 1
            self._taken += Counter()  # addresses without a place are forgotten


class BoundedServer(ThreadingHTTPServer):
    """A server on one address that answers so many at a time as it has ``places``."""

    daemon_threads = True
    allow_reuse_address = True
    # A page that goes away in the middle of an answer is no failure of ours.
    block_on_close = False
    places: Places
    whole_request_s = WHOLE_REQUEST_S

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer in a thread of its own; where all are at work, say so and hang up."""
        if not self.places.take(client_address[0]):
            with suppress(OSError):
                request.setblocking(False)  # who does not listen is not waited for
                request.send(_NO_PLACE)
            self.shutdown_request(request)
            return
        try:
            super().process_request(request, client_address)
        except BaseException:  # no thread could be begun
            self.places.give_back(client_address[0])
            raise

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Answer, and give the place to another."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self.places.give_back(client_address[0])

    def handle_error(self, request: object, client_address: object) -> None:
        pass


class _Server(BoundedServer):
    """A server of a preview's pages."""

    pages: PreviewSite


class _Server6(_Server):
    address_family = socket.AF_INET6


class _RequestReader(io.RawIOBase):
    """Reads what a connection sends until a deadline; TimeoutError from then on.

    Nothing is waited for longer than its patience, in s.
    """

    def __init__(self, connection: socket.socket, patience_s: float) -> None:
        self._connection, self._patience_s, self._until = connection, patience_s, 0.0

    def begin(self, seconds: float) -> None:
        """Set the deadline to so many seconds from now."""
        self._until = time.monotonic() + seconds

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        left_s = self._until - time.monotonic()
        if left_s <= 0:
            raise TimeoutError
        try:
            self._connection.settimeout(min(left_s, self._patience_s))
            return self._connection.recv_into(buffer)
        finally:
            self._connection.settimeout(self._patience_s)  # an answer has its own time


class AnsweringHandler(BaseHTTPRequestHandler):
    """Answers requests with files, pages and refusals."""

    server: BoundedServer
    protocol_version = "HTTP/1.1"
    server_version = "journal"
    sys_version = ""
    timeout = PATIENCE_S
    referrer_policy = "no-referrer"

    def setup(self) -> None:
        """Read each request against a deadline for all of it, headers and body."""
        super().setup()
        self.rfile.close()
        self._reader = _RequestReader(self.connection, self.timeout)
        self.rfile = io.BufferedReader(self._reader)

    def handle_one_request(self) -> None:
        """Answer a request, if it comes whole in time."""
        self._reader.begin(self.server.whole_request_s)
        super().handle_one_request()

    def send_file(self, kind: str, data: bytes | None) -> None:
        """Answer with a file of a MIME type; None is answered as not found."""
        if data is None:
            self.refuse(HTTPStatus.NOT_FOUND, "There is no such file.")
        else:
            self.answer(HTTPStatus.OK, kind, data)

    def answer(self, status: HTTPStatus, kind: str, data: bytes) -> None:
        """Send a whole answer of a MIME type; for HEAD its headers only."""
        self.send_response(status)
        self.send_usual_headers(kind)
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(data)

    def refuse(self, status: HTTPStatus, reason: str) -> None:
        """Answer with a sentence that says why not."""
        self.answer(status, "text/plain; charset=utf-8", f"{reason}\n".encode())

    def refuses_embedding(self) -> bool:
        """Whether another site's page embeds this, and was refused; a link followed is none."""
        embeds = self.headers.get("Sec-Fetch-Mode", "navigate") != "navigate"
        if not embeds or self.headers.get("Sec-Fetch-Site") not in ("cross-site", "same-site"):
            return False
        self.refuse(HTTPStatus.FORBIDDEN, "Another site's page may not use this.")
        return True

    def send_usual_headers(self, kind: str) -> None:
        """Send the headers that every answer has; ``kind`` is its MIME type."""
        referrer = ("Referrer-Policy", self.referrer_policy)
        for header, value in (("Content-Type", kind), *_HEADERS, referrer):
            self.send_header(header, value)

    def log_message(self, format: str, *arguments: object) -> None:
        """Say nothing: the terminal is for what is wrong with the notebook."""


class Handler(AnsweringHandler):
    """Answers one browser's requests."""

    server: _Server

    def do_GET(self) -> None:
        """Answer with a file or a page, or when a page has changed."""
        if not self._is_ours():
            return
        address = urlsplit(self.path)
        if address.path == "/preview/changes":
            self._wait(parse_qs(address.query))
            return
        if address.path.startswith("/preview/"):
            name = address.path.removeprefix("/preview/")
            data = (_LIVE / name).read_bytes() if name in OWN_FILES else None
            self.send_file(OWN_FILES.get(name, ""), data)
            return
        path = path_of(self.path) or ""
        ending = path[path.rfind(".") :] if "." in path else ""
        if ending == ".html":
            page, exists = self.server.pages.page(path)
            self.answer(HTTPStatus.OK if exists else HTTPStatus.NOT_FOUND, KINDS[".html"], page)
        else:
            data = self.server.pages.file(path) if path else None
            self.send_file(KINDS.get(ending, "application/octet-stream"), data)

    do_HEAD = do_GET

    def _is_ours(self) -> bool:
        """Whether the request may be answered, by its host and sender; else it is refused."""
        port = self.server.server_address[1]
        names = {f"{host}:{port}" for host in ("127.0.0.1", "localhost", "[::1]")}
        if self.headers.get("Host", "").lower() not in names:
            self.refuse(HTTPStatus.MISDIRECTED_REQUEST, "This is a preview for its own computer.")
            return False
        return not self.refuses_embedding()

    def _wait(self, query: dict[str, list[str]]) -> None:
        """Keep the connection until a page has changed, then say so (server-sent events)."""
        page = path_of(query.get("page", ["/"])[0]) or ""
        since = query.get("since", [""])[0]
        self.send_response(HTTPStatus.OK)
        self.send_usual_headers("text/event-stream")
        self.send_header("Connection", "close")
        self.end_headers()
        self.close_connection = True
        if self.command == "HEAD":
            return
        try:
            self.wfile.write(b"retry: 500\n\n")
            while not self.server.pages.wait_for_change(page, since, BREATH_S):
                self.wfile.write(b": still here\n\n")
            self.wfile.write(b"event: changed\ndata: now\n\n")
        except OSError:
            pass  # the page was closed


class PreviewServer:
    """A preview that is being served, on both of the loopback's addresses if there are two."""

    def __init__(self, pages: PreviewSite, port: int | None) -> None:
        self._servers = [_server_on_port(port)]
        self.port: int = self._servers[0].server_address[1]
        try:
            self._servers.append(_Server6(("::1", self.port), Handler))
        except OSError:
            pass  # no such address here, or taken: the first is enough
        places = Places(MOST_CONNECTIONS)
        for server in self._servers:
            server.pages, server.places = pages, places
            threading.Thread(target=server.serve_forever, args=(0.1,), daemon=True).start()

    @property
    def address(self) -> str:
        """The address of the first page."""
        return f"http://127.0.0.1:{self.port}/"

    def stop(self) -> None:
        """Listen no more."""
        for server in self._servers:
            server.shutdown()
            server.server_close()


def _server_on_port(port: int | None) -> _Server:
    """A server on the named port, else on the first free usual one; UsageError if it is taken."""
    ports = range(USUAL_PORT, USUAL_PORT + PORTS_TRIED) if port is None else (port,)
    for number in ports:
        try:
            return _Server(("127.0.0.1", number), Handler)
        except OSError:
            continue
    raise UsageError(
        f"port {ports[0]} is taken" if port is not None else "no port is free",
        "Name another with --port N; 0 takes any that is free.",
    )
