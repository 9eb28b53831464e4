"""Derive the cost, net weight and label of a bar, and the cut plan of its mat.

A value or a cost that cannot be worked out is None; ``builder`` then notes the missing inputs.
Costs are those of the whole batch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.common.as_json_numbers import money, number, numbers, percent
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.exact import exact_fraction
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.label import net_weight as net_weights
from journal.figures.label.allergens import (
    AllergensOfBar,
    OilInBar,
    allergens_of_bar,
    named_in_region,
)
from journal.figures.label.ingredients import BaseInBar, LabelDraft, StirredInBar, draft_label
from journal.figures.pieces.cut_plan import CutPlan, RepeatingMotif, cut_plan
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_fill import piece_outline
from journal.figures.recipe.derive_layers import (
    FIGURE_PART_OF_KIND,
    DosedFigures,
    LayerFigures,
    RecipeMasses,
    recipe_masses,
    usual_density_g_ml,
    within_limit_need,
)
from journal.figures.recipe.derive_leftovers import lost_in_jug_g
from journal.figures.recipe.layers import rounds
from journal.figures.shop import cost as cost_sheets
from journal.figures.shop.cost import CostGap
from journal.quantities.kinds import Price
from journal.records.models.shelf import Mat
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Design

# The day to which the loss of weight is shown.
LOSS_DAY = 30
WEIGHED_BARS = f"weight of {net_weights.LEAST_BARS} bars of {net_weights.LEAST_POURS} pours or more"


class NetWeightFigures(Struct, frozen=True):
    """Mean weight of a design's bars, weights to declare, loss to day 30 (None if not fitted)."""

    net: net_weights.NetWeight
    declared: tuple[net_weights.Declared, ...]  # by region, in the order of the settings
    loss: net_weights.LossAt | None


class LabelFigures(Struct, frozen=True):
    """Label drafts by region, and the allergens in the bar."""

    drafts: tuple[LabelDraft, ...]
    allergens: AllergensOfBar


def derive_cut(context: RecipeContext, builder: FigureBuilder) -> CutPlan | None:
    """Plan the pieces to cut from a sheet of the recipe's mat for its mould."""
    name = context.recipe.mat
    mat = context.shelf.mats.get(name or "")
    if mat is None:
        builder.lacks("a mat")
        return None
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    if mould is None or mould.face is None:
        builder.lacks(f"moulds/{context.recipe.mould}: face" if mould is not None else "mould")
    if mat.sheet is None:
        builder.lacks(f"mats/{name}: sheet")
    motif = repeating_motif(mat, str(name), builder)
    if mat.motif is not None:
        if context.recipe.trim is None:
            builder.lacks("trim")
        elif context.recipe.trim.margin_mm is None:
            builder.lacks("trim: the margin, such as straight 3 mm")
    if builder.missing:
        return None
    # A piece on the shelf may have been cut by another hand; the plan is for new ones.
    size = piece_outline(context, mat, mould, None)
    assert size is not None
    assert mat.sheet is not None
    builder.used("sheet, motif, trim and the mould's face", "")
    # Turned, a piece with a motif would be cut across its picture.
    return cut_plan(mat.sheet, size, motif, may_turn=motif is None)


def repeating_motif(
    mat: Mat, name: str, builder: FigureBuilder, part: str = ""
) -> RepeatingMotif | None:
    """The repeating motif of the mat ``name``; None if it has none.

    Also None without pitch or offset, noted as missing for ``part`` ("": the whole figure).
    """
    if mat.motif is None:
        return None
    if mat.motif.pitch is None or mat.motif.offset is None:
        builder.lacks(f"mats/{name}: motif pitch and offset", part)
        return None
    return RepeatingMotif(mat.motif.size, mat.motif.pitch, mat.motif.offset)


