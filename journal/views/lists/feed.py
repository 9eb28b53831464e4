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
from journal.views.shared.places import Sheet

FEED: Final = "feed.xml"
SITE_MAP: Final = "sitemap.xml"
_ATOM: Final = "http://www.w3.org/2005/Atom"
_SITE_MAP: Final = "http://www.sitemaps.org/schemas/sitemap/0.9"
# RFC 4287 wants a moment. A write-up has a day: its beginning by universal time.
_BEGINNING: Final = "T00:00:00Z"
# The date of a feed without entries.
_NO_DAY: Final = date(1970, 1, 1)


def feed_sheets(book: Book, pages: Iterable[str]) -> tuple[Sheet, ...]:
    """The Atom feed and the site map; nothing where the edition has no address.

    Takes:  pages  the paths of all files of the notebook; only those of .html are listed
    """
    address = book.address
    if not address:
        return ()
    paths = sorted(path for path in pages if path.endswith(".html"))
    feed, site_map = _atom_feed(book, address), _site_map(book, address, paths)
    return (
        Sheet(FEED, lambda: feed, digest(feed)),
        Sheet(SITE_MAP, lambda: site_map, digest(site_map)),
    )


def changed_on(design: DesignSummary) -> date:
    """The date of the design's latest pour or of its write-up, whichever is later."""
    return max(filter(None, (design.date, design.overview.last_poured)))


def _atom_feed(book: Book, address: str) -> bytes:
    """The Atom feed as XML: an entry for each design, the last changed first."""
    designs = sorted(
        book.notebook.summaries.values(), key=lambda one: (changed_on(one), one.id), reverse=True
    )
    feed = ET.Element("feed", {"xmlns": _ATOM, "xml:lang": "en-GB"})
    _add_text(feed, "id", address)
    _add_text(feed, "title", book.settings.studio)
    newest = max(map(changed_on, designs), default=_NO_DAY)
    _add_text(feed, "updated", f"{newest.isoformat()}{_BEGINNING}")
    _add_text(ET.SubElement(feed, "author"), "name", book.settings.studio)
    ET.SubElement(feed, "link", {"rel": "self", "href": address + FEED})
    ET.SubElement(feed, "link", {"rel": "alternate", "type": "text/html", "href": address})
    for design in designs:
        where = address + quote(book.places.designs[design.id].path)
        entry = ET.SubElement(feed, "entry")
        _add_text(entry, "id", where)
        _add_text(entry, "title", design.title)
        _add_text(entry, "published", f"{design.date.isoformat()}{_BEGINNING}")
        _add_text(entry, "updated", f"{changed_on(design).isoformat()}{_BEGINNING}")
        ET.SubElement(entry, "link", {"rel": "alternate", "type": "text/html", "href": where})
        # An entry without content must have a link, and ought to have a summary.
        _add_text(entry, "summary", design.summary or design.title)
    return _serialized(feed)


def _site_map(book: Book, address: str, paths: Iterable[str]) -> bytes:
    """The site map as XML: an entry for each page, with the date of change for designs."""
    days = {
        book.places.designs[design.id].path: changed_on(design)
        for design in book.notebook.summaries.values()
    }
    root = ET.Element("urlset", {"xmlns": _SITE_MAP})
    for path in paths:
        url = ET.SubElement(root, "url")
        _add_text(url, "loc", address + quote(path))
        if path in days:
            _add_text(url, "lastmod", days[path].isoformat())
    return _serialized(root)


def _add_text(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, name).text = text


def _serialized(root: ET.Element) -> bytes:
    """The XML document as UTF-8, with its declaration and a line break at its end."""
    ET.indent(root, "")
    document: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return document + b"\n"
