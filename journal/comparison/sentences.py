"""A comparison in plain words, with the numbers beside its verdict.

Amounts are turned into text by a function that the page may pass in; the plain one
here rounds to a tenth of the stored unit, a share to whole percentage points.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

from journal.comparison.across import CrossDesignComparison
from journal.comparison.comparing import VariantComparison
from journal.comparison.confounding import Confounder
from journal.comparison.observed import ComparedMeasure
from journal.comparison.power import MOST_TRIALS, TrialsNeeded
from journal.comparison.trials import VariantSample
from journal.comparison.verdict import LAST_DIGIT, SIGNIFICANCE_LEVEL, Finding, TrialKind
from journal.quantities.rounding import rounded_to_step

# An amount without its sign, as text with its unit.
FormatAmount = Callable[[float, ComparedMeasure], str]

# The median of the differences is zero, or too small to be said.
LEVEL = "the two are level"

UNLIKELY_CHANCE = "unlikely to be chance"
EASILY_CHANCE = "could easily be chance"

_TENTH = Decimal("0.1")
_WHOLE = Decimal(1)
_THOUSANDTH = Decimal("0.001")


def plain_amount(amount: float, measure: ComparedMeasure) -> str:
    """An amount in the measure's stored unit without its sign: "1.2 mm", "30 percentage points"."""
    size = abs(amount)
    if measure.kind == "yes-no":
        return f"{rounded_to_step(100 * size, _WHOLE)} percentage points"
    number = f"{rounded_to_step(size, _TENTH)}".removesuffix(".0")
    unit = {"length": "mm", "time": "min", "mass": "g"}.get(measure.kind, "")
    return f"{number} {unit}".rstrip()


def plain_p(p: float) -> str:
    """A p as text, which no line breaks: "p = 0.029", "p < 0.001"."""
    if p < 0.001:
        return "p\u00a0<\u00a00.001"
    number = rounded_to_step(p, _THOUSANDTH).normalize()
    return f"p\u00a0=\u00a0{number:f}"


def _less_more(difference: float, measure: ComparedMeasure) -> str:
    """The word for the sign of a difference: "more", "less" or "fewer"."""
    if difference > 0:
        return "more"
    return "fewer" if measure.kind == "count" else "less"


def _range(low: float, high: float, measure: ComparedMeasure, as_text: FormatAmount) -> str:
    """An interval of a difference in words: "0.7 mm to 1.6 mm less"."""
    less = _less_more(-1, measure)
    if high <= 0:
        return f"{as_text(high, measure)} to {as_text(low, measure)} {less}"
    if low >= 0:
        return f"{as_text(low, measure)} to {as_text(high, measure)} more"
    return f"{as_text(low, measure)} {less} to {as_text(high, measure)} more"


def _difference_words(finding: Finding, as_text: FormatAmount) -> str:
    """The difference, from the side of the second: "straight has 1.2 mm less, …"."""
    difference, measure = finding.difference, finding.measure
    if not difference or as_text(difference, measure) == as_text(0.0, measure):
        return LEVEL
    amount = f"{as_text(difference, measure)} {_less_more(difference, measure)}"
    words = f"{finding.between[1]} has {amount}"
    least = finding.high if difference < 0 else finding.low
    if least is not None and least * difference > 0:
        words += f", and at least {as_text(least, measure)}"
    return words


def _verdict_words(finding: Finding) -> str:
    """The verdict's words with a capital, and with the measure's name if it is not in them."""
    words, by = finding.verdict.words, finding.by
    if finding.verdict.code in ("leaning", "no difference") and by not in words:
        words += f" by {by}"
    words = words.replace("too few:", f"too few by {by}:")
    words = words.replace("cannot tell:", f"cannot tell by {by}:")
    return words[0].upper() + words[1:]


def verdict_sentence(comparison: VariantComparison, as_text: FormatAmount = plain_amount) -> str:
    """The verdict as one sentence, with difference, interval and p."""
    within, measure = comparison.within, comparison.measure
    if comparison.verdict.code != "no difference" or within is None:
        return _verdict_with_numbers(comparison, as_text)
    return (
        f"{_verdict_words(comparison)}: {comparison.between[1]} has"
        f" {_range(within.low, within.high, measure, as_text)} (90 % interval);"
        f" {as_text(measure.matters, measure)} would matter."
    )


