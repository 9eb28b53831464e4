"""What to weigh for a design, how full the cavity gets, and in which order it is poured."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from msgspec.structs import replace

from journal.charts.section import SectionDimensions, section_drawing
from journal.figures.derive import RecipeFigures
from journal.figures.heat.derive_heat import MELTING
from journal.figures.label.browning import NO_BROWNING
from journal.figures.label.derive_browning import BROWNING
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_bar_weight import BAR_WEIGHT
from journal.figures.recipe.derive_fill import FILL, FillFigures, face_area
from journal.figures.recipe.derive_layers import (
    LAYERS,
    DosedFigures,
    FragranceFigures,
    LayerFigures,
)
from journal.figures.recipe.derive_measured import asked_of_dosed, asked_of_oil, share_of_a_round
from journal.figures.recipe.fill import PROUD_LIMIT_MM
from journal.figures.recipe.layers import rounds
from journal.figures.shop.derive_shop import CUT
from journal.html import blocks as html
from journal.html.blocks import PageCell, Passage, Section, SideNote, TextRun, Words, number_cell
from journal.quantities.measuring import AskedAmount, measure, measuring_unit
from journal.quantities.show import show_length, show_number
from journal.records.models.shelf import Mat, Mould
from journal.records.models.write_up import Layer
from journal.views.card.steps import RoundSteps, page_words, recipe_round, steps_of
from journal.views.shared import words
from journal.views.shared.on_design import DesignContext, joined_runs
from journal.views.shared.paper_places import (
    bench_place,
    command,
    has_pour_sheet,
    has_sheets,
    pour_sheet_place,
)
from journal.views.shared.places import span


def weigh_part(context: DesignContext) -> Section | None:
    """The section "Weigh out": a table by layer; None without figures.

    How full the cavity gets, the scent and what is left are folded under it; a note that
    warns stands open.
    """
    if context.figures is None:
        return None
    recipe = context.figures.recipe
    heads = (html.Heading("What"), *(html.Heading(name, True) for name in context.units.scales))
    groups = tuple(map(partial(_layer_rows, context), recipe.masses.layers,
                       context.design.recipe.layers))  # fmt: skip
    caption = f"For {words.count_text(recipe.bars, 'bar')}"
    table = html.PageTable(caption, heads, groups, strong=True, name="weigh-table")
    notes = (
        *_fill_notes(context, recipe),
        *_fragrance_notes(context, recipe),
        *_left_notes(context, recipe),
    )
    folded = tuple(note for note in notes if not note.mind)
    passages = [
        Passage(
            (table, html.Paragraph(_card_runs(context))), tuple(note for note in notes if note.mind)
        )
    ]
    allowed = _allowed_paragraph(context, recipe)
    if folded or allowed:
        fold = " ".join(_weigh_answers(context, recipe))
        passages.append(Passage((allowed,) if allowed else (), folded, fold))
    return Section("weigh", "Weigh out", tuple(passages))


def _weigh_answers(context: DesignContext, recipe: RecipeFigures) -> Iterator[str]:
    """Yield how full the cavity gets, how much scent is in, and what a fresh bar weighs."""
    fill = recipe[FILL].value
    if fill is not None:
        yield _fill_text(context, fill)
    for layer in recipe.masses.layers:
        if len(layer.fragrances) == 1:
            oil = layer.fragrances[0]
            allowed = f" of {words.percent(oil.limit)} allowed" if oil.limit is not None else ""
            share = words.percent(oil.layer_share)
            yield f"Scent: {share}{allowed} in the {layer.name}."
    weight = recipe[BAR_WEIGHT].value
    if weight is not None:
        yield f"A fresh bar: {context.units.mass(weight.known_g_per_bar)}."


def _layer_rows(context: DesignContext, layer: LayerFigures, written: Layer) -> html.RowGroup:
    """The rows of one layer: its base or leftover, oils, colourants and additives."""
    head: list[TextRun | str] = [TextRun(words.capitalised(layer.name), "strong")]
    if layer.pot != layer.name:
        head.append(f", pot {layer.pot}")
    if layer.pour_c is not None:
        window = context.units.temperatures(*layer.pour_c)
        head += ["; pour at ", TextRun(window.first, "strong"), f" ({window.second})"]
    rows = [
        _row(context, (context.thing("bases", base),), "", AskedAmount("base", mass_g))
        for base, mass_g in layer.fresh
    ]
    if layer.leftover is not None:
        thing = context.thing("leftovers", layer.leftover)
        rows.append(_row(context, (thing,), "left over", AskedAmount("base", layer.leftover_g)))
    stirred_in = (oil for oil in layer.fragrances if not oil.from_leftover)
    rows += [
        _oil_row(context, oil, asked_of_oil(oil, one.dose))
        for oil, one in zip(stirred_in, written.fragrance, strict=True)
    ]
    rows += [_dosed_row(context, dosed) for dosed in layer.dosed]
    return html.RowGroup(tuple(rows), tuple(head))


def _row(
    context: DesignContext, name: Words, beneath: str, asked: AskedAmount, tone: html.Tone = ""
) -> tuple[PageCell, ...]:
    """A row: a thing, a remark beneath it, and what is measured of it by one tool and another.

    The unit is that of a round, so that page and card have the same.
    """
    tools = context.units.tools
    share = share_of_a_round(context.book.bench, context.design.recipe)
    amount = measure(asked, tools, measuring_unit(asked.times(share), tools))
    if amount.why is not None:
        beneath = ", ".join(filter(None, (beneath, words.unmeasured_text(amount.why))))
    shown = context.units.measured(amount)
    first = PageCell((TextRun(shown.first, tone),), number=True)
    return PageCell(name, beneath, head=True), first, number_cell(shown.second)


def _oil_row(
    context: DesignContext, oil: FragranceFigures, asked: AskedAmount | None
) -> tuple[PageCell, ...]:
    """A row for an oil: its amount rounded down, how to add it; over its limit no amount."""
    beneath = []
    window = context.units.adding_window(oil.add_c)
    if window is not None:
        beneath.append(f"stirred in {window.first}")
    if oil.rough:
        beneath.append("rough, from drops")
    name: list[TextRun | str] = [context.thing("fragrances", oil.oil)]
    if asked is None:
        name += [" ", TextRun("over its limit: no amount is given; lower the dose", "mind")]
        return PageCell(tuple(name), head=True), number_cell("–"), number_cell("")
    if oil.limit is None:
        name += [" ", TextRun("no limit on the shelf", "mind")]
    if oil.within_takes is False and oil.takes is not None:
        name += [" ", TextRun(f"more than the {words.percent(oil.takes)} its base carries", "mind")]
    tone: html.Tone = "mind" if oil.within_takes is False else ""
    return _row(context, tuple(name), ", ".join(beneath), asked, tone)


def _dosed_row(context: DesignContext, dosed: DosedFigures) -> tuple[PageCell, ...]:
    """A row for a colourant or additive: what is measured of it, or "by eye"."""
    name: Words = (context.thing(dosed.kind, dosed.name),)
    asked = asked_of_dosed(context.book.bench, dosed)
    if asked is None:
        aim = f", to {dosed.aim}" if dosed.aim else ""
        head = PageCell(name, f"by eye{aim}", head=True)
        return head, number_cell("by eye", tone="soft"), number_cell("")
    return _row(context, name, "rough, from drops" if dosed.rough else "", asked)


def _card_runs(context: DesignContext) -> Words:
    """Where the same amounts are for another number of bars, and where there is room to write."""
    card = context.book.places.cards[context.design.id]
    runs: list[TextRun | str] = ["More bars, other moulds: the ", span(context.here, card, "card")]
    if has_pour_sheet(context.book, context.design):
        sheet = span(context.here, pour_sheet_place(context.design), "pour-day sheet")
        phone = span(context.here, bench_place(context.design), "on a phone")
        runs += [". Room to write: the ", sheet, ", or ", phone]
    elif has_sheets(context.book):
        runs += [". A sheet to write on: ", command(f"sheet pour-day {context.design.id}")]
    return (*runs, ".")


def _allowed_paragraph(context: DesignContext, recipe: RecipeFigures) -> html.Paragraph | None:
    """What the weights allow for the jug and the overpour, and what has no known mass."""
    runs: list[TextRun | str] = []
    waste = context.book.settings.waste
    spare = [words.percent(waste.share)] if waste.share else []
    spare += [f"{context.units.mass(waste.least).first} if that is more"] if waste.least else []
    if spare:
        runs.append(f"These weights allow for what sticks to the jug: {', or '.join(spare)}. ")
    for layer in context.design.recipe.layers:
        if layer.overpour:
            stays = context.units.mass(recipe.masses.layer(layer.name).base_g).first
            runs.append(
                f"About {stays} of the {layer.name} stays in the bars."
                " Scrape the rest back into the pot. "
            )
    runs += _bar_weight_runs(context, recipe)
    return html.Paragraph(tuple(runs)) if runs else None


def _bar_weight_runs(context: DesignContext, recipe: RecipeFigures) -> Words:
    """A sentence on what the weight of a fresh bar leaves out; empty if it is whole."""
    figure = recipe[BAR_WEIGHT]
    if figure.value is None or not figure.value.without:
        return ()
    things: list[Words] = [(context.thing(*one.split("/")),) for one in figure.value.without]
    weighed = TextRun("The weight of a fresh bar", href=context.how(figure.method))
    return (weighed, " leaves out ", *joined_runs(things), ".")


def _fill_notes(context: DesignContext, recipe: RecipeFigures) -> tuple[SideNote, ...]:
    """A side note on how full the cavity gets; empty if the fill is not known.

    It has a cross-section drawing of the bar if the mould's face is known.
    """
    fill = recipe[FILL].value
    mould = context.book.bench.moulds.get(context.design.recipe.mould or "")
    if fill is None or mould is None:
        return ()
    low, high = (words.percent(share, whole=True) for share in fill.fill)
    standing, mind = _standing_words(context, fill)
    cavity = context.thing("moulds", context.design.recipe.mould or "")
    where: Words = ("of a cavity of ", cavity, ". " if standing else ".", *standing)
    note = context.note(recipe[FILL], where, big=words.range_text(low, high), mind=mind)
    cut = _section_dimensions(context, recipe, mould, fill)
    return (note if cut is None else replace(note, section=section_drawing(cut)),)


def _standing_words(context: DesignContext, fill: FillFigures) -> tuple[Words, bool]:
    """A sentence on a bar that stands too far proud of the mould, and whether it does."""
    if fill.proud_mm is None or fill.proud_mm[0] <= PROUD_LIMIT_MM:
        return ((), False)
    limit = words.no_break(show_length(PROUD_LIMIT_MM))
    proud = _proud_text(context, *fill.proud_mm)
    text = f"The bar stands {proud}: more than the {limit} that you can plane off."
    return ((TextRun(text, "mind"),), True)


def _fill_text(context: DesignContext, fill: FillFigures) -> str:
    """How full the cavity gets, in a sentence."""
    low, high = (words.percent(share, whole=True) for share in fill.fill)
    if fill.proud_mm is None:
        return f"Fills {words.range_text(low, high)} of the cavity."
    most = context.units.length(fill.proud_mm[1]).first
    if fill.proud_mm[1] <= 0:
        return f"Fills {words.range_text(low, high)} of the cavity: below the brim."
    if fill.proud_mm[0] <= 0:
        return f"Fills the cavity to the brim, at most {most} over it."
    return f"Fills the cavity over the brim, by at most {most}."


def _section_dimensions(
    context: DesignContext, recipe: RecipeFigures, mould: Mould, fill: FillFigures
) -> SectionDimensions | None:
    """The dimensions of the bar's cross-section in its cavity; None without the mould's face."""
    area = face_area(mould)
    if mould.face is None or area is None:
        return None
    capacity_mm = 1000 * sum(fill.capacity_ml) / 2 / area
    depth_mm = mould.depth if mould.depth is not None else capacity_mm
    # The drawing's scale is the cavity's depth: what the mould holds fills it to the brim.
    whole_mm = depth_mm * (fill.poured_ml + fill.piece_ml) / (sum(fill.capacity_ml) / 2)
    low, high = fill.proud_mm or (0.0, 0.0)
    below = f"{context.units.length(max(0.0, depth_mm - whole_mm)).first} below the brim"
    says = _proud_text(context, low, high) if high > 0 else below
    mat = context.book.bench.mats.get(context.design.recipe.mat or "")
    _, mind = _standing_words(context, fill)
    return SectionDimensions(
        desc=f"The bar in its cavity, cut through, {says}; drawn at the middle of its fill.",
        face_mm=mould.face[0],
        depth_mm=depth_mm,
        piece_mm=_piece_width(context, mat),
        thick_mm=(mat and mat.thickness) or 0.0,
        relief_mm=(mat and mat.relief) or 0.0,
        motif_mm=mat.motif.size[0] if mat and mat.motif else 0.0,
        layers=_layer_thicknesses(context, recipe, whole_mm, mat is not None),
        proud_mm=max(0.0, whole_mm - depth_mm),
        proud_says=says,
        mind=mind,
    )


def _proud_text(context: DesignContext, low_mm: float, high_mm: float) -> str:
    """A height as ``1–2 mm proud`` or, if ``low_mm`` is not above 0, ``up to 2 mm proud``."""
    low, high = context.units.length(low_mm).first, context.units.length(high_mm).first
    return f"{words.range_text(low, high) if low_mm > 0 else f'up to {high}'} proud"


def _piece_width(context: DesignContext, mat: Mat | None) -> float:
    """The width in mm of the named piece, else of the cut plan's, else of the motif; else 0."""
    if mat is None:
        return 0.0
    piece = context.book.bench.pieces.get(context.design.recipe.piece or "")
    if piece is not None and piece.size is not None:
        return piece.size[0]
    plan = context.known_figures.recipe[CUT].value
    if plan is not None:
        return plan.piece_mm[0]
    return mat.motif.size[0] if mat.motif is not None else 0.0


