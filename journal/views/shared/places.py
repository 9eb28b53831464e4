"""The address of every page of the notebook: its path, title and page number; its sheet.

Page numbers go by kind, so that writing up one more design moves no other page's
number: designs are numbered 1, 2, … by their date; things on the shelf have the
letter of their kind (F2 is the second fragrance), questions asked across designs a
Q, orders an O; the pages that every notebook has are numbered in Roman figures, as
the front matter of a book is.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from msgspec import Struct

from journal.figures.lots.trace import LotKey
from journal.html.blocks import Link, TextRun, Tone
from journal.records.designs import bad_id
from journal.records.models.shelf import KINDS
from journal.records.notebook import Notebook


class Sheet(Struct, frozen=True):
    """A file that can be rendered.

    ``path`` is relative to the notebook's root. ``key`` is a digest of everything that the bytes
    depend on; without one the bytes themselves are digested. ``lasting`` files are named by their
    content.
    """

    path: str
    make: Callable[[], bytes]
    key: str = ""
    lasting: bool = False


class Address(Struct, frozen=True):
    """The path, title and page number (``folio``) of a page.

    ``short`` is its name in the navigation, "" for a page that is reached from another;
    ``under`` is the path of the page that is marked there while this one is open.
    """

    path: str
    title: str
    folio: str = ""
    short: str = ""
    under: str = ""


# The pages that every notebook has. The seven with a short name are the navigation, in its
# order: what is wanted at the bench. The studio's name leads to the front, the list of designs
# to the two under it, the foot of every page to the figures. Page numbers are Roman figures,
# except that of the orders, which the public edition does not have.
FIXED: Mapping[str, Address] = {
    "front": Address("index.html", "Latest", "i"),
    "designs": Address("designs/index.html", "Designs", "ii", "Designs"),
    "cards": Address("cards/index.html", "Recipe cards", "vii", "Cards"),
    "orders": Address("orders/index.html", "Orders", "O", "Orders"),
    "shelf": Address("shelf/index.html", "The shelf", "iii", "Shelf"),
    "failed": Address("failed.html", "What failed, and what fixed it", "iv", "What failed"),
    "weeks": Address("weeks.html", "Pours by week", "v", under="designs/index.html"),
    "compared": Address("compared/index.html", "Compared", "vi", under="designs/index.html"),
    "how": Address("how.html", "How we worked it out", "viii"),
    "safety": Address("safety.html", "Safety", "ix", "Safety"),
    "terms": Address("terms.html", "Index", "x", "Index"),
}


# More letters of a symptom are in no address.
_LONGEST_NAME = 60

# Stands under the figures, whose heading on the page of methods leads to it.
POTS = Address(
    "pots.html", "How fast pots cool", f"{FIXED['how'].folio}.1", under=FIXED["how"].path
)

# Stands under the orders; its name is none that an order can have.
TO_BUY = Address("to-buy.html", "To buy", f"{FIXED['orders'].folio}.B", under=FIXED["orders"].path)

# The folder of the pages of each kind.
_FOLDERS = {"design": "designs", "comparison": "compared", "order": "orders"}
# "design", "comparison" or "order", and an id.
KindAndId = tuple[str, str]


class FaultyAddress(NamedTuple):
    """The title and date of an entry with an error, for its page's address and number."""

    title: str
    date: date | None


NOTHING_FAULTY: Mapping[KindAndId, FaultyAddress] = {}


@dataclass(frozen=True, slots=True)
class Addresses:
    """The address of every page of one notebook, by kind and id."""

    designs: Mapping[str, Address] = field(default_factory=dict)
    cards: Mapping[str, Address] = field(default_factory=dict)
    things: Mapping[tuple[str, str], Address] = field(default_factory=dict)  # (kind, id)
    compared: Mapping[str, Address] = field(default_factory=dict)
    orders: Mapping[str, Address] = field(default_factory=dict)  # by the day they are due
    lots: Mapping[LotKey, Address] = field(default_factory=dict)
    batches: Mapping[str, Address] = field(default_factory=dict)  # by design, of those poured
    faulty: Mapping[KindAndId, Address] = field(default_factory=dict)  # what has an error

    @property
    def faulty_designs(self) -> tuple[Address, ...]:
        """The pages of the designs that could not be read, which no count or list has."""
        return tuple(at for (kind, _), at in self.faulty.items() if kind == "design")

    def fixed(self, name: str) -> Address:
        """One of the pages that every notebook has: a name of ``FIXED``."""
        return FIXED[name]

    def thing(self, kind: str, name: str) -> Address | None:
        """The address of a thing on the shelf; None where this notebook has no page of it."""
        return self.things.get((kind, name))


