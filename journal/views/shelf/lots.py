"""A page for each lot, with the bars that hold it; and for the batches of each design, to sign."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from journal.figures.lots.as_json_lots import places_of
from journal.figures.lots.balance import TAKEN_FIELDS, PotBalance, Taken, TakenOn
from journal.figures.lots.dates import BestBefore
from journal.figures.lots.derive_trace import BatchTrace, LotTrace, OrderHolding
from journal.figures.lots.trace import LotHolding, LotKey, LotUse
from journal.figures.shop.derive_shop import LABEL
from journal.html import blocks as html
from journal.html.blocks import PageCell, Section, SideNote, TextRun, Words, number_cell
from journal.quantities.measuring import AskedAmount, Stuff, measure
from journal.quantities.show import show_mass
from journal.records.models.shelf import KINDS
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Pour
from journal.views.shared import words
from journal.views.shared.book import Book
from journal.views.shared.moulds import fit_to_sell
from journal.views.shared.on_design import joined_runs
from journal.views.shared.on_page import PageContext
from journal.views.shared.places import Sheet, batch_anchor, pour_anchor, span
from journal.views.shelf.facts import amount_text
from journal.views.shelf.seller_rules import rules_section


def lot_sheets(book: Book, key: LotKey) -> tuple[Sheet, ...]:
    """The page of a lot, as a tuple of one sheet."""
    here = book.places.lots[key]
    make = partial(lot_page, PageContext(book, here), book.derived.lots[key])
    return (book.sheet(here, "page.html", make),)


def batches_sheets(book: Book, name: str) -> tuple[Sheet, ...]:
    """The records of a design's batches, the latest first, as a tuple of one sheet."""
    here = book.places.batches[name]
    make = partial(batches_page, PageContext(book, here), name)
    return (book.sheet(here, "records.html", make),)


def lot_page(context: PageContext, lot: LotTrace) -> html.Page:
    """The page of a lot: the bars that hold it, those that may, and the orders."""
    bars, pours = words.count_text(lot.bars, "bar"), words.count_text(len(lot.holds), "pour")
    answer = f"In {bars} of {pours}." if lot.holds else "In no bar that was poured."
    return context.book.page(
        context.here,
        _lot_parts(context, lot),
        f"{context.here.title}: which bars hold it.",
        before=(words.capitalised(KINDS[lot.kind].noun), " · ", context.thing(lot.kind, lot.name)),
        standfirst=(answer, *_perhaps_words(lot)),
        marks=tuple(_dates(lot)),
    )


def _perhaps_words(lot: LotTrace) -> Words:
    """A sentence on the bars that may hold a lot; none if nobody has to ask."""
    if not lot.perhaps:
        return ()
    bars = words.count_text(sum(len(row.bars) for row in lot.perhaps), "bar")
    return (f" Perhaps in {bars} more: nobody wrote down which lot they hold.",)


def _dates(lot: LotTrace) -> Iterator[Words]:
    """When a lot was opened, and its own date, where they were noted."""
    if lot.opened is not None:
        yield (f"Opened {words.long_date(lot.opened)}",)
    if lot.best_before is not None:
        yield (f"Best before {words.long_date(lot.best_before)}",)
    if not lot.on_shelf:
        yield ("Named by a pour alone: the shelf does not have it",)


def _lot_parts(context: PageContext, lot: LotTrace) -> Iterator[Section]:
    if lot.holds:
        note = SideNote(kind="Counted", how=context.how("trace"))
        table = _holding_table(context, lot.holds)
        yield html.simple_section("holds", "What holds it", table, note=note)
    if lot.perhaps:
        table = _holding_table(context, lot.perhaps)
        yield html.simple_section("perhaps", "What may hold it", table)
    if lot.orders:
        points = tuple(_order_words(context, one, studio=True) for one in lot.orders)
        yield html.simple_section("orders", "Where they went", html.BulletList(points))


def lots_of_thing(context: PageContext, kind: str, name: str) -> Section | None:
    """The section of a material's page with its lots, the open one first; None without any."""
    rows = []
    for key, place in context.book.places.lots.items():
        if key[:2] != (kind, name):
            continue
        lot = context.book.derived.lots[key]
        dates = (lot.opened, lot.best_before)
        cells = (number_cell("–" if day is None else words.short_date(day)) for day in dates)
        bars = words.count_text(lot.bars, "bar") if lot.bars else "–"
        link = span(context.here, place, lot.lot)
        rows.append((PageCell((link,), head=True), *cells, number_cell(bars)))
    if not rows:
        return None
    heads = (html.Heading("Lot", wide=True), "Opened", "Best before", "In")
    return html.simple_section(
        "lots", "Lots", html.simple_table("Its lots", heads, rows, wide=True)
    )


