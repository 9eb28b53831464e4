"""The verdicts, and the conditions of each.

There are these five, and the first one whose conditions hold is given.

cannot tell    nothing can be compared: a variant was never poured or
               measured, there is one pot of each, two groups changed together
better         at an announced look adjusted p is within the level of that look, with
               nothing else to explain it (``differs`` for a measure of which neither
               more nor less is better); whether the difference matters is said beside it
no difference  the 90 % interval has no difference that matters in it
leaning        adjusted p <= 0.20, or within the level but for a doubt: the pots scatter
               unlike those they are held against, a plan was not kept, or a variant
               always came first
too few        all else

The 90 % interval is the one that belongs to two one-sided tests at 0.05
(Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657). p is adjusted by Holm
over the pairs of the question, for hints over all hints of the page. What is
looked at twice is told at a smaller p (``LOOK_LEVELS``).
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from journal.comparison.confounding import Confounder
from journal.comparison.intervals import Interval
from journal.comparison.observed import Better, ComparedMeasure
from journal.comparison.power import NextLook

VerdictCode = Literal["better", "differs", "no difference", "leaning", "too few", "cannot tell"]

# Verdicts that a look can end with; after any other the next look is waited for.
TOLD: tuple[VerdictCode, ...] = ("better", "differs", "no difference")

SIGNIFICANCE_LEVEL = 0.05
# p at which the first and the second announced look tell, the second at twice the trials: together
# they are wrong in 5 % at most. Pocock, Biometrika 64 (1977) 191, has 0.0294 for both.
LOOK_LEVELS = (0.03, 0.028)
LEANING = 0.20
# A p that is 1/20 exactly may come out a last digit above it after Holm.
LAST_DIGIT = 1e-12


class Evidence(Struct, frozen=True):
    """The statistics that a verdict is based on.

    ``difference`` is second less first; ``excess`` is above 0 if the test found the
    second larger. ``p`` is adjusted, ``level`` the one that tells at this look. ``within`` is the
    90 % interval, None if there is none. ``matters`` is the smallest difference that matters.
    ``due`` says whether an announced look is due. ``reason_untestable`` says why there is no test,
    ``doubt`` what else could explain a difference; "" if nothing.
    """

    difference: float | None
    excess: float
    p: float | None
    within: Interval | None
    matters: float
    due: bool = True
    reason_untestable: str = ""
    level: float = SIGNIFICANCE_LEVEL
    doubt: str = ""

    @property
    def tells(self) -> bool:
        """Whether p is within the level, and test and difference point the same way."""
        if self.p is None or self.difference is None:
            return False
        return self.difference * self.excess > 0 and self.p <= self.level + LAST_DIGIT


class Verdict(Struct, frozen=True):
    """A verdict: its code, its words, the variant that it favours, the look that comes next.

    ``favours`` is None where it favours neither; for a measure without a better
    direction it is the variant that has more. ``next_look`` is None where it has told, or no
    look is announced. ``so_far``: no announced look is due. ``doubt`` keeps a difference that
    would tell at "leaning".
    """

    code: VerdictCode
    words: str
    favours: str | None = None
    next_look: NextLook | None = None
    so_far: bool = False
    doubt: str = ""


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
    within = evidence.within
    if evidence.due and evidence.tells and not evidence.doubt:
        return "better" if better else "differs"
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
    next_look: NextLook | None = None,
) -> Verdict:
    """The verdict of one comparison, with its words; ``by`` is the name of the measure."""
    code = verdict_code(evidence, better)
    name = favoured(evidence.excess, better, between)
    words = {
        "better": f"{name} is better by {by}",
        "differs": f"{name} has the greater {by}",
        "no difference": "no difference worth the name",
        "leaning": f"leaning to {name}" if better else f"leaning to {name}: greater {by}",
        "too few": "too few to tell",
        "cannot tell": f"cannot tell: {evidence.reason_untestable}",
    }[code]
    so_far = not evidence.due
    if so_far and code != "cannot tell":
        words = f"so far: {words}"
    told = code in TOLD and not so_far
    return Verdict(
        code=code,
        words=words,
        favours=name if code in ("better", "differs", "leaning") else None,
        next_look=None if told else next_look,
        so_far=so_far,
        doubt=evidence.doubt if code == "leaning" and evidence.tells else "",
    )
