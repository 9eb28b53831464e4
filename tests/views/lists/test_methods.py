"""What the page of methods must own up to."""

from __future__ import annotations

import csv

import pytest
from paths import REFERENCE

from journal.views.lists.methods import CHAPTERS_OF_METHODS, MethodText


def method(anchor: str) -> MethodText:
    (found,) = (
        one for _, methods in CHAPTERS_OF_METHODS for one in methods if one.anchor == anchor
    )
    return found


@pytest.mark.parametrize("table", ["07-us-mav.csv", "07-us-sampling-a.csv"])
def test_what_is_unconfirmed_is_called_so(table: str) -> None:
    """While a row of these tables was not read in a copy of them, the page says it."""
    with (REFERENCE / table).open(encoding="utf-8", newline="") as lines:
        states = [row["found_or_memory"] for row in csv.DictReader(lines)]
    unconfirmed = any(state.startswith("unconfirmed") for state in states)
    says = "Handbook 133 are from memory and not confirmed" in str(method("net-weight"))
    assert says == unconfirmed
