"""The steps after a pour: printed as written, and parsed for the figures."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Literal

from msgspec import Struct

from journal.errors import QuantityError
from journal.quantities import read

StepKind = Literal["rest", "chill", "unmould", "other"]
_WAIT = re.compile(
    r"^(?P<kind>rest|chill|unmould)\b(?:\s+(?:for|after))?\s+(?P<rest>[^,;.]*)", re.IGNORECASE
)


# What a line of a maker's own words may be about, beside a wait.
StepTopic = Literal["pour", "place", "peel", "cut", "tidy"]
_TOPICS: dict[StepTopic, re.Pattern[str]] = {
    "pour": re.compile(r"^pour\b", re.I),
    "place": re.compile(r"\b(dab|stick|press|lay|set|place|put|drop)\b.*\bpieces?\b", re.I),
    "peel": re.compile(r"\bpeel", re.I),
    "cut": re.compile(r"\bcut\b.*\b(into|bars?|slices?)\b", re.I),
    "tidy": re.compile(r"\b(pare|paring|trim|tidy|plane|clean the edges|scrape the edges)\b", re.I),
}


def says(text: str, topic: StepTopic) -> bool:
    """Whether a line of ``then`` is about this, so that it need not be said again."""
    return _TOPICS[topic].search(text) is not None


class WaitStep(Struct, frozen=True):
    """A step after a pour.

    ``minutes`` is how long it takes (for "unmould after 12 h", how long to wait
    before it); ``temperature_c`` is the temperature at which it rests or chills. Each is
    None where it is not written.
    """

    kind: StepKind
    text: str
    minutes: float | None = None
    temperature_c: float | None = None


# A card needs the same step several times: before and after it, and for its version.
@lru_cache(maxsize=4096)
def read_step(text: str) -> WaitStep:
    """Parse ``rest 15 min``, ``chill 10 min at 39 F``, ``unmould after 12 h``; else "other"."""
    wait = _WAIT.match(text.strip())
    if wait is None:
        return WaitStep("other", text)
    kind: StepKind = wait["kind"].lower()  # type: ignore[assignment]
    duration, _, at = wait["rest"].partition(" at ")
    try:
        minutes = read.read_duration(duration.strip())
    except QuantityError:
        return WaitStep("other", text)
    try:
        temperature_c = read.read_temperature(at.strip()) if at.strip() else None
    except QuantityError:
        temperature_c = None
    return WaitStep(kind, text, minutes, temperature_c)


def read_steps(texts: Iterable[str]) -> tuple[WaitStep, ...]:
    """Parse all steps of a layer, in order."""
    return tuple(map(read_step, texts))
