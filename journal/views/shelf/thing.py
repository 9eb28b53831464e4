"""A page for each thing on the shelf: what is known of it, and every design made with it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial

from msgspec.structs import replace

from journal.figures.colour.bleed import WidthForecast
from journal.figures.heat.derive_bases import BaseOutcome
from journal.figures.shop.derive_wear import MatWear
from journal.html import blocks as html
from journal.html.blocks import PageCell, Section, SideNote, TextRun, Words, number_cell
from journal.quantities.show import show_length
from journal.records.models.shelf import KINDS
from journal.records.models.summary import DesignSummary
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Failure
from journal.views.lists.failed import failure_view
from journal.views.shared import words
from journal.views.shared.book import Book
from journal.views.shared.measured_colours import swatches_part
from journal.views.shared.moulds import fit_cell, fit_to_sell
from journal.views.shared.on_design import uncounted_words
from journal.views.shared.on_page import PageContext
from journal.views.shared.over_limit import over_limit_lines
from journal.views.shared.paper_places import has_sheets
from journal.views.shared.places import Sheet, pour_anchor, span
from journal.views.shelf.browning import browning_part
from journal.views.shelf.drawn import DrawnThing, drawn_part
from journal.views.shelf.facts import Fact, facts_of, left_text
from journal.views.shelf.lots import lots_of_thing

# What a bar did whose outcome depends on the temperature of the pour.
OUTCOME_TEXTS = {
    "lifted": "had its detail lifted",
    "lip": "had a lip wide enough to bother about",
    "bleed": "bled enough to notice",
}
# A word of a name that is looked for in what was written: "and" and the like are shorter.
_NAMING_WORD = re.compile(r"[^\W\d_]{4,}")
# The days after the pour for which the width of a bleed is forecast.
_FORECAST_DAYS = (30.0, 90.0, 180.0)


class ThingContext(PageContext, frozen=True):
    """The page of one thing; ``used`` are the designs made with it, in order of date."""

    kind: str
    name: str
    used: tuple[str, ...]

    @property
    def designs(self) -> list[DesignSummary]:
        """The designs made with it, the latest first."""
        return [self.book.notebook.summaries[name] for name in reversed(self.used)]


def thing_sheets(book: Book, thing: ThingRef) -> tuple[Sheet, ...]:
    """The page of a thing on the shelf, as a tuple of one sheet."""
    kind, name = thing
    here = book.places.things[thing]
    context = ThingContext(book, here, kind, name, book.uses.by_thing.get(thing, ()))
    return (book.sheet(here, "material.html", partial(thing_page, context)),)


def thing_page(context: ThingContext) -> html.Page:
    """The page of a thing: what is known of it, what was made with it, what failed."""
    return context.book.page(
        context.here,
        (part for part in _parts(context) if part is not None),
        f"{context.here.title}: what is known of it, and every design made with it.",
        before=(words.capitalised(KINDS[context.kind].noun), " · ", _use_text(context)),
        standfirst=uncounted_words(context.book, context.here),
        dangers=_over_limit(context) if context.kind == "fragrances" else (),
    )


def _over_limit(context: ThingContext) -> tuple[Words, ...]:
    """What is said of the designs in which there is more of an oil than its certificate allows."""
    over = {
        design.id: context.book.over_limit[design.id]
        for design in context.designs
        if design.id in context.book.over_limit
        and context.name in context.book.figures.summaries[design.id].oils_over
    }
    return over_limit_lines(context.here, context.book.places.designs, over)


def _use_text(context: ThingContext) -> str:
    """A phrase on the number of designs and pours that used it, and the last date."""
    if not context.used:
        faulty = context.book.places.faulty_designs
        return "not used in any design without a mistake" if faulty else "not used yet"
    text = f"used in {words.count_text(len(context.used), 'design')}"
    pours = [pour for design in context.designs for pour in design.overview.pours]
    if pours:
        last = max(pour.date for pour in pours)
        text += f", {words.count_text(len(pours), 'pour')}, last on {words.long_date(last)}"
    return text


def _parts(context: ThingContext) -> Iterator[Section | None]:
    """Yield the sections of the page in order, with None for those with nothing to show."""
    record = context.book.notebook.shelf.of_kind(context.kind)[context.name]
    yield drawn_part(DrawnThing(context.book, context.here, context.kind, context.name))
    facts = (*_left_fact(context), *facts_of(context.book, context.here, record))
    if facts:
        terms = html.DefinitionList(tuple(html.Definition(name, (value,)) for name, value in facts))
        yield html.simple_section("known", "What is known", terms)
    yield lots_of_thing(context, context.kind, context.name)
    if context.kind == "pieces":
        yield _casts_part(context)
    if context.kind == "mats":
        yield _wear_part(context)
    if context.kind in ("mats", "moulds", "pieces"):
        yield _last_pour_part(context)
        yield _templates_part(context)
    yield _limit_part(context)
    if context.kind == "fragrances":
        yield browning_part(context, context.name, context.designs)
    yield _outcome_part(context)
    yield _colour_part(context)
    if context.kind == "colourants":
        yield swatches_part(context.book, context.name, context.how("colour"))
    yield _designs_part(context)
    yield _failures_part(context)


def _left_fact(context: ThingContext) -> Iterator[Fact]:
    """What is left of a thing since it was counted, and whether that is little."""
    left = context.book.derived.left.get((context.kind, context.name))
    if left is None:
        return
    said: list[TextRun | str] = [left_text(context.units, left)]
    if left.low:
        said = [TextRun("Low: ", "mind"), *said]
    if left.unknown:
        pours = words.count_text(left.unknown, "pour")
        said.append(f" Of {pours} nobody can tell how much they took.")
    yield "On hand", tuple(said)


def _casts_part(context: ThingContext) -> Section | None:
    """The section on a piece: casts so far and left, moulds that it fits; None if unknown."""
    piece = context.book.derived.pieces[context.name].value
    if piece is None:
        return None
    alike = f", shared by {words.count_text(piece.alike, 'piece')} alike" if piece.alike > 1 else ""
    casts = f"{words.count_text(piece.before + piece.poured, 'cast')} so far{alike}"
    if piece.before:
        casts += f", {piece.before} of them before its first pour here"
    blocks: list[html.Block] = [html.Paragraph((f"{casts}.",))]
    if piece.fits:
        fits = ((context.thing("moulds", fit.mould).text, fit.round_corners) for fit in piece.fits)
        moulds = [
            f"{mould} (with its corners rounded off)" if cut else mould for mould, cut in fits
        ]
        blocks.append(html.Paragraph((f"Fits {words.list_text(moulds)}.",)))
    left, says = "", list[Words]()
    if piece.casts is not None:
        left = words.count_text(piece.casts.left, "cast")
        by = "as the bars of its mat show" if piece.life_seen else "by a life that is a guess"
        says.append(("left: it is worn out" if piece.casts.over else f"left, {by}",))
    note = SideNote(left, tuple(says), "Counted", how=context.how("pieces"))
    return html.simple_section("casts", "Casts", *blocks, note=note)


def _wear_part(context: ThingContext) -> Section | None:
    """The section on what the bars say of a mat's pieces; None where nothing was cast on them."""
    wear = context.book.derived.wear.get(context.name)
    if wear is None:
        return None
    rows = []
    for band in wear.bands:
        relief = "–" if band.relief is None else words.measure_value(band.relief, "rating")
        lifted = f"{band.lifted} of {band.looked_at}" if band.looked_at else "–"
        cells = (str(band.bars), relief, lifted, str(band.torn or "none"))
        head = html.PageCell((words.range_text(str(band.first), str(band.last)),), head=True)
        rows.append((head, *map(html.number_cell, cells)))
    heads = ("Casts before", "Bars", "Relief", "Lifted", "Torn")
    table = html.simple_table("Bars by the casts that their piece had before", heads, rows)
    bars = sum(band.bars for band in wear.bands)
    says: Words = (f"By what was seen on {words.count_text(bars, 'bar')}.",)
    note = SideNote("", (says,), "Measured", how=context.how("piece-wear"))
    return html.simple_section(
        "wear",
        "Wear of its pieces",
        html.Paragraph((_wear_text(context.units, wear),)),
        table,
        note=note,
    )