def _layer_thicknesses(
    context: DesignContext, recipe: RecipeFigures, whole_mm: float, on_a_mat: bool
) -> tuple[tuple[str, float], ...]:
    """The label and thickness in mm of each layer over the mat, lowest first.

    The first of several lies in the relief and is left out. Without a mat, layers may lie in
    each other as well as over each other, so they are drawn as one.
    """
    layers = recipe.masses.layers
    if not on_a_mat:
        return ((layers[0].name if len(layers) == 1 else "all layers", whole_mm),)
    over = layers[1:] or layers
    volume_ml = sum(layer.volume_ml_per_bar for layer in over)
    return tuple(
        (
            f"{layer.name} {context.units.mass(layer.base_g_per_bar).first}",
            whole_mm * layer.volume_ml_per_bar / volume_ml,
        )
        for layer in over
    )


def _fragrance_notes(context: DesignContext, recipe: RecipeFigures) -> tuple[SideNote, ...]:
    """A side note for each layer with oils, on their shares and limits."""
    notes = []
    for layer in (layer for layer in recipe.masses.layers if layer.fragrances):
        mind = any(oil.refused or oil.within_takes is False for oil in layer.fragrances)
        texts_of = _one_oil_text if len(layer.fragrances) == 1 else _several_oils_text
        big, says = texts_of(context, layer)
        says += _takes_words(context, layer)
        says += _browning_words(context, layer)
        notes.append(context.note(recipe[LAYERS], *says, big=big, mind=mind, inputs=False))
    return tuple(notes)