def _verdict_with_numbers(finding: Finding, as_text: FormatAmount) -> str:
    """The verdict with the difference, its interval and p."""
    words = _verdict_words(finding)
    if finding.difference is None or finding.p_adjusted is None:
        return f"{words}."
    beside = [plain_p(finding.p_adjusted)]
    if finding.low is not None and finding.high is not None:
        beside.insert(
            0, f"95 % interval {_range(finding.low, finding.high, finding.measure, as_text)}"
        )
    return f"{words}: {_difference_words(finding, as_text)} ({'; '.join(beside)})."


def chance_words(p: float) -> str:
    """Whether a difference is likely to be chance, in words, by its adjusted p.

    The one place that puts p into words; the page of methods explains them ("comparison").
    """
    return UNLIKELY_CHANCE if p <= SIGNIFICANCE_LEVEL + LAST_DIGIT else EASILY_CHANCE


def plain_verdict(finding: VariantComparison, as_text: FormatAmount = plain_amount) -> str:
    """The verdict as a maker says it, without p and interval; a colon ends its answer."""
    verdict, by, measure = finding.verdict, finding.by, finding.measure
    if verdict.code == "cannot tell":
        reason = verdict.words.partition(": ")[2]
        return f"Can't tell by {by}: {reason}."
    so_far = "So far: " if verdict.so_far else ""
    if verdict.code == "no difference" and finding.within is not None:
        most = max(abs(finding.within.low), abs(finding.within.high))
        return (
            f"{so_far}No difference worth the name by {by}: at most {as_text(most, measure)};"
            f" {as_text(measure.matters, measure)} would matter."
        )
    answer = {
        "better": f"{verdict.favours} is better by {by}",
        "differs": f"{verdict.favours} has the greater {by}",
        "leaning": f"leaning to {verdict.favours} by {by}",
    }.get(verdict.code, f"too soon to say by {by}")
    difference = _difference_words(finding, as_text).removeprefix(f"{verdict.favours} has ")
    text = f"{answer}: {difference}"
    if finding.p_adjusted is not None:
        text += f"; {chance_words(finding.p_adjusted)}"
    more = ""
    if verdict.more is not None and finding.deciding:
        number = f"about {_counted(verdict.more.each, f'more {finding.trials}')}"
        if verdict.more.each >= MOST_TRIALS:
            number = f"thousands more {finding.trials}"
        more = f" Pour {number} of each."
    return f"{so_far}{text[0].upper()}{text[1:]}.{more}"


def _family_sentence(finding: Finding, what: str) -> Iterator[str]:
    """A sentence on how many tests p was adjusted over, and on p alone; none for a single test."""
    if finding.family > 1 and finding.p is not None:
        what = what if finding.deciding else "looks on this page"
        yield f"One of {finding.family} {what}; alone it has {plain_p(finding.p)}."


def sentences(
    comparison: VariantComparison, as_text: FormatAmount = plain_amount
) -> tuple[str, ...]:
    """The verdict, the sides, and then all that a reader needs to judge it: a sentence each."""
    return (
        verdict_sentence(comparison, as_text),
        *(_side_sentence(side, comparison.measure, as_text) for side in comparison.sides),
        *judging_sentences(comparison, as_text),
    )


def judging_sentences(
    comparison: VariantComparison, as_text: FormatAmount = plain_amount
) -> tuple[str, ...]:
    """What a reader needs to judge a verdict, beside the numbers of its sides."""
    lines: list[str] = []
    lines.extend(_not_measured_sentences(comparison.sides, comparison.measure))
    lines.extend(_trial_sentences(comparison))
    lines.extend(_test_sentences(comparison))
    lines.extend(_question_sentences(comparison, as_text))
    more = comparison.verdict.more
    lines.extend(_more_sentences(more, comparison.trials, comparison.measure, as_text))
    if len(comparison.changed) > 1:
        lines.append(
            f"{_listed(comparison.changed)} changed together:"
            " which of them makes the difference cannot be told."
        )
    lines.extend(confounder_sentences(comparison.confounders, comparison.between))
    lines.extend(_spread_sentences(comparison, as_text))
    return tuple(lines)


