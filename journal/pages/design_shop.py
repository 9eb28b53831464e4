"""What a bar costs, weighs and is made of; how its mat is cut."""

from __future__ import annotations

from decimal import Decimal

from journal.figures.derive_shop import COST, CUT, LABEL, NET_WEIGHT
from journal.figures.label import ADVICE, LabelDraft
from journal.figures.net_weight import Declared
from journal.pages.label_sheets import can_draft, has_draft
from journal.pages.on_design import OnDesign
from journal.pages.paper_places import command, has_sheets, label_place
from journal.pages.parts import (
    Block,
    Care,
    Cell,
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
    Words,
)
from journal.pages.places import span
from journal.pages.words import (
    counted,
    keep,
    listed,
    measure_value,
    percent,
    ranged,
    sentence,
)
from journal.quantities.show import show_percent

WHOLE = Decimal(1)
REGIONS = {"us": "the United States", "eu": "the European Union"}


def cost_part(on: OnDesign) -> Part | None:
    """Cost and price, for the studio alone."""
    if on.figures is None or not on.book.studio:
        return None
    figure = on.figures.recipe[COST]
    sheet = figure.value
    if sheet is None:
        return None
    money = on.units.money
    rows: list[tuple[Cell, ...]] = [
        (
            Cell((sentence(name),), head=True),
            Cell(("–" if a_bar is None else money(a_bar),), number=True),
            Cell(("–" if batch is None else money(batch),), number=True),
        )
        for (name, a_bar), (_, batch) in zip(sheet.a_bar.parts, sheet.batch.parts, strict=True)
        if batch != 0
    ]
    total = "What is known of it" if sheet.missing else "Cost"
    rows.append(_money_row(on, total, sheet.a_bar.total, sheet.batch.total))
    if sheet.price is not None and sheet.batch_price is not None:
        rows.append(_money_row(on, "Price", sheet.price, sheet.batch_price))
    heads = (Head("Cost of"), Head("a bar", number=True), Head(counted(sheet.bars, "bar"), True))
    table = Table("Cost and price", heads, (Rows(tuple(rows)),), name="cost-table")
    blocks: list[Block] = [table]
    if sheet.missing:
        names = listed(list(sheet.missing))
        blocks.append(Said((f"The cost of {names} is not known, so there is no price.",)))
    says: list[Words] = []
    big = ""
    if sheet.price is not None and sheet.contribution is not None:
        big = money(sheet.price)
        margin = on.book.settings.margin
        at = "" if margin is None else f" at a margin of {keep(show_percent(margin, WHOLE))}"
        says.append((f"a bar{at}; {money(sheet.contribution)} of it is over the cost.",))
    if sheet.break_even_bars is not None:
        bars = counted(sheet.break_even_bars, "bar")
        says.append((f"{bars} at that price pay the fixed costs of a month.",))
    notes = (on.note(figure, *says, big=big, inputs=False),) if says else ()
    return Part("cost", "Cost and price", (Passage(tuple(blocks), notes),))


def _money_row(on: OnDesign, name: str, a_bar: Decimal, batch: Decimal) -> tuple[Cell, ...]:
    return (
        Cell((Span(name, "strong"),), head=True),
        Cell((Span(on.units.money(a_bar), "strong"),), number=True),
        Cell((Span(on.units.money(batch), "strong"),), number=True),
    )


def _drawn(on: OnDesign) -> Words:
    """Where the label is drawn, or what draws it."""
    if has_draft(on.book, on.design):
        return ("Drawn true to size in the ", span(on.here, label_place(on.design), "drafts"), ".")
    return (command(f"label {on.design.id}"), " draws it true to size.")


def label_part(on: OnDesign) -> Part | None:
    """Net weight and a draft of the label, region by region."""
    if on.figures is None:
        return None
    passages: list[Passage] = []
    weight = _weight_passage(on)
    if weight is not None:
        passages.append(weight)
    found = on.figures.recipe[LABEL].value
    if found is not None:
        for draft in found.drafts:
            passages.append(_draft_passage(on, draft))
        care: tuple[Words, ...] = tuple((text,) for text in ADVICE)
        barred = [f"{name} (in {oil})" for name, oil in found.allergens.prohibited]
        if barred:
            said = f"Not allowed in a cosmetic in the European Union: {listed(barred)}."
            care = ((Span(said, "mind"),), *care)
        passages.append(Passage((Care(care),)))
    if can_draft(on.book, on.design.id):
        passages.append(Passage((Said(_drawn(on)),)))
    return Part("label", "Label, a draft", tuple(passages)) if passages else None