def _one_oil_text(context: DesignContext, layer: LayerFigures) -> tuple[str, list[Words]]:
    """The share of a layer's only oil, and a sentence about it."""
    oil = layer.fragrances[0]
    shares = f", and {words.percent(oil.bar_share)} of the whole bar. "
    name = context.thing("fragrances", oil.oil)
    says: list[TextRun | str] = ["of the ", layer.name, " is ", name, shares, *_limit_words(oil)]
    if oil.density_assumed:
        says.append(" Its density is not on the shelf, so we took the heavy end of its kind.")
    if oil.from_leftover:
        says.append(" It is in the leftover already.")
    return words.percent(oil.layer_share), [tuple(says)]


def _browning_words(context: DesignContext, layer: LayerFigures) -> list[Words]:
    """A sentence on each oil of a layer that browns the bar by its vanillin."""
    says: list[Words] = []
    assert context.figures is not None
    here = {oil.oil for oil in layer.fragrances}
    for one in context.figures.recipe[BROWNING].value or ():
        if one.oil not in here or not one.bar_share:
            continue
        link = TextRun("Vanillin", href=context.how("browning"))
        expect = f"within weeks expect it to turn {one.expect}"
        if one.expect == NO_BROWNING:
            expect = "too little to brown it"
        says.append((link, f" is {words.percent(one.bar_share)} of the bar: {expect}."))
    return says


