"""Variants side by side: the verdict, a pair of photos, what differs, every bar as a mark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from msgspec import Struct, field
from msgspec.structs import replace

from journal.charts.drawing import MarkShape
from journal.charts.rows import BarsRow, strip_chart
from journal.comparison.comparing import VariantComparison
from journal.comparison.confounding import Confounder
from journal.comparison.derive import (
    THING_OF_KEY,
    DesignResults,
    compared_variants,
    follow_up_day,
    value_of,
)
from journal.comparison.observed import ComparedMeasure
from journal.comparison.sentences import (
    beside_sentences,
    judging_sentences,
    measure_noun,
    method_text,
    next_look_sentence,
    numbers_text,
    plain_amount,
    plain_answer,
    plain_verdict,
    sentences,
)
from journal.comparison.trials import VariantSample
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, TextRun, Words, number_cell
from journal.quantities.show import show_number
from journal.records.models.settings import Measure
from journal.records.models.write_up import Bar, Photo, Pour, Variant
from journal.views.design.differs import key_name, value_runs
from journal.views.design.photo_pair import photo_pair_blocks
from journal.views.design.planned import plan_passages
from journal.views.shared import words
from journal.views.shared.on_design import KIND_NAMES, DesignContext, joined_runs
from journal.views.shared.on_page import PageContext
from journal.views.shared.places import span

SHAPES: tuple[MarkShape, ...] = ("ring", "dot", "cross")
# A difference written with its sign: a true minus, as wide as the plus.
MINUS = "−"


def variants_part(context: DesignContext) -> Section | None:
    """The section that compares variants, group by group; None for fewer than two."""
    if len(context.design.variants) < 2:
        return None
    groups = context.design.groups or {
        "": tuple(variant.name for variant in context.design.variants)
    }
    passages: list[Passage] = []
    for group, choices in groups.items():
        sides = tuple(variant_side(context, group, choice) for choice in choices)
        passages.extend(_group_passages(context, group, sides, first=not passages))
        plan = None if context.results is None else context.results.plan
        if plan is not None and plan.test.group == group:
            passages.extend(plan_passages(context, plan))
    questions = context.book.comparisons_of.get(context.design.id, ())
    compared = context.book.places.compared.items()
    across: list[Words] = [
        (span(context.here, place),) for name, place in compared if name in questions
    ]
    if across:
        line = html.Paragraph(("Over all designs: ", *joined_runs(across), "."))
        passages.append(Passage((line,)))
    return Section("variants", "Which way is better", tuple(passages))


def _group_passages(
    context: DesignContext, group: str, sides: Sequence[VariantSide], *, first: bool
) -> Iterator[Passage]:
    """Yield the passages of a group: verdict, photos and a chart; then, folded, how sure it is."""
    every = context.results.comparisons if context.results is not None else ()
    comparisons = [entry for entry in every if entry.group == group]
    deciding = [entry for entry in comparisons if entry.deciding]
    blocks: list[html.Block] = []
    if group:
        blocks.append(html.Subhead(words.capitalised(group), f"by-{group}"))
    for entry in deciding:
        blocks += _verdict_blocks(context, entry, comparisons)
    if not deciding:
        blocks.append(html.Paragraph(_no_question_words(context, sides)))
        blocks += _notable_looks(comparisons)
    photos = context.design.photos
    blocks += photo_pair_blocks(
        context,
        [(side.name, [photo for photo in photos if side.shown_in(photo)]) for side in sides],
    )
    charts = list(_charts(context, group, sides, deciding, explained=not first))
    if deciding:
        blocks += charts[:1]
        charts = charts[1:]
    differ = _differences_list(context, group, sides)
    yield Passage((*blocks, *differ))
    if any(side.bars for side in sides):
        notes = (*(_verdict_note(context, entry) for entry in deciding),
                 *table_notes(context, comparisons))  # fmt: skip
        numbers = [html.Paragraph((f"{text}.",)) for entry in deciding
                   if (text := _numbers_beside(entry))]  # fmt: skip
        table = sides_table(context, sides, comparisons, explained=not first)
        yield Passage((*numbers, table, *charts), notes, _how_sure_text(sides, deciding))


def _numbers_beside(entry: VariantComparison) -> str:
    """What stands beside the table, which has difference and 95 % interval: p, and by what test."""
    if entry.verdict.code == "no difference":
        return numbers_text(entry, amount_text)
    return words.capitalised(method_text(entry))


def compared_as_shown(results: DesignResults) -> tuple[DesignResults, tuple[str, ...]]:
    """Results without the numbers that go by other designs, and the texts that show these.

    The numbers move with every pot that is poured of another design; pages made from two results
    that are equal here are equal, but for what the choice is worth in money.
    """
    texts: list[str] = []
    entries: list[VariantComparison] = []
    for entry in results.comparisons:
        # Of what nobody set out to test the page has the verdict alone.
        texts.extend(
            (*sentences(entry), method_text(entry)) if entry.deciding else [plain_verdict(entry)]
        )
        ends = (entry.low, entry.high)
        texts.extend(signed_difference(end, entry.measure) for end in ends if end is not None)
        entries.append(
            replace(
                entry, p=None, p_adjusted=None, low=None, high=None, within=None,
                verdict=replace(entry.verdict, next_look=None),
                contrast=replace(entry.contrast, interval=None, within=None, pots=None),
            )
        )  # fmt: skip
    return replace(results, comparisons=tuple(entries)), tuple(texts)


def _how_sure_text(sides: Sequence[VariantSide], deciding: Sequence[VariantComparison]) -> str:
    """What a fold of the numbers of a comparison is called: how much was poured of each side."""
    poured = [words.count_text(len(side.bars), f"{side.name} bar") for side in sides]
    asked = "How sure is that" if deciding else "How sure are the hints"
    return f"{asked}? {words.list_text(poured)}"


def _verdict_blocks(
    context: DesignContext, entry: VariantComparison, among: Sequence[VariantComparison]
) -> Iterator[html.Block]:
    """Yield the verdict as a line; then what it is worth, what else it may be, and what follows."""
    yield verdict_block(plain_answer(entry, amount_text))
    beside = beside_sentences(_titled(context, entry), among, amount_text)
    says = [words.capitalised(one) for one in beside]
    if text := " ".join(filter(None, (*says, next_look_sentence(entry)))):
        yield html.Paragraph((text,))


def verdict_block(text: str) -> html.VerdictLine:
    """A sentence as a verdict line; the words up to its first colon become its mark."""
    mark, _, rest = text.partition(": ")
    return html.VerdictLine(mark, (f": {rest}",) if rest else ())


def _notable_looks(comparisons: Sequence[VariantComparison]) -> list[html.Block]:
    """A list of the comparisons whose difference is large enough to matter; else empty."""
    lines: list[Words] = []
    for entry in comparisons:
        if entry.difference is not None and abs(entry.difference) >= entry.measure.matters:
            answer, _, rest = plain_verdict(entry, amount_text).partition(": ")
            lines.append((TextRun(answer, "strong"), f": {rest}"))
    return [html.BulletList(tuple(lines))] if lines else []


def amount_text(amount: float, measure: ComparedMeasure) -> str:
    """An amount of a measure without its sign, on one line."""
    return words.no_break(plain_amount(amount, measure))


def _no_question_words(context: DesignContext, sides: Sequence[VariantSide]) -> Words:
    """The words in place of a verdict, where no question decides between these sides."""
    names = words.list_text([side.name for side in sides], "or")
    if not any(side.bars for side in sides):
        return (f"No {names} bar has been poured yet.",)
    question = context.design.question
    if question is None:
        return ("You poured these before you asked anything of them. Take this as a hint.",)
    tested = measure_noun(question.by)
    return (f"You set out to test {tested}, not {names}. Take this as a hint.",)


def _verdict_note(context: DesignContext, entry: VariantComparison) -> SideNote:
    """A side note with the sentences on the data behind a verdict."""
    judging = judging_sentences(_titled(context, entry), amount_text)
    says: list[Words] = [(words.capitalised(text),) for text in judging]
    return SideNote("", tuple(says), KIND_NAMES["computed"], how=context.how("comparison"))


def _titled(context: DesignContext, entry: VariantComparison) -> VariantComparison:
    """The same comparison, with keys and what is on the shelf as they are called."""
    return replace(
        entry,
        changed=tuple(key_name(key).lower() for key in entry.changed),
        confounders=titled_confounders(context, entry.confounders),
    )


def titled_confounders(
    context: PageContext, changed: Sequence[Confounder]
) -> tuple[Confounder, ...]:
    """The same conditions, with what is on the shelf by its name there."""
    return tuple(
        replace(
            one,
            first=tuple(value_title(context, one.condition, value) for value in one.first),
            second=tuple(value_title(context, one.condition, value) for value in one.second),
        )
        for one in changed
    )


def value_title(context: PageContext, key: str, value: str) -> str:
    """What a recipe has at a compared key: ids of the shelf, joined by "and", by their names."""
    kind = f"{THING_OF_KEY.get(key, key)}s"
    return " and ".join(context.thing(kind, name).text for name in value.split(" and "))


def _differences_list(
    context: DesignContext, group: str, sides: Sequence[VariantSide]
) -> tuple[html.Block, ...]:
    """A line for each choice: its value of every key in which they differ, if not its name."""
    variants = compared_variants(context.book.bench, context.design)
    changes = [v.changes for v in variants if v.group == group]
    keys = list(dict.fromkeys(key for keys in changes for key in keys))
    lines: list[Words] = []
    for side in sides:
        line: list[TextRun | str] = [TextRun(words.capitalised(side.name), "strong")]
        for key in keys:
            value = value_runs(context, side.variants[0], key)
            if value != (side.name,):
                line += [": " if len(line) == 1 else "; ", f"{key_name(key).lower()} ", *value]
        if len(line) > 1:
            lines.append((*line, "."))
    return (html.BulletList(tuple(lines)),) if lines else ()


def _charts(
    context: DesignContext,
    group: str,
    sides: Sequence[VariantSide],
    deciding: Sequence[VariantComparison],
    *,
    explained: bool,
) -> Iterator[html.ChartFigure]:
    """Yield a chart for each measure that decides; if none does, whose medians differ notably."""
    legend = "" if explained else " Each mark is a bar; the line is the middle one."
    decides = {entry.by for entry in deciding}
    for measure in measures_of(context, sides, deciding):
        name = measure.name
        if decides and name not in decides:
            continue
        values = [value for side in sides for value in side.values(context, measure)]
        if measure.kind == "yes-no" or len(set(values)) < 2:
            continue
        if name not in decides and not _medians_apart(context, measure, sides):
            continue
        strips = tuple(
            _strip(context, side, measure, SHAPES[min(order, len(SHAPES) - 1)])
            for order, side in enumerate(sides)
        )
        day = follow_up_day(context.design, name)
        head = words.measure_title(name) + ("" if day is None else f" on day {day}")
        if any(entry.by == name and entry.earlier for entry in deciding):
            legend += " Bars poured before you asked are drawn, but do not count."
        chart = strip_chart(
            "-".join(filter(None, ("strip", group, name))).replace(" ", "-"),
            f"{head}: {words.list_text([side.name for side in sides])}",
            "; ".join(strip.says for strip in strips) + ".",
            strips,
            measure.unit,
        )
        text = measure.says.rstrip(".")
        caption = (TextRun(head, "strong"), f": {text[:1].lower()}{text[1:]}.{legend}")
        yield html.ChartFigure(chart, caption)
        legend = ""


def _medians_apart(context: DesignContext, measure: Measure, sides: Sequence[VariantSide]) -> bool:
    """Whether the medians of two sides differ by as much as would matter."""
    middles = [median(own) for side in sides if (own := side.values(context, measure))]
    if len(middles) < 2 or measure.matters is None:
        return False
    return max(middles) - min(middles) >= measure.matters


def _strip(
    context: DesignContext, side: VariantSide, measure: Measure, shape: MarkShape
) -> BarsRow:
    """The row of one side in a chart: its values, their median, and a label with both."""
    values = side.values(context, measure)
    middle = median(values) if values else None
    says = f"{side.name}: {words.count_text(len(values), 'bar')}"
    if middle is not None:
        says += f", middle {words.measure_value(middle, measure.kind, measure.of)}"
    missing = len(side.bars) - len(values)
    says += f", {missing} not measured" if missing else ""
    return BarsRow(says, values, middle, shape)


class VariantSide(Struct, frozen=True, eq=False):
    """One choice of a group: its bars with their pours, and the variants that have it."""

    name: str
    bars: tuple[tuple[Pour, Bar], ...]
    variants: tuple[Variant, ...]
    _cache: dict[str, tuple[float, ...]] = field(default_factory=dict)

    def values(self, context: DesignContext, measure: Measure) -> tuple[float, ...]:
        """The values of a measure on its bars, in their order; bars without one are skipped."""
        name = measure.name
        if name not in self._cache:
            # A table, its foot and a chart ask for the same.
            values = [value_of(context.design, pour, bar, name) for pour, bar in self.bars]
            self._cache[name] = tuple(float(v) for v in values if isinstance(v, float | int))
        return self._cache[name]

    def shown_in(self, photo: Photo) -> bool:
        """Whether a photo shows one of its bars or variants."""
        if photo.bar is not None:
            return any(bar.bar == photo.bar for _, bar in self.bars)
        names = {self.name, *(variant.name for variant in self.variants)}
        return photo.variant is not None and photo.variant in names


def variant_side(context: DesignContext, group: str, choice: str) -> VariantSide:
    """The side of one choice of a group; without groups, ``choice`` is a variant's name."""
    variants = tuple(
        variant
        for variant in context.design.variants
        if (variant.chosen.get(group) if group else variant.name) == choice
    )
    names = {variant.name for variant in variants}
    bars = tuple(
        (pour, bar) for pour in context.design.pours for bar in pour.bars if bar.variant in names
    )
    return VariantSide(choice, bars, variants)


