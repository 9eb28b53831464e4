"""``journal preview``: who may look, what is shown while something is wrong, what is made anew."""

from __future__ import annotations

import http.client
import os
import re
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from journal import pipeline as of_pipeline
from journal.build_options import BuildOptions
from journal.cli import main
from journal.cli.preview import FolderWatch, RebuildLoop, preview_folder
from journal.errors import ContentError, Position, Problem, UsageError
from journal.preview import server as of_server
from journal.preview.pages import PreviewSite, band_for, path_of
from journal.preview.server import PreviewServer
from journal.preview.session import NotebookRebuilder, Superseded
from journal.records.notebook import Notebook

HTML = (
    '<!doctype html><html lang="en"><head><meta http-equiv="Content-Security-Policy" content="'
    "default-src 'none'; script-src 'self' file:; base-uri 'none'\"><title>A</title></head>"
    '<body id="top"><main>words</main></body></html>'
)
#: A busy machine is late by so much at most.
LATE_S = 120
WRONG = Problem(Position("designs/kelp/design.md", 7, 3), 'unknown key "<b>"', "Mend it.")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that looks like a notebook, with a secret beside it."""
    above = tmp_path_factory.mktemp("served")
    out = above / "out"
    (out / "designs").mkdir(parents=True)
    (out / "index.html").write_text(HTML)
    (out / "designs/kelp.html").write_text(HTML)
    (out / "look.css").write_text("p {}")
    (out / ".journal-made.json").write_text("{}")
    (above / "secret.html").write_text("secret")
    (out / "way-out.html").symlink_to(above / "secret.html")
    return out


@pytest.fixture(scope="module")
def pages(folder: Path) -> PreviewSite:
    return PreviewSite(folder, "7")


@pytest.fixture(scope="module")
def serving(pages: PreviewSite) -> Iterator[PreviewServer]:
    found = PreviewServer(pages, 0)
    yield found
    found.stop()


Ask = Callable[..., http.client.HTTPResponse]


@pytest.fixture
def ask(serving: PreviewServer) -> Iterator[Ask]:
    """Sends one request, as it is, whatever it asks for."""
    opened: list[http.client.HTTPConnection | http.client.HTTPResponse] = []

    def send(path: str, method: str = "GET", **headers: str) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", serving.port, timeout=LATE_S)
        connection.putrequest(method, path, skip_host="Host" in headers)
        for name, value in headers.items():
            connection.putheader(name.replace("_", "-"), value)
        connection.putheader("Connection", "close")
        connection.endheaders()
        answer = connection.getresponse()
        opened.extend((answer, connection))
        return answer

    yield send
    for one in opened:
        one.close()


# Who may look ------------------------------------------------------------------------


def test_a_page_is_given_with_what_waits_for_changes(ask: Ask) -> None:
    answer = ask("/designs/kelp.html?words=x")
    html = answer.read().decode()
    assert answer.status == 200
    assert answer.getheader("Content-Type") == "text/html; charset=utf-8"
    assert answer.getheader("Cache-Control") == "no-store"
    assert '<script src="/preview/reload.js" defer data-version="7.' in html
    assert "script-src 'self' file:; connect-src 'self'; base-uri 'none'" in html
    assert ask("/").read() == ask("/index.html").read()
    assert ask("/look.css").read() == b"p {}"
    assert b"EventSource" in ask("/preview/reload.js").read()


@pytest.mark.parametrize(
    "host",
    ["soap.example", "127.0.0.1", "localhost.a.example:{port}", "127.0.0.1:1", "", "10.0.0.2:80"],
)  # fmt: skip
def test_under_another_hosts_name_nothing_is_given(
    ask: Ask, serving: PreviewServer, host: str
) -> None:
    answer = ask("/index.html", Host=host.format(port=serving.port))
    assert answer.status == 421
    assert b"words" not in answer.read()


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"])
def test_under_its_own_names_it_is(ask: Ask, serving: PreviewServer, host: str) -> None:
    assert ask("/index.html", Host=f"{host}:{serving.port}").status == 200


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "no-cors"}, 403),
        ({"Sec_Fetch_Site": "same-site", "Sec_Fetch_Mode": "no-cors"}, 403),
        ({"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate"}, 200),
        ({"Sec_Fetch_Site": "same-origin", "Sec_Fetch_Mode": "no-cors"}, 200),
        ({"Sec_Fetch_Site": "none", "Sec_Fetch_Mode": "navigate"}, 200),
    ],
)
def test_another_site_may_embed_nothing(ask: Ask, headers: dict[str, str], status: int) -> None:
    answer = ask("/look.css", **headers)
    assert answer.status == status
    assert answer.getheader("Cross-Origin-Resource-Policy") == "same-origin"
    assert answer.getheader("X-Frame-Options") == "DENY"


@pytest.mark.parametrize(
    "path",
    [
        "/../secret.html", "/%2e%2e/secret.html", "/designs/..%2f..%2fsecret.html",
        "/..%5csecret.html", "//secret.html/../../secret.html", "/way-out.html",
        "/.journal-made.json", "/designs", "/%00", "/%80", "/%ff%fe", "/C:/secret.html",
        "/preview/../index.html", "/preview/changes.py", "/preview/../../preview.py",
        "/nothing.html", "/nothing.css",
    ],
)  # fmt: skip
def test_no_path_leads_out(ask: Ask, path: str) -> None:
    answer = ask(path)
    assert answer.status == 404
    assert b"secret" not in answer.read()


@example("/%80")
@given(st.text())
def test_any_path_stays_inside_or_is_none(path: str) -> None:
    found = path_of(path)
    if found is not None:
        assert not found.startswith("/")
        inside = os.path.normpath(os.path.join("/served", found))
        assert inside.startswith("/served/")
        assert not any(step.startswith(".") for step in found.split("/"))


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_nothing_can_be_sent(ask: Ask, method: str) -> None:
    assert ask("/index.html", method).status in (405, 501)


def test_a_head_is_a_page_without_its_words(ask: Ask) -> None:
    answer = ask("/index.html", "HEAD")
    assert answer.status == 200
    assert int(answer.getheader("Content-Length") or 0) > 300
    assert answer.read() == b""


def test_it_listens_on_the_loopback_alone(serving: PreviewServer) -> None:
    for server in serving._servers:
        assert server.server_address[0] in ("127.0.0.1", "::1")
    if socket.has_ipv6 and len(serving._servers) > 1:
        with socket.create_connection(("::1", serving.port), timeout=LATE_S):
            pass


def test_a_port_that_is_taken(pages: PreviewSite, serving: PreviewServer) -> None:
    with pytest.raises(UsageError, match=f"port {serving.port} is taken"):
        PreviewServer(pages, serving.port)


# When a page has changed -----------------------------------------------------------


def test_connections_are_bounded_and_their_places_given_back(
    pages: PreviewSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each has a thread, and a page of another site may open any number and send nothing."""
    monkeypatch.setattr(of_server, "MOST_CONNECTIONS", 4)
    monkeypatch.setattr(of_server.Handler, "timeout", LATE_S)
    before = threading.active_count()
    serving = PreviewServer(pages, 0)
    silent = [socket.create_connection(("127.0.0.1", serving.port), LATE_S) for _ in range(4)]
    try:
        refused = socket.create_connection(("127.0.0.1", serving.port), LATE_S)
        assert refused.recv(4096).startswith(b"HTTP/1.1 503 ")
        refused.close()
        assert threading.active_count() <= before + 2 + 4
        for one in silent:
            one.close()
        connection = http.client.HTTPConnection("127.0.0.1", serving.port, timeout=LATE_S)
        status, latest = 0, time.monotonic() + LATE_S
        while status != 200 and time.monotonic() < latest:
            # A place is given back a moment after its connection ended; until then it is hung up.
            with suppress(OSError, http.client.HTTPException):
                connection.request("GET", "/index.html", headers={"Connection": "close"})
                status = connection.getresponse().status
            connection.close()
        assert status == 200
    finally:
        for one in silent:
            one.close()
        serving.stop()


