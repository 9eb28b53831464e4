"""A comparison in plain words, with the numbers beside its verdict.

Amounts are turned into text by a function that the page may pass in; the plain one
here rounds to a tenth of the stored unit, a share to whole percentage points.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from journal.comparison.across import CrossDesignComparison
from journal.comparison.comparing import VariantComparison
from journal.comparison.confounding import Confounder
from journal.comparison.observed import ComparedMeasure
from journal.comparison.power import NextLook
from journal.comparison.trials import VariantSample
from journal.comparison.verdict import (
    LAST_DIGIT,
    SIGNIFICANCE_LEVEL,
    TOLD,
    Finding,
    VerdictCode,
    favoured,
)
from journal.comparison.worth import KEEP, TIDY, WorthOfChoice, WorthOfPart
from journal.quantities.rounding import rounded_to_step

# An amount without its sign, as text with its unit.
FormatAmount = Callable[[float, ComparedMeasure], str]

# The median of the differences is zero, or too small to be said.
LEVEL = "the two are level"

# A measure after "in", and what a variant does that comes out better by it (more, of weight).
_SAID_OF: Mapping[str, tuple[str, str]] = {
    "lip": ("the lip", "leaves less lip"),
    "bleed": ("the bleed", "bleeds less"),
    "run": ("the run", "runs less"),
    "lifted": ("lifted details", "has fewer details lifted"),
    "floated": ("floated pieces", "has fewer pieces floated"),
    "bubbles": ("bubbles", "leaves fewer bubbles"),
    "relief": ("the relief", "gives a crisper relief"),
    "tidy": ("tidying", "is quicker to tidy"),
    "keep": ("bars fit to sell", "gives more bars fit to sell"),
    "weight": ("the weight", "is heavier"),
}

# Fewest designs with both with which p can come to 0.05 at all: 2 / 2^6.
LEAST_DESIGNS = 6

LAST_LOOK = " That was the last look. To go on, ask the question anew."

UNLIKELY_CHANCE = "unlikely to be chance"
EASILY_CHANCE = "could easily be chance"

_TENTH = Decimal("0.1")
_WHOLE = Decimal(1)
_THOUSANDTH = Decimal("0.001")


def measure_noun(name: str) -> str:
    """A measure as it stands in a sentence: "the lip", "bars fit to sell"; else its name."""
    return _SAID_OF.get(name, (name, ""))[0]


def comes_out_better(measure: ComparedMeasure) -> str:
    """What the better variant does: "leaves less lip"; the one with more, if neither is better."""
    if measure.name in _SAID_OF:
        return _SAID_OF[measure.name][1]
    return f"has {_less_more(-1 if measure.better == 'lower' else 1, measure)} {measure.name}"


def plain_amount(amount: float, measure: ComparedMeasure) -> str:
    """An amount in the measure's stored unit without its sign: "1.2 mm", "30 bars in 100"."""
    size = abs(amount)
    if measure.kind == "yes-no":
        return f"{rounded_to_step(100 * size, _WHOLE)} bars in 100"
    number = f"{rounded_to_step(size, _TENTH)}".removesuffix(".0")
    units = {"length": "mm", "time": "min", "mass": "g", "rating": "points"}
    unit = units.get(measure.kind, measure.name if measure.name.endswith("s") else "")
    return f"{number} {unit.removesuffix('s') if number == '1' else unit}".rstrip()


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
    return "fewer" if measure.kind in ("count", "yes-no") else "less"


def _range(low: float, high: float, measure: ComparedMeasure, as_text: FormatAmount) -> str:
    """An interval of a difference in words: "0.7 to 1.6 mm less"."""
    less = _less_more(-1, measure)
    if low < 0 < high:
        return f"{as_text(low, measure)} {less} to {as_text(high, measure)} more"
    near, far = sorted((low, high), key=abs)
    one, other = as_text(near, measure), as_text(far, measure)
    number, _, unit = one.partition(_gap(one))
    if unit and other.endswith(unit):
        one = number
    return f"{one} to {other} {less if low < 0 else 'more'}"


def _gap(text: str) -> str:
    """The space before the unit of an amount, which may be one that does not break."""
    return "\u00a0" if "\u00a0" in text else " "