def _weight_passage(on: OnDesign) -> Passage | None:
    assert on.figures is not None
    figure = on.figures.recipe[NET_WEIGHT]
    found = figure.value
    if found is None:
        return None
    net = found.net
    first = next((entry for entry in found.declared if entry.text), None)
    mean = measure_value(net.mean_g, "mass")
    words = [f"{counted(net.bars, 'weighed bar').capitalize()} had {mean} on average."]
    if net.forecast:
        at_sale = measure_value(net.mean_at_sale_g, "mass")
        words.append(f"By day {net.sale_day:.0f}, the day of sale, {at_sale} are to be expected.")
    if net.lower_g is not None:
        words.append(
            f"The mean is {measure_value(net.lower_g, 'mass')} or more with 95 % confidence,"
            " and the label says no more than that."
        )
    words += [f"{sentence(reason)}." for reason in net.why]
    words += [
        f"None for {REGIONS.get(entry.system, entry.system)}: {entry.why}."
        for entry in found.declared
        if not entry.text and entry.why
    ]
    blocks: tuple[Block, ...] = (Subhead("Net weight"), Said((" ".join(words),)))
    says: list[Words] = []
    if first is not None:
        says.append((f"to declare in {REGIONS.get(first.system, first.system)}.",))
        says += [
            (f"{entry.text} in {REGIONS.get(entry.system, entry.system)}.",)
            for entry in found.declared
            if entry.text and entry is not first
        ]
    if found.loss is not None:
        loss = percent(found.loss.share)
        spread = ranged(percent(max(0.0, found.loss.low)), percent(found.loss.high))
        says.append((f"A bar loses {loss} of its weight in 30 days ({spread}).",))
    note: Note = on.note(figure, *says, big=_declared(first))
    return Passage(blocks, (note,) if says else ())


def _declared(entry: Declared | None) -> str:
    return "" if entry is None else keep(entry.text.removeprefix("Net Wt "))


def _draft_passage(on: OnDesign, draft: LabelDraft) -> Passage:
    assert on.figures is not None
    where = REGIONS.get(draft.region, draft.region)
    blocks: list[Block] = [Subhead(f"Draft for {where}", f"label-{draft.region}")]
    if draft.statement:
        blocks.append(Said((draft.statement,)))
    for base, names in draft.apart:
        blocks.append(Said((on.thing("bases", base), f": {', '.join(names)}.")))
    blocks += [Said((Span(f"{sentence(reason)}.", "mind"),)) for reason in draft.why]
    if draft.allergens:
        blocks.append(
            Said(("Allergens of the fragrance to name: ", f"{', '.join(draft.allergens)}."))
        )
    own: list[Words] = [(_full_stop(text),) for text in draft.notes if text not in ADVICE]
    note = on.note(
        on.figures.recipe[LABEL], ("Ingredients in descending share over all layers.",), *own
    )
    return Passage(tuple(blocks), (note,))


def _full_stop(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def cut_part(on: OnDesign) -> Part | None:
    """The pieces that a sheet of the mat gives."""
    if on.figures is None:
        return None
    figure = on.figures.recipe[CUT]
    plan = figure.value
    mat = on.design.recipe.mat
    if plan is None or mat is None:
        return None
    size = on.units.size(*plan.piece_mm)
    turned = ", turned" if plan.turned else ""
    on_motif = " and centred on a motif" if on.book.bench.mats[mat].motif else ""
    words: Words = (
        f"A piece is {size.first} ({size.second}){turned}. A sheet of ",
        on.thing("mats", mat),
        f" gives {counted(plan.count, 'piece')}, each whole{on_motif};"
        f" {keep(show_percent(plan.waste_share, WHOLE))} of the sheet is left over.",
    )
    rows = []
    for variant in on.design.variants:
        other = on.figures.variants[variant.name][CUT].value
        if other is not None and other != plan:
            name = on.variant_title(variant.name)
            count = counted(other.count, "piece")
            rows.append((f"{name}: {on.units.size(*other.piece_mm).first}, {count} a sheet",))
    mould = on.design.recipe.mould or ""
    template = on.book.templates.get((mat, mould))
    if template is not None:
        words = (*words, " The ", span(on.here, template, "cutting template"), " is true to size.")
    elif has_sheets(on.book) and mould in on.book.bench.moulds:
        made = command(f"template {mat} {mould}")
        words = (*words, " ", made, " draws the cutting template at true size.")
    blocks: list[Block] = [Said(words)]
    if rows:
        blocks.append(Points(tuple(rows)))
    note = on.note(
        figure, ("a sheet, cut as the recipe is trimmed.",), big=counted(plan.count, "piece")
    )
    return Part("cut", "Cutting the mat", (Passage(tuple(blocks), (note,)),))