def _wear_text(units: words.UnitFormatter, wear: MatWear) -> str:
    """How long a piece lasts by its bars; that its life is a guess where they do not tell."""
    trend = wear.trend
    guess = f"its life of {wear.life_guessed} casts is a guess" if wear.life_guessed else ""
    if trend is None:
        had = words.count_text(wear.most_casts, "cast")
        text = f"Too soon to see wear: no piece has had more than {had}"
        return f"{text}. Until then {guess}." if guess else f"{text}."
    likely, least, most = (None if end is None else f"{end:.0f}" for end in trend.lasts)
    if likely is None:
        text = f"No wear to be seen in the relief up to {wear.most_casts} casts"
        text += f": a piece is good for {least} at the least" if least else ""
        return f"{text}; beyond that {guess}." if guess else f"{text}."
    ends = words.range_text(least or "", most or "")
    text = f"A piece loses a mark of relief in about {likely} casts ({ends}): it is done by then."
    text += f" Costs and casts left go by {wear.life_seen}, to be safe"
    text += f", not by your guess of {wear.life_guessed}." if wear.life_guessed else "."
    if wear.a_cast is not None:
        text += f" A cast costs {units.money(wear.a_cast)}"
        text += "." if wear.guessed is None else f", not {units.money(wear.guessed)}."
    return text