def _takes_words(context: DesignContext, layer: LayerFigures) -> list[Words]:
    """A line on the fragrance that the layer's base carries, marked if it is less; or none."""
    takes = layer.fragrances[0].takes
    if takes is None:
        return []
    base = TextRun("Its base carries", href=context.how("takes"))
    if layer.fragrances[0].within_takes:
        return [(base, f" up to {words.percent(takes)} of fragrance.")]
    over = f" only {words.percent(takes)} of fragrance: lower the dose, or scent sweats out."
    return [(base, TextRun(over, "mind"))]


def _limit_words(oil: FragranceFigures) -> Words:
    """A sentence on the limit of an oil, marked if there is none or it is exceeded."""
    if oil.limit is None:
        return (TextRun("There is no limit on the shelf for it.", "mind"),)
    allows = f"Its certificate allows up to {words.percent(oil.limit)}"
    return (TextRun(f"{allows}: lower the dose.", "mind"),) if oil.refused else (f"{allows}.",)


def _several_oils_text(context: DesignContext, layer: LayerFigures) -> tuple[str, list[Words]]:
    """The share of their limits that a layer's oils use together, and a line for each."""
    lines: list[Words] = []
    for oil in layer.fragrances:
        of_layer, of_bar = words.percent(oil.layer_share), words.percent(oil.bar_share)
        shares = f": {of_layer} of the layer, {of_bar} of the bar. "
        lines.append((context.thing("fragrances", oil.oil), shares, *_limit_words(oil)))
    if layer.limit_used is None:
        return "", [(f"Oils of the {layer.name}:",), *lines]
    first = f"of what is allowed: the oils of the {layer.name} together."
    return words.percent(layer.limit_used, whole=True), [(first,), *lines]