def test_who_sends_nothing_is_not_waited_for(
    pages: PreviewSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_server.Handler, "timeout", 0.2)
    serving = PreviewServer(pages, 0)
    try:
        with socket.create_connection(("127.0.0.1", serving.port), LATE_S) as silent:
            assert silent.recv(10) == b""
    finally:
        serving.stop()


def test_a_page_waits_for_its_own_changes(folder: Path) -> None:
    pages = PreviewSite(folder, "1")
    shown = pages.version
    assert not pages.wait_for_change("index.html", shown, 0)
    pages.publish(["designs/kelp.html"], ())
    assert not pages.wait_for_change("index.html", shown, 0)
    assert pages.wait_for_change("designs/kelp.html", shown, 0)
    assert not pages.wait_for_change("designs/kelp.html", pages.version, 0)
    pages.publish(["look.css"], ())
    assert pages.wait_for_change("index.html", shown, 0)
    pages.publish(["index/designs-1.js"], ())
    latest = pages.version
    assert pages.wait_for_change("terms.html", shown, 0)
    pages.publish((), (WRONG,))
    assert pages.wait_for_change("index.html", latest, 0)
    latest = pages.version
    pages.publish((), (WRONG,))
    assert pages.version == latest, "the same problems again are no news"


def test_a_page_of_another_preview_has_changed(folder: Path) -> None:
    pages = PreviewSite(folder, "2")
    assert pages.wait_for_change("index.html", "1.0", 0)
    assert pages.wait_for_change("index.html", "", 0)
    assert pages.wait_for_change("index.html", "2.x", 0)


