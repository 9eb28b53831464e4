"""What the public edition says to readers' programs: a feed of its designs, a list of its pages.

Only where the settings say at which address it will stand, since both hold whole
addresses. Every date comes from the write-ups, so the same content gives the same bytes.
Source: RFC 4287 (the Atom format), and the protocol of sitemaps.org, version 0.9.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable
from datetime import date
from typing import Final
from urllib.parse import quote

from journal.records.codec import digest
from journal.records.models.summary import DesignSummary
from journal.views.shared.book import Book
from journal.views.shared.sheet import Sheet

FEED: Final = "feed.xml"
SITE_MAP: Final = "sitemap.xml"
_ATOM: Final = "http://www.w3.org/2005/Atom"
_SITE_MAP: Final = "http://www.sitemaps.org/schemas/sitemap/0.9"
# RFC 4287 wants a moment. A write-up has a day: its beginning by universal time.
_BEGINNING: Final = "T00:00:00Z"
# The date of a feed without entries.
_NO_DAY: Final = date(1970, 1, 1)


def feed_sheets(book: Book, pages: Iterable[str]) -> tuple[Sheet, ...]:
    """The feed and the list of pages; nothing where the edition has no address.

    Takes:  pages  the paths of all files of the notebook
    """
    address = book.address
    if not address:
        return ()
    paths = sorted(path for path in pages if path.endswith(".html"))
    feed, site_map = _feed(book, address), _site_map(book, address, paths)
    return (
        Sheet(FEED, lambda: feed, digest(feed)),
        Sheet(SITE_MAP, lambda: site_map, digest(site_map)),
    )


def changed_on(design: DesignSummary) -> date:
    """The last day that a design's write-up speaks of: its latest pour's, else its own."""
    return max(filter(None, (design.date, design.overview.last_poured)))


def _feed(book: Book, address: str) -> bytes:
    designs = sorted(
        book.notebook.summaries.values(), key=lambda one: (changed_on(one), one.id), reverse=True
    )
    feed = ET.Element("feed", {"xmlns": _ATOM, "xml:lang": "en-GB"})
    _text(feed, "id", address)
    _text(feed, "title", book.settings.studio)
    newest = max(map(changed_on, designs), default=_NO_DAY)
    _text(feed, "updated", f"{newest.isoformat()}{_BEGINNING}")
    _text(ET.SubElement(feed, "author"), "name", book.settings.studio)
    ET.SubElement(feed, "link", {"rel": "self", "href": address + FEED})
    ET.SubElement(feed, "link", {"rel": "alternate", "type": "text/html", "href": address})
    for design in designs:
        where = address + quote(book.places.designs[design.id].path)
        entry = ET.SubElement(feed, "entry")
        _text(entry, "id", where)
        _text(entry, "title", design.title)
        _text(entry, "published", f"{design.date.isoformat()}{_BEGINNING}")
        _text(entry, "updated", f"{changed_on(design).isoformat()}{_BEGINNING}")
        ET.SubElement(entry, "link", {"rel": "alternate", "type": "text/html", "href": where})
        # An entry without content must have a link, and ought to have a summary.
        _text(entry, "summary", design.summary or design.title)
    return _written(feed)


def _site_map(book: Book, address: str, paths: Iterable[str]) -> bytes:
    days = {
        book.places.designs[design.id].path: changed_on(design)
        for design in book.notebook.summaries.values()
    }
    root = ET.Element("urlset", {"xmlns": _SITE_MAP})
    for path in paths:
        url = ET.SubElement(root, "url")
        _text(url, "loc", address + quote(path))
        if path in days:
            _text(url, "lastmod", days[path].isoformat())
    return _written(root)


def _text(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, name).text = text


def _written(root: ET.Element) -> bytes:
    ET.indent(root, "")
    document: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return document + b"\n"