def derive_cost(context: RecipeContext, builder: FigureBuilder) -> cost_sheets.CostSheet:
    """Derive cost and price of a bar and of the batch; missing inputs are noted part by part."""
    masses, cut = recipe_masses(context), context.figure(CUT).value
    found = {
        "base": _base_costs(context, masses),
        "fragrance": _fragrance_costs(context, masses),
        "colour": _dosed_costs(context, masses, "colourants"),
        "additives": _dosed_costs(context, masses, "additives"),
        "packaging": _packaging_costs(context),
        "tools": _tool_costs(context, cut),
        "labour": _hands_on_costs(context),
    }
    parts: list[tuple[str, Fraction | None]] = []
    so_far: list[tuple[str, Fraction]] = []
    gaps: list[CostGap] = []
    for name, costs in found.items():
        entries = list(costs)
        own = [one for one in entries if isinstance(one, CostGap)]
        known = sum((one for one in entries if isinstance(one, Fraction)), Fraction(0))
        parts.append((name, None if own else known))
        if own:
            so_far.append((name, known))
        gaps.extend(_merged_gaps(own))
    for gap in gaps:
        builder.lacks(gap.needs, f"cost of {gap.part}")
    settings = context.settings
    if settings.margin is None:
        builder.lacks("journal.yaml: margin", "price")
    if settings.fixed_costs is None:
        builder.lacks("journal.yaml: fixed_costs", "break-even")
    sheet = cost_sheets.cost_sheet(
        cost_sheets.BatchCost(context.bars, tuple(parts), tuple(so_far), tuple(gaps)),
        currency=settings.currency,
        margin=settings.margin,
        fixed_costs=settings.fixed_costs,
        wholesale=settings.wholesale,
        sets=[
            (name, each)
            for name in context.recipe.packaging
            if (each := context.shelf.packaging[name].each or 1) > 1
        ],
    )
    return replace(sheet, mat_life_by=_mat_life_by(context))


def _merged_gaps(gaps: Sequence[CostGap]) -> Iterator[CostGap]:
    """Yield each gap once; the ranges of one thing in several layers are added up."""
    by_need: dict[str, list[CostGap]] = {}
    for gap in gaps:
        by_need.setdefault(gap.needs, []).append(gap)
    for alike in by_need.values():
        ranges = [(one.low, one.high) for one in alike if one.low is not None]
        whole = len(ranges) == len(alike)
        yield replace(
            alike[0],
            low=sum((low or 0 for low, _ in ranges), Fraction(0)) if whole else None,
            high=sum((high or 0 for _, high in ranges), Fraction(0)) if whole else None,
        )


def _cost_of(price: Price, mass_g: float | None, volume_ml: float | None) -> Fraction | None:
    """Cost at a price per mass or volume; None if it is per piece, or that amount is None."""
    quantity = mass_g if price.per == "mass" else volume_ml
    if price.per == "each" or quantity is None:
        return None
    return cost_sheets.material_cost(quantity, cost_sheets.unit_price(price.amount, price.quantity))


def _base_used_g(context: RecipeContext, layer: LayerFigures, masses: RecipeMasses) -> float:
    """Grams of base that a layer uses up: in the bars, and its share of what the jug keeps."""
    pot = next(pot for pot in masses.pots if pot.name == layer.pot)
    lost_g = lost_in_jug_g(context.settings, context.recipe, pot, context.bars)
    stays_g = pot.melt_g - pot.left_g
    return layer.base_g + lost_g * layer.base_g / stays_g


def _base_costs(context: RecipeContext, masses: RecipeMasses) -> Iterator[Fraction | CostGap]:
    """Yield the cost of each base of each layer; a gap without a price by mass."""
    for layer in masses.layers:
        used = _base_used_g(context, layer, masses)
        for base, melt_g in layer.bases:
            record = context.shelf.bases[base]
            price = record.price
            cost = None if price is None else _cost_of(price, used * melt_g / layer.melt_g, None)
            by_mass = "" if price is None else " by mass, such as 4.10/lb"
            needs = f"bases/{base}: price{by_mass}"
            yield CostGap("base", needs, record.name) if cost is None else cost


