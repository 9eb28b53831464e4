"""The page "Safety": hot base, alcohol, blades, skin, oils on the shelf, and the law."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from journal.html import blocks
from journal.html.card_page import CardAmount
from journal.quantities.units import f_to_c
from journal.views.shared.book import Book
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue, catalogue_of
from journal.views.shared.places import Address, Sheet, span, thing_span

# Temperatures of hot water; the catalogue has the times in which each burns badly.
# A burns institute's table, which is in whole degrees Fahrenheit, as quoted on public pages:
# tests/reference/08-burn-times.csv. The base sticks, water runs off.
BURNS_F = (120, 130, 140, 150, 155)
# Isopropyl alcohol: NIOSH Pocket Guide, closed cup.
FLASH_POINT_F = 53

# What the catalogue says of shipping, a flash point of 60 °C or less: 49 CFR 173.120(a), as quoted
# on public pages (its text of 2002, which was read, had 60.5 °C); ADR 2.2.3.1.1, from memory.

# The parts of the page, by their names in the catalogue.
CAUTIONS = ("heat", "alcohol", "blades", "skin", "oils", "law")
PICTURES = (
    "A picture that its write-up calls a render is a computer's drawing, not a photograph."
    " Nothing can be measured from it. All pictures of the demo notebook are renders."
)


def safety_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "Safety"."""
    here = book.places.fixed("safety")
    return (book.sheet(here, "safety.html", partial(safety_page, book, here)),)


def safety_page(book: Book, here: Address) -> blocks.Page:
    """The page "Safety", in English and then in the language of the cards if it is another."""
    parts = list(_caution_sections(book, here, ENGLISH))
    if book.settings.language != ENGLISH.language:
        parts.extend(_caution_sections(book, here, catalogue_of(book.settings.language)))
    parts.append(blocks.simple_section("pictures", "Pictures", blocks.Paragraph((PICTURES,))))
    about = "Cautions for hot base, alcohol mist, blades and fragrance; flash points of the oils."
    return book.page(here, parts, standfirst=(ENGLISH.text("safety.standfirst"),), about=about)


def _caution_sections(book: Book, here: Address, say: PhraseCatalogue) -> Iterator[blocks.Section]:
    """The sections of cautions in one language, after an introduction if it is not English."""
    before, language = "", ""
    if say.language != ENGLISH.language:
        before, language = f"{say.language}-", say.text("code")
        standfirst = blocks.Paragraph((say.text("safety.standfirst"),))
        unchecked = blocks.Paragraph((say.text("care.unchecked"),), "soft")
        head = say.text("safety.language")
        yield blocks.Section(
            say.language, head, (blocks.Passage((standfirst, unchecked)),), language
        )
    flash = book.units.temperature(f_to_c(float(FLASH_POINT_F)))
    burns = blocks.SideNote(says=((say.text("safety.burns.from"),),))
    vapour = blocks.SideNote(
        big=flash.first, says=((say.text("safety.flash", other=flash.second),),)
    )
    how = span(here, book.places.fixed("how"), say.text("safety.how"), "fragrance")
    words = say.words("safety.limit", how=how)
    limit = blocks.Paragraph(tuple(word for word in words if not isinstance(word, CardAmount)))
    passages: dict[str, blocks.Passage] = {
        "heat": blocks.Passage((_points(say, "heat"), _burn_table(book, say)), (burns,)),
        "alcohol": blocks.Passage((_points(say, "alcohol"),), (vapour,)),
        "blades": blocks.Passage((_points(say, "blades"),)),
        "skin": blocks.Passage((limit, _points(say, "skin"))),
        "oils": blocks.Passage((_points(say, "oils"), *_flash_points(book, here, say))),
        "law": blocks.Passage((blocks.Paragraph(tuple(say.points("safety.law"))),)),
    }
    for name, passage in passages.items():
        yield blocks.Section(before + name, say.text(f"safety.{name}"), (passage,), language)


def _points(say: PhraseCatalogue, name: str) -> blocks.BulletList:
    return blocks.BulletList(tuple((sentence,) for sentence in say.points(f"safety.{name}")))


def _flash_points(book: Book, here: Address, say: PhraseCatalogue) -> tuple[blocks.PageTable, ...]:
    """A table of the oils whose flash point is on the shelf; none without such an oil."""
    known = [
        (record.flash_point[0], name)
        for name, record in book.bench.fragrances.items()
        if record.flash_point is not None
    ]
    rows = []
    for flash_c, name in sorted(known):
        oil, at = thing_span(book.places, here, "fragrances", name), book.units.temperature(flash_c)
        rows.append((blocks.PageCell((oil,), head=True), blocks.PageCell((at.first,), at.second)))
    heads = (say.text("safety.oils.oil"), say.text("safety.oils.at"))
    return (blocks.simple_table(say.text("safety.oils.table"), heads, rows),) if rows else ()


def _burn_table(book: Book, say: PhraseCatalogue) -> blocks.PageTable:
    """A table of temperatures of water and the time in which each burns badly."""
    rows = []
    for fahrenheit in BURNS_F:
        at = book.units.temperature(f_to_c(float(fahrenheit)))
        time = say.text(f"safety.burns.{fahrenheit}")
        rows.append((blocks.PageCell((at.first,), at.second, head=True), blocks.PageCell((time,))))
    heads = (say.text("safety.burns.at"), say.text("safety.burns.takes"))
    return blocks.simple_table(say.text("safety.burns"), heads, rows)