def test_who_was_away_for_long_loads_anew(folder: Path) -> None:
    pages = PreviewSite(folder, "1")
    shown = pages.version
    for number in range(300):
        pages.publish([f"{number}.html"], ())
    assert pages.wait_for_change("index.html", shown, 0)


def test_a_change_wakes_the_page_that_waits(ask: Ask, pages: PreviewSite) -> None:
    answer = ask(f"/preview/changes?page=/designs/kelp.html&since={pages.version}")
    assert answer.getheader("Content-Type") == "text/event-stream"
    heard: list[bytes] = []
    waiting = threading.Thread(target=lambda: heard.append(answer.read()))
    waiting.start()
    pages.publish(["index.html"], ())
    waiting.join(0.2)
    assert not heard
    pages.publish(["designs/kelp.html"], ())
    waiting.join(LATE_S)
    assert heard[0].endswith(b"event: changed\ndata: now\n\n")


def test_a_page_that_is_laid_over_is_shown_until_the_folder_is_made(folder: Path) -> None:
    pages = PreviewSite(folder, "1")
    shown = pages.version
    pages.lay_over({"index.html": b"<html><head></head><body>fresh</body></html>"})
    assert b"fresh" in pages.page("index.html")[0]
    assert pages.wait_for_change("index.html", shown, 0)
    pages.publish((), ())
    assert b"words" in pages.page("index.html")[0]


def test_a_file_that_is_being_exchanged_is_waited_for(tmp_path: Path) -> None:
    pages = PreviewSite(tmp_path, "1")
    pages.begin_writing()

    def finish() -> None:
        (tmp_path / "a.html").write_text("here")
        pages.end_writing()

    finishing = threading.Timer(0.2, finish)
    finishing.start()
    assert pages.file("a.html") == b"here"
    finishing.join()


def test_an_exchange_that_ends_just_after_a_file_was_missed_hides_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pages = PreviewSite(tmp_path, "1")
    pages.begin_writing()
    read = pages._read

    def ends_after(path: str) -> bytes | None:
        monkeypatch.setattr(pages, "_read", read)
        missed = read(path)
        (tmp_path / path).write_text("here")
        pages.end_writing()
        return missed

    monkeypatch.setattr(pages, "_read", ends_after)
    assert pages.file("a.html") == b"here"


