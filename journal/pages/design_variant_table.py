"""The table of variants: every measure, what each variant came to, how far they lie apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from statistics import median

from journal.comparison.comparing import Comparison
from journal.comparison.observed import Measure as Compared
from journal.comparison.trials import Side as ComparedSide
from journal.pages.design_sides import Side, measures_of
from journal.pages.differs import key_said
from journal.pages.on_design import KIND_SAID, OnDesign
from journal.pages.parts import Cell, Head, Note, Rows, Span, Table, Words
from journal.pages.words import counted, keep, listed, measure_value, sentence
from journal.quantities.show import show_number
from journal.records.settings import Measure

TENTH = Decimal("0.1")
# A difference written with its sign: a true minus, as wide as the plus.
MINUS = "−"


def variants_table(on: OnDesign, sides: Sequence[Side], comparisons: Sequence[Comparison]) -> Table:
    """Every measure: what each choice came to, and the difference of each pair."""
    deciding = [entry for entry in comparisons if entry.deciding]
    pairs = list(dict.fromkeys(entry.between for entry in comparisons))
    rows = []
    for measure in measures_of(on, sides, deciding):
        judged = _judged_sides(measure, deciding)
        beneath = _counted_bars(on, sides, measure, judged)
        cells = [Cell((sentence(measure.name),), head=True, second=beneath)]
        cells += [_side_cell(on, side, measure, judged) for side in sides]
        for pair in pairs:
            own = [e for e in comparisons if e.by == measure.name and e.between == pair]
            own.sort(key=lambda entry: not entry.deciding)
            cells += _pair_cells(own[0] if own else None, said=len(pairs) == 1)
        rows.append(tuple(cells))
    heads = [Head("Measure"), *(Head(side.name, number=True) for side in sides)]
    for pair in pairs:
        name = "Difference" if len(pairs) == 1 else f"{pair[1]} less {pair[0]}"
        heads.append(Head(name, number=True))
        if len(pairs) == 1:
            heads.append(Head("", wide=True))
    return Table(
        "Medians, or how many said yes",
        tuple(heads),
        (Rows(tuple(rows)),),
        wide=True,
    )


def _judged_sides(measure: Measure, deciding: Sequence[Comparison]) -> Mapping[str, ComparedSide]:
    """What the verdict stands on, by variant: bars poured before the question are not in it."""
    return {
        side.variant: side for entry in deciding if entry.by == measure.name for side in entry.sides
    }


def _counted_bars(
    on: OnDesign,
    sides: Sequence[Side],
    measure: Measure,
    judged: Mapping[str, ComparedSide],
) -> str:
    missing = [
        judged[side.name].not_measured
        if side.name in judged
        else len(side.bars) - len(side.values(on, measure))
        for side in sides
    ]
    return f"{sum(missing)} not measured" if any(missing) else ""


def _side_cell(
    on: OnDesign, side: Side, measure: Measure, judged: Mapping[str, ComparedSide]
) -> Cell:
    values = side.values(on, measure)
    yes, number = sum(map(int, values)), len(values)
    middle = median(values) if values else None
    if side.name in judged:
        found = judged[side.name]
        yes, number, middle = found.yes or 0, found.measured, found.middle
    if not number:
        return Cell(("–",), number=True, tone="soft")
    if measure.kind == "yes-no":
        return Cell((keep(f"{yes} of {number}"),), number=True)
    assert middle is not None
    return Cell((measure_value(middle, measure.kind, measure.of),), number=True)


def _pair_cells(entry: Comparison | None, *, said: bool) -> list[Cell]:
    blank = [Cell((), number=True), *([Cell(())] if said else [])]
    if entry is None:
        return blank
    words, beneath = "–", ""
    if entry.difference is not None:
        words = signed(entry.difference, entry.measure)
        if entry.low is not None and entry.high is not None:
            low, high = (signed(end, entry.measure, unit=False) for end in (entry.low, entry.high))
            beneath = f"{low} to {high}"
    cells = [Cell((words,), number=True, second=beneath)]
    if said:
        cells.append(Cell(_judged(entry)))
    return cells


def _judged(entry: Comparison) -> Words:
    given = entry.verdict
    short = {
        "better": f"{given.favours} better",
        "differs": "differs",
        "no difference": "no difference",
        "leaning": f"leaning to {given.favours}",
        "too few": "too few",
        "cannot tell": "cannot tell",
    }[given.code]
    return (Span("decides: ", "strong") if entry.deciding else "a look: ", short)


def signed(value: float, measure: Compared, *, unit: bool = True) -> str:
    """A difference with its sign: ``−1.2 mm``, ``+56 points``."""
    if measure.kind == "yes-no":
        number = show_number(abs(100 * value), Decimal(1))
        text = f"{number} %" if unit else number
    else:
        number = show_number(abs(value), TENTH)
        with_unit = {"length": " mm", "time": " min", "mass": " g"}.get(measure.kind, "")
        text = f"{number}{with_unit}" if unit else number
    if not number.strip("0."):
        return keep(text)
    return keep(f"{'+' if value > 0 else MINUS}{text}")


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
