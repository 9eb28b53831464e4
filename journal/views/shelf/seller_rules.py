"""What published rules ask of a batch record and of a seller: advice, with its source."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from journal.figures.lots.dates import DATED_UP_TO_MONTHS
from journal.html import blocks as html
from journal.html.blocks import Section, Words
from journal.views.shared.words import capitalised, region_name


class SellerRule(Struct, frozen=True):
    """One thing that a rule asks; ``source`` says where, ``read`` whether a copy of it was read."""

    says: str
    source: str
    read: bool = True


_EU = "Regulation (EC) No 1223/2009"

# The articles that were read are of the copy of 30 November 2009 at legislation.gov.uk, 21 CFR of
# that of the FDA of 22 December 2023; what could not be read is from memory.
EUROPEAN: tuple[SellerRule, ...] = (
    SellerRule(
        "Nothing goes on sale before a safety report is made by somebody with a degree in pharmacy,"
        " toxicology, medicine or the like. It is kept up to date.",
        f"{_EU}, Article 10",
    ),
    SellerRule(
        "A file is kept of each product: what it is, the safety report, how it is made.",
        f"{_EU}, Article 11",
    ),
    SellerRule(
        "Each product is notified online before it is sold, with its name, who is responsible, and"
        " what is in it for poison centres.",
        f"{_EU}, Article 13",
    ),
    SellerRule(
        "One person in the region answers for each product, and is named on it.",
        f"{_EU}, Articles 4 and 5",
        read=False,
    ),
    SellerRule(
        "For three years after a batch went out you can say which shops had it.",
        f"{_EU}, Article 7",
        read=False,
    ),
    SellerRule(
        "The label bears who is responsible, with the address, the batch code, and the date until"
        " which the bar is good.",
        f"{_EU}, Article 19 (1) (a), (c) and (e), as the Austrian agency AGES has it",
    ),
    SellerRule(
        f"Where that date is more than {DATED_UP_TO_MONTHS} months off, how long it keeps once"
        " opened stands in its place.",
        f"{_EU}, Article 19 (1) (c)",
        read=False,
    ),
)

RULES: Mapping[str, tuple[SellerRule, ...]] = {
    "us": (
        SellerRule(
            "A business that sold cosmetics for less than a million dollars a year, on average of"
            " three years and with inflation, need not register, list its products or follow the"
            " rules of good manufacturing practice.",
            "21 U.S.C. 364h (a)",
        ),
        SellerRule(
            "That does not hold for what regularly touches the wet of the eye, is injected, is for"
            " inside the body, or changes looks for more than a day without being taken off.",
            "21 U.S.C. 364h (b)",
        ),
        SellerRule(
            "Small or not: keep records of what harmed anybody (a small business three years,"
            " others six), and report what was serious within 15 business days.",
            "21 U.S.C. 364a, as the Society of Cosmetic Chemists tells it",
        ),
        SellerRule(
            "Small or not: have evidence that each product is safe, and keep its label lawful.",
            "21 U.S.C. 364d, 364e",
            read=False,
        ),
        SellerRule(
            "Bars that are sold only as soap, and clean by alkali salts of fatty acids alone, are"
            " not cosmetics; the Consumer Product Safety Commission oversees them.",
            "21 CFR 701.20; cpsc.gov on soap",
        ),
    ),
    "eu": EUROPEAN,
    "uk": (
        SellerRule(
            "In Great Britain the rules are those of the European Union, but the responsible person"
            " is in the United Kingdom, and the file of each product is kept there in English. In"
            " Northern Ireland those of the European Union hold.",
            f"{_EU} as amended, Articles 4, 5, 5A and 11; guidance on gov.uk of 4 May 2023",
        ),
        SellerRule(
            "Products are notified to the United Kingdom's own service.",
            f"{_EU} as amended, Article 13",
            read=False,
        ),
        *EUROPEAN,
    ),
}


def rules_section(regions: Iterable[str]) -> Section:
    """What rules ask of a seller in these regions, folded away; local rules come first."""
    blocks: list[html.Block] = [
        html.Paragraph(
            ("Advice, and not the law itself: ask whoever oversees cosmetics where you sell.",)
        )
    ]
    for region in dict.fromkeys(regions):
        points: tuple[Words, ...] = tuple(
            (f"{one.says} ({one.source}{'' if one.read else '; unconfirmed'}.)",)
            for one in RULES.get(region, ())
        ) or ((f"What {region} asks of a seller is not known here.",),)
        blocks += [html.Subhead(capitalised(region_name(region))), html.BulletList(points)]
    section = html.simple_section("rules", "What the rules ask", *blocks)
    return Section(section.anchor, section.head, section.passages, fold="Of a record, and of you")