def _last_pour_part(context: ThingContext) -> Section | None:
    """The section on the latest pour with it, and that design's last fix; None without pours."""
    poured = [
        (day, design.id) for design in context.designs if (day := design.overview.last_poured)
    ]
    if not poured:
        return None
    last_day, name = max(poured)
    design = context.book.notebook.summaries[name]
    pour = next(pour for pour in design.overview.pours if pour.date == last_day)
    amount = words.count_in_words(pour.bars, "bar")
    temperatures = pour.poured_c.items()
    layers = [f"{layer} at {context.units.temperature(at_c)}" for layer, at_c in temperatures]
    if layers:
        amount += f", {words.list_text(layers)}"
    mark, fit = fit_to_sell(pour)
    link = context.design_link(design.id, fragment=pour_anchor(pour.label))
    paragraph: Words = (f"On {words.long_date(pour.date)}, ", link, f": {amount}. ")
    paragraph += (mark, f"{fit}.") if fit else ("None was judged.",)
    blocks = [html.Paragraph(paragraph)]
    mended = [failure for failure in design.failed if failure.mend]
    if mended:
        what = TextRun(f"{words.capitalised(mended[-1].what)}: ", "strong")
        blocks.append(html.Paragraph((what, str(mended[-1].mend))))
    return html.simple_section("last", "Last time", *blocks)


def _templates_part(context: ThingContext) -> Section | None:
    """The section of links to cutting templates of a mat or a mould; None without any."""
    if not has_sheets(context.book):
        return None
    links = tuple(
        (span(context.here, place),)
        for (mat, mould), place in context.book.templates.items()
        if (context.kind, context.name) in (("mats", mat), ("moulds", mould))
    )
    if not links:
        return None
    return html.simple_section("templates", "Cutting templates", html.BulletList(links))


def _limit_part(context: ThingContext) -> Section | None:
    """The section on a fragrance's share in each design, and its limit; else None."""
    if context.kind != "fragrances":
        return None
    rows = []
    for design in context.designs:
        figures = context.book.figures.summaries.get(design.id)
        for layer, oil in figures.oils if figures is not None else ():
            if oil.oil == context.name:
                of_limit = words.percent(oil.layer_share / oil.limit) if oil.limit else "–"
                over: html.Tone = "mind" if oil.within_limit is False else ""
                rows.append(
                    (
                        PageCell((context.design_link(design.id),), layer, head=True),
                        number_cell(words.percent(oil.layer_share), tone=over),
                        number_cell(words.percent(oil.bar_share)),
                        number_cell(of_limit),
                    )
                )
    if not rows:
        return None
    caption = "How much of it is in the layer and in the bar, and how much of its limit that uses"
    heads = (html.Heading("Design", wide=True), "Layer", "Bar", "Of its limit")
    note = SideNote(kind="Computed", how=context.how("fragrance"))
    table = html.simple_table(caption, heads, rows)
    return html.simple_section("limit", "Within its limit", table, note=note)


def _outcome_part(context: ThingContext) -> Section | None:
    """The section on outcomes by the pour temperature of a base; None without pours to tell."""
    outcomes = (
        context.book.derived.outcomes.get(context.name, ()) if context.kind == "bases" else ()
    )
    if not outcomes:
        return None
    blocks: list[html.Block] = [
        html.Paragraph(_outcome_words(context, entry)) for entry in outcomes
    ]
    says: Words = ("Each pour counts once, however many bars it filled.",)
    note = SideNote("", (says,), "Measured", how=context.how("threshold"))
    return html.simple_section("pours", "What the pours say", *blocks, note=note)