def _fragrance_costs(context: RecipeContext, masses: RecipeMasses) -> Iterator[Fraction | CostGap]:
    """Yield the cost of each oil of each layer; oil that a leftover brings costs nothing."""
    for oil in (oil for layer in masses.layers for oil in layer.fragrances):
        if oil.from_leftover:
            continue
        record = context.shelf.fragrances[oil.oil]
        price = record.price
        cost = None if price is None else _cost_of(price, oil.mass_g, oil.volume_ml)
        if oil.refused:
            yield CostGap("fragrance", within_limit_need(oil.oil), record.name)
        elif cost is None:
            needs = f"fragrances/{oil.oil}: price by volume or mass"
            yield CostGap("fragrance", needs, record.name)
        else:
            yield cost


def _dosed_costs(
    context: RecipeContext, masses: RecipeMasses, kind: str
) -> Iterator[Fraction | CostGap]:
    """Yield the cost of each colourant or additive of each layer; ``kind`` says which.

    Where only the density is missing, a gap has what the powder costs by the published range.
    """
    part = FIGURE_PART_OF_KIND[kind]
    for one in (one for layer in masses.layers for one in layer.of_kind(kind)):
        record = context.shelf.dosed_ingredient(kind, one.name)
        price = record.price
        if one.by_eye:
            written = "colours" if kind == "colourants" else kind
            yield CostGap(part, f"{written}/{one.name}: dose (it is done by eye)", record.name)
        elif price is None:
            yield CostGap(part, f"{kind}/{one.name}: price", record.name)
        elif (cost := _cost_of(price, one.mass_g, one.volume_ml)) is not None:
            yield cost
        else:
            gap = CostGap(part, f"{kind}/{one.name}: density", record.name)
            usual = usual_density_g_ml(context.shelf, kind, one.name)
            yield gap if usual is None else replace(gap, **_by_density(price, one, usual))


def _by_density(
    price: Price, one: DosedFigures, density_g_ml: tuple[float, float]
) -> dict[str, Fraction | None]:
    """The ends of what a dose costs by a range of its density, as a gap has them."""
    costs = [
        _cost_of(
            price,
            None if one.volume_ml is None else one.volume_ml * density,
            None if one.mass_g is None else one.mass_g / density,
        )
        for density in density_g_ml
    ]
    known = [cost for cost in costs if cost is not None]
    ends = (min(known), max(known)) if len(known) == len(costs) else (None, None)
    return dict(zip(("low", "high"), ends, strict=True))


def _packaging_costs(context: RecipeContext) -> Iterator[Fraction | CostGap]:
    """Yield the cost of each packaging of the recipe; a gap without a price."""
    for name in context.recipe.packaging:
        record = context.shelf.packaging[name]
        if record.price is None:
            yield CostGap("packaging", f"packaging/{name}: price", record.name)
        else:
            yield Fraction(record.price) * context.bars / (record.each or 1)


def _tool_costs(context: RecipeContext, cut: CutPlan | None) -> Iterator[Fraction | CostGap]:
    """Yield the wear of the mould, of those of its embeds, and of the mat if it has one."""
    part = "tools"
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    bars_each = 1
    if mould is None:
        yield CostGap(part, "mould")
    else:
        for key in ("price", "life", "cavities"):
            if getattr(mould, key) is None:
                yield CostGap(part, f"moulds/{context.recipe.mould}: {key}", mould.name)
        bars_each = mould.bars_each or 1
        if mould.price is not None and mould.life and mould.cavities:
            yield (
                cost_sheets.mould_wear(mould.price, mould.life, mould.cavities * bars_each)
                * context.bars
            )
    for name in dict.fromkeys(layer.mould for layer in context.recipe.layers if layer.mould):
        own = context.shelf.moulds[name]
        for key in ("price", "life", "cavities"):
            if getattr(own, key) is None:
                yield CostGap(part, f"moulds/{name}: {key}", own.name)
        if own.price is not None and own.life and own.bars:
            yield cost_sheets.mould_wear(own.price, own.life, own.bars) * context.bars
    mat = context.shelf.mats.get(context.recipe.mat or "")
    if mat is None:
        return
    life = context.shelf.piece_life(str(context.recipe.mat))
    for key, known in (("price", mat.price), ("life", life)):
        if known is None:
            yield CostGap(part, f"mats/{context.recipe.mat}: {key}", mat.name)
    if cut is None or cut.count == 0:
        yield CostGap(part, "a cut plan of the mat", mat.name)
    elif mat.price is not None and life:
        yield cost_sheets.mat_wear(mat.price, cut.count, life, bars_each) * context.bars


