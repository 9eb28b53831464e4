"""The feed and the list of pages of the public edition."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from card_cases import ONE_LAYER, SETTINGS, TWO_LAYERS, lay_notebook
from conftest import CallJournal

ATOM = "{http://www.w3.org/2005/Atom}"
SITE_MAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
ADDRESS = "https://corran.example/soap/"
POURED = ONE_LAYER.replace("Plain", "Plain & <simple>") + (
    "summary: Soap, no more.\npours:\n  - {date: 2026-05-02}\n  - {date: 2026-04-20}\n"
)

Build = Callable[..., Path]


@pytest.fixture(scope="module")
def build(tmp_path_factory: pytest.TempPathFactory, call_journal: CallJournal) -> Build:
    def make(edition: str, settings: str) -> Path:
        root = tmp_path_factory.mktemp("feed")
        lay_notebook(root / "content", settings=settings, plain=POURED, trial_one=TWO_LAYERS)
        done = call_journal(
            "build", "--content", root / "content", "--out", root / "out", "--edition", edition
        )
        assert done.returncode == 0, done.stderr
        return root / "out"

    return make


@pytest.fixture(scope="module")
def public(build: Build) -> Path:
    return build("public", f"{SETTINGS}address: {ADDRESS}\n")


def text(element: ET.Element, name: str) -> str:
    (found,) = element.findall(ATOM + name)
    assert found.text
    return found.text


def test_the_feed_holds_what_an_atom_feed_must(public: Path) -> None:
    """RFC 4287, section 4.1: what a feed and an entry must have, once each."""
    feed = ET.parse(public / "feed.xml").getroot()
    assert feed.tag == f"{ATOM}feed"
    assert text(feed, "id") == ADDRESS
    assert text(feed, "title") == "Corran Bench"
    (author,) = feed.findall(f"{ATOM}author")
    assert text(author, "name") == "Corran Bench"
    links = {link.get("rel"): link.get("href") for link in feed.findall(f"{ATOM}link")}
    assert links == {"self": ADDRESS + "feed.xml", "alternate": ADDRESS}
    (entry,) = feed.findall(f"{ATOM}entry")
    assert text(entry, "title") == "Plain & <simple>"
    assert text(entry, "summary") == "Soap, no more."
    assert text(entry, "id") == f"{ADDRESS}designs/plain.html"
    assert text(entry, "published") == "2026-04-18T00:00:00Z"
    assert text(entry, "updated") == text(feed, "updated") == "2026-05-02T00:00:00Z"
    for moment in (text(entry, "published"), text(entry, "updated")):
        assert datetime.fromisoformat(moment).utcoffset() is not None


def test_the_list_holds_every_page_and_no_other(public: Path) -> None:
    root = ET.parse(public / "sitemap.xml").getroot()
    assert root.tag == f"{SITE_MAP}urlset"
    listed = [url.findtext(f"{SITE_MAP}loc") for url in root]
    pages = [path.relative_to(public).as_posix() for path in public.rglob("*.html")]
    assert listed == [ADDRESS + path for path in sorted(pages)]
    days = {url.findtext(f"{SITE_MAP}loc"): url.findtext(f"{SITE_MAP}lastmod") for url in root}
    assert days[f"{ADDRESS}designs/plain.html"] == "2026-05-02"
    assert days[f"{ADDRESS}safety.html"] is None


def test_pages_lead_to_the_feed(public: Path) -> None:
    for path, root in (("index.html", ""), ("designs/plain.html", "../")):
        links = re.findall(r'<link rel="alternate"[^>]*>', (public / path).read_text("utf-8"))
        assert len(links) == 1
        assert f'href="{root}feed.xml"' in links[0]


@pytest.mark.parametrize(
    ("edition", "settings"),
    [("public", SETTINGS), ("studio", f"{SETTINGS}address: {ADDRESS}\n")],
    ids=["no address", "the studio's"],
)
def test_without_an_address_or_a_public_there_is_none(
    build: Build, edition: str, settings: str
) -> None:
    out = build(edition, settings)
    assert not list(out.glob("*.xml"))
    assert "feed.xml" not in (out / "index.html").read_text("utf-8")
