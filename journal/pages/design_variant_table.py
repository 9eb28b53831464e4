"""The sides that variants are compared by, and the table of what each came to."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from msgspec import Struct, field

from journal.comparison.comparing import Comparison
from journal.comparison.derive import value_of
from journal.comparison.observed import Measure as Compared
from journal.comparison.trials import Side as ComparedSide
from journal.pages.differs import key_said
from journal.pages.on_design import KIND_SAID, OnDesign
from journal.pages.parts import Cell, Head, Note, Span, Table, Words, number, table
from journal.pages.words import TENTH, WHOLE, counted, keep, listed, measure_value, sentence
from journal.quantities.show import show_number
from journal.records.settings import Measure
from journal.records.write_up import Bar, Pour, Variant

# A difference written with its sign: a true minus, as wide as the plus.
MINUS = "−"


class Side(Struct, frozen=True, eq=False):
    """One choice of a group: its bars with their pours, and its first variant's recipe."""

    name: str
    bars: tuple[tuple[Pour, Bar], ...]
    variants: tuple[Variant, ...]
    _known: dict[str, tuple[float, ...]] = field(default_factory=dict)

    def values(self, on: OnDesign, measure: Measure) -> tuple[float, ...]:
        """What was measured on its bars, in their order."""
        name = measure.name
        if name not in self._known:
            # A table, its foot and a chart ask for the same.
            found = [value_of(on.design, pour, bar, name) for pour, bar in self.bars]
            self._known[name] = tuple(float(v) for v in found if isinstance(v, float | int))
        return self._known[name]


def side_of(on: OnDesign, group: str, choice: str) -> Side:
    """The side of one choice of a group; of one variant where there are no groups."""
    variants = tuple(
        variant
        for variant in on.design.variants
        if (variant.chosen.get(group) if group else variant.name) == choice
    )
    names = {variant.name for variant in variants}
    bars = tuple(
        (pour, bar) for pour in on.design.pours for bar in pour.bars if bar.variant in names
    )
    return Side(choice, bars, variants)


def measures_of(
    on: OnDesign, sides: Sequence[Side], deciding: Sequence[Comparison]
) -> list[Measure]:
    """What was measured on any of the bars; what decides comes first."""
    every = on.book.settings.all_measures().values()
    decides = {entry.by for entry in deciding}
    found = [
        measure
        for measure in every
        if measure.kind != "colour" and any(side.values(on, measure) for side in sides)
    ]
    return sorted(found, key=lambda measure: measure.name not in decides)


def sides_table(on: OnDesign, sides: Sequence[Side], comparisons: Sequence[Comparison]) -> Table:
    """Every measure: what each choice came to, and the difference of each pair."""
    deciding = [entry for entry in comparisons if entry.deciding]
    pairs = list(dict.fromkeys(entry.between for entry in comparisons))
    rows = []
    for measure in measures_of(on, sides, deciding):
        own = [entry for entry in comparisons if entry.by == measure.name]
        own.sort(key=lambda entry: not entry.deciding)
        # A verdict leaves out the bars that were poured before the question.
        judged = {side.variant: side for e in own if e.deciding for side in e.sides}
        found = [_side_cell(on, side, measure, judged.get(side.name)) for side in sides]
        missing = [count for _, count in found]
        beneath = f"{sum(missing)} not measured" if any(missing) else ""
        cells = [Cell((sentence(measure.name),), beneath, head=True), *(cell for cell, _ in found)]
        for pair in pairs:
            entry = next((entry for entry in own if entry.between == pair), None)
            cells += _pair_cells(entry, said=len(pairs) == 1)
        rows.append(tuple(cells))
    heads: list[str | Head] = ["Measure", *(side.name for side in sides)]
    if len(pairs) == 1:
        heads += ["Difference", Head("", wide=True)]
    else:
        heads += [f"{second} less {first}" for first, second in pairs]
    return table("Medians, or how many said yes", heads, rows, wide=True)


def _side_cell(
    on: OnDesign, side: Side, measure: Measure, judged: ComparedSide | None
) -> tuple[Cell, int]:
    """What a side came to in a measure, and how many of its bars were not measured."""
    values = side.values(on, measure)
    yes, count, missing = sum(map(int, values)), len(values), len(side.bars) - len(values)
    middle = median(values) if values else None
    if judged is not None:
        yes, count, missing = judged.yes or 0, judged.measured, judged.not_measured
        middle = judged.middle
    if not count:
        return number("–", tone="soft"), missing
    if measure.kind == "yes-no":
        return number(keep(f"{yes} of {count}")), missing
    assert middle is not None
    return number(measure_value(middle, measure.kind, measure.of)), missing


def _pair_cells(entry: Comparison | None, *, said: bool) -> list[Cell]:
    """The difference of a pair and, where ``said``, what was judged of it."""
    words, beneath = "" if entry is None else "–", ""
    if entry is not None and entry.difference is not None:
        words = signed(entry.difference, entry.measure)
        if entry.low is not None and entry.high is not None:
            low, high = (signed(end, entry.measure, unit=False) for end in (entry.low, entry.high))
            beneath = f"{low} to {high}"
    judged: Words = () if entry is None else _judged(entry)
    return [number(words, beneath), *([Cell(judged)] if said else [])]


def _judged(entry: Comparison) -> Words:
    code, favours = entry.verdict.code, entry.verdict.favours
    short = {"better": f"{favours} better", "leaning": f"leaning to {favours}"}.get(code, code)
    return (Span("decides: ", "strong") if entry.deciding else "a look: ", short)


def signed(value: float, measure: Compared, *, unit: bool = True) -> str:
    """A difference with its sign: ``−1.2 mm``, ``+56 points``."""
    if measure.kind == "yes-no":
        shown, after = show_number(abs(100 * value), WHOLE), " %"
    else:
        shown = show_number(abs(value), TENTH)
        after = {"length": " mm", "time": " min", "mass": " g"}.get(measure.kind, "")
    sign = "+" if value > 0 else MINUS
    # What is rounded to nothing has no sign.
    return keep(f"{sign if shown.strip('0.') else ''}{shown}{after if unit else ''}")


def table_notes(
    on: OnDesign, comparisons: Sequence[Comparison], *, explained: bool
) -> tuple[Note, ...]:
    """How the table is read, once a page, and what is true of these variants alone."""
    looks = [entry for entry in comparisons if not entry.deciding]
    if not looks:
        return ()
    says: list[Words] = []
    if not explained:
        tests = max(entry.family for entry in looks)
        says += [
            ("Differences are the second less the first, with the 95 % interval beneath.",),
            (
                f"A look is one of {counted(tests, 'look')} on this page, and was made that"
                " much harder to pass.",
            ),
            (
                "Drawn are the measures whose medians lie apart by as much as would matter;"
                " every value stands under Bar by bar.",
            ),
        ]
    if any(entry.trials == "pots" for entry in looks):
        says.append(("One value a pot: what changes with the pot is compared pot by pot.",))
    together = dict.fromkeys(entry.changed for entry in comparisons if len(entry.changed) > 1)
    for changed in together:
        names = listed([key_said(key).lower() for key in changed])
        says.append((f"{sentence(names)} changed together: which it was cannot be told.",))
    if not says:
        return ()
    return (Note("", tuple(says), KIND_SAID["computed"], how=on.how("comparison")),)