def _mat_life_by(context: RecipeContext) -> cost_sheets.LifeBy | None:
    """What the life of a piece of the recipe's mat goes by; None where there is none."""
    mat = context.recipe.mat or ""
    if mat not in context.shelf.mats or context.shelf.piece_life(mat) is None:
        return None
    return "seen" if mat in context.shelf.lives_seen else "guess"


def tidying_minutes(design: Design, variant: str) -> list[float]:
    """Minutes of tidying of each timed bar of a variant; of all timed bars if it has none."""
    timed = [
        (bar.variant, minutes)
        for bar in design.bars
        if isinstance(minutes := bar.measures.get("tidy"), float | int)
    ]
    return [minutes for name, minutes in timed if name == variant] or [m for _, m in timed]


def _hands_on_costs(context: RecipeContext) -> Iterator[Fraction | CostGap]:
    """Yield the cost of hands-on time; gaps without the studio's hourly rate or the minutes."""
    part = "labour"
    minutes = context.recipe.minutes
    measured = cost_sheets.median_or_none(tidying_minutes(context.design, context.variant.name))
    if context.settings.labour is None:
        yield CostGap(part, "journal.yaml: labour")
    if minutes is None or minutes.pour is None:
        yield CostGap(part, "minutes: pour")
        return
    if minutes.tidy is None and measured is None:
        yield CostGap(part, "minutes: tidy")
        return
    if context.settings.labour is None:
        return
    # As on the card and in an order: no more at once than there are cavities and pieces.
    a_round = places_of_recipe(context.shelf, context.recipe).bars_a_round or context.recipe.bars
    pour_min, tidy_min = cost_sheets.hands_on_minutes(
        bars=context.bars,
        rounds=rounds(context.bars, a_round),
        written_bars=context.recipe.bars,
        written_rounds=rounds(context.recipe.bars, a_round),
        written_pour_min=minutes.pour,
        written_tidy_min=minutes.tidy or 0.0,
        measured_tidy_min_a_bar=measured,
    )
    yield cost_sheets.labour_cost(pour_min + tidy_min, context.settings.labour)


def derive_net_weight(context: RecipeContext, builder: FigureBuilder) -> NetWeightFigures | None:
    """Derive the net weight to declare, by region, from the weighed bars of the design."""
    variants = {bar.bar: bar.variant for bar in context.design.bars}
    weighings = [
        net_weights.Weighing(bar.bar, 0.0, weight, pour.label, bar.variant)
        for pour in context.design.pours
        for bar in pour.bars
        if isinstance(weight := bar.measures.get("weight"), float)
    ] + [
        net_weights.Weighing(later.bar, float(later.day), weight, pour.label, variants[later.bar])
        for pour in context.design.pours
        for later in pour.later
        if isinstance(weight := later.measures.get("weight"), float)
    ]
    if not weighings:
        builder.lacks(WEIGHED_BARS)
        return None
    settings = context.settings
    builder.used("weigh-ins", str(len(weighings)))
    builder.used("day of sale", str(settings.sale_day))
    try:
        # The variants of a design share its weighed bars.
        net, loss = context.memo(
            _net_weight_and_loss,
            tuple(weighings),
            context.variant.name,
            float(settings.sale_day),
            settings.drying,
        )
    except FigureError as error:  # a day of sale so far off that the loss would leave nothing
        builder.lacks(f"an earlier sale_day in journal.yaml: {error}")
        return None
    if net.bars < net_weights.LEAST_BARS or net.pours < net_weights.LEAST_POURS:
        builder.lacks(WEIGHED_BARS)
    return NetWeightFigures(
        net,
        tuple(
            net_weights.declare(net, region, _label_step(settings.label_step, region))
            for region in settings.region
        ),
        loss,
    )