def _holding_table(context: PageContext, rows: Sequence[LotHolding]) -> html.PageTable:
    """A row a batch: its code, its design, the pots and the bars."""
    cells = []
    for row in sorted(rows, key=lambda one: one.day, reverse=True):
        pots = words.list_text([pot or "wrapped round" for pot in row.pots])
        via: Words = ()
        if row.via:
            via = (", by way of ", *_leftovers(context, row.via))
        cells.append(
            (
                PageCell(
                    (_batch_link(context, row.design, row.batch),),
                    words.short_date(row.day),
                    head=True,
                ),
                PageCell((context.design_link(row.design, fragment=pour_anchor(row.pour)), *via)),
                PageCell((pots,)),
                PageCell((", ".join(row.bars) or "–",)),
            )
        )
    heads = ("Batch", html.Heading("Design", wide=True), "Pot", "Bars")
    return html.simple_table("Batches, the latest first", heads, cells)


def _batch_link(context: PageContext, design: str, code: str) -> TextRun:
    """The code of a batch, leading to its record."""
    place = context.book.places.batches[design]
    return span(context.here, place, code, batch_anchor(code))


def _order_words(context: PageContext, one: OrderHolding, *, studio: bool = False) -> Words:
    """An order that bars went into, or may have; for whom, in the studio's edition."""
    order = context.book.places.orders.get(one.order)
    title = TextRun(one.title) if order is None else span(context.here, order, one.title)
    batches = words.list_text(list(one.batches))
    customer = ""
    if studio and context.book.studio:
        record = context.book.notebook.orders[one.order].record
        customer = f" for {record.customer}" if record.customer else ""
    how = "" if one.sure else "perhaps, since it does not say which: "
    bars = words.count_text(one.bars, "bar")
    return (how, title, f"{customer}, due {words.long_date(one.due)}: {bars} of {batches}.")


def batches_page(context: PageContext, name: str) -> html.Page:
    """The records of a design's batches: what is in each, who poured, where it went."""
    book = context.book
    design = book.recipes[name]
    pours = {pour.label: pour for pour in design.pours}
    figures = book.figures.summaries.get(name)
    taken = {one.pour: one for one in (() if figures is None else figures.taken)}
    latest = sorted(book.derived.batches[name], key=lambda one: one.batch.day, reverse=True)
    version = _label_version(book, name)
    parts = [
        _batch_section(context, one, pours[one.batch.pour], taken.get(one.batch.pour), version)
        for one in latest
    ]
    return book.page(
        context.here,
        (*parts, rules_section(book.settings.region)),
        f"What is in each batch of {design.title}, who poured it, and where it went.",
        standfirst=(
            "A record for each batch of ",
            context.design_link(name),
            ", to print and sign.",
        ),
        on_page=tuple(html.Link(part.head, f"#{part.anchor}") for part in parts),
    )


def _batch_section(
    context: PageContext, one: BatchTrace, pour: Pour, taken: TakenOn | None, version: str
) -> Section:
    """The record of one batch."""
    blocks: list[html.Block] = [
        html.DefinitionList(tuple(_batch_facts(context, one, pour, version))),
        _lots_table(context, one, taken),
    ]
    if taken is not None and taken.pots:
        blocks.append(_pots_table(context, pour, taken.pots))
    if pour.complaints:
        said = tuple(
            (
                f"{words.long_date(entry.date)}{f', {entry.bar}' if entry.bar else ''}: ",
                f"{entry.what}",
            )
            for entry in pour.complaints
        )
        blocks += [html.Subhead("Complaints, for the studio alone"), html.BulletList(said)]
    batch = one.batch
    head = f"{batch.code}, {words.short_date(batch.day)}"
    note = None
    if any(until.day is not None for until in one.good_until.values()):
        says: Words = ("Best before: as long as a bar keeps, or the first date of its lots.",)
        note = SideNote("", (says,), "Computed", how=context.how("best-before"))
    return html.simple_section(batch_anchor(batch.code), head, *blocks, note=note)


def _batch_facts(
    context: PageContext, one: BatchTrace, pour: Pour, version: str
) -> Iterator[html.Definition]:
    """The facts of a batch, a line each, without those that nobody noted."""
    batch, design = one.batch, context.book.recipes[one.batch.design]
    by = f" by {pour.by}" if pour.by else ""
    room = "" if pour.room_c is None else f", room at {context.units.temperature(pour.room_c)}"
    poured = context.design_link(batch.design, f"pour {pour.label}", pour_anchor(pour.label))
    yield html.Definition("Poured", ((f"{words.long_date(pour.date)}{by}{room}: ", poured),))
    temperatures = [
        f"{layer} at {context.units.temperature(at_c)}" for layer, at_c in pour.poured_c.items()
    ]
    if temperatures:
        yield html.Definition("Temperatures", ((f"{words.list_text(temperatures)}.",),))
    overview = next(p for p in design.overview.pours if p.label == pour.label)
    _, fit = fit_to_sell(overview)
    bars = f"{words.count_text(len(batch.bars), 'bar')}: {', '.join(batch.bars)}"
    yield html.Definition("Bars", ((f"{bars}. {words.capitalised(fit)}." if fit else f"{bars}.",),))
    for region, until in one.good_until.items():
        name = f"Best before, {region.upper()}"
        yield html.Definition(name, ((_until_text(until),),))
    if version:
        yield html.Definition("Label", ((version,),))
    if one.orders:
        yield html.Definition(
            "Went to", tuple(_order_words(context, order) for order in one.orders)
        )