def _listed(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _counted(number: int, noun: str) -> str:
    """A number with its noun, which is passed in the plural: "1 bar", "2 bars"."""
    return f"{number} {noun if number != 1 else noun.removesuffix('s')}"


def _side_sentence(side: VariantSample, measure: ComparedMeasure, as_text: FormatAmount) -> str:
    """The bars of one side, and their median or share of yes, as a sentence."""
    text = f"{side.variant}: {_counted(side.poured, 'bars')} in {_counted(side.pours, 'pours')}"
    if side.yes is not None and side.measured:
        return f"{text}, {side.yes} of {side.measured} yes."
    if side.middle is not None:
        return f"{text}, {side.measured} measured, median {as_text(side.middle, measure)}."
    return f"{text}, none measured."


def _not_measured_sentences(
    sides: Sequence[VariantSample], measure: ComparedMeasure
) -> Iterator[str]:
    """Sentences on how many bars of each side were not measured, and why."""
    for side in sides:
        reasons: list[str] = []
        if side.lifted:
            reasons.append(f"{side.lifted} with the detail lifted (no {measure.name} to measure)")
        if side.not_noted:
            reasons.append(f"{side.not_noted} not noted")
        if side.left_out:
            reasons.append(f"{side.left_out} with a value that is no {measure.name}, left out")
        if reasons:
            yield (
                f"Not measured: {side.not_measured} of {_counted(side.poured, 'bars')}"
                f" of {side.variant}: {_listed(reasons)}."
            )
    if sides[0].lifted != sides[1].lifted:
        yield (
            "The details lifted more often with one than with the other;"
            f" {measure.name} is compared for the bars whose detail stayed."
        )


def _trial_sentences(comparison: VariantComparison) -> Iterator[str]:
    """Sentences on what a trial was, and on trials left out."""
    trials = comparison.contrast.trials
    strata = len(trials.strata)
    if trials.went_with_pot:
        yield (
            f"{_listed(comparison.between)} were never poured from one pot,"
            " so pots are compared and not bars."
        )
    if strata and trials.by == "bars":
        yield f"Bars were compared within {_counted(strata, 'pots')}."
    elif strata:
        yield "One value a pot; pots were compared."
    if trials.days_apart and strata:
        yield (
            "Some pots are of days that saw one of the two alone:"
            " what those days do to a pot is in the difference."
        )
    if trials.merged:
        yield (
            f"{_counted(trials.merged, 'pots')} more of such a day"
            f" count{'s' if trials.merged == 1 else ''} with the first: a day makes one trial."
        )
    for side in trials.sides:
        if side.alone and strata:
            yield (
                f"{_counted(side.alone, trials.by)} of {side.variant} had nothing to be"
                " held against, and were left out."
            )


def _test_sentences(comparison: VariantComparison) -> Iterator[str]:
    """Sentences on a missing interval, on p from random permutations, and on adjusted p."""
    result = comparison.contrast
    if result.test is not None and result.no_interval == "too few":
        first, second = (side.trials for side in comparison.sides)
        yield (
            f"There is no 95 % interval from {first} against {second} {comparison.trials}:"
            f" even the clearest outcome has {plain_p(result.test.least_p)}."
        )
    if result.no_interval == "all the same":
        yield "All measure the same: there is no spread to make an interval from."
    if result.test is not None and result.test.error is not None:
        yield (
            "p is from labels dealt at random, with a standard error of"
            f" {rounded_to_step(result.test.error, Decimal('0.0001'))}."
        )
    yield from _family_sentence(comparison, "pairs of the question")


def _question_sentences(comparison: VariantComparison, as_text: FormatAmount) -> Iterator[str]:
    """Sentences on the progress towards the verdict, and on pours before the question."""
    progress = comparison.progress
    if progress is not None and not progress.reached:
        yield (
            f"The verdict was set for {_counted(progress.until, progress.of)};"
            f" there {'is' if progress.poured == 1 else 'are'} {progress.poured} so far."
        )
    if progress is not None and progress.poured > progress.until:
        yield (
            f"{progress.poured - progress.until} more than the"
            f" {_counted(progress.until, progress.of)}"
            f" that {'was' if progress.until == 1 else 'were'} set:"
            " a verdict that changed since is weaker than its numbers."
        )
    if not comparison.deciding:
        yield "A look: to decide by it, ask the question and pour again."
    earlier = comparison.earlier
    if earlier is not None:
        text = (
            f"Before the question was asked: {earlier.measured[0]} and {earlier.measured[1]} bars"
        )
        if earlier.difference is not None:
            second, measure = comparison.between[1], comparison.measure
            difference = earlier.difference
            text += (
                f", {second} {as_text(difference, measure)} {_less_more(difference, measure)}"
                if difference
                else f", {LEVEL}"
            )
        yield f"{text}. A look only."


def _more_sentences(
    more: TrialsNeeded | None, trials: TrialKind, measure: ComparedMeasure, as_text: FormatAmount
) -> Iterator[str]:
    """A sentence on the further trials that a verdict needs; none if ``more`` is None."""
    if more is None:
        return
    what = _counted(more.each, f"more {trials}")
    what += " with both" if trials == "designs" else " of each"
    if more.bound == "power":
        yield (
            f"{what} would find a difference of {as_text(measure.matters, measure)}"
            " four times out of five, if the rest varies as it did so far."
        )
    elif more.bound == "attainable":
        yield f"{what} is the least with which anything could be decided."
    else:
        yield f"{what} should narrow the interval enough to tell."


def confounder_sentences(
    changed: Sequence[Confounder], between: tuple[str, str]
) -> tuple[str, ...]:
    """One sentence for each condition that could explain a difference between the variants."""
    return tuple(
        f"{between[0]} had {entry.condition} {_listed(entry.first)},"
        f" {between[1]} had {_listed(entry.second)}: "
        + (
            "the two cannot be told apart."
            if entry.together
            else "some of the difference may be that."
        )
        for entry in changed
    )


def _spread_sentences(comparison: VariantComparison, as_text: FormatAmount) -> Iterator[str]:
    """A sentence on how much bars, pots and days differ apart from the variants, if known."""
    spread = comparison.spread
    if spread is None:
        return
    parts: list[str] = []
    measure = comparison.measure
    # The deviation of single yes and no says no more than their share.
    if spread.within_pots is not None and measure.kind != "yes-no":
        parts.append(f"bars of one pot by {as_text(spread.within_pots, measure)}")
    if spread.between_pots is not None and spread.pots > 1:
        name = "pots, each with its day," if spread.days_in_pots else "pots of a day"
        parts.append(f"{name} by {as_text(spread.between_pots, measure)}")
    if spread.between_days is not None:
        parts.append(f"days by {as_text(spread.between_days, measure)}")
    if parts:
        yield f"Beside the variants, {_listed(parts)} (standard deviations)."


def across_sentences(
    finding: CrossDesignComparison, as_text: FormatAmount = plain_amount
) -> tuple[str, ...]:
    """The verdict of a comparison across designs, and then all that a reader needs to judge it.

    The rows of the designs are shown by the page itself.
    """
    measure = finding.measure
    lines = [_verdict_with_numbers(finding, as_text)]
    if finding.difference is not None and finding.p_adjusted is not None:
        lines.append(
            f"Of {_counted(finding.paired, 'designs')} with both, {finding.between[1]} had"
            f" {_less_more(-1, measure)} in"
            f" {finding.below}, as much in {finding.level}, more in {finding.above}."
            " Each design counts once, however many bars it has."
        )
    for row in finding.rows:
        if row.difference is None:
            lines.append(f"{row.design} is not counted: {row.why}.")
    if finding.no_interval == "too few":
        lines.append(f"There is no 95 % interval from {_counted(finding.paired, 'designs')}.")
    if finding.no_interval == "all the same":
        lines.append("No design shows a difference: there is no spread to make an interval from.")
    lines.extend(_family_sentence(finding, "pairs"))
    lines.extend(_more_sentences(finding.verdict.more, "designs", measure, as_text))
    lines.extend(confounder_sentences(finding.confounders, finding.between))
    lines.extend(
        f"Among designs with one of the two alone: {sentence}"
        for sentence in confounder_sentences(finding.unpaired_confounders, finding.between)
    )
    return tuple(lines)
