"""What a base's page says of the temperature at which its pours go wrong."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from journal.views.shared.words import UnitFormatter
from journal.views.shelf.thing import OUTCOME_TEXTS, _outcome_words

ON: Any = SimpleNamespace(book=SimpleNamespace(units=UnitFormatter(False, (1.0,), "EUR")))
OUTCOME = next(iter(OUTCOME_TEXTS))


def said(shares: tuple[float, ...], **found: Any) -> str:
    threshold = {
        "range_c": (44.0, 61.0), "pours": len(shares), "both_ends": False, "interval_c": None,
        "at_c": None, "rises": None, "why": "", **found,
    }  # fmt: skip
    entry: Any = SimpleNamespace(
        outcome=OUTCOME,
        pours=[SimpleNamespace(share=share) for share in shares],
        threshold=SimpleNamespace(**threshold),
    )
    words = _outcome_words(ON, entry)
    return "".join(w if isinstance(w, str) else w.text for w in words).replace("\u00a0", " ")


SHARES = (0.0, 0.5, 1.0, 0.0)


@pytest.mark.parametrize(
    ("found", "ending"),
    [
        ({"why": "four pours are too few"}, "Four pours are too few."),
        ({"both_ends": True}, "It happens to the coolest and to the hottest, and less between."),
        (
            {"at_c": 52.0, "interval_c": (50.0, 55.0), "rises": True},
            "half the bars at about 52 °C (126 °F), on more when hotter (95 %: 50 °C to 55 °C).",
        ),
        (
            {"at_c": 52.0, "interval_c": (None, None), "why": "they do not show it yet"},
            "They do not show it yet.",
        ),
        (
            {"at_c": 52.0, "interval_c": (50.0, None), "rises": True},
            "half the bars at about 52 °C (126 °F), on more when hotter (95 %: above 50 °C).",
        ),
        (
            {"at_c": 52.0, "interval_c": (None, 55.0), "rises": False},
            "half the bars at about 52 °C (126 °F), on more when cooler (95 %: below 55 °C).",
        ),
    ],
)
def test_what_the_pours_say(found: dict[str, Any], ending: str) -> None:
    told = said(SHARES, **found)
    assert told.startswith(OUTCOME.capitalize()[:3])
    assert ". In 2 of 4 pours at 44–61 °C" in told
    assert told.endswith(ending), told


def test_without_a_temperature_of_any_pour() -> None:
    assert "In none of 1 pour at least one bar " in said(
        (0.0,), range_c=None, why="no pour has a temperature"
    )