def measures_of(
    context: DesignContext, sides: Sequence[VariantSide], deciding: Sequence[VariantComparison]
) -> list[Measure]:
    """The measures taken on any bar of the sides, without colours; those that decide first."""
    decides = {entry.by for entry in deciding}
    measured = [
        measure
        for measure in context.book.settings.all_measures().values()
        if measure.kind != "colour" and any(side.values(context, measure) for side in sides)
    ]
    return sorted(measured, key=lambda measure: measure.name not in decides)


def sides_table(
    context: DesignContext,
    sides: Sequence[VariantSide],
    comparisons: Sequence[VariantComparison],
    *,
    explained: bool,
) -> html.PageTable:
    """The table of measures: median or yes count of each side, difference of each pair.

    ``explained``: the page has such a table already, which says what its numbers are.
    """
    deciding = [entry for entry in comparisons if entry.deciding]
    pairs = list(dict.fromkeys(entry.between for entry in comparisons))
    rows = []
    for measure in measures_of(context, sides, deciding):
        by_measure = [entry for entry in comparisons if entry.by == measure.name]
        by_measure.sort(key=lambda entry: not entry.deciding)
        # A verdict leaves out the bars that were poured before the question.
        judged = {side.variant: side for e in by_measure if e.deciding for side in e.sides}
        results = [_side_cell(context, side, measure, judged.get(side.name)) for side in sides]
        missing = sum(count for _, count in results)
        beneath = f"{missing} not measured" if missing else ""
        title = PageCell((words.measure_title(measure.name),), beneath, head=True)
        cells = [title, *(cell for cell, _ in results)]
        for pair in pairs:
            entry = next((entry for entry in by_measure if entry.between == pair), None)
            cells += _pair_cells(entry, judged=len(pairs) == 1)
        rows.append(tuple(cells))
    heads: list[str | html.Heading] = ["Measure", *(side.name for side in sides)]
    if len(pairs) == 1:
        heads += ["Difference", html.Heading("Better?", once=True)]
    else:
        heads += [f"{second} less {first}" for first, second in pairs]
    names = words.capitalised(words.list_text([side.name for side in sides]))
    caption = names if explained else f"{names}: the middle bar, or how many said yes"
    return html.simple_table(caption, heads, rows, wide=True)