def _net_weight_and_loss(
    weighings: tuple[net_weights.Weighing, ...], variant: str, sale_day: float, drying: float | None
) -> tuple[net_weights.NetWeight, net_weights.LossAt | None]:
    """The net weight of a design's bars, and the loss of a variant's up to ``LOSS_DAY``.

    Of the recipe as written, where bars are of named variants, it is that of all.
    """
    of_variant = net_weights.drying_of_variant(weighings, variant)
    loss = net_weights.loss_between(of_variant, 0.0, LOSS_DAY)
    return net_weights.net_weight(weighings, sale_day, drying), loss


def _label_step(step_g: float | None, region: str) -> Fraction | None:
    """The studio's label step in the region's unit: ounces in the United States, else grams.

    None if that is no multiple of 0.01: then the step was written in the other unit.
    """
    if step_g is None:
        return None
    step = exact_fraction(step_g) / (net_weights.G_PER_OZ if region == "us" else 1)
    return step if (100 * step).denominator == 1 else None


def derive_label(context: RecipeContext, builder: FigureBuilder) -> LabelFigures | None:
    """Derive a draft of the ingredient list for each region, and the allergens to name."""
    masses = recipe_masses(context)
    bases_g = _bases_per_bar(masses)
    if not bases_g:
        builder.lacks("base of every leftover")
        return None
    for base in bases_g:
        ingredients = context.shelf.bases[base].ingredients
        if not ingredients:
            builder.lacks(f"bases/{base}: ingredients")
        elif any(ingredient.share is None for ingredient in ingredients):
            builder.lacks(f"bases/{base}: shares of the ingredients")
    stirred = []
    for (kind, name), mass_g in _stirred_per_bar(context, masses, builder).items():
        record = context.shelf.dosed_ingredient(kind, name)
        if record.inci is None:
            builder.lacks(f"{kind}/{name}: inci")
        one = StirredInBar(name, mass_g, _inci_names(record.inci), kind == "colourants")
        if kind == "colourants":
            colourant = context.shelf.colourants[name]
            one = replace(one, certified=bool(colourant.certified))
            if colourant.paste is not None:
                paste = colourant.paste
                one = replace(one, carrier=paste.carrier, pigment_share=paste.pigment)
        stirred.append(one)
    oils = {oil.oil: oil.bar_share for layer in masses.layers for oil in layer.fragrances}
    allergens = allergens_of_bar(
        [
            OilInBar(oil, share, context.shelf.fragrances[oil].allergens)
            for oil, share in oils.items()
        ]
    )
    bases = [
        BaseInBar(
            base,
            mass_g,
            tuple((entry.inci, entry.share) for entry in context.shelf.bases[base].ingredients),
            {
                entry.inci: entry.us
                for entry in context.shelf.bases[base].ingredients
                if entry.us is not None
            },
            context.shelf.bases[base].true_soap,
        )
        for base, mass_g in bases_g.items()
    ]
    fragrance_g = sum(oils.values()) * masses.bar_g
    drafts = tuple(
        draft_label(
            region,
            bases,
            fragrance_g,
            stirred,
            named_in_region(region, allergens.named),
            context.settings.sold_as,
            getattr(context.settings.responsible, region, None) or "",
        )
        for region in context.settings.region
    )
    return LabelFigures(drafts, allergens)


def _bases_per_bar(masses: RecipeMasses) -> dict[str, float]:
    """Grams of each base in one bar."""
    bases_g: dict[str, float] = {}
    for layer in masses.layers:
        for base, melt_g in layer.bases:
            in_bar_g = melt_g * (layer.base_g_per_bar / layer.melt_g)
            bases_g[base] = bases_g.get(base, 0.0) + in_bar_g
    return bases_g


