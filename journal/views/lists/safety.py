"""The page of cautions: what can hurt, what to do, and who knows better than this notebook."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from journal.html.blocks import (
    BulletList,
    Page,
    PageCell,
    PageTable,
    Paragraph,
    Passage,
    Section,
    SideNote,
    Words,
    simple_table,
)
from journal.html.card_page import CardAmount, CardWords
from journal.quantities.units import f_to_c
from journal.views.shared.book import Book
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue, catalogue_of
from journal.views.shared.places import Address, span
from journal.views.shared.sheet import Sheet

# How long does hot water take to burn badly, at how many degrees Fahrenheit? The times stand
# in the catalogue.
# A burns institute's table, which is in whole degrees Fahrenheit, as quoted on public pages:
# tests/reference/08-burn-times.csv. The base sticks, water runs off.
BURNS_F = (120, 130, 140, 150, 155)
# Where does the vapour of isopropyl alcohol catch fire? NIOSH Pocket Guide, closed cup.
FLASH_POINT_F = 53

# The cautions in English, for whoever looks them up.
HEAT, ALCOHOL, BLADES, SKIN = (
    tuple(ENGLISH.points(f"safety.{name}")) for name in ("heat", "alcohol", "blades", "skin")
)
LAW = ENGLISH.text("safety.law.1")
PICTURES = (
    "Where a write-up says that a picture is a render, it is a computer's drawing and no"
    " photograph: nothing can be measured from it. All pictures of the demo notebook are renders."
)


def safety_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "Safety"."""
    here = book.places.fixed("safety")
    return (book.sheet(here, "safety.html", partial(safety_page, book, here)),)


def safety_page(book: Book, here: Address) -> Page:
    """What can hurt at the bench and on the skin, also in the language of the cards."""
    parts = list(_cautions(book, here, ENGLISH))
    if book.settings.language != ENGLISH.language:
        parts.extend(_cautions(book, here, catalogue_of(book.settings.language)))
    parts.append(Section("pictures", "Pictures", (Passage((Paragraph((PICTURES,)),)),)))
    return Page(
        book.frame(here),
        here.title,
        tuple(parts),
        lead=(ENGLISH.text("safety.lead"),),
        folio=here.folio,
        about="Cautions for hot base, alcohol mist, blades and fragrance.",
    )


def _cautions(book: Book, here: Address, say: PhraseCatalogue) -> Iterator[Section]:
    """The parts in one language; another than English is introduced as what it is."""
    other = say.language != ENGLISH.language
    before, language = (f"{say.language}-", say.text("code")) if other else ("", "")
    if other:
        blocks = (
            Paragraph((say.text("safety.lead"),)),
            Paragraph((say.text("care.unchecked"),), "soft"),
        )
        head = say.text("safety.language")
        yield Section(say.language, head, (Passage(blocks),), language)
    flash = book.units.temperature(f_to_c(float(FLASH_POINT_F)))
    burns = SideNote(says=((say.text("safety.burns.from"),),))
    vapour = SideNote(big=flash.first, says=((say.text("safety.flash", other=flash.second),),))
    how = span(here, book.places.fixed("how"), say.text("safety.how"), "fragrance")
    limit = Paragraph(_plain(say.words("safety.limit", how=how)))
    passages: dict[str, Passage] = {
        "heat": Passage((_points(say, "heat"), _burn_table(book, say)), (burns,)),
        "alcohol": Passage((_points(say, "alcohol"),), (vapour,)),
        "blades": Passage((_points(say, "blades"),)),
        "skin": Passage((limit, _points(say, "skin"))),
        "law": Passage((Paragraph(tuple(say.points("safety.law"))),)),
    }
    for name, passage in passages.items():
        yield Section(before + name, say.text(f"safety.{name}"), (passage,), language)


def _plain(words: CardWords) -> Words:
    """Words that hold no figure of a card."""
    return tuple(word for word in words if not isinstance(word, CardAmount))


def _points(say: PhraseCatalogue, name: str) -> BulletList:
    return BulletList(tuple((sentence,) for sentence in say.points(f"safety.{name}")))


def _burn_table(book: Book, say: PhraseCatalogue) -> PageTable:
    rows = []
    for fahrenheit in BURNS_F:
        at = book.units.temperature(f_to_c(float(fahrenheit)))
        time = say.text(f"safety.burns.{fahrenheit}")
        rows.append((PageCell((at.first,), at.second, head=True), PageCell((time,))))
    heads = (say.text("safety.burns.at"), say.text("safety.burns.takes"))
    return simple_table(say.text("safety.burns"), heads, rows)