def _side_cell(
    context: DesignContext, side: VariantSide, measure: Measure, judged: VariantSample | None
) -> tuple[PageCell, int]:
    """A cell with a side's median or yes count (of the ``judged`` sample, if any); bars missing."""
    values = side.values(context, measure)
    yes, count, missing = sum(map(int, values)), len(values), len(side.bars) - len(values)
    middle = median(values) if values else None
    if judged is not None:
        yes, count, missing = judged.yes or 0, judged.measured, judged.not_measured
        middle = judged.middle
    if not count:
        return number_cell("–", tone="soft"), missing
    if measure.kind == "yes-no":
        return number_cell(words.no_break(f"{yes} of {count}")), missing
    assert middle is not None
    return number_cell(words.measure_value(middle, measure.kind, measure.of)), missing


def _pair_cells(entry: VariantComparison | None, *, judged: bool) -> list[PageCell]:
    """A cell with the difference of a pair; if ``judged``, a second one with the verdict."""
    difference, beneath = "" if entry is None else "–", ""
    if entry is not None and entry.difference is not None:
        difference = signed_difference(entry.difference, entry.measure)
        if entry.low is not None and entry.high is not None:
            ends = (entry.low, entry.high)
            beneath = " to ".join(signed_difference(e, entry.measure, unit=False) for e in ends)
    cells = [number_cell(difference, beneath)]
    if judged:
        cells.append(PageCell(() if entry is None else _judgement(entry)))
    return cells


