"""Variants side by side: the verdict, a pair of photos, what differs, every bar as a mark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from journal.comparison.comparing import Comparison
from journal.comparison.derive import compared_variants, follow_up_day
from journal.comparison.observed import Measure as Compared
from journal.comparison.sentences import plain_amount, sentences, verdict_sentence
from journal.pages.design_sides import Side, measures_of, side_of
from journal.pages.design_variant_table import table_notes, variants_table
from journal.pages.differs import key_said, value_said
from journal.pages.drawing import Shape
from journal.pages.on_design import KIND_SAID, OnDesign, joined
from journal.pages.parts import (
    Block,
    Cell,
    Figure,
    Head,
    Note,
    Part,
    Passage,
    Points,
    Rows,
    Said,
    Span,
    Subhead,
    Table,
    Verdict,
    Words,
)
from journal.pages.photo_pair import pair_blocks
from journal.pages.places import Place, span
from journal.pages.row_charts import Strip, strip_chart
from journal.pages.words import (
    counted,
    keep,
    listed,
    measure_value,
    sentence,
)
from journal.records.settings import Measure
from journal.records.write_up import Photo

SHAPES: tuple[Shape, ...] = ("ring", "dot", "cross")
# How a verdict begins that is given before as much is poured as was set.
SO_FAR = "So far: "


def variants_part(on: OnDesign) -> Part | None:
    """Every group of variants, one after the other; None without variants."""
    if len(on.design.variants) < 2:
        return None
    groups = on.design.groups or {"": tuple(variant.name for variant in on.design.variants)}
    passages: list[Passage] = []
    for group, choices in groups.items():
        sides = tuple(side_of(on, group, choice) for choice in choices)
        passages.extend(_group_passages(on, group, sides, first=not passages))
    across = across_places(on)
    if across:
        links = joined([(span(on.here, place),) for place in across])
        passages.append(Passage((Said(("Compared across designs: ", *links, ".")),)))
    head = "Which variant" if on.design.groups or not _only_trim(on) else "Which trim"
    return Part("variants", head, tuple(passages))


def across_places(on: OnDesign) -> tuple[Place, ...]:
    """The pages on which this design stands beside others."""
    return tuple(
        place
        for name, place in on.book.places.compared.items()
        if name in on.book.asked_in.get(on.design.id, ())
    )


def _only_trim(on: OnDesign) -> bool:
    return all(set(variant.changed) <= {"trim", "piece"} for variant in on.design.variants)


def _group_passages(
    on: OnDesign, group: str, sides: Sequence[Side], *, first: bool
) -> Iterator[Passage]:
    comparisons = _comparisons(on, group)
    deciding = [entry for entry in comparisons if entry.deciding]
    blocks: list[Block] = []
    if group:
        blocks.append(Subhead(sentence(group), f"by-{group}"))
    blocks.extend(_verdict(entry) for entry in deciding)
    if not deciding:
        blocks.append(Said(_no_question(on, sides)))
        blocks += _looks_worth_saying(comparisons)
    blocks += pair_blocks(
        on, [(side.name, [p for p in on.design.photos if _is_of(on, p, side)]) for side in sides]
    )
    charts = list(_charts(on, group, sides, deciding))
    if deciding:
        blocks += charts[:1]
        charts = charts[1:]
    blocks.append(_differences(on, group, sides))
    notes = tuple(_beside(on, entry) for entry in deciding)
    yield Passage(tuple(blocks), notes)
    if any(side.bars for side in sides):
        notes = table_notes(on, comparisons, explained=not first)
        yield Passage((variants_table(on, sides, comparisons), *charts), notes)


def _comparisons(on: OnDesign, group: str) -> tuple[Comparison, ...]:
    if on.results is None:
        return ()
    return tuple(entry for entry in on.results.comparisons if entry.group == group)


def _verdict(entry: Comparison) -> Verdict:
    so_far, text = "", _kept_p(verdict_sentence(entry, say_amount))
    if entry.verdict.so_far and text.startswith(SO_FAR):
        so_far, text = SO_FAR, text.removeprefix(SO_FAR)
    mark, _, rest = text.partition(": ")
    mark = so_far + mark
    return Verdict(mark, (f": {rest}",) if rest else ())


def _looks_worth_saying(comparisons: Sequence[Comparison]) -> list[Block]:
    """Looks whose difference is as large as would matter, in full."""
    lines: list[Words] = []
    for entry in comparisons:
        apart = entry.difference is not None and abs(entry.difference) >= entry.measure.matters
        if apart:
            said = _kept_p(verdict_sentence(entry, say_amount))
            lines.append((Span(sentence(entry.by), "strong"), f": {said[:1].lower()}{said[1:]}"))
    return [Points(tuple(lines))] if lines else []


def _kept_p(text: str) -> str:
    """A sentence whose "p < 0.001" stands on one line."""
    return text.replace("p < ", keep("p < ")).replace("p = ", keep("p = "))


def say_amount(amount: float, measure: Compared) -> str:
    """An amount of a measure without its sign, on one line."""
    return keep(plain_amount(amount, measure))


def _no_question(on: OnDesign, sides: Sequence[Side]) -> Words:
    names = listed([side.name for side in sides])
    if not any(side.bars for side in sides):
        return (f"No bar of {names} has been poured yet.",)
    asked = on.design.question is not None
    other = "The question of this page was another one; " if asked else "No question was asked. "
    return (
        Span(f"{sentence(names)}. ", "strong"),
        f"{other}what was measured is a look, and a look decides nothing."
        if not asked
        else f"{other}what follows is a look, and a look decides nothing.",
    )


def _beside(on: OnDesign, entry: Comparison) -> Note:
    """What a verdict stands on, a sentence a line."""
    says: list[Words] = [(sentence(text),) for text in sentences(entry, say_amount)[1:]]
    return Note("", tuple(says), KIND_SAID["computed"], how=on.how("comparison"))


def _is_of(on: OnDesign, photo: Photo, side: Side) -> bool:
    names = {variant.name for variant in side.variants}
    if photo.bar is not None:
        return any(bar.bar == photo.bar for _, bar in side.bars)
    return photo.variant is not None and (photo.variant in names or photo.variant == side.name)


def _differences(on: OnDesign, group: str, sides: Sequence[Side]) -> Table:
    """What differs between the choices, worked out from their recipes."""
    shelf = on.book.bench
    changes = {v.name: v.changes for v in compared_variants(shelf, on.design) if v.group == group}
    keys = list(dict.fromkeys(key for found in changes.values() for key in found))
    rows = []
    for key in keys:
        cells = [Cell((key_said(key),), head=True)]
        cells += [Cell(value_said(on, side.variants[0], key)) for side in sides]
        rows.append(tuple(cells))
    heads = (Head(""), *(Head(side.name) for side in sides))
    return Table("What differs", heads, (Rows(tuple(rows)),), quiet=True, wide=len(sides) > 3)


def _charts(
    on: OnDesign, group: str, sides: Sequence[Side], deciding: Sequence[Comparison]
) -> Iterator[Figure]:
    legend = " A mark a bar; the madder line is the median."
    for measure in measures_of(on, sides, deciding):
        values = [value for side in sides for value in side.values(on, measure)]
        if measure.kind == "yes-no" or len(set(values)) < 2:
            continue
        if measure.name not in {entry.by for entry in deciding} and not _apart(on, measure, sides):
            continue
        strips = tuple(
            Strip(
                _strip_said(on, side, measure),
                own := side.values(on, measure),
                median(own) if own else None,
                SHAPES[min(number, len(SHAPES) - 1)],
            )
            for number, side in enumerate(sides)
        )
        day = follow_up_day(on.design, measure.name)
        when = "" if day is None else f" on day {day}"
        names = listed([side.name for side in sides])
        decides = [entry for entry in deciding if entry.by == measure.name and entry.earlier]
        early = (
            " Bars poured before the question was asked are drawn, and do not count."
            if decides
            else ""
        )
        name = f"strip-{group + '-' if group else ''}{measure.name}".replace(" ", "-")
        yield Figure(
            strip_chart(
                name,
                f"{sentence(measure.name)}{when}: {names}",
                "; ".join(strip.says for strip in strips) + ".",
                strips,
                measure.unit,
            ),
            (
                Span(f"{sentence(measure.name)}{when}", "strong"),
                f": {_small(measure.says)}.{legend}{early}",
            ),
        )
        legend = ""


def _apart(on: OnDesign, measure: Measure, sides: Sequence[Side]) -> bool:
    """Whether two medians lie apart by as much as would matter."""
    middles = [median(own) for side in sides if (own := side.values(on, measure))]
    if len(middles) < 2 or measure.matters is None:
        return False
    return max(middles) - min(middles) >= measure.matters


def _small(text: str) -> str:
    """A sentence of the settings as the rest of one of ours."""
    text = text.rstrip(".")
    return text[:1].lower() + text[1:]


def _strip_said(on: OnDesign, side: Side, measure: Measure) -> str:
    values = side.values(on, measure)
    said = f"{side.name}: {counted(len(values), 'bar')}"
    if values:
        said += f", median {measure_value(median(values), measure.kind, measure.of)}"
    missing = len(side.bars) - len(values)
    return f"{said}, {missing} not measured" if missing else said