def _outcome_words(context: ThingContext, entry: BaseOutcome) -> Words:
    """A sentence on how often an outcome was seen, and where half the bars would have it."""
    units, threshold = context.book.units, entry.threshold
    poured = ""
    if threshold.range_c is not None:
        poured = f" at {units.temperatures(*threshold.range_c)}"
    had = sum(pour.share > 0 for pour in entry.pours)
    pours = words.count_text(threshold.pours, "pour")
    runs = (
        TextRun(f"{words.capitalised(entry.outcome)}. ", "strong"),
        f"In {had or 'none'} of {pours}{poured} at least one bar {OUTCOME_TEXTS[entry.outcome]}. ",
    )
    if threshold.both_ends:
        return (*runs, "It happens to the coolest and to the hottest, and less between.")
    if threshold.interval_c is None or threshold.at_c is None or threshold.rises is None:
        return (*runs, f"{words.capitalised(threshold.why)}.")
    low, high = (
        "" if end is None else units.temperature(end).first for end in threshold.interval_c
    )
    where = f"{low} to {high}" if low and high else f"below {high}" if high else f"above {low}"
    more = "hotter" if threshold.rises else "cooler"
    middle = units.temperature(threshold.at_c)
    expect = f"Expect it on half the bars at about {middle}, on more when {more}"
    return (*runs, f"{expect} (95 %: {where}).")


def _colour_part(context: ThingContext) -> Section | None:
    """The section on how far colourants bled into bases; None without measurements."""
    if context.kind not in ("bases", "colourants"):
        return None
    rows = []
    for entry in context.book.derived.colours.get((context.kind, context.name), ()):
        other = context.thing("colourants", entry.colourant)
        if context.kind == "colourants":
            other = context.thing("bases", entry.base)
        for growth in entry.growth:
            forecasts = {forecast.day: forecast for forecast in growth.forecasts}
            bars = f"{words.count_text(growth.bars, 'bar')}, by {growth.by}"
            cells = (_width_cell(forecasts.get(day)) for day in _FORECAST_DAYS)
            rows.append((PageCell((other,), bars, head=True), *cells))
    if not rows:
        return None
    head = html.Heading("In" if context.kind == "colourants" else "Colourant", wide=True)
    days = (f"Day {day:.0f}" for day in _FORECAST_DAYS)
    caption = "How wide a bleed to expect, and beneath it the range for the next bar"
    table = html.simple_table(caption, (head, *days), rows)
    note = SideNote(kind="A model's estimate", how=context.how("bleed"))
    return html.simple_section("moves", "How far it bleeds", table, note=note)


def _width_cell(forecast: WidthForecast | None) -> PageCell:
    """A cell with a forecast width of a bleed, its interval beneath; a dash for None."""
    if forecast is None:
        return number_cell("–")
    beneath = ""
    if forecast.interval_mm is not None:
        low, high = map(show_length, forecast.interval_mm)
        beneath = f"{low.removesuffix(' mm')} to {high}"
    return number_cell(show_length(forecast.width_mm), beneath)


def _designs_part(context: ThingContext) -> Section | None:
    """The section of the designs that use the thing, a row each; None without any."""
    if not context.used:
        return None
    rows = []
    for design in context.designs:
        rows.append(
            (
                PageCell(
                    (context.design_link(design.id),),
                    f"{design.state}, since {words.short_date(design.date)}",
                    head=True,
                ),
                number_cell(str(len(design.overview.pours))),
                fit_cell(*design.overview.pours),
            )
        )
    heads = (html.Heading("Design", wide=True), "Pours", "Fit to sell")
    table = html.simple_table("Every design made with it", heads, rows)
    return html.simple_section("used", "Made with it", replace(table, spoken=True))


def _failures_part(context: ThingContext) -> Section | None:
    """The section of the failures that name the thing, and how many more its designs had."""
    all_failures = [(design, failure) for design in context.designs for failure in design.failed]
    if not all_failures:
        return None
    named = [pair for pair in all_failures if _names(context, pair[1])]
    shown = tuple(
        failure_view(context.book, context.here, design, failure) for design, failure in named
    )
    blocks: list[html.Block] = [html.FailureList(shown)] if shown else []
    others = len(all_failures) - len(named)
    if others:
        failed = span(context.here, context.book.places.fixed("failed"))
        count = words.count_text(others, "more failure" if shown else "failure")
        more = "" if shown else ", none put down to it"
        blocks.append(
            html.Paragraph((f"Its designs had {count}{more}. All of them: ", failed, "."))
        )
    return html.simple_section("failed", "What failed", *blocks)


def _names(context: ThingContext, failure: Failure) -> bool:
    """Whether a failure's words have a word of the thing's name, as far as its first comma."""
    own = _NAMING_WORD.findall(context.here.title.partition(",")[0].lower())
    said = f"{failure.saw} {failure.why or ''} {failure.mend or ''}".lower()
    return any(re.search(rf"\b{word}s?\b", said) for word in own)