def _stirred_per_bar(
    context: RecipeContext, masses: RecipeMasses, builder: FigureBuilder
) -> dict[ThingRef, float | None]:
    """Grams of each colourant and additive in one bar; None where that is not known."""
    stirred_g: dict[ThingRef, float | None] = {}
    for layer in masses.layers:
        share = layer.base_g_per_bar / layer.melt_g
        for one in layer.dosed:
            others_g = stirred_g.get((one.kind, one.name), 0.0)
            known = others_g is not None and one.mass_g is not None
            stirred_g[one.kind, one.name] = (
                (others_g or 0.0) + (one.mass_g or 0.0) * share if known else None
            )
    # A tinted leftover brings its colourant into the bar.
    for layer in masses.layers:
        leftover = context.shelf.leftovers.get(layer.leftover or "")
        if leftover is None or leftover.colourant is None:
            continue
        colour = ("colourants", leftover.colourant)
        others_g = stirred_g.get(colour, 0.0)
        if leftover.colour_share is None:
            builder.lacks(f"leftovers/{layer.leftover}: colour_share", "order of the colours")
            stirred_g[colour] = None
        elif others_g is not None:
            in_bar_g = layer.base_g_per_bar * layer.leftover_g / layer.melt_g
            stirred_g[colour] = others_g + leftover.colour_share * in_bar_g
    return stirred_g


def _inci_names(inci: str | None) -> tuple[str, ...]:
    """Split the INCI names of a thing, which are separated by commas or " / "; empty for None."""
    if inci is None:
        return ()
    return tuple(name.strip() for name in inci.replace(" / ", ",").split(",") if name.strip())


# How each is explained and output ---------------------------------------------------


def _cost_json(sheet: cost_sheets.CostSheet) -> dict[str, Any]:
    """The JSON block of the cost of a bar; what lacks an input is null."""
    return {
        "currency": sheet.currency,
        **{
            name: None if name in sheet.missing else money(part) for name, part in sheet.a_bar.parts
        },
        "mat_life_by": sheet.mat_life_by,
        "total": None if sheet.missing else money(sheet.a_bar.total),
        "at_least": money(sheet.a_bar.total),
        "missing": [
            {"part": gap.part, "name": gap.name or gap.part, "needs": gap.needs}
            | (
                {}
                if gap.low is None or gap.high is None
                else {"low": number(float(gap.low)), "high": number(float(gap.high))}
            )
            for gap in sheet.gaps
        ],
        "price": money(sheet.price),
        "contribution": money(sheet.contribution),
        "break_even_bars": sheet.break_even_bars,
        **_wholesale_json(sheet),
        "sets": {
            one.packaging: {"bars": one.bars, "price": money(one.price)}
            | ({} if one.wholesale is None else {"wholesale": money(one.wholesale)})
            for one in sheet.sets
        },
    }


def _wholesale_json(sheet: cost_sheets.CostSheet) -> dict[str, float | None]:
    """The price to shops and what it leaves; nothing for a studio that names no share."""
    if sheet.wholesale_share is None:
        return {}
    return {
        "wholesale": money(sheet.wholesale),
        "wholesale_contribution": money(sheet.wholesale_contribution),
    }


def _cost_rows(sheet: cost_sheets.CostSheet) -> Iterator[TableRow]:
    """Yield one row: the cost of a bar by parts, and that of the batch."""
    whole = not sheet.missing
    yield (
        sheet.bars, sheet.currency,
        *(None if name in sheet.missing else part for name, part in sheet.a_bar.parts),
        sheet.a_bar.total if whole else None, sheet.price, sheet.contribution,
        sheet.break_even_bars, sheet.batch.total if whole else None, sheet.batch_price,
        sheet.a_bar.total, sheet.wholesale,
    )  # fmt: skip


def _net_weight_json(figures: NetWeightFigures) -> dict[str, Any]:
    """The JSON block of the net weight: for the first region, and under ``regions`` for all."""
    first = figures.declared[0] if figures.declared else None
    return {
        "mean_g": number(figures.net.mean_g),
        "declared_g": None if first is None else number(first.declared_g),
        "declared": first.text or None if first is not None else None,
        "loss_percent_day_30": None if figures.loss is None else percent(figures.loss.share),
        "regions": {
            entry.system: {"declared_g": number(entry.declared_g), "declared": entry.text or None}
            for entry in figures.declared
        },
    }


