"""The maker's Markdown as HTML that can run nothing, with links to pages of the notebook."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Mapping
from html import escape
from typing import Final
from xml.etree.ElementTree import Element, SubElement

import markdown
from markdown.treeprocessors import Treeprocessor
from markupsafe import Markup

from journal.errors import ContentError, Position, Problem
from journal.records.models.prose import deepest_line

# Gives the new address of a link in the prose; None removes the link and leaves its words
# (for a page that this edition leaves out).
LinkResolver = Callable[[str], str | None]
# Attributes of a picture's <img>, and of a <source> before it for browsers that take that.
ShownPicture = tuple[Mapping[str, str], Mapping[str, str] | None]
# Gives the attributes of a picture in the prose; None replaces it by its words.
PictureResolver = Callable[[str], ShownPicture | None]

# Addresses that may stand in a link of the prose; other links are removed.
_SAFE_ADDRESS = re.compile(r"^(https?:|mailto:|#|[^:]*$)", re.IGNORECASE)


class _Links(Treeprocessor):
    """Rewrites addresses of links and pictures, and lowers headings by two levels."""

    lead_to: LinkResolver
    show: PictureResolver

    def run(self, root: Element) -> None:
        self._rewrite_below(root)

    def _rewrite_below(self, parent: Element) -> None:
        """Rewrite all links, pictures, headings and table cells below ``parent``."""
        for child in list(parent):
            self._rewrite_below(child)
            if child.tag == "a" and "href" in child.attrib:
                self._rewrite_link(child)
            elif child.tag == "img":
                self._rewrite_picture(parent, child)
            elif child.tag in ("h1", "h2", "h3", "h4", "h5"):
                # The page's own heads are of the first and second order.
                child.tag = f"h{min(6, int(child.tag[1]) + 2)}"
            elif child.tag in ("th", "td") and "style" in child.attrib:
                side = child.attrib.pop("style").rpartition(":")[2].strip(" ;")
                if side == "right":
                    child.set("class", "n")
            if child.tag == "th":
                child.set("scope", "col")

    def _rewrite_link(self, link: Element) -> None:
        """Set the address of a link, or make it a span; footnotes and anchors stay."""
        href = link.attrib["href"]
        if "footnote" in (link.get("class") or "") or href.startswith("#"):
            return
        new = self.lead_to(href) if _SAFE_ADDRESS.match(href) else None
        if new is None:
            del link.attrib["href"]
            link.tag = "span"
            link.attrib.pop("title", None)
        else:
            link.set("href", new)

    def _rewrite_picture(self, parent: Element, picture: Element) -> None:
        """Set the attributes of a picture, or replace it by its words."""
        shown, place = self.show(picture.get("src", "")), list(parent).index(picture)
        if shown is None:
            words = picture.get("alt", "") + (picture.tail or "")
            if place:
                parent[place - 1].tail = (parent[place - 1].tail or "") + words
            else:
                parent.text = (parent.text or "") + words
            parent.remove(picture)
            return
        image, source = shown
        picture.attrib.update(image)
        if source is not None:
            both = Element("picture")
            SubElement(both, "source", dict(source))
            both.tail, picture.tail = picture.tail, None
            parent[place] = both
            both.append(picture)


# The fonts have no arrow that turns back.
_FOOTNOTES: Final = {"UNIQUE_IDS": False, "BACKLINK_TITLE": "Back to {}", "BACKLINK_TEXT": "Back"}

# One a thread: a converter holds the text that it converts, and takes long to make.
_THREAD_DATA = threading.local()


def _converter() -> tuple[markdown.Markdown, _Links]:
    """The converter of this thread, reset, and its tree processor for links and pictures."""
    if not hasattr(_THREAD_DATA, "converter"):
        from markdown.extensions.fenced_code import FencedCodeExtension
        from markdown.extensions.footnotes import FootnoteExtension
        from markdown.extensions.sane_lists import SaneListExtension
        from markdown.extensions.tables import TableExtension

        new = markdown.Markdown(
            # By name they would be looked for in all that is installed.
            extensions=[
                TableExtension(),
                FootnoteExtension(**_FOOTNOTES),
                SaneListExtension(),
                FencedCodeExtension(),
            ],
            output_format="html",
        )
        links = _Links(new)
        # Raw HTML is text: what a guest writes cannot run in the reader's browser.
        new.preprocessors.deregister("html_block")
        new.inlinePatterns.deregister("html")
        new.inlinePatterns.deregister("entity", strict=False)
        new.treeprocessors.register(links, "own_links", 5)
        _THREAD_DATA.converter = new, links
    converter, links = _THREAD_DATA.converter
    converter.reset()
    return converter, links


def render_prose(
    text: str, lead_to: LinkResolver, show: PictureResolver, at: Position, anchor: str = ""
) -> Markup:
    """A Markdown text as HTML: paragraphs, lists, tables, footnotes, links, pictures.

    Takes:  text     Markdown; HTML in it is shown as text
            lead_to  gives the address that a link leads to on this page
            show     gives the attributes of a picture
            at       where the text begins in its file
            anchor   begins the ids of footnotes, so that two texts can stand on a page
    Gives:  HTML without scripts, styles, event handlers, or addresses that run anything
    Fails:  ContentError, at its deepest line, for a text that is nested too deep to be set
    """
    converter, links = _converter()
    links.lead_to, links.show = lead_to, show
    try:
        html = converter.convert(text)
    except RecursionError:
        line, level = deepest_line(text)
        what = f"the line stands in {level} lists or quotations, which cannot be set"
        place = Position(at.path, at.line + line)
        raise ContentError((Problem(place, what, "Nest less deep."),)) from None
    if anchor:
        html = re.sub(r'(id="|href="#)(fn|fnref):', rf"\1{escape(anchor)}-\2:", html)
    return Markup(html)