def places_of(
    notebook: Notebook,
    faulty: Mapping[KindAndId, FaultyAddress] = NOTHING_FAULTY,
    lots: Iterable[LotKey] | None = None,
) -> Addresses:
    """The addresses of all pages of a notebook, as it is cut for its edition.

    A ``faulty`` thing has a page that shows what is wrong; a faulty design keeps its page number.
    ``lots`` are those that have pages; None: neither they nor batches have any.
    """
    by_date = sorted(notebook.summaries.values(), key=lambda design: (design.date, design.id))
    dated = [(design.date, design.id) for design in by_date]
    dated += [
        (one.date, name)
        for (kind, name), one in faulty.items()
        if kind == "design" and one.date is not None
    ]
    numbers = {name: str(number) for number, (_, name) in enumerate(sorted(dated), start=1)}
    compared = sorted(notebook.comparisons.items())
    orders = sorted(notebook.orders.values(), key=lambda order: (order.record.due, order.id))
    things = {
        (kind, name): _address_in("shelf", f"{row.noun}-{name}", record.name, f"{row.letter}{n}")
        for kind, row in KINDS.items()
        for n, (name, record) in enumerate(notebook.shelf.of_kind(kind).items(), start=1)
    }
    return Addresses(
        lots=_lot_places(things, lots or ()),
        batches={
            one.id: Address(
                f"batches/{one.id}.html",
                f"Batches of {one.title}",
                f"{numbers[one.id]}.B",
                under=FIXED["designs"].path,
            )
            for one in by_date
            if lots is not None and one.overview.pours
        },
        designs={
            one.id: _address_in("designs", one.id, one.title, numbers[one.id]) for one in by_date
        },
        cards={one.id: _address_in("cards", one.id, one.title) for one in by_date},
        things=things,
        compared={
            name: _address_in("compared", name, comparison.record.title, f"Q{n}")
            for n, (name, comparison) in enumerate(compared, start=1)
        },
        orders={
            order.id: _address_in("orders", order.id, order.record.title, f"O{n}")
            for n, order in enumerate(orders, start=1)
        },
        faulty={
            (kind, name): _address_in(
                _FOLDERS[kind], name, one.title, numbers.get(name, "") if kind == "design" else ""
            )
            for (kind, name), one in faulty.items()
        },
    )


def _lot_places(
    things: Mapping[tuple[str, str], Address], lots: Iterable[LotKey]
) -> dict[LotKey, Address]:
    """The address of each lot of what has a page, numbered within it."""
    places: dict[LotKey, Address] = {}
    used: set[str] = set()
    numbers: dict[tuple[str, str], int] = {}
    for kind, name, lot in lots:
        thing = things.get((kind, name))
        if thing is None or lot is None:
            continue
        number = numbers[kind, name] = numbers.get((kind, name), 0) + 1
        slug = re.sub(r"[^a-z0-9]+", "-", lot.lower())[:_LONGEST_NAME].strip("-") or "lot"
        path = f"lots/{KINDS[kind].noun}-{name}-{slug}.html"
        # Two lots may read alike without their signs.
        while path in used:
            path = path.removesuffix(".html") + f"-{number}.html"
        used.add(path)
        title = f"{thing.title}, lot {lot}"
        places[kind, name, lot] = Address(
            path, title, f"{thing.folio}.{number}", under=FIXED["shelf"].path
        )
    return places


def _address_in(folder: str, name: str, title: str, folio: str = "") -> Address:
    """The address of a page in ``folder``, filed under the fixed page of that name."""
    return Address(f"{folder}/{name}.html", title, folio, under=FIXED[folder].path)


def year_place(year: int, latest: int) -> Address:
    """The address of a year's pours; the ``latest`` year has the fixed page."""
    weeks = FIXED["weeks"]
    if year == latest:
        return weeks
    return Address(
        f"weeks/{year}.html", f"Pours of {year}", f"{weeks.folio}.{year}", "", weeks.path
    )