def _contrast_words(finding: Finding, as_text: FormatAmount) -> str:
    """The difference, from the side of the second: "straight has 1.2 mm less"."""
    difference, measure = finding.difference or 0.0, finding.measure
    if _is_level(difference, measure, as_text):
        return LEVEL
    return (
        f"{finding.between[1]} has {as_text(difference, measure)} {_less_more(difference, measure)}"
    )


def _is_level(difference: float, measure: ComparedMeasure, as_text: FormatAmount) -> bool:
    """Whether a difference is nothing, or too small to be said."""
    return not difference or as_text(difference, measure) == as_text(0.0, measure)


def verdict_sentence(finding: Finding, as_text: FormatAmount = plain_amount) -> str:
    """The verdict as a maker says it, and then its numbers."""
    return plain_verdict(finding, as_text) + _numbers_sentence(finding, as_text)


def _numbers_sentence(finding: Finding, as_text: FormatAmount) -> str:
    """The numbers of a verdict, with a blank before them; "" if there are none."""
    numbers = numbers_text(finding, as_text)
    return f" {numbers}." if numbers else ""


def numbers_text(finding: Finding, as_text: FormatAmount = plain_amount) -> str:
    """The difference, its interval and p: "In numbers: straight has …"; "" if there is no test."""
    within, measure = finding.within, finding.measure
    if finding.difference is None or finding.p_adjusted is None:
        return ""
    if finding.verdict.code == "no difference" and within is not None:
        between = _range(within.low, within.high, measure, as_text)
        return f"In numbers: {finding.between[1]} has {between}, 90 % interval"
    beside = [plain_p(finding.p_adjusted)]
    if finding.low is not None and finding.high is not None:
        interval = _range(finding.low, finding.high, measure, as_text)
        beside.insert(0, f"95 % interval {interval}")
    return f"In numbers: {_contrast_words(finding, as_text)}, {', '.join(beside)}"


def method_text(comparison: VariantComparison) -> str:
    """Its test and p: "by exact permutation, p < 0.001"; "" without a test.

    A second sentence says from how many designs a test borrows.
    """
    if comparison.p_adjusted is None:
        return ""
    result = comparison.contrast
    method, borrows = "exact permutation", ""
    if result.method == "moderated t" and result.pots is not None:
        designs = _counted(result.pots.designs, "other designs")
        method = "a t test"
        borrows = f". It borrows how much the pots of {designs} had differed by then"
    elif result.method == "t":
        method = "Student's t test"
    elif result.test is not None and result.test.error is not None:
        method = "permutations drawn at random"
    return f"by {method}, {plain_p(comparison.p_adjusted)}{borrows}"


def chance_words(p: float) -> str:
    """Whether a difference is likely to be chance, in words, by its adjusted p.

    The one place that puts p into words; the page of methods explains them ("comparison").
    """
    return UNLIKELY_CHANCE if p <= SIGNIFICANCE_LEVEL + LAST_DIGIT else EASILY_CHANCE


def plain_verdict(finding: Finding, as_text: FormatAmount = plain_amount) -> str:
    """The verdict as a maker says it, without p and interval; a colon ends its answer."""
    doubt = f" But {finding.verdict.doubt}." if finding.verdict.doubt else ""
    return plain_answer(finding, as_text) + doubt + _next_sentence(finding)


def plain_answer(finding: Finding, as_text: FormatAmount = plain_amount) -> str:
    """The verdict without what the next look may tell: what to do, and whether that is chance."""
    verdict, measure = finding.verdict, finding.measure
    does = comes_out_better(measure)
    if verdict.code == "cannot tell":
        reason = verdict.words.partition(": ")[2]
        only = "only " if reason.startswith("one ") else ""
        return f"Can't tell yet which {does}: {only}{reason}."
    so_far = "so far, " if verdict.so_far else ""
    if verdict.code == "no difference" and finding.within is not None:
        most = max(abs(finding.within.low), abs(finding.within.high))
        answer = f"{so_far}no difference that matters in {measure_noun(measure.name)}"
        at_most, matters = as_text(most, measure), as_text(measure.matters, measure)
        size = f"at most {at_most}. {matters} would matter"
        # What is below by less than is shown would read as if it mattered.
        if at_most == matters:
            size = f"less than the {matters} that would matter"
        return f"{answer[0].upper()}{answer[1:]}: {size}."
    difference = finding.difference or 0.0
    ahead = favoured(difference, measure.better, finding.between)
    level = _is_level(difference, measure, as_text)
    soon = LEVEL if level else f"it looks like {ahead}"
    answer = {
        "better": f"{_what_to_do(finding)}: it {does}",
        "differs": f"{verdict.favours} {does}",
        "leaning": f"perhaps {verdict.favours}: it {does}",
    }.get(verdict.code, f"too soon to say which {does}: so far {soon}")
    if verdict.code != "too few":
        answer = so_far + answer
    text = answer[0].upper() + answer[1:]
    if level and verdict.code == "too few":
        text += "."
    else:
        text += _worth_words(finding, as_text)
    return text