def _judgement(entry: VariantComparison) -> Words:
    """The verdict in a few words, such as "decides: close is better"."""
    code, favours = entry.verdict.code, entry.verdict.favours
    short = {
        "better": f"{favours} is better",
        "differs": f"{favours} has more",
        "no difference": "none that matters",
        "leaning": f"perhaps {favours}",
        "too few": "too soon to say",
        "cannot tell": "can't tell yet",
    }[code]
    return (TextRun("decides: ", "strong"), short) if entry.deciding else (short,)


def signed_difference(value: float, measure: ComparedMeasure, *, unit: bool = True) -> str:
    """A difference with its sign: ``−1.2 mm``, ``+56 %``."""
    if measure.kind == "yes-no":
        shown, after = show_number(abs(100 * value), words.WHOLE), " %"
    else:
        shown = show_number(abs(value), words.TENTH)
        after = {"length": " mm", "time": " min", "mass": " g"}.get(measure.kind, "")
    sign = "+" if value > 0 else MINUS
    # What is rounded to nothing has no sign.
    return words.no_break(f"{sign if shown.strip('0.') else ''}{shown}{after if unit else ''}")


def table_notes(
    context: DesignContext, comparisons: Sequence[VariantComparison]
) -> tuple[SideNote, ...]:
    """A side note on what cannot be told from these comparisons."""
    looks = [entry for entry in comparisons if not entry.deciding]
    if not looks:
        return ()
    says: list[Words] = []
    decided = any(entry.trials == "pots" for entry in comparisons if entry.deciding)
    # Where the question itself is answered pot by pot its own note says so.
    if not decided and any(entry.trials == "pots" for entry in looks):
        says.append(("What changes with the pot is compared pot by pot: each pot counts once.",))
    told = {entry.changed for entry in comparisons if entry.deciding}
    for changed in dict.fromkeys(entry.changed for entry in looks):
        if len(changed) > 1 and changed not in told:
            names = words.capitalised(words.list_text([key_name(key).lower() for key in changed]))
            text = f"{names} changed together: the difference may come from any of them."
            says.append((text,))
    if not says:
        return ()
    return (SideNote("", tuple(says), KIND_NAMES["computed"], how=context.how("comparison")),)