def _left_notes(context: DesignContext, recipe: RecipeFigures) -> tuple[SideNote, ...]:
    """A side note on rounds, what is left in pots, the heat to melt, and what all of it is from."""
    says: list[Words] = []
    big = ""
    mould = context.book.bench.moulds.get(context.design.recipe.mould or "")
    if mould is not None and mould.cavities:
        places = places_of_recipe(context.book.bench, context.design.recipe)
        a_round = places.first_round(recipe.bars)
        big = words.count_text(rounds(recipe.bars, a_round), "round")
        cavities = words.count_in_words(mould.cavities, "cavity", "cavities")
        blocks = words.list_text([str(bars) for bars in places.blocks(a_round)])
        cut = f", cut into {blocks}" if places.bars_each > 1 else ""
        says.append((f"through a mould of {cavities}{cut}.",))
    left: list[Words] = [
        (f"{context.units.mass(pot.left_g).first} of {pot.name}",)
        for pot in recipe.masses.pots
        if pot.left_g >= 1.0
    ]
    if left:
        says.append(("You will have about ", *joined_runs(left), " left over."))
    heat = recipe[MELTING].value
    if heat:
        amounts = [words.no_break(f"{show_number(pot.heat_wh, words.WHOLE)} Wh") for pot in heat]
        pots = [f"{amount} for {pot.pot}" for amount, pot in zip(amounts, heat, strict=True)]
        melting = TextRun("Melting", href=context.how("melting"))
        says.append((melting, f" takes {words.list_text(pots)}, and more for pot and air."))
    return (context.note(recipe[LAYERS], *says, big=big),)


def design_round(context: DesignContext) -> RoundSteps | None:
    """The steps of a round of the recipe, as its card has them; None without figures."""
    return None if context.figures is None else recipe_round(context.book, context.design)


def steps_part(one: RoundSteps) -> Section:
    """The steps of a round in the order of the hands, as on the card; folded."""
    steps = tuple(page_words(step.words) for step in steps_of(one))
    fold = f"{words.count_text(len(steps), 'step')}, as on the card"
    part = html.simple_section("order", "In order", html.BulletList(steps, numbered=True))
    return replace(part, fold=fold)
