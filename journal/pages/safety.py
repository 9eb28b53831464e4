"""The page of cautions: what can hurt, what to do, and who knows better than this notebook."""

from __future__ import annotations

from journal.pages.book import Book
from journal.pages.parts import (
    Cell,
    Head,
    Note,
    Page,
    Part,
    Passage,
    Points,
    Rows,
    Said,
    Table,
)
from journal.pages.places import Place, span
from journal.pages.sheet import Sheet
from journal.quantities.units import f_to_c

# How long does hot water take to burn badly, in degrees Fahrenheit?
# A burns institute's table, as quoted on public pages; the base sticks, water runs off.
BURN_TIMES = (
    (120, "more than 5 minutes"),
    (131, "30 seconds"),
    (140, "less than 5 seconds"),
    (151, "1.5 seconds"),
    (156, "1 second"),
)
# Where does the vapour of isopropyl alcohol catch fire? NIOSH Pocket Guide, closed cup.
FLASH_POINT_F = 53

HEAT = (
    "Long sleeves, closed shoes, gloves that keep heat out; eyes covered.",
    "No children or animals near while anything is hot.",
    "Melt gently and covered; never leave the pot alone.",
    "Base sticks to the skin and goes on burning. Cool running water at once, for twenty minutes;"
    " then a doctor for anything larger than a coin.",
)
ALCOHOL = (
    "Rubbing alcohol gives off a vapour that catches fire below room temperature. Spritz with no"
    " flame, hot plate, heat gun or spark within reach.",
    "Switch the hot plate off and move the pot away from it before you spritz. Keep the bottle"
    " away from both.",
    "Air the room. Do not breathe the mist; keep it out of eyes.",
)
BLADES = (
    "Cut mats on a board, the blade away from the hand.",
    "A dull blade slips: change it.",
    "Put the blade down before you lift the mat.",
)
SKIN = (
    "Use the certificate for the lot in hand, and mind its date.",
    "Use colourants that are allowed in soap where you sell.",
    "Undiluted oils: gloves, and wash off spills at once.",
)
LAW = (
    "Labels, net weights and ingredient lists in this notebook are drafts. Rules differ from place"
    " to place and change: check them where you sell, and ask a licensed professional about claims"
    " and about safety assessments."
)
PICTURES = (
    "Where a write-up says that a picture is a render, it is a computer's drawing and no"
    " photograph: nothing can be measured from it. All pictures of the demo notebook are renders."
)


def safety_sheets(book: Book) -> tuple[Sheet, ...]:
    """The page "Safety"."""
    here = book.places.fixed("safety")
    return (book.shown_sheet(here, "safety.html", safety_page(book, here)),)


def safety_page(book: Book, here: Place) -> Page:
    """What can hurt at the bench and on the skin."""
    flash = book.units.temperature(f_to_c(float(FLASH_POINT_F)))
    burns = Note(
        says=(
            (
                "A burns institute's table for hot water, as quoted on public pages. Molten base"
                " sticks, so it is no slower.",
            ),
        )
    )
    vapour = Note(
        big=flash.first,
        says=((f"or {flash.second}: flash point of isopropyl alcohol (NIOSH Pocket Guide).",),),
    )
    limit = Said(
        (
            "A fragrance has a largest share for a rinse-off product, on its supplier's"
            " certificate. The notebook works it out for every layer and refuses a recipe over"
            " it. ",
            span(here, book.places.fixed("how"), "How it is made", "fragrance"),
            ".",
        )
    )
    return Page(
        book.frame(here),
        here.title,
        (
            Part("heat", "Hot base", (Passage((_points(HEAT), _burn_table(book)), (burns,)),)),
            Part("alcohol", "Alcohol mist", (Passage((_points(ALCOHOL),), (vapour,)),)),
            Part("blades", "Blades", (Passage((_points(BLADES),)),)),
            Part("skin", "On the skin", (Passage((limit, _points(SKIN))),)),
            Part("law", "What the law asks", (Passage((Said((LAW,)),)),)),
            Part("pictures", "Pictures", (Passage((Said((PICTURES,)),)),)),
        ),
        lead=("Before the first pour of the day, and for everybody who helps.",),
        folio=here.folio,
        about="Cautions for hot base, alcohol mist, blades and fragrance.",
    )


def _points(sentences: tuple[str, ...]) -> Points:
    return Points(tuple((sentence,) for sentence in sentences))


def _burn_table(book: Book) -> Table:
    rows = []
    for fahrenheit, time in BURN_TIMES:
        at = book.units.temperature(f_to_c(float(fahrenheit)))
        rows.append((Cell((at.first,), at.second, head=True), Cell((time,))))
    return Table(
        "How long hot water takes to burn badly",
        (Head("At"), Head("It takes")),
        (Rows(tuple(rows)),),
    )
