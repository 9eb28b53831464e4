"""What went with a failure, as its page says it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_book import demo_book
from msgspec.structs import replace as replaced

from journal.comparison.failures.conditions import FailurePot
from journal.comparison.failures.derive import notebook_conditions
from journal.html.blocks import Paragraph, Section
from journal.records.models.write_up import Failure
from journal.views.lists.conditions import conditions_section


def section(pots: list[FailurePot], *fixes: str) -> Section | None:
    conditions = notebook_conditions(pots)
    book = demo_book()
    book = replace(book, compared=replaced(book.compared, conditions=conditions))
    failures = [Failure(what="lip", saw="It did.", mend=fix, mended="yes") for fix in fixes]
    return conditions_section(book, book.places.fixed("failed"), "lip", failures)


def says(found: Section | None) -> list[str]:
    assert found is not None
    blocks = found.passages[0].blocks
    return ["".join(map(str, one.words)) for one in blocks if isinstance(one, Paragraph)]


def days(failed: tuple[int, ...], of: int, hotter: bool = True) -> list[FailurePot]:
    """A design a number of whose pots failed, the hotter ones or the cooler."""
    sign = 1 if hotter else -1
    return [
        FailurePot(
            "kelp",
            f"2026-04-{day:02d}",
            (("pour", 54.0 + sign * day * 0.5), ("room", 20.0 + day * 7 % 5)),
            (),
            (("lip", day in failed),),
        )
        for day in range(1, of + 1)
    ]


def test_counts_then_what_to_try_then_what_else_was_looked_at() -> None:
    # The middle of 54.5 to 62 is 58.25 degrees C, or 137 F: 7 of the 8 hotter ones had it.
    fixes = ("Pour under 130 F.", "Let it get cooler.", "Wet it first.")
    found = section(days((10, 11, 12, 13, 14, 15, 16), 16), *fixes)
    assert says(found) == [
        "7 of 8 pours hotter than 137\u00a0°F had it, and 0 of the 8 others. It is unlikely to be"
        " chance. Try pouring no hotter than 137\u00a0°F, if the window allows it; a fix of that"
        " kind held twice.",
        "Also looked at: the room. What shows there could easily be chance.",
    ]
    assert found is not None
    assert "cause" in str(found.passages[0].notes[0].says)
    assert found.passages[1].fold == "The counts: 2 looked at"


def test_the_other_way_round() -> None:
    said = says(section(days((10, 11, 12, 13, 14, 15, 16), 16, hotter=False)))[0]
    assert said.startswith("0 of 8 pours hotter than ")
    assert said.endswith("Try pouring hotter than 122\u00a0°F, if the window allows it.")


@pytest.mark.parametrize("failed", [(), (1,)])
def test_nothing_is_said_where_nothing_can_tell(failed: tuple[int, ...]) -> None:
    assert section(days(failed, 6)) is None


def test_what_could_be_chance_is_counted_in_the_fold_alone() -> None:
    assert says(section(days((1, 4, 8, 12, 13), 16))) == [
        "Nothing stands out. Looked at: how hot the body was poured and the room."
    ]
