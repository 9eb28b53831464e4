"""The verdicts, and the conditions of each.

There are these five, and the first one whose conditions hold is given.

cannot tell    nothing can be compared: a variant was never poured or
               measured, there is one pot of each, two groups changed together
better         as much is poured as was set (``until``), adjusted p <= 0.05,
               and the difference is at least one that matters, in the same direction
               (``differs`` for a measure of which neither more nor less is better)
no difference  the 90 % interval has no difference that matters in it
leaning        adjusted p <= 0.20
too few        all else, with the number of further trials needed

The 90 % interval is the one that belongs to two one-sided tests at 0.05
(Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657). p is adjusted by Holm
over the pairs of the question, for looks over all looks of the page.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from journal.comparison.confounding import Confounder
from journal.comparison.intervals import Interval
from journal.comparison.observed import Better, ComparedMeasure
from journal.comparison.power import MOST_TRIALS, TrialsNeeded

VerdictCode = Literal["better", "differs", "no difference", "leaning", "too few", "cannot tell"]
TrialKind = Literal["bars", "pots", "designs"]

SIGNIFICANCE_LEVEL = 0.05
LEANING = 0.20
# A p that is 1/20 exactly may come out a last digit above it after Holm.
LAST_DIGIT = 1e-12


class Evidence(Struct, frozen=True):
    """The statistics that a verdict is based on.

    ``difference`` is second less first; ``excess`` is above 0 if the test found the
    second larger. ``p`` is adjusted. ``within`` is the 90 % interval, None if there is
    none. ``matters`` is the smallest difference that matters. ``reached``: as much is
    poured as was set. ``reason_untestable`` says why there is no test, "" if there is one.
    """

    difference: float | None
    excess: float
    p: float | None
    within: Interval | None
    matters: float
    reached: bool = True
    reason_untestable: str = ""


class Verdict(Struct, frozen=True):
    """A verdict: its code, its words, the variant that it favours, the further trials needed.

    ``favours`` is None where it favours neither; for a measure without a better
    direction it is the variant that has more. ``more`` is None where no more are needed.
    ``so_far``: less is poured than was set.
    """

    code: VerdictCode
    words: str
    favours: str | None = None
    more: TrialsNeeded | None = None
    so_far: bool = False


class Finding(Struct, frozen=True, kw_only=True):
    """Two variants compared by one measure, with the verdict.

    ``difference`` is second less first, with its 95 % interval; ``within`` is the
    90 % interval, for the verdict "no difference". ``deciding`` is False for a look.
    ``family`` counts the tests that p was adjusted over. ``confounders`` are the
    conditions that changed along with the variant among the bars that were compared.
    """

    between: tuple[str, str]
    measure: ComparedMeasure
    deciding: bool
    difference: float | None
    low: float | None
    high: float | None
    within: Interval | None
    p: float | None
    p_adjusted: float | None
    family: int
    verdict: Verdict
    more: TrialsNeeded
    confounders: tuple[Confounder, ...]

    @property
    def by(self) -> str:
        """The name of the measure."""
        return self.measure.name

    @property
    def unit(self) -> str:
        """The unit of the measure."""
        return self.measure.unit


def verdict_code(evidence: Evidence, better: Better | None) -> VerdictCode:
    """The first verdict whose conditions, at the head of this module, the evidence meets."""
    if evidence.reason_untestable or evidence.difference is None or evidence.p is None:
        return "cannot tell"
    agree = evidence.difference * evidence.excess > 0
    if (
        evidence.reached
        and agree
        and evidence.p <= SIGNIFICANCE_LEVEL + LAST_DIGIT
        and abs(evidence.difference) >= evidence.matters
    ):
        return "better" if better else "differs"
    within = evidence.within
    if within is not None and -evidence.matters < within.low <= within.high < evidence.matters:
        return "no difference"
    if evidence.excess and evidence.p <= LEANING + LAST_DIGIT:
        return "leaning"
    return "too few"


def favoured(excess: float, better: Better | None, between: tuple[str, str]) -> str | None:
    """The variant that comes out better, or larger where neither is better; None if neither."""
    if not excess:
        return None
    return between[(excess > 0) != (better == "lower")]


def verdict(
    evidence: Evidence,
    better: Better | None,
    between: tuple[str, str],
    by: str,
    trials: TrialKind,
    more: TrialsNeeded,
) -> Verdict:
    """The verdict of one comparison, with its words; ``by`` is the name of the measure."""
    code = verdict_code(evidence, better)
    name = favoured(evidence.excess, better, between)
    where = "with both" if trials == "designs" else "of each"
    words = {
        "better": f"{name} is better by {by}",
        "differs": f"{name} has the greater {by}",
        "no difference": "no difference worth the name",
        "leaning": f"leaning to {name}" if better else f"leaning to {name}: greater {by}",
        "too few": f"too few: {more_words(more, trials)} {where} would tell",
        "cannot tell": f"cannot tell: {evidence.reason_untestable}",
    }[code]
    so_far = not evidence.reached
    if so_far and code != "cannot tell":
        words = f"so far: {words}"
    return Verdict(
        code=code,
        words=words,
        favours=name if code in ("better", "differs", "leaning") else None,
        more=more if code in ("too few", "leaning", "cannot tell") else None,
        so_far=so_far,
    )


def more_words(more: TrialsNeeded, trials: TrialKind) -> str:
    """The further trials needed in words: "about 3 more bars"."""
    if more.each >= MOST_TRIALS:
        return f"thousands more {trials}"
    return f"about {more.each} more {trials if more.each > 1 else trials[:-1]}"
