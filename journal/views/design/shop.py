"""The sections of cost, label and cutting; the template ``shop.html`` sets them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from journal.comparison.derive import DesignResults
from journal.comparison.sentences import claims, worth_sentence
from journal.comparison.worth import worth_of_choices
from journal.figures.common.result import Figure
from journal.figures.label.ingredients import ADVICE, LabelDraft
from journal.figures.shop.cost import CostSheet, round_money
from journal.figures.shop.derive_shop import COST, CUT, LABEL, NET_WEIGHT
from journal.html.blocks import Section, SectionFacts, SideNote, TextRun, Words
from journal.records.models.fields import plain_id
from journal.records.models.write_up import AS_WRITTEN
from journal.views.paper.label_sheets import can_draft, has_draft
from journal.views.shared import words
from journal.views.shared.on_design import KIND_NAMES, DesignContext
from journal.views.shared.on_page import PageContext
from journal.views.shared.paper_places import command, has_sheets, label_place
from journal.views.shared.places import span

# What is told of a mat's life beside the cost of tools.
_LIFE_BY = {"guess": ", mat by guess", "seen": ", mat by what is seen"}


def cost_part(context: DesignContext) -> Section | None:
    """The section of cost and price, in the studio's edition alone; None without a cost."""
    if context.figures is None or not context.book.studio:
        return None
    recipes = (context.figures.recipe, *context.figures.variants.values())
    return cost_section(context, {one.variant: one[COST] for one in recipes}, context.results)


def cost_section(
    context: PageContext, figures: Mapping[str, Figure[CostSheet]], results: DesignResults | None
) -> Section | None:
    """The section of a cost, which takes nothing else of its design; None without a cost.

    ``figures`` are of the recipe as written and of its variants, ``results`` of the comparisons.
    """
    figure = figures[AS_WRITTEN]
    sheet = figure.value
    if sheet is None:
        return None

    def money(amount: Decimal | None) -> str:
        """An amount as it is shown; "" for None."""
        return "" if amount is None else context.units.money(amount)

    margin, bars = context.book.settings.margin, sheet.break_even_bars
    texts = {
        "bars": words.count_text(sheet.bars, "bar"),
        "total": money(sheet.a_bar.total),
        "batch_total": money(sheet.batch.total),
        "unknown": words.list_text(sheet.missing),
        "price": money(sheet.price),
        "batch_price": money(sheet.batch_price),
        "contribution": money(sheet.contribution),
        "margin": "" if margin is None else words.percent(margin, whole=True),
        "break_even": "" if bars is None else words.count_text(bars, "bar"),
        "least_price": money(sheet.least_price) if sheet.missing else "",
        "wholesale": money(sheet.wholesale),
        "wholesale_share": (
            "" if sheet.wholesale_share is None else words.percent(sheet.wholesale_share)
        ),
        "wholesale_left": "",
        "wholesale_lost": "",
    }
    left = sheet.wholesale_contribution
    if left is not None:
        texts["wholesale_lost" if left < 0 else "wholesale_left"] = money(abs(left))

    def cell(name: str, amount: Decimal | None) -> str:
        """A part of the cost, with a sign that more comes where it is not known whole."""
        more = " +" if amount is not None and name in sheet.missing else ""
        return money(amount) + more

    def head(name: str) -> str:
        """What a part is called; of tools also what the mat's life goes by."""
        by = _LIFE_BY.get(sheet.mat_life_by or "", "") if name == "tools" else ""
        return words.capitalised(name) + by

    rows = {
        "materials": tuple(
            (head(name), cell(name, a_bar), cell(name, batch))
            for (name, a_bar), (_, batch) in zip(sheet.a_bar.parts, sheet.batch.parts, strict=True)
            if batch != 0
        ),
        "gaps": tuple((words.cost_gap_text(context.units, gap),) for gap in sheet.gaps),
        "sets": tuple(
            (words.count_text(one.bars, "bar"), money(one.price), money(one.wholesale))
            for one in sheet.sets
        ),
    }
    note = SideNote(kind=KIND_NAMES[figure.kind], how=context.how(figure.method))
    texts_of_worth = () if results is None else _worth_texts(context, figures, results)
    rows["worth"] = tuple((text,) for text in texts_of_worth)
    facts = SectionFacts("cost", texts, rows, note)
    least = "at least " if texts["unknown"] else ""
    fold = f"A bar costs {least}{texts['total']}; "
    fold += f"sells at {texts['price']}" if texts["price"] else "no price yet"
    return Section("cost", "Cost and price", facts=facts, fold=fold)