def _what_to_do(finding: Finding) -> str:
    """What a verdict "better" says to do: "cut straight"; of a hint that "straight is better"."""
    name = finding.verdict.favours or ""
    if not isinstance(finding, VariantComparison) or not finding.deciding:
        return f"{name} is better"
    cut = finding.changed == ("trim",) and name.partition(" ")[0] in ("close", "straight")
    return f"{'cut' if cut else 'choose'} {name}"


def _worth_words(finding: Finding, as_text: FormatAmount) -> str:
    """How large the difference is, to end a sentence; whether it matters, and may be chance."""
    difference, measure = finding.difference or 0.0, finding.measure
    chance = None if finding.p_adjusted is None else chance_words(finding.p_adjusted)
    text = f", by about {as_text(difference, measure)}"
    least = finding.high if difference < 0 else finding.low
    # What could be chance may be nothing at all, whatever its own interval says.
    if chance == UNLIKELY_CHANCE and least is not None and least * difference > 0:
        text += f" and at least {as_text(least, measure)}"
    text += f".{_matters_sentence(finding, as_text)}"
    if chance is None:
        return text
    return f"{text} It {'is ' if chance == UNLIKELY_CHANCE else ''}{chance}."


def _matters_sentence(finding: Finding, as_text: FormatAmount) -> str:
    """Whether a told difference matters, with a blank before it; "" where it surely does."""
    if finding.verdict.code not in ("better", "differs") or finding.difference is None:
        return ""
    matters = finding.measure.matters
    text = as_text(matters, finding.measure)
    within = finding.within
    if within is not None and max(abs(within.low), abs(within.high)) < matters:
        return f" That is less than would matter ({text})."
    ends = (finding.low, finding.high)
    least = None if None in ends else min(abs(end) for end in ends if end is not None)
    if abs(finding.difference) < matters or (least is not None and least < matters):
        return f" That may be less than matters ({text})."
    return ""


def next_look_sentence(finding: Finding) -> str:
    """What the next look may tell; "" if none is announced."""
    return _next_sentence(finding).lstrip()


def _next_sentence(finding: Finding) -> str:
    """What the next look may tell, with a blank before it; "" if none is announced."""
    # Where nothing can be compared no look is waited for, but a pour.
    if not isinstance(finding, VariantComparison) or finding.verdict.code == "cannot tell":
        return ""
    look, progress = finding.verdict.next_look, finding.progress
    if look is None or progress is None:
        return "" if progress is None or finding.verdict.code in TOLD else LAST_LOOK
    return f" {next_look_words(look, progress.of)}"


def next_look_words(look: NextLook, of: str) -> str:
    """The next look and the chance that it tells: "Look again at 6 pours: likely to tell …"."""
    text = f"Look again at {_counted(look.at, of)}"
    return f"{text}." if look.chance is None else f"{text}: {chance_of_telling(look.chance)}."


def chance_of_telling(chance: float) -> str:
    """A chance to tell in round tenths: "about 7 chances in 10 that it tells"."""
    tenths = round(10 * chance)
    if tenths < 1:
        return "it will hardly tell then either"
    if tenths > 9:
        return "it is nearly sure to tell"
    return f"about {tenths} chance{'s' if tenths > 1 else ''} in 10 that it tells"


def _family_sentence(finding: Finding, what: str) -> Iterator[str]:
    """A sentence on how many tests p was adjusted over, and on p alone; none for a single test."""
    if finding.family > 1 and finding.p is not None:
        what = what if finding.deciding else "hints on this page"
        yield (
            f"It is one of {finding.family} {what}, so it was made harder to pass."
            f" Alone it has {plain_p(finding.p)}."
        )


# Verdicts that claim a difference, which something else could explain.
_CLAIMS: tuple[VerdictCode, ...] = ("better", "differs", "leaning")


def claims(finding: Finding) -> bool:
    """Whether a verdict claims a difference, be it that it leans to one."""
    return finding.verdict.code in _CLAIMS


