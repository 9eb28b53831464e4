"""``journal preview --bench``: who is let in, what is taken, and who alone can say yes."""

from __future__ import annotations

import http.client
import itertools
import json
import queue
import shutil
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from functools import partial
from http import HTTPStatus
from pathlib import Path
from typing import Any

import pytest
from demo import KELP_ON_CLAY
from synthetic_tree import Died, dies_at

from journal.cache_folder import hand_ins_path
from journal.cli import main
from journal.cli.bench import Bench, TypedLines, qr_code, read_bench_at
from journal.errors import UsageError
from journal.output import KeptLines, OutputError
from journal.preview import hand_ins as of_hand_ins
from journal.preview.bench_server import MOST_OF_A_PHONE, BenchServer, own_address
from journal.preview.door import MOST_PHONES, MOST_WRONG, BenchDoor, RateLimit
from journal.preview.hand_ins import HANDED_OVER, KEPT, LEFT_OUT, THERE_ALREADY, HandInDesk
from journal.preview.pages import PreviewSite
from journal.preview.server import Places
from journal.records.notebook import Notebook, read_notebook

PAGE = (
    '<!doctype html><html lang="en"><head><meta http-equiv="Content-Security-Policy" content="'
    "default-src 'none'; script-src 'self' file:; base-uri 'none'\"></head>"
    "<body>bench</body></html>"
)
POUR = {"date": "2026-12-01", "room": "69 F", "bars": [{"bar": "1", "variant": "clear"}]}
JSON = "application/json"
FORM = "application/x-www-form-urlencoded"


def hand_in(pour: Any = POUR, **other: Any) -> bytes:
    made = {
        "format": "soap-design-journal/hand-in/1", "notebook": "hollin-quay",
        "design": KELP_ON_CLAY, "hand_in": "k3v9" * 5, "pour": pour, "later": [],
    }  # fmt: skip
    return json.dumps(made | other).encode()


@pytest.fixture(scope="module")
def whole(demo_content: Path) -> Notebook:
    return read_notebook(demo_content)


@pytest.fixture
def lines(tmp_path: Path) -> KeptLines:
    return KeptLines(tmp_path / "state" / "kept")


@pytest.fixture
def desk(lines: KeptLines, whole: Notebook) -> HandInDesk:
    return HandInDesk(lines, lambda: whole)


@pytest.fixture
def door() -> BenchDoor:
    codes = itertools.cycle(["abcdefgh", "22222222"])
    return BenchDoor(lambda: next(codes))


@pytest.fixture
def served(desk: HandInDesk, door: BenchDoor, tmp_path: Path) -> Iterator[BenchServer]:
    out = tmp_path / "served" / "out"
    (out / "bench").mkdir(parents=True)
    for name in ("index.html", f"bench/{KELP_ON_CLAY}.html"):
        (out / name).write_text(PAGE)
    (out / ".journal-made.json").write_text("{}")
    (tmp_path / "served" / "secret.html").write_text("secret")
    found = BenchServer(PreviewSite(out, "7"), desk, door, "127.0.0.1", 0)
    yield found
    found.stop()


Ask = Callable[..., tuple[http.client.HTTPResponse, bytes]]