def test_an_interrupt_while_it_opens_ends_it_as_any_other(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """The address stands there already: who reads it may be quicker than the program."""

    def interrupted(_: str) -> NoReturn:
        raise KeyboardInterrupt

    monkeypatch.setattr("webbrowser.open", interrupted)
    ask = ["preview", "--content", str(content), "--out", str(tmp_path / "out"), "--port", "0"]
    assert main([*ask, "--open"]) == 0
    assert capsys.readouterr().out.endswith("The preview has ended.\n")


# What is wrong --------------------------------------------------------------------


def test_what_is_wrong_stands_on_every_page_and_first_on_its_own(folder: Path) -> None:
    pages = PreviewSite(folder, "1")
    other = Problem(Position("designs/fern/design.md", 2, 1), "it is bad", "Mend it.")
    mild = Problem(Position("designs/kelp/design.md", 9, 1), "it is odd", "Look.", warning=True)
    pages.publish((), (other, WRONG, mild))
    kelp = pages.page("designs/kelp.html")[0].decode()
    front = pages.page("index.html")[0].decode()
    assert '<body id="top"><aside class="preview-wrong"' in front
    assert "<b>2 errors and 1 warning.</b>" in kelp
    assert "<b>2 errors.</b>" in front
    assert "<code>designs/kelp/design.md:7:3</code>: unknown key &quot;&lt;b&gt;&quot;." in front
    assert kelp.index("kelp/design.md:7:3") < kelp.index("kelp/design.md:9:1") < kelp.index("fern")
    assert '<link rel="stylesheet" href="/preview/band.css">' in front
    pages.publish((), ())
    assert b"preview-wrong" not in pages.page("index.html")[0]


def test_of_many_problems_some_are_told() -> None:
    many = [Problem(Position("journal.yaml", n), "bad", "Mend it.") for n in range(1, 31)]
    band = band_for(many, "index.html")
    assert band.count("<li>") == 13
    assert "and 18 more" in band


# What is made ---------------------------------------------------------------------

DESIGN = "designs/fern-leaf/design.md"
PAGE = "designs/fern-leaf.html"


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A notebook just begun; only to be copied."""
    content = tmp_path_factory.mktemp("begun") / "soap"
    assert main(["begin", str(content)]) == 0
    return content


@pytest.fixture
def content(begun: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it, always in the same place, so that what was reckoned once is known."""
    monkeypatch.setenv("JOURNAL_CACHE", str(begun.parent / "kept"))
    copy = begun.parent / "copy"
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(begun, copy)
    return copy


def change(content: Path, old: str, new: str, path: str = DESIGN) -> None:
    text = (content / path).read_text("utf-8")
    assert old in text
    (content / path).write_text(text.replace(old, new), "utf-8")


def test_a_broken_write_up_has_a_page_that_says_so_and_recovers(
    content: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    desk = NotebookRebuilder(BuildOptions(content, out))
    assert desk.make().problems == ()
    before = files(out)
    change(content, "bars: 6", "bars: many")
    made = desk.make()
    assert PAGE in made.paths
    (problem,) = made.problems
    assert str(problem.position) == f"{DESIGN}:12:7"
    page = (out / PAGE).read_text("utf-8")
    assert "has a mistake in it. Put it right, and the page comes back." in page
    assert f"{DESIGN}:12:7" in page
    assert "&#34;many&#34; is not a whole number" in page
    change(content, "bars: many", "bars: 12")
    made = desk.make()
    assert made.problems == ()
    assert PAGE in made.paths
    assert "12\xa0bars" in (out / PAGE).read_text("utf-8")
    change(content, "bars: 12", "bars: 6")
    desk.make()
    assert files(out) == before


def files(root: Path) -> dict[str, bytes]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and path.name != ".journal-made.json"
    }


def test_a_write_up_that_was_never_read_has_a_page_that_says_why(
    content: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    change(content, "layers:", "leyers:")
    desk = NotebookRebuilder(BuildOptions(content, out))
    problems = desk.make().problems
    assert problems
    page = (out / PAGE).read_text("utf-8")
    for problem in problems:
        assert str(problem.position) in page
    assert (out / "index.html").is_file()
    change(content, "leyers:", "layers:")
    assert desk.make().problems == ()
    assert "Weigh out" in (out / PAGE).read_text("utf-8")


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        ("shelf/bases.yaml", "name:", "nmae:"),
        ("shelf/bases.yaml", "plain-white:", "plain-white: ["),
        ("journal.yaml", "units:", "untis:"),
        ("shelf/mats.yaml", "fern:", "frn:"),
    ],
)
def test_a_mistake_in_what_all_depend_on_leaves_every_page_as_it_was(
    content: Path, tmp_path: Path, path: str, old: str, new: str
) -> None:
    out = tmp_path / "out"
    pages = PreviewSite(out, "1")
    desk = NotebookRebuilder(BuildOptions(content, out))
    work = RebuildLoop(desk, pages, content)
    assert work.make(lambda: False)
    before = files(out)
    change(content, old, new, path)
    with pytest.raises(ContentError, match=re.escape(path)):
        desk.make()
    assert files(out) == before
    # They are shown, with a word on each of what is wrong.
    assert work.make(lambda: False)
    shown = pages.page(PAGE)[0].decode()
    assert "Weigh out" in shown
    assert "preview-wrong" in shown
    assert path in shown
    change(content, new, old, path)
    assert work.make(lambda: False)
    assert files(out) == before
    assert "preview-wrong" not in pages.page(PAGE)[0].decode()


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("comparisons/trim.md", "---\ntitle: Trim\nby: [lipp]\nbetween: trim\n---\n"),
        ("orders/fair.yaml", "title: Fair\ndue: 2026-05-01\ndesigns:\n  - {design: x, bars: 6}\n"),
    ],
)
def test_what_is_sound_is_made_the_first_time_too(
    content: Path, tmp_path: Path, path: str, text: str
) -> None:
    (content / path).parent.mkdir(exist_ok=True)
    (content / path).write_text(text, "utf-8")
    problems = NotebookRebuilder(BuildOptions(content, tmp_path / "out")).make().problems
    assert any(not problem.warning for problem in problems)
    assert (tmp_path / "out/index.html").is_file()
    assert "Weigh out" in (tmp_path / "out" / PAGE).read_text("utf-8")


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("shelf/leftovers.yaml", "a:\n  name: A\n  base: plain-white\n  tinted: gone\n"),
        ("shelf/colourants.yaml", "a: [\n"),
        ("shelf/mats.yaml", ""),
        ("journal.yaml", "studio: [A]\n"),
    ],
)
def test_without_a_shelf_or_settings_there_is_a_page_that_says_so(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], path: str, text: str
) -> None:
    was = (content / path).read_text("utf-8") if (content / path).exists() else ""
    (content / path).write_text(text, "utf-8")
    pages = PreviewSite(tmp_path / "out", "1")
    work = RebuildLoop(NotebookRebuilder(BuildOptions(content, tmp_path / "out")), pages, content)
    assert work.make(lambda: False, first=True)
    told = capsys.readouterr().err
    assert f"{path}:" in told or "shelf/mats.yaml" in told
    assert not (tmp_path / "out/index.html").exists()
    shown = pages.page("index.html")[0].decode()
    assert path in shown
    (content / path).write_text(was, "utf-8") if was else (content / path).unlink()
    assert work.make(lambda: False)
    assert "Weigh out" in pages.page(PAGE)[0].decode()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("amount: 4 g", "amount: 5 g"),
        ("state: trial", "state: keeper"),
        ("---\n\n", "---\n\nA quagga was seen.\n\n"),
    ],
)
def test_the_page_made_by_itself_is_that_of_the_whole_notebook(
    content: Path, tmp_path: Path, old: str, new: str
) -> None:
    out = tmp_path / "out"
    desk = NotebookRebuilder(BuildOptions(content, out))
    desk.make()
    text = (content / DESIGN).read_text("utf-8")
    if old not in text:
        old, new = text[-20:], text[-20:] + "\nA quagga was seen.\n"
    change(content, old, new)
    alone = desk.make_page([DESIGN])
    assert alone.keys() == {PAGE}
    assert alone[PAGE] != (out / PAGE).read_bytes()
    desk.make()
    assert alone[PAGE] == (out / PAGE).read_bytes()