def sentences(
    comparison: VariantComparison,
    as_text: FormatAmount = plain_amount,
    among: Sequence[VariantComparison] = (),
) -> tuple[str, ...]:
    """The verdict, the sides, and then all that a reader needs to judge it: a sentence each.

    ``among`` are the comparisons of the design, which say what the choice is worth.
    """
    # A doubt has a sentence of its own below.
    answer = plain_answer(comparison, as_text) + _next_sentence(comparison)
    return (
        answer + _numbers_sentence(comparison, as_text),
        *beside_sentences(comparison, among, as_text),
        *(_side_sentence(side, comparison.measure, as_text) for side in comparison.sides),
        *judging_sentences(comparison, as_text),
    )


def beside_sentences(
    comparison: VariantComparison,
    among: Sequence[VariantComparison],
    as_text: FormatAmount = plain_amount,
) -> tuple[str, ...]:
    """What stands beside a verdict that claims a difference; nothing beside any other.

    It is what the choice is worth where it decides, by the comparisons ``among`` which it stands,
    and what else could explain the difference.
    """
    if not claims(comparison):
        return ()
    gains = _gain_sentences(comparison, among, as_text) if comparison.deciding else ()
    return (*gains, *_otherwise_sentences(comparison))


def _gain_sentences(
    comparison: VariantComparison, among: Sequence[VariantComparison], as_text: FormatAmount
) -> Iterator[str]:
    """A sentence on bars fit to sell and minutes of tidying with the variant that is favoured."""
    ahead = comparison.verdict.favours
    own = [
        one
        for one in (comparison, *among)
        if one.group == comparison.group and one.between == comparison.between
    ]
    keep = next((one for one in own if one.by == KEEP), None)
    tidy = next((one for one in own if one.by == TIDY), None)
    parts: list[str] = []
    if keep is not None and all(side.measured for side in keep.sides):
        good, other = sorted(keep.sides, key=lambda side: side.variant != ahead)
        text = f"{good.yes} of {_counted(good.measured, 'bars')} {_are(good.yes)} fit to sell"
        text += f", against {other.yes} of {other.measured}"
        if keep.p_adjusted is not None and chance_words(keep.p_adjusted) == EASILY_CHANCE:
            text += f" (that {EASILY_CHANCE})"
        parts.append(text)
    gap = None if tidy is None or tidy is comparison else tidy.difference
    if tidy is not None and gap is not None and not _is_level(gap, tidy.measure, as_text):
        more = "less" if (gap < 0) == (tidy.between[1] == ahead) else "more"
        parts.append(f"a bar takes about {as_text(gap, tidy.measure)} {more} to tidy")
    if parts:
        yield f"With it {', and '.join(parts)}."


def _are(number: int | None) -> str:
    return "is" if number == 1 else "are"


def worth_sentence(worth: WorthOfChoice, as_money: Callable[[Fraction], str]) -> str:
    """What a choice is worth a bar, with its interval and its parts, and what a bar counts.

    ``as_money`` gives an amount that is not below 0 as text.
    """
    ahead, other = worth.between[::-1] if worth.money >= 0 else worth.between
    sign = 1 if worth.money >= 0 else -1
    text = f"{ahead} saves about {as_money(abs(worth.money))} a bar over {other}"
    if worth.interval is not None:
        low, high = sorted(sign * end for end in worth.interval)
        text += (
            f", from {as_money(low)} to {as_money(high)}"
            if low >= 0
            else f"; it may cost up to {as_money(-low)} more, or save up to {as_money(high)}"
        )
    else:
        text += "; too few were compared to say how sure that is"
    parts = [_part_words(one, sign, as_money) for one in worth.parts]
    text = f"{text[0].upper()}{text[1:]}. In it: {listed(parts)}."
    if worth.bar is not None and any(one.part == "bars fit to sell" for one in worth.parts):
        without = f" without {listed(worth.unknown)}" if worth.unknown else ""
        text += f" A bar not sold counts what it cost{without}."
    return text


def _part_words(one: WorthOfPart, sign: int, as_money: Callable[[Fraction], str]) -> str:
    """One part of a worth: "$0.92 of tidying"; of what it costs "$0.02 more for materials"."""
    amount = as_money(abs(one.money))
    what = "bars not sold" if one.part == "bars fit to sell" else one.part
    return f"{amount} of {what}" if one.money * sign >= 0 else f"{amount} more for {what}"