def _worth_texts(
    context: PageContext, figures: Mapping[str, Figure[CostSheet]], results: DesignResults
) -> Iterator[str]:
    """Yield a sentence on what each choice is worth of which a verdict decides."""

    def as_money(amount: Fraction) -> str:
        return context.units.money(round_money(amount, context.book.settings.currency))

    told = {(one.group, one.between) for one in results.comparisons if claims(one) and one.deciding}
    costs = {name: one.value for name, one in figures.items() if one.value is not None}
    names = [one.variant for one in results.variants]
    for worth in worth_of_choices(
        results.comparisons, names, costs, AS_WRITTEN, context.book.settings.labour
    ):
        if (worth.group, worth.between) in told:
            yield worth_sentence(worth, as_money)


def label_part(context: DesignContext) -> Section | None:
    """The section of net weight and label drafts by region; None if there is nothing to show."""
    if context.figures is None:
        return None
    within = _weight_facts(context)
    texts: dict[str, str | bool | TextRun] = {"barred": "", "drawn": "", "draws": ""}
    figures = context.figures.recipe[LABEL].value
    if figures is not None:
        first = figures.drafts[:1]
        within += [_draft_facts(context, draft, *first) for draft in figures.drafts]
        texts["unsaleable"] = " ".join(_faults_of_variants(context, figures.drafts))
        barred = [f"{name} (in {oil})" for name, oil in figures.allergens.prohibited]
        texts["barred"] = words.list_text(barred)
    if can_draft(context.book, context.design.id):
        if has_draft(context.book, context.design):
            texts["drawn"] = span(context.here, label_place(context.design), "drafts")
        else:
            texts["draws"] = command(f"label {context.design.id}")
    if not within and not any(texts.values()):
        return None
    advice = () if figures is None else tuple((text,) for text in ADVICE)
    facts = SectionFacts("label", texts, {"advice": advice}, within=tuple(within))
    return Section("label", "Label, a draft", facts=facts, fold=_label_answer(context))


def _label_answer(context: DesignContext) -> str:
    """What the label declares, in a line: the net weight, and what is not allowed."""
    weight = context.known_figures.recipe[NET_WEIGHT].value
    declared = [] if weight is None else [one.text for one in weight.declared if one.text]
    says = declared[0].removeprefix("Net Wt ") if declared else "no net weight yet"
    figures = context.known_figures.recipe[LABEL].value
    barred = [] if figures is None else [name for name, _ in figures.allergens.prohibited]
    mind = (
        f". Not allowed in {words.region_name('eu')}: {words.list_text(barred)}" if barred else ""
    )
    drafts = () if figures is None else figures.drafts
    faulty = [draft.region for draft in drafts if draft.faults]
    if faulty:
        where = words.list_text([words.region_name(region) for region in faulty])
        mind += f". A colour in it is not permitted in {where}"
    elif any(True for _ in _faults_of_variants(context, drafts)):
        mind += ". Not every variant may be sold everywhere"
    return f"Label: {says}{mind}"


def _faults_of_variants(context: DesignContext, drafts: Sequence[LabelDraft]) -> Iterator[str]:
    """Yield a sentence for each variant and region with a colour that the recipe has not."""
    known = {(draft.region, fault) for draft in drafts for fault in draft.faults}
    found: dict[tuple[str, str], list[str]] = {}
    for one in context.design.variants:
        label = context.known_figures.variants[one.name][LABEL].value
        for draft in label.drafts if label is not None else ():
            for fault in draft.faults:
                if (draft.region, fault) not in known:
                    names = found.setdefault((draft.region, fault), [])
                    names.append(one.name)
    for (region, fault), names in found.items():
        where = words.region_name(region)
        of = context.variants_text(names)
        yield f"The {of} bars are not for sale in {where}: {fault}."