@pytest.fixture
def ask(served: BenchServer) -> Ask:
    """Sends one request, as a page of the server does unless the headers say otherwise."""
    port = int(served.address.rpartition(":")[2])

    def send(
        path: str, body: bytes | None = None, kind: str = JSON, **headers: str | None
    ) -> tuple[http.client.HTTPResponse, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        sent = {} if body is None else {"Origin": served.address, "Content-Type": kind}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        sent = {name: value for name, value in sent.items() if value is not None}
        connection.request("GET" if body is None else "POST", path, body, sent)
        answer = connection.getresponse()
        data = answer.read()
        connection.close()
        return answer, data

    return send


@pytest.fixture
def cookie(ask: Ask, door: BenchDoor) -> str:
    answer, _ = ask("/code", f"c={door.open()}".encode(), FORM)
    return (answer.getheader("Set-Cookie") or "").partition(";")[0]


# Who is let in --------------------------------------------------------------------------


def test_the_code_is_good_once_and_the_cookie_from_then_on(ask: Ask, door: BenchDoor) -> None:
    code = door.open()
    refused, page = ask("/index.html")
    assert (refused.status, b"bench</body>" in page) == (403, False)
    form, page = ask(f'/code?c={code}"><script>')
    assert form.status == 200
    assert b'value="abcdefgh&quot;&gt;&lt;script' in page
    assert "default-src 'none'" in (form.getheader("Content-Security-Policy") or "")
    # A form is sent without an origin where no referrer is (Fetch standard).
    assert form.getheader("Referrer-Policy") == "same-origin"
    let_in, _ = ask("/code", b"c=ABCD-efgh", FORM)
    assert (let_in.status, let_in.getheader("Location")) == (303, "/index.html")
    given = let_in.getheader("Set-Cookie") or ""
    assert given.endswith("; Path=/; Max-Age=50400; HttpOnly; SameSite=Strict")
    cookie = given.partition(";")[0]
    assert len(cookie) > 40
    assert b"bench" in ask("/index.html", Cookie=cookie)[1]
    # Used up, and another's cookie opens nothing.
    assert ask("/code", b"c=abcdefgh", FORM)[0].status == 403
    for wrong in ("journal-bench=x", f"{cookie}x", "=;;", "journal-bench="):
        assert ask("/index.html", Cookie=wrong)[0].status == 403


def test_after_five_wrong_codes_the_right_one_is_good_no_more(ask: Ask, door: BenchDoor) -> None:
    code = door.open()
    for _ in range(MOST_WRONG):
        assert ask("/code", b"c=zzzzzzzz", FORM)[0].status == 403
    assert not door.is_open
    assert ask("/code", f"c={code}".encode(), FORM)[0].status == 403
    assert ask("/code", f"c={door.open()}".encode(), FORM)[0].status == 303


def test_codes_and_cookies_are_random_and_bounded() -> None:
    door = BenchDoor()
    codes = [door.open() for _ in range(200)]
    assert len(set(codes)) == 200
    assert {len(code) for code in codes} == {8}
    cookies = [door.enter(door.open()) or "" for _ in range(MOST_PHONES + 1)]
    assert [door.knows(cookie) for cookie in cookies] == [False] + [True] * MOST_PHONES


def test_only_helpers_pages_are_given(ask: Ask, cookie: str) -> None:
    answer, page = ask(f"/bench/{KELP_ON_CLAY}.html", Cookie=cookie)
    assert answer.status == 200
    assert b"connect-src 'self'" in page
    assert answer.getheader("X-Frame-Options") == "DENY"
    for path in ("/../secret.html", "/%2e%2e/secret.html", "/.journal-made.json", "/x.html",
                 "/preview/changes?page=/", "/preview/reload.js"):  # fmt: skip
        assert ask(path, Cookie=cookie)[0].status == 404


@pytest.mark.parametrize(
    ("headers", "body", "path", "status"),
    [
        ({"Host": "soap.example"}, None, "/index.html", 421),
        ({"Host": "localhost:1"}, hand_in(), "/hand-in", 421),
        ({"Origin": "http://soap.example"}, hand_in(), "/hand-in", 403),
        ({"Origin": "null"}, hand_in(), "/hand-in", 403),
        ({"Origin": None}, hand_in(), "/hand-in", 403),
        ({"Origin": None}, b"c=abcdefgh", "/code", 403),
        ({"Sec_Fetch_Site": "same-site"}, hand_in(), "/taps", 403),
        ({"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "no-cors"}, None, "/index.html", 403),
        ({"Cookie": None}, hand_in(), "/taps", 403),
        ({"Content_Type": "text/plain"}, hand_in(), "/hand-in", 415),
        ({"Content_Length": "10000000"}, b"{}", "/hand-in", 413),
        ({"Content_Length": "-1"}, b"{}", "/hand-in", 411),
        ({"Transfer_Encoding": "chunked"}, b"0\r\n\r\n", "/hand-in", 411),
        ({}, b"{" * 1000, "/hand-in", 422),
        ({}, b"c=1", "/yes", 404),
        ({}, hand_in(notebook="another"), "/taps", 409),
        ({}, hand_in(design="no-such-design"), "/taps", 404),
        ({}, hand_in(design="../../../etc/passwd"), "/taps", 422),
        ({}, hand_in(POUR | {"room": "69 g"}), "/hand-in", 422),
        ({}, hand_in(POUR | {"colour": "red"}), "/hand-in", 422),
    ],
)  # fmt: skip
def test_what_does_not_come_from_its_own_pages_is_refused(
    ask: Ask, cookie: str, desk: HandInDesk, headers: dict[str, str | None], body: bytes | None,
    path: str, status: int,
) -> None:  # fmt: skip
    answer, data = ask(path, body, **({"Cookie": cookie} | headers))
    assert answer.status == status
    if answer.getheader("Content-Type") == JSON:
        assert json.loads(data)["said"].endswith((".", "?"))
    assert desk.waiting() is None


def test_too_much_at_once_is_refused(ask: Ask, cookie: str, served: BenchServer) -> None:
    served._server.taps = RateLimit(2, 60)
    found = [ask("/taps", hand_in(), Cookie=cookie)[0].status for _ in range(3)]
    assert found == [200, 200, 429]
    now = iter([0.0, 1.0, 59.0, 60.0])
    limit = RateLimit(2, 60, lambda: next(now))
    assert [limit.allows() for _ in range(4)] == [True, True, False, True]


def test_nothing_that_asks_otherwise_is_answered(served: BenchServer) -> None:
    port = int(served.address.rpartition(":")[2])
    for method in ("PUT", "DELETE", "OPTIONS"):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        connection.request(method, "/hand-in")
        assert connection.getresponse().status == 501
        connection.close()


@pytest.mark.parametrize("in_body", [False, True])
def test_who_sends_a_letter_at_a_time_is_hung_up_on(
    desk: HandInDesk, door: BenchDoor, tmp_path: Path, in_body: bool
) -> None:
    """Each letter comes well within the patience for one, the whole of them never."""
    server = BenchServer(PreviewSite(tmp_path, "7"), desk, door, "127.0.0.1", 0, 0.3)
    host = server.address.removeprefix("http://")
    head = f"POST /code HTTP/1.1\r\nHost: {host}\r\nOrigin: {server.address}\r\n"
    head += f"Content-Type: {FORM}\r\nContent-Length: 100\r\n\r\n"
    with socket.create_connection(("127.0.0.1", int(host.partition(":")[2])), timeout=5) as slow:
        if in_body:
            slow.sendall(head.encode())
        begun, answer = time.monotonic(), b""
        slow.settimeout(0.02)
        while time.monotonic() - begun < 5:
            with suppress(OSError):
                slow.sendall(b"c")
            try:
                answer += (part := slow.recv(4096))
            except TimeoutError:
                continue
            except OSError:
                break
            if not part:
                break
    server.stop()
    assert 0.2 < time.monotonic() - begun < 2
    assert answer.startswith(b"HTTP/1.1 408 " if in_body else b"")


def test_one_address_has_at_most_a_share_of_the_places(served: BenchServer) -> None:
    port = int(served.address.rpartition(":")[2])
    with ExitStack() as held:
        connect = partial(socket.create_connection, ("127.0.0.1", port), timeout=5)
        for _ in range(MOST_OF_A_PHONE):
            held.enter_context(connect())
        assert held.enter_context(connect()).recv(20).startswith(b"HTTP/1.1 503 ")
    places = Places(24, MOST_OF_A_PHONE)
    taken = [places.take(f"10.0.0.{phone}") for phone in range(6) for _ in range(7)]
    assert taken == ([True] * 6 + [False]) * 4 + [False] * 14
    places.give_back("10.0.0.0")
    assert [places.take(f"10.0.0.{phone}") for phone in (0, 9)] == [True, False]


# What is kept ---------------------------------------------------------------------------


def test_each_tap_is_a_line_that_survives(
    ask: Ask, cookie: str, desk: HandInDesk, lines: KeptLines, whole: Notebook
) -> None:
    early = hand_in(None)
    for what in (early, hand_in(), hand_in()):
        assert json.loads(ask("/taps", what, Cookie=cookie)[1]) == {"said": KEPT}
    answer, data = ask("/hand-in", hand_in(), Cookie=cookie)
    assert (answer.status, json.loads(data)) == (200, {"said": HANDED_OVER})
    (name,) = lines.names()
    assert name == f"{KELP_ON_CLAY}-{'k3v9' * 5}.jsonl"
    kept = [json.loads(line) for line in (lines.folder / name).read_bytes().splitlines()]
    assert kept == [json.loads(early), json.loads(hand_in())]
    assert (lines.folder.stat().st_mode & 0o777, (lines.folder / name).stat().st_mode & 0o777) == (
        0o700, 0o600,
    )  # fmt: skip
    # After the machine has stopped in the middle of a line, another desk goes on.
    with (lines.folder / name).open("ab") as file:
        file.write(hand_in()[:50])
    again = HandInDesk(lines, lambda: whole)
    assert again.keep(hand_in()).said == KEPT
    assert (lines.folder / name).read_bytes().splitlines()[-1] == lines.last(name)
    assert json.loads(lines.last(name) or b"") == json.loads(hand_in())


def test_what_would_fill_the_disk_is_not_kept(
    desk: HandInDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_hand_ins, "MOST_FILES", 1)
    assert desk.keep(hand_in()).status == HTTPStatus.OK
    full = desk.keep(hand_in(hand_in="a" * 16))
    assert full.status == HTTPStatus.INSUFFICIENT_STORAGE
    monkeypatch.setattr(of_hand_ins, "MOST_WAITING", 1)
    monkeypatch.setattr(of_hand_ins, "MOST_FILES", 9)
    assert desk.hand_over(hand_in()).said == HANDED_OVER
    assert desk.hand_over(hand_in(hand_in="a" * 16)).status == HTTPStatus.TOO_MANY_REQUESTS
    monkeypatch.setattr(of_hand_ins, "LARGEST_KEPT_BYTES", 300)
    assert desk.keep(hand_in(POUR | {"room": "70 F"})).status == HTTPStatus.INSUFFICIENT_STORAGE


def test_a_line_is_added_whole_or_the_next_one_begins_anew(tmp_path: Path) -> None:
    for step in range(1, 6):
        lines = KeptLines(tmp_path / str(step), dies_at(step))
        try:
            lines.add("a.jsonl", b"one")
        except Died:
            pass
        KeptLines(tmp_path / str(step)).add("a.jsonl", b"two")
        found = (tmp_path / str(step) / "a.jsonl").read_bytes()
        assert found in (b"two\n", b"one\ntwo\n")


def test_where_others_may_write_nothing_is_kept(tmp_path: Path, whole: Notebook) -> None:
    folder = tmp_path / "open"
    folder.mkdir(mode=0o777)
    folder.chmod(0o777)
    lines = KeptLines(folder)
    with pytest.raises(OutputError, match="others may write in"):
        lines.add("a", b"x")
    answer = HandInDesk(lines, lambda: whole).keep(hand_in())
    assert answer.status == HTTPStatus.INTERNAL_SERVER_ERROR
    assert "It is safe on this phone" in answer.said


@pytest.mark.usefixtures("like_anybody")
def test_a_folder_that_may_not_be_listed_is_said(lines: KeptLines, desk: HandInDesk) -> None:
    assert desk.keep(hand_in()).said == KEPT
    lines.folder.chmod(0o300)
    try:
        answer = desk.keep(hand_in(hand_in="a" * 16))
    finally:
        lines.folder.chmod(0o700)
    assert answer.status == HTTPStatus.INTERNAL_SERVER_ERROR


def test_a_notebook_has_a_folder_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("JOURNAL_HAND_INS", str(tmp_path))
    one, other = hand_ins_path("one"), hand_ins_path("../other")
    assert one != other
    assert one is not None
    assert one.parent == tmp_path
    monkeypatch.delenv("JOURNAL_HAND_INS")
    monkeypatch.setenv("XDG_STATE_HOME", "/var/state")
    monkeypatch.setattr("sys.platform", "linux")
    assert str(hand_ins_path("one")).startswith("/var/state/soap-design-journal/hand-ins/")
    monkeypatch.setenv("XDG_STATE_HOME", "not/whole")
    assert hand_ins_path("one") is None


# Who says yes ---------------------------------------------------------------------------


class Typing(TypedLines):
    """Lines that a test types."""

    def __init__(self) -> None:
        self._lines = queue.SimpleQueue()

    def type(self, line: str) -> None:
        self._lines.put(line)


@pytest.fixture
def typing() -> Typing:
    return Typing()


@pytest.fixture
def bench(
    demo_content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typing: Typing
) -> Iterator[Bench]:
    content = tmp_path / "content"
    shutil.copytree(demo_content, content, copy_function=shutil.copyfile)
    monkeypatch.setenv("JOURNAL_HAND_INS", str(tmp_path / "kept"))
    notebook = read_notebook(content)
    made = Bench(content, PreviewSite(tmp_path, "7"), lambda: notebook, ("127.0.0.1", 0), typing)
    yield made
    made.stop()


def write_up(bench: Bench) -> Path:
    return bench._content / f"designs/{KELP_ON_CLAY}/design.md"


def test_it_is_written_after_a_yes_at_the_terminal(
    bench: Bench, typing: Typing, capsys: pytest.CaptureFixture[str]
) -> None:
    bench.begin()
    before = write_up(bench).read_bytes()
    typing.type("yes")  # to nothing that was asked
    bench.step()
    assert bench.desk.hand_over(hand_in()).said == HANDED_OVER
    bench.step()
    assert "+  - pour: E\n" in capsys.readouterr().out
    assert write_up(bench).read_bytes() == before
    typing.type("yes")
    bench.step()
    after = write_up(bench).read_text("utf-8")
    added = ("  - pour: E\n    date: 2026-12-01\n    room: 69 F\n    bars:\n"
             "      - {bar: E1, variant: clear}\n")  # fmt: skip
    assert after.replace(added, "").encode() == before
    assert bench.desk.waiting() is None
    # Sent again, it is not asked again.
    assert bench.desk.hand_over(hand_in()).said == THERE_ALREADY


def test_what_was_left_out_is_kept_and_not_asked_again(
    bench: Bench, typing: Typing, capsys: pytest.CaptureFixture[str]
) -> None:
    before = write_up(bench).read_bytes()
    bench.desk.hand_over(hand_in())
    bench.step()
    typing.type("n")
    bench.step()
    path = bench.desk.lines.folder / bench.desk.lines.names()[0]
    assert f"It is kept: journal take {path}" in " ".join(capsys.readouterr().out.split())
    assert bench.desk.hand_over(hand_in(hand_in="b" * 16)).said == LEFT_OUT
    bench.step()
    assert capsys.readouterr().out == ""
    assert write_up(bench).read_bytes() == before
    assert main(["take", str(path), "--content", str(bench._content), "--yes"]) == 0
    assert write_up(bench).read_bytes() != before


def test_what_changed_since_it_was_shown_is_asked_anew(
    bench: Bench, typing: Typing, capsys: pytest.CaptureFixture[str]
) -> None:
    bench.desk.hand_over(hand_in())
    bench.step()
    # The phone hands in more before the answer: what was agreed to is not that.
    bench.desk.hand_over(hand_in(POUR | {"wrapped": "26 h"}))
    typing.type("yes")
    bench.step()
    assert "pour: E" not in write_up(bench).read_text("utf-8")
    assert "+    wrapped: 26 h" in capsys.readouterr().out
    # And so does she, in her editor.
    text = write_up(bench).read_text("utf-8")
    write_up(bench).write_text(text.replace("White kelp on", "White kelps on"), "utf-8")
    typing.type("yes")
    bench.step()
    assert "was changed meanwhile" in capsys.readouterr().err
    typing.type("yes")
    bench.step()
    assert "wrapped: 26 h" in write_up(bench).read_text("utf-8")
    assert "White kelps on" in write_up(bench).read_text("utf-8")


def test_of_two_that_wait_each_has_its_own_letter(bench: Bench, typing: Typing) -> None:
    """Both were looked at as the next pour when they came in."""
    bench.desk.hand_over(hand_in())
    bench.desk.hand_over(hand_in(POUR | {"date": "2026-12-02"}, hand_in="b" * 16))
    for _ in range(3):
        bench.step()
        typing.type("yes")
    pours = read_notebook(bench._content).designs[KELP_ON_CLAY].pours
    assert [[bar.bar for bar in pour.bars] for pour in pours[4:]] == [["E1"], ["F1"]]


def test_what_cannot_be_put_in_yet_is_kept(
    bench: Bench, typing: Typing, capsys: pytest.CaptureFixture[str]
) -> None:
    text = write_up(bench).read_text("utf-8")
    write_up(bench).write_text(text.replace("state: trial", "state: trail"), "utf-8")
    assert bench.desk.hand_over(hand_in()).said == HANDED_OVER
    bench.step()
    out = capsys.readouterr()
    assert "design.md:4:8: " in out.err
    assert "It is kept. When that is mended: journal take " in " ".join(out.out.split())
    assert bench.desk.waiting() is None


def test_a_write_up_that_is_gone_when_it_is_asked_about_ends_no_preview(
    bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    assert bench.desk.hand_over(hand_in()).said == HANDED_OVER
    write_up(bench).unlink()
    bench.step()
    out = capsys.readouterr()
    assert "cannot be read: no such file or directory. Put it back." in out.err
    assert "It is kept. When that is mended: journal take " in " ".join(out.out.split())


def test_what_is_refused_is_told_with_its_file(
    bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    refused = bench.desk.hand_over(hand_in(POUR | {"room": "69 g"}))
    assert refused.said.startswith('"69 g" is a mass; a temperature is wanted here. ')
    bench.step()
    out = capsys.readouterr()
    assert "the hand-in:1:" in out.err
    assert "It was not taken. It is kept: journal take " in " ".join(out.out.split())
    bench.step()
    assert capsys.readouterr().err == ""


def test_another_code_is_had_by_typing(
    bench: Bench, typing: Typing, capsys: pytest.CaptureFixture[str]
) -> None:
    bench.begin()
    code = capsys.readouterr().out.split("code ")[-1].split()[0]
    assert bench.door.enter(code)
    bench.step()
    assert "For another phone type: code" in capsys.readouterr().out
    typing.type("code")
    bench.step()
    assert "For one phone: http://127.0.0.1:" in capsys.readouterr().out
    assert bench.door.is_open


def test_without_a_terminal_it_is_kept_alone(
    bench: Bench, capsys: pytest.CaptureFixture[str]
) -> None:
    bench._typed = None
    bench.begin()
    bench.desk.hand_over(hand_in())
    bench.step()
    assert "Nobody can be asked here" in capsys.readouterr().out
    assert "pour: E" not in write_up(bench).read_text("utf-8")


def test_lines_are_typed_in_pieces() -> None:
    pieces = queue.SimpleQueue[bytes]()
    typed = TypedLines(pieces.get)
    assert typed.next() is None
    for piece in (b"Y", b"es\r\nco", b"de\n", b""):
        pieces.put(piece)
    found = []
    while len(found) < 2:
        if (line := typed.next()) is not None:
            found.append(line)
    assert found == ["yes", "code"]


# Where ----------------------------------------------------------------------------------


def test_an_address_is_one_of_a_network_of_ones_own() -> None:
    """RFC 1918, section 3, and what is no such address."""
    assert read_bench_at("10.255.255.255") == ("10.255.255.255", 23624)
    assert read_bench_at("172.16.0.1:80") == ("172.16.0.1", 80)
    for wrong in ("8.8.8.8", "172.32.0.1", "0.0.0.0", "soap.example", "", "10.0.0.1:x", "::1",
                  "10.0.0.1:99999"):  # fmt: skip
        with pytest.raises(UsageError):
            read_bench_at(wrong)


def test_a_taken_port_and_no_network_are_said(
    served: BenchServer, desk: HandInDesk, door: BenchDoor, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = int(served.address.rpartition(":")[2])
    with pytest.raises(UsageError, match="--bench-at ADDRESS:PORT"):
        BenchServer(PreviewSite(Path(), "7"), desk, door, "127.0.0.1", port)

    def offline(*_: object) -> None:
        raise OSError

    monkeypatch.setattr("socket.socket.connect", offline)
    with pytest.raises(UsageError, match="in no network"):
        own_address()


def test_the_code_for_a_camera_says_the_address() -> None:
    """Read back with the finder patterns of ISO/IEC 18004, 6.3.3, at three corners."""
    drawn = qr_code("http://192.168.178.120:23624/code?c=abcdefgh")
    dark = [
        [sign in (" ", lower) for sign in line]
        for line in drawn for lower in ("▄", "▀")
    ]  # fmt: skip
    finder = [[r in (0, 6) or c in (0, 6) or (2 <= r <= 4 and 2 <= c <= 4) for c in range(7)]
              for r in range(7)]  # fmt: skip
    size = len(dark[0])
    for top, left in ((2, 2), (2, size - 9), (size - 9, 2)):
        assert [row[left : left + 7] for row in dark[top : top + 7]] == finder


def test_the_same_handed_over_again_takes_back_no_question(desk: HandInDesk) -> None:
    desk.hand_over(hand_in())
    asked = desk.waiting()
    desk.hand_over(hand_in())
    assert asked is not None
    assert desk.waiting() is asked
    desk.hand_over(hand_in(POUR | {"room": "70 F"}))
    assert desk.waiting() is not asked