def test_what_stands_on_other_pages_too_is_not_made_by_itself(
    content: Path, tmp_path: Path
) -> None:
    desk = NotebookRebuilder(BuildOptions(content, tmp_path / "out"))
    assert desk.make_page([DESIGN]) == {}, "nothing has been made yet"
    desk.make()
    assert desk.make_page([DESIGN, "journal.yaml"]) == {}
    assert desk.make_page(["shelf/bases.yaml"]) == {}
    change(content, "title: Fern leaf", "title: A fern")
    assert desk.make_page([DESIGN]) == {}
    change(content, "title: A fern", "title: Fern leaf\nbars: 7")
    assert desk.make_page([DESIGN]) == {}


def test_what_is_saved_meanwhile_stops_the_making(content: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    desk = NotebookRebuilder(BuildOptions(content, out))
    desk.make()
    before = (out / PAGE).read_bytes()
    change(content, "bars: 6", "bars: 18")
    with pytest.raises(Superseded):
        desk.make(lambda: True)
    assert (out / PAGE).read_bytes() == before
    desk.make()
    assert (out / PAGE).read_bytes() != before


def test_it_makes_what_a_build_makes(content: Path, tmp_path: Path) -> None:
    out, built = tmp_path / "out", tmp_path / "built"
    desk = NotebookRebuilder(BuildOptions(content, out))
    desk.make()
    change(content, "bars: 6", "bars: 12")
    desk.make()
    assert main(["build", "--content", str(content), "--out", str(built)]) == 0

    assert files(out) == files(built)


def test_an_edition_holds_no_more_than_it_may(content: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    desk = NotebookRebuilder(BuildOptions(content, out, "public"))
    desk.make()
    assert not (out / PAGE).exists(), "a trial is for the studio and its helpers"
    assert desk.make_page([DESIGN]) == {}


# How it goes on -------------------------------------------------------------------


def test_a_save_is_seen_once_it_is_over(content: Path) -> None:
    watch = FolderWatch(content)
    assert watch.changed(0.05) == frozenset()
    change(content, "bars: 6", "bars: 7")
    (content / "designs/.hidden").write_text("x")
    assert watch.has_changed()
    assert watch.changed(2) == {DESIGN}
    (content / DESIGN).unlink()
    assert watch.changed(2) == {DESIGN}
    assert not watch.has_changed()


def test_a_failure_of_the_program_is_shown_and_survived(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    desk = NotebookRebuilder(BuildOptions(content, tmp_path / "out"))
    pages = PreviewSite(tmp_path / "out", "1")
    work = RebuildLoop(desk, pages, content)
    assert work.make(lambda: False)
    monkeypatch.setattr(desk, "make", lambda _: 1 / 0)
    assert work.make(lambda: False)
    assert "ZeroDivisionError" in capsys.readouterr().err
    page = pages.page("index.html")[0].decode()
    assert "the program failed: ZeroDivisionError" in page
    assert "Weigh out" in pages.page(PAGE)[0].decode()


def test_a_save_shows_its_page_first_and_the_rest_after_a_rest(
    content: Path, tmp_path: Path
) -> None:
    pages = PreviewSite(tmp_path / "out", "1")
    work = RebuildLoop(NotebookRebuilder(BuildOptions(content, tmp_path / "out")), pages, content)
    work.make(lambda: False)
    watch = FolderWatch(content)
    change(content, "bars: 6", "bars: 9")
    work.step(watch, 0.05)
    assert "9\xa0bars".encode() in pages.page(PAGE)[0]
    assert "9\xa0bars".encode() not in (tmp_path / "out" / PAGE).read_bytes()
    work.step(watch, 0.05)
    assert "9\xa0bars".encode() in (tmp_path / "out" / PAGE).read_bytes()


def test_what_is_saved_while_it_is_made_is_made_again(content: Path, tmp_path: Path) -> None:
    pages = PreviewSite(tmp_path / "out", "1")
    work = RebuildLoop(NotebookRebuilder(BuildOptions(content, tmp_path / "out")), pages, content)
    assert work.make(lambda: False)
    change(content, "bars: 6", "bars: 9")
    assert not work.make(lambda: True), "something newer was saved meanwhile"
    assert work.make(lambda: False)


def test_what_is_saved_just_before_it_is_read_is_not_known_by_what_stood_there(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither the preview nor a build after it shows it when it has been taken back."""
    # Nothing is known from other tests: else it would not be read at all.
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "kept"))
    out = tmp_path / "out"
    desk = NotebookRebuilder(BuildOptions(content, out))
    read = of_pipeline.read_notebook

    def late(*asked: Any) -> Notebook:
        monkeypatch.setattr(of_pipeline, "read_notebook", read)
        change(content, "bars: 6", "bars: 18")
        return read(*asked)

    monkeypatch.setattr(of_pipeline, "read_notebook", late)
    desk.make()
    assert "18\xa0bars" in (out / PAGE).read_text("utf-8")
    change(content, "bars: 18", "bars: 6")
    desk.make()
    assert "18\xa0bars" not in (out / PAGE).read_text("utf-8")
    NotebookRebuilder(BuildOptions(content, tmp_path / "other")).make()
    assert "18\xa0bars" not in (tmp_path / "other" / PAGE).read_text("utf-8")
    assert main(["build", "--content", str(content), "--out", str(tmp_path / "built")]) == 0
    assert "18\xa0bars" not in (tmp_path / "built" / PAGE).read_text("utf-8")


def test_problems_are_told_once_and_again_when_they_change(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    work = RebuildLoop(
        NotebookRebuilder(BuildOptions(content, out)), PreviewSite(out, "1"), content
    )
    change(content, "bars: 6", "bars: many")
    assert work.make(lambda: False)
    assert capsys.readouterr().err.count("design.md:12:7: ") == 1
    assert work.make(lambda: False)
    assert capsys.readouterr().err == ""
    change(content, "bars: many", "bars: few")
    assert work.make(lambda: False)
    assert '"few"' in capsys.readouterr().err


def test_a_content_that_is_gone_is_told_on_the_page(content: Path, tmp_path: Path) -> None:
    pages = PreviewSite(tmp_path / "out", "1")
    work = RebuildLoop(NotebookRebuilder(BuildOptions(content, tmp_path / "out")), pages, content)
    assert work.make(lambda: False)
    content.rename(content.with_name("aside"))
    try:
        assert work.make(lambda: False)
    finally:
        content.with_name("aside").rename(content)
    page = pages.page("index.html")[0].decode()
    assert "preview-wrong" in page
    assert "there is no notebook here" in page
    assert work.make(lambda: False)
    assert b"preview-wrong" not in pages.page("index.html")[0]


def test_a_page_that_cannot_be_made_by_itself_waits_for_the_whole(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = NotebookRebuilder(BuildOptions(content, tmp_path / "out"))
    work = RebuildLoop(desk, PreviewSite(tmp_path / "out", "1"), content)
    work.make(lambda: False)
    monkeypatch.setattr(desk, "make_page", lambda _: 1 / 0)
    watch = FolderWatch(content)
    change(content, "bars: 6", "bars: 9")
    work.step(watch, 0.05)
    assert "9\xa0bars".encode() in (tmp_path / "out" / PAGE).read_bytes()
    before = (tmp_path / "out" / PAGE).stat().st_mtime_ns
    work.step(watch, 0.05)
    assert (tmp_path / "out" / PAGE).stat().st_mtime_ns == before, "there was nothing to do"


def test_a_save_in_several_steps_is_one(content: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    watch = FolderWatch(content)
    (content / "designs/fern-leaf/a.md").write_text("x")
    steps = iter("bcd")

    def pause(_: float) -> None:
        name = next(steps, "")
        if name:
            (content / "designs/fern-leaf" / f"{name}.md").write_text("x")

    monkeypatch.setattr("journal.cli.preview.time.sleep", pause)
    assert watch.changed(2) == {f"designs/fern-leaf/{name}.md" for name in "abcd"}


def test_a_folder_that_never_rests_is_made_all_the_same(
    content: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    watch = FolderWatch(content)
    path = content / "designs/fern-leaf/a.md"
    path.write_text("x")

    def pause(_: float) -> None:
        path.write_text(path.read_text() + "x")

    monkeypatch.setattr("journal.cli.preview.time.sleep", pause)
    assert watch.changed(2) == {"designs/fern-leaf/a.md"}


def test_without_a_notebook_there_is_nothing_to_show(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["preview", "--content", str(tmp_path / "none")]) == 2
    assert "there is no notebook in" in capsys.readouterr().err


def test_without_a_folder_to_write_to_it_ends(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "missing" / "out"
    assert main(["preview", "--content", str(content), "--out", str(out)]) == 2
    assert "there is no folder" in capsys.readouterr().err


def test_a_disk_that_fails_later_is_told_once(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    desk = NotebookRebuilder(BuildOptions(content, tmp_path / "out"))
    pages = PreviewSite(tmp_path / "out", "1")
    work = RebuildLoop(desk, pages, content)
    work.make(lambda: False)

    def full(_: object) -> NoReturn:
        raise UsageError("the disk is full", "Free some space.")

    monkeypatch.setattr(desk, "make", full)
    assert work.make(lambda: False)
    assert capsys.readouterr().err == "journal: the disk is full. Free some space.\n"
    assert "the disk is full" in pages.page("index.html")[0].decode()


def test_it_is_kept_outside_the_content_and_the_built_notebook(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "kept"))
    own = preview_folder(content, "studio")
    assert own.parent.is_dir()
    assert own.is_relative_to(tmp_path / "kept")
    assert preview_folder(content, "public") != own
    monkeypatch.setenv("JOURNAL_CACHE", "")
    assert preview_folder(content, "studio") == Path("preview-studio")


def test_a_theme_of_its_own_with_a_fault_stops_no_preview(content: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    pages = PreviewSite(out, "1")
    work = RebuildLoop(NotebookRebuilder(BuildOptions(content, out)), pages, content)
    assert work.make(lambda: False)
    before = (out / PAGE).read_bytes()
    own = content / "theme" / "page.html"
    own.parent.mkdir()
    own.write_text("one\n{{ page.__class__ }}", "utf-8")
    assert work.make(lambda: False)
    assert (out / PAGE).read_bytes() == before
    assert b"theme/page.html:2:1" in pages.page(PAGE)[0]
    own.write_text('{% extends "base.html" %}{% block main %}ours{% endblock %}', "utf-8")
    assert work.make(lambda: False)
    html = pages.page(PAGE)[0].decode()
    assert "ours" in html
    nonce = re.search(r"script-src 'strict-dynamic' 'nonce-([^']+)'", html)
    assert nonce is not None
    assert f'nonce="{nonce[1]}"></script>' in html
    assert nonce[1] not in pages.page(PAGE)[0].decode()