def _net_weight_rows(figures: NetWeightFigures) -> Iterator[TableRow]:
    """Yield a row for each region."""
    net = figures.net
    for entry in figures.declared:
        yield (
            entry.system, net.bars, net.pours, net.mean_g, net.sale_day, net.mean_at_sale_g,
            net.lower_g, net.single_lower_g,
            100 * figures.loss.share if figures.loss else None, entry.declared_g,
            entry.text or None,
        )  # fmt: skip


def _net_weight_reasons(figures: NetWeightFigures) -> Iterator[str]:
    """Yield the reasons that there is no loss, or no declaration for a region."""
    if figures.loss is None:
        yield from (remark for remark in figures.net.why if "loss" in remark)
    refused = [one for one in figures.declared if one.declared_g is None]
    if len({one.why for one in refused}) == 1 and len(refused) == len(figures.declared):
        yield refused[0].why
        return
    for one in refused:
        yield f"{one.system}: {one.why}"


def _label_json(label: LabelFigures) -> dict[str, Any]:
    """The JSON block of the label drafts, by region."""
    return {
        draft.region: {
            "ingredients": list(draft.names),
            "allergens": list(draft.allergens),
            "apart": {base: list(names) for base, names in draft.apart},
            "errors": list(draft.faults),
            "rules": draft.kind,
        }
        for draft in label.drafts
    }


def _label_rows(label: LabelFigures) -> Iterator[TableRow]:
    """Yield a row for each ingredient and allergen; ``base`` where a base has its own list."""
    for draft in label.drafts:
        for place, name in enumerate(draft.names, start=1):
            yield (draft.region, "ingredient", place, name, None)
        for base, names in draft.apart:
            for place, name in enumerate(names, start=1):
                yield (draft.region, "ingredient", place, name, base)
        for place, name in enumerate(draft.allergens, start=1):
            yield (draft.region, "allergen", place, name, None)


def _cut_json(plan: CutPlan) -> dict[str, Any]:
    """The JSON block of the cut plan."""
    return {
        "piece_mm": numbers(plan.piece_mm),
        "pieces": plan.count,
        "waste_percent": percent(plan.waste_share),
    }


CUT = FigureSpec(
    name="cut", kind="computed", derive=derive_cut,
    blocks={"cut": _cut_json},
    tables=(
        TableSpec("cut", "piece_width_mm piece_height_mm pieces waste_percent",
                lambda plan: [(*plan.piece_mm, plan.count, 100 * plan.waste_share)]),
    ),
)  # fmt: skip

_PARTS = " ".join(f"{part}_a_bar" for part in cost_sheets.PARTS)

COST = FigureSpec(
    name="cost", kind="computed", derive=derive_cost,
    blocks={"cost": _cost_json},
    tables=(
        TableSpec("cost", f"bars currency {_PARTS} total_a_bar price_a_bar contribution_a_bar"
                " break_even_bars batch_total batch_price at_least_a_bar wholesale_a_bar",
                _cost_rows),
    ),
    studio_only=True,
)  # fmt: skip

NET_WEIGHT = FigureSpec(
    name="net_weight", kind="computed", derive=derive_net_weight,
    blocks={"net_weight": _net_weight_json},
    tables=(
        TableSpec("net_weight",
                "region bars_weighed pours mean_g sale_day mean_at_sale_g lower_g single_lower_g "
                "loss_day_30_percent "
                "declared_g declared", _net_weight_rows, by_variant=False),
    ),
    null_reasons=_net_weight_reasons,
)  # fmt: skip

LABEL = FigureSpec(
    name="label", kind="computed", derive=derive_label,
    blocks={"label": _label_json},
    tables=(TableSpec("label", "region kind place name base", _label_rows),),
)  # fmt: skip