def _weight_facts(context: DesignContext) -> list[SectionFacts]:
    """The facts on net weight, as a list of one; empty where no bars were weighed."""
    figure = context.known_figures.recipe[NET_WEIGHT]
    if figure.value is None:
        return []
    net, loss = figure.value.net, figure.value.loss
    declared = [(words.region_name(one.system), one) for one in figure.value.declared]
    texts = {
        "bars": words.count_text(net.bars, "weighed bar").capitalize(),
        "mean": words.measure_value(net.mean_g, "mass"),
        "sale_day": f"{net.sale_day:.0f}",
        "mean_at_sale": words.measure_value(net.mean_at_sale_g, "mass") if net.forecast else "",
        "lower": "" if net.lower_g is None else words.measure_value(net.lower_g, "mass"),
        "single": (
            "" if net.single_lower_g is None else words.measure_value(net.single_lower_g, "mass")
        ),
        "loss": "",
        "loss_range": "",
    }
    if loss is not None:
        texts["loss"] = words.percent(loss.share)
    if loss is not None and loss.low is not None and loss.high is not None:
        texts["loss_range"] = words.range_text(
            words.percent(max(0.0, loss.low)), words.percent(loss.high)
        )
    undeclared: dict[str, list[str]] = {}
    for region, one in declared:
        if one.why and not one.text:
            undeclared.setdefault(one.why, []).append(region)
    rows = {
        "why": tuple((words.capitalised(reason),) for reason in net.why),
        # What is set large stands without the words that are before it on the label.
        "declared": tuple(
            (region, one.text, words.no_break(one.text.removeprefix("Net Wt ")))
            for region, one in declared
            if one.text
        ),
        "undeclared": tuple((words.list_text(regions), why) for why, regions in undeclared.items()),
    }
    note = context.note(figure, forecast=net.forecast)
    return [SectionFacts("weight", texts, rows, note)]


def _draft_facts(context: DesignContext, draft: LabelDraft, first: LabelDraft) -> SectionFacts:
    """The facts of the label draft for one region; of a further one, what is not as the first."""
    said_by = (draft.statement, draft.apart)
    alike = draft is not first and any(said_by) and said_by == (first.statement, first.apart)
    net = context.known_figures.recipe[NET_WEIGHT].value
    declared = {one.system: one.text for one in net.declared} if net is not None else {}
    blanks = words.still_to_fill_in(draft.asked, declared.get(draft.region, ""))
    texts: dict[str, str | bool | TextRun] = {
        "region": plain_id(draft.region),
        "where": words.region_name(draft.region),
        "as_first": words.region_name(first.region) if alike else "",
        "statement": "" if alike else draft.statement,
        "allergens": "",
        "first": draft is first,
        "rules": draft.rules,
        "blanks": "; ".join(blanks),
    }
    if draft is first or draft.allergens != first.allergens:
        texts["allergens"] = ", ".join(draft.allergens)
    said = () if draft is first else first.notes
    notes = [t.removesuffix(".") for t in draft.notes if t not in ADVICE and t not in said]
    rows: dict[str, tuple[Words, ...]] = {
        "apart": tuple(
            (context.thing("bases", base), ", ".join(names))
            for base, names in (() if alike else draft.apart)
        ),
        "why": tuple(
            (words.capitalised(reason),)
            for reason in (*draft.faults, *draft.why)
            if draft is first or reason not in first.why
        ),
        "notes": tuple((text,) for text in notes),
    }
    return SectionFacts("draft", texts, rows, context.note(context.known_figures.recipe[LABEL]))


def cut_part(context: DesignContext) -> Section | None:
    """The section on the pieces that a sheet of the mat gives; None without a mat or a plan."""
    if context.figures is None:
        return None
    figure = context.figures.recipe[CUT]
    plan, mat, mould = figure.value, context.design.recipe.mat, context.design.recipe.mould or ""
    if plan is None or mat is None:
        return None
    texts: dict[str, str | bool | TextRun] = {
        "turned": plan.turned,
        "mat": context.thing("mats", mat),
        "pieces": words.count_text(plan.count, "piece"),
        "on_motif": bool(context.book.bench.mats[mat].motif),
        "waste": words.percent(plan.waste_share, whole=True),
        "template": "",
        "draws": "",
    }
    template = context.book.templates.get((mat, mould))
    if template is not None:
        texts["template"] = span(context.here, template, "cutting template")
    elif has_sheets(context.book) and mould in context.book.bench.moulds:
        texts["draws"] = command(f"template {mat} {mould}")
    plans = {
        one.name: context.figures.variants[one.name][CUT].value for one in context.design.variants
    }
    by_plan: dict[tuple[str, str], list[str]] = {}
    for name, other in plans.items():
        if other is not None and other != plan:
            size = context.units.size(*other.piece_mm).first
            pieces = words.count_text(other.count, "piece")
            by_plan.setdefault((size, pieces), []).append(name)
    others = [(context.variants_text(names), *cut) for cut, names in by_plan.items()]
    facts = SectionFacts("cut", texts, {"others": tuple(others)}, context.note(figure))
    fold = f"A sheet gives {texts['pieces']} of {context.units.size(*plan.piece_mm)}"
    return Section("cut", "Cutting the mat", facts=facts, fold=fold)