def _until_text(until: BestBefore) -> str:
    """The day that a batch is good until, and what sets it; or why there is none."""
    if until.day is None:
        key = until.needs.rpartition(" ")[2]
        whose = "the safety report says" if key == "durability" else "you stand by"
        return f"No date: journal.yaml has no {key}, how long {whose} a bar keeps."
    first = f", since {until.limited_by} keeps no longer" if until.limited_by else ""
    return f"{words.long_date(until.day)}{first}."


def _lots_table(context: PageContext, one: BatchTrace, taken: TakenOn | None) -> html.PageTable:
    """A row for each lot in a batch: the material, the lot, the pots it was in, what is gone."""
    used = dict(_used_texts(context, () if taken is None else taken.taken))
    rows = []
    for use, (pots, _) in places_of(one.batch).items():
        # What a leftover brought is counted as leftover; two lots of a material are one amount.
        amount = None if use.via else used.pop((use.kind, use.name), None)
        rows.append(
            (
                PageCell(_use_words(context, use), head=True),
                PageCell((_lot_link(context, use),)),
                PageCell((words.list_text([pot or "wrapped round" for pot in pots]),)),
                number_cell("–") if amount is None else number_cell(*amount),
            )
        )
    heads = (html.Heading("Material", wide=True), "Lot", "Pot", "Used up")
    return html.simple_table("What is in it", heads, rows)


def _used_texts(
    context: PageContext, taken: Iterable[Taken]
) -> Iterator[tuple[ThingRef, words.BothUnits]]:
    """How much of each material a pour took for good; without those of which nobody can tell."""
    of_thing: dict[ThingRef, list[Taken]] = {}
    for one in taken:
        of_thing.setdefault((one.kind, one.name), []).append(one)
    for thing, parts in of_thing.items():
        for unit, field in TAKEN_FIELDS.items():
            amounts = [getattr(part, field) for part in parts]
            if None not in amounts:
                yield thing, _used_text(context.units, thing, unit, float(sum(amounts)))
                break


def _used_text(
    units: words.UnitFormatter, thing: ThingRef, unit: str, amount: float
) -> words.BothUnits:
    """How much of a thing was used: what is weighed, by the scale that weighs it."""
    if unit != "g":
        return amount_text(units, unit, amount)
    stuff: Stuff = "base" if thing[0] in ("bases", "leftovers") else "powder"
    return _weighed_text(units, stuff, amount)


def _weighed_text(units: words.UnitFormatter, stuff: Stuff, mass_g: float) -> words.BothUnits:
    """A mass as a card has it: in ounces only where a scale in ounces tells it well enough."""
    if mass_g >= 0:
        measured = measure(AskedAmount(stuff, mass_g), units.tools)
        if measured.first is not None:
            return units.measured(measured)
    return words.BothUnits(words.no_break(show_mass(mass_g, units.steps_g)))


def _use_words(context: PageContext, use: LotUse) -> Words:
    """A material, and the leftovers that brought it."""
    if not use.via:
        return (context.thing(use.kind, use.name),)
    brought = _leftovers(context, use.via)
    return (context.thing(use.kind, use.name), ", by way of ", *brought)


def _leftovers(context: PageContext, names: Iterable[str]) -> Words:
    """Some leftovers as links."""
    brought: list[Words] = [(context.thing("leftovers", name),) for name in names]
    return joined_runs(brought)


def _lot_link(context: PageContext, use: LotUse) -> TextRun | str:
    """A lot, leading to its page; of no known lot in so many words."""
    if use.lot is None:
        return "not noted"
    place = context.book.places.lots.get(use.key)
    return use.lot if place is None else span(context.here, place, use.lot)


def _pots_table(context: PageContext, pour: Pour, pots: Iterable[PotBalance]) -> html.PageTable:
    """Where the melt of each pot went: bars, left over, jug."""
    rows = []
    for pot in pots:
        amounts = (pot.melted_g, pot.bars_g, pot.left_g, pot.jug_g)
        cells = (number_cell(*_weighed_text(context.units, "base", one)) for one in amounts)
        name = words.capitalised(pot.pot)
        noted = "" if pour.melted_g.get(pot.pot) else "as the recipe melts it"
        rows.append((PageCell((name,), noted, head=True), *cells))
    heads = (html.Heading("Pot", wide=True), "Melted", "In the bars", "Left over", "In the jug")
    return html.simple_table("Where the melt went", heads, rows)


def _label_version(book: Book, name: str) -> str:
    """The version of a design's label by region: another as soon as it lists anything else."""
    figures = book.figures.bench.get(name)
    label = None if figures is None else figures.recipe[LABEL].value
    if label is None:
        return ""
    versions = (
        f"{words.region_code(draft.region)} {words.draft_version(draft)}" for draft in label.drafts
    )
    return f"Version of the draft, as the recipe is now: {', '.join(versions)}."