def symptom_places(symptoms: Iterable[str]) -> dict[str, Address]:
    """The address of each symptom's page, numbered within "What failed"."""
    failed, places = FIXED["failed"], dict[str, Address]()
    used: set[str] = set()
    for number, symptom in enumerate(symptoms, start=1):
        name = re.sub(r"[^a-z0-9]+", "-", symptom.lower())[:_LONGEST_NAME].strip("-")
        # Two symptoms may read alike without their signs, and so may one and another's number.
        while not name or name in used or bad_id(name):
            name = f"{name}-{number}".lstrip("-")
        used.add(name)
        title, folio = symptom[:1].upper() + symptom[1:], f"{failed.folio}.{number}"
        places[symptom] = Address(f"failed/{name}.html", title, folio, "", failed.path)
    return places


def older_place(of: Address, number: int) -> Address:
    """The address of an older page of a long list; the oldest is number 1."""
    folder = of.path.removesuffix("/index.html").removesuffix(".html")
    title = f"{of.title}, page {number}"
    return Address(f"{folder}/older/{number}.html", title, f"{of.folio}.{number}", "", of.path)


def fixed_places(*, public: bool) -> tuple[Address, ...]:
    """The addresses of the fixed pages of an edition, in the order of the contents."""
    return tuple(place for name, place in FIXED.items() if not (public and name == "orders"))


def href(here: Address, to: Address, fragment: str = "") -> str:
    """The link from the page ``here`` to another; relative, so that the folder can be moved."""
    tail = f"#{fragment}" if fragment else ""
    if here.path == to.path:
        return tail or posixpath.basename(to.path)
    return file_href(here, to.path) + tail


def file_href(here: Address, path: str) -> str:
    """The relative link from the page ``here`` to any file of the notebook."""
    return _relative(path, posixpath.dirname(here.path))


# Every page leads to many; there are few folders.
@lru_cache(maxsize=16384)
def _relative(path: str, folder: str) -> str:
    """The path of a file as seen from a folder."""
    return posixpath.relpath(path, folder or ".")


# The links are the same on all other pages of one folder.
@lru_cache(maxsize=256)
def _contents(public: bool, path: str, marked: str) -> tuple[Link, ...]:
    """The navigation of the page at ``path``; one of its links is ``marked`` as open."""
    here = Address(path, "")
    return tuple(
        Link(place.short, href(here, place), here=place.path == marked)
        for place in fixed_places(public=public)
        if place.short
    )


def contents(here: Address, *, public: bool) -> tuple[Link, ...]:
    """The navigation of an edition, as the page ``here`` shows it."""
    fixed = {place.path: place.under or place.path for place in fixed_places(public=public)}
    path = here.path if here.path in fixed else posixpath.join(posixpath.dirname(here.path), "")
    marked = here.under or here.path
    return _contents(public, path, fixed.get(marked, marked))


def root_of(here: Address) -> str:
    """The relative path from a page to the notebook's root, such as "" or "../"."""
    return "../" * here.path.count("/")


def span(
    here: Address, to: Address, text: str = "", fragment: str = "", tone: Tone = ""
) -> TextRun:
    """A text run that links to a page, showing its title or ``text``."""
    return TextRun(text or to.title, tone, href(here, to, fragment), to.folio)


def thing_span(places: Addresses, here: Address, kind: str, name: str, text: str = "") -> TextRun:
    """A thing on the shelf as text: its name or ``text``, linked to its page if it has one."""
    place = places.thing(kind, name)
    return TextRun(text or name) if place is None else span(here, place, text)


def link(here: Address, to: Address, text: str = "", fragment: str = "", end: str = "") -> Link:
    """A link on a line of its own to a page, showing its title or ``text``; ``end`` follows."""
    return Link(text or to.title, href(here, to, fragment), to.folio, end)


def batch_anchor(code: str) -> str:
    """The HTML anchor of a batch on the page of its design's batches."""
    return "batch-" + re.sub(r"[^A-Za-z0-9]+", "-", code)


def pour_anchor(label: str) -> str:
    """The HTML anchor of a pour on its design's page."""
    return "pour-" + re.sub(r"[^A-Za-z0-9]+", "-", label)