def _otherwise_sentences(comparison: VariantComparison) -> Iterator[str]:
    """What else could explain a difference: a doubt, days, what changed along, what lifted."""
    doubt, trials = comparison.verdict.doubt, comparison.contrast.trials
    if doubt:
        yield f"It may be something else: {doubt}."
    if trials.days_apart and trials.strata:
        yield (
            "On some days only one of the two was poured:"
            " some of the difference may come from the day."
        )
    if len(comparison.changed) > 1:
        yield (
            f"{listed(comparison.changed)} changed together:"
            " the difference may come from any of them."
        )
    yield from confounder_sentences(comparison.confounders, comparison.between)
    first, second = comparison.sides
    if first.lifted != second.lifted:
        yield (
            "More details lifted with one than with the other."
            " Only bars whose detail stayed are compared here."
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
    if not claims(comparison):
        lines.extend(_otherwise_sentences(comparison))
    lines.extend(_spread_sentences(comparison, as_text))
    return tuple(lines)


def listed(names: Sequence[str]) -> str:
    """Names in a row: "a, b and c"; "" for none."""
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
    noun = measure_noun(measure.name)
    for side in sides:
        bars = f"{side.variant} bars"
        if side.spoilt:
            count = _counted(side.spoilt, bars)
            yield f"{count} {_were(side.spoilt)} dropped or lost, and not judged."
        if side.lifted:
            yield f"{_counted(side.lifted, bars)} lifted, so {noun} could not be measured."
        if side.not_noted:
            yield f"{_counted(side.not_noted, bars)} {_were(side.not_noted)} not measured."
        if side.left_out:
            count = _counted(side.left_out, bars)
            yield f"{count} {_were(side.left_out)} left out: what is written is no {measure.name}."


def _were(number: int) -> str:
    return "was" if number == 1 else "were"


def _trial_sentences(comparison: VariantComparison) -> Iterator[str]:
    """Sentences on what a trial was, and on trials left out."""
    trials = comparison.contrast.trials
    strata = len(trials.strata)
    if trials.went_with_pot:
        yield f"No pot had both {listed(comparison.between)}, so pots are compared and not bars."
    if comparison.contrast.method == "signed rank":
        yield (
            f"Each of {_counted(strata, 'pairs')} that the plan drew is compared within itself."
            if strata > 1
            else "The two of a pair that the plan drew are compared."
        )
    elif strata and trials.by == "bars":
        yield f"Bars are compared with bars of the same pot, in {_counted(strata, 'pots')}."
    elif strata:
        yield "Each pot counts once."
    if trials.merged:
        yield (
            f"{_counted(trials.merged, 'more pots')} of such a day"
            f" count{'s' if trials.merged == 1 else ''} with the first: a day counts once."
        )
    for side in trials.sides:
        if side.alone and strata:
            what = _counted(side.alone, f"{side.variant} {trials.by}")
            yield f"{what} had nothing to be compared with, and {_were(side.alone)} left out."


def _test_sentences(comparison: VariantComparison) -> Iterator[str]:
    """Sentences on a missing interval, on p from random permutations, and on adjusted p."""
    result = comparison.contrast
    if result.test is not None and result.no_interval == "too few":
        first, second = (side.trials for side in comparison.sides)
        yield (
            f"{first} against {second} {comparison.trials} are too few for a 95 % interval:"
            f" even the clearest outcome has {plain_p(result.test.least_p)}."
        )
    if result.no_interval == "all the same":
        yield "All measure the same, so there is no interval."
    if result.test is not None and result.test.error is not None:
        yield (
            "p is from labels dealt at random, with a standard error of"
            f" {rounded_to_step(result.test.error, Decimal('0.0001'))}."
        )
    yield from _family_sentence(comparison, "pairs of the question")


def _question_sentences(comparison: VariantComparison, as_text: FormatAmount) -> Iterator[str]:
    """Sentences on the progress towards the verdict, and on pours before the question."""
    progress = comparison.progress
    if progress is not None and progress.poured < progress.until:
        yield (
            f"You set out to make {_counted(progress.until, progress.of)} before the verdict."
            f" So far there {'is' if progress.poured == 1 else 'are'} {progress.poured}."
        )
    if progress is not None and progress.poured > progress.counted:
        later, noun = progress.poured - progress.counted, progress.of.removesuffix("s")
        first = _counted(progress.counted, progress.of) if progress.counted > 1 else noun
        rest = f"the {later} poured since do" if later > 1 else f"the {noun} since does"
        yield f"The answer is from the first {first}: {rest} not count."
    if not comparison.deciding:
        yield "You did not set out to test this. To decide by it, ask the question and pour again."
    earlier = comparison.earlier
    if earlier is not None:
        first, second = comparison.between
        bars = [
            _counted(number, f"{name} bars")
            for number, name in zip(earlier.measured, (first, second), strict=True)
        ]
        text = f"Poured before you asked, and not counted: {listed(bars)}."
        if earlier.difference is not None:
            measure, difference = comparison.measure, earlier.difference
            contrast = f"{second} has {as_text(difference, measure)}"
            contrast += f" {_less_more(difference, measure)}"
            text += f" There {contrast if difference else LEVEL}."
        yield text


def confounder_sentences(
    changed: Sequence[Confounder], between: tuple[str, str]
) -> tuple[str, ...]:
    """One sentence for each condition that could explain a difference between the variants."""
    return tuple(
        f"{_condition_words(entry, between)}: "
        + (
            "the difference may be that instead."
            if entry.together
            else "some of the difference may be that."
        )
        for entry in changed
    )


def _condition_words(entry: Confounder, between: tuple[str, str]) -> str:
    """What each of two variants had of a condition: "close had season winter, …"."""
    first, second = between
    return (
        f"{first} had {entry.condition} {listed(entry.first)}, {second} had {listed(entry.second)}"
    )


def _spread_sentences(comparison: VariantComparison, as_text: FormatAmount) -> Iterator[str]:
    """A sentence on how much bars, pots and days differ apart from the variants, if known."""
    spread = comparison.spread
    if spread is None:
        return
    parts: list[tuple[str, str]] = []
    measure = comparison.measure
    # The deviation of single yes and no says no more than their share.
    if spread.within_pots is not None and measure.kind != "yes-no":
        parts.append(("bars of one pot", as_text(spread.within_pots, measure)))
    if spread.between_pots is not None and spread.pots > 1:
        name = "pots (each with its day)" if spread.days_in_pots else "pots of a day"
        parts.append((name, as_text(spread.between_pots, measure)))
    if spread.between_days is not None:
        parts.append(("days", as_text(spread.between_days, measure)))
    if parts:
        (what, amount), *rest = parts
        said = [f"{what} differ by {amount}", *(f"{what} by {amount}" for what, amount in rest)]
        yield f"Whatever the variant, {listed(said)} (standard deviations)."


def across_sentences(
    finding: CrossDesignComparison, as_text: FormatAmount = plain_amount
) -> tuple[str, ...]:
    """The verdict of a comparison across designs, and then all that a reader needs to judge it.

    The rows of the designs are shown by the page itself.
    """
    return (verdict_sentence(finding, as_text), *across_judging_sentences(finding, as_text))


def across_judging_sentences(
    finding: CrossDesignComparison, as_text: FormatAmount = plain_amount
) -> tuple[str, ...]:
    """What a reader needs to judge a verdict across designs, beside its numbers."""
    measure = finding.measure
    lines: list[str] = []
    if finding.difference is not None and finding.p_adjusted is not None:
        less = _less_more(-1, measure)
        counts = ((less, finding.below), ("as much", finding.level), ("more", finding.above))
        found = [f"{what} in {number}" for what, number in counts if number]
        lines.append(
            f"Of {_counted(finding.paired, 'designs')} with both,"
            f" {finding.between[1]} had {listed(found)}."
            " Each design counts once, however many bars it has."
        )
    for row in finding.rows:
        if row.difference is None:
            lines.append(f"{row.design} is not counted: {row.why}.")
    if finding.no_interval == "too few":
        are = "is" if finding.paired == 1 else "are"
        lines.append(
            f"{_counted(finding.paired, 'designs')} {are} too few for a 95 % interval:"
            f" it takes {LEAST_DESIGNS} with both."
        )
    if finding.no_interval == "all the same":
        lines.append("No design shows a difference, so there is no interval.")
    lines.extend(_family_sentence(finding, "pairs"))
    lines.extend(confounder_sentences(finding.confounders, finding.between))
    lines.extend(
        "Designs with only one of the two do not count, since they differ in more:"
        f" {_condition_words(entry, finding.between)}."
        for entry in finding.unpaired_confounders
    )
    return tuple(lines)
