"""The pours of a design as they lay in their moulds: fit to sell, lost, lifted, with their lip."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from journal.charts.mould import LIP_TIMES, DrawnBar, key_drawing, mould_drawing
from journal.comparison.sentences import measure_noun
from journal.figures.heat.derive_heat import body_temperature
from journal.html.blocks import CaptionedDrawing, DrawingRow, TextRun, Words
from journal.quantities.show import show_number
from journal.records.models.settings import Measure
from journal.records.models.summary import bars_by_mould
from journal.records.models.write_up import AS_WRITTEN, Bar, Pour, Recipe, Variant
from journal.views.shared import words
from journal.views.shared.moulds import lattice_of
from journal.views.shared.on_design import DesignContext
from journal.views.shared.places import pour_anchor


def mould_drawings(context: DesignContext) -> tuple[CaptionedDrawing, ...]:
    """Each pour with bars as its mould, in the order of the write-up; a mould each, if several."""
    recipes = {variant.name: variant.recipe for variant in context.design.variants}
    measure = shown_measure(context)
    signs = _signs(context.design.variants)
    broken = _cut_close(context.design.variants)
    drawings: list[CaptionedDrawing] = []
    anchors = set[str]()
    for pour in context.design.pours:
        for name, bars in bars_by_mould(pour, recipes, context.design.recipe):
            mould = context.book.bench.moulds.get(name or "")
            here = [bar for bar in bars if bar is not None]
            # What all bars of a pot have is said once, over them.
            of_all = {signs.get(bar.variant, "") for bar in here}
            sign = of_all.pop() if len(of_all) == 1 else ""
            on_bars = {} if sign else signs
            drawn = [
                None
                if bar is None
                else _drawn(context, bar, measure, on_bars, bar.variant in broken)
                for bar in bars
            ]
            lattice = lattice_of(mould, len(bars))
            fit = _fit_text(here)
            # Its caption says how many were fit, the table below what each bar was.
            drawing = mould_drawing(lattice, drawn)
            anchor = pour_anchor(pour.label)
            drawings.append(
                CaptionedDrawing(
                    drawing,
                    _head(context, pour, here, recipes, sign),
                    (f"{fit}.",),
                    "" if anchor in anchors else anchor,
                )
            )
            anchors.add(anchor)
    return tuple(drawings)


def drawing_row(context: DesignContext, drawings: Sequence[CaptionedDrawing]) -> DrawingRow:
    """The drawings side by side, and what their marks mean."""
    if len(context.design.pours) == 1 and len(drawings) == 1:
        # What stands over it says as much.
        drawings = [CaptionedDrawing(one.drawing, one.head, (), one.anchor) for one in drawings]
    text = _number_text(context)
    return DrawingRow((*drawings, _key(context)), (text,) if text else ())


def shown_measure(context: DesignContext) -> Measure | None:
    """The measure whose value stands on each bar: what the question goes by, else the lip.

    Without either it is the first that has a better end; None if no bar has a number.
    """
    bars = context.design.bars
    numbers = {
        name: measure
        for name, measure in context.book.settings.all_measures().items()
        if measure.kind not in ("yes-no", "colour") and any(name in bar.measures for bar in bars)
    }
    asked = context.design.question.by if context.design.question is not None else ""
    better = (name for name, measure in numbers.items() if measure.better is not None)
    first = next((name for name in (asked, "lip", *better) if name in numbers), "")
    return numbers.get(first)


def _drawn(
    context: DesignContext,
    bar: Bar,
    measure: Measure | None,
    signs: Mapping[str, str],
    broken: bool,
) -> DrawnBar:
    """A bar with what is said of it: a fault in a word if it was lost by one, else its number."""
    keep, lip, lifted = (bar.measures.get(name) for name in ("keep", "lip", "lifted"))
    value = bar.measures.get(measure.name) if measure is not None else None
    says = show_number(value, words.TENTH) if isinstance(value, float | int) else ""
    faults = [name for name in _faults(context, bar) if name != "lifted"]
    if bar.spoilt:
        says = bar.spoilt
    elif faults and keep is not True:
        says = faults[0]
    elif not says and measure is not None and not lifted:
        says = "–"
    return DrawnBar(
        name=bar.bar,
        fit=keep if isinstance(keep, bool) else None,
        lip_mm=lip if isinstance(lip, float) else None,
        lifted=lifted is True,
        broken=broken,
        sign=signs.get(bar.variant, ""),
        says=says,
    )


def _faults(context: DesignContext, bar: Bar) -> list[str]:
    """What went wrong with a bar, of what is answered by yes or no."""
    measures = context.book.settings.all_measures()
    return [
        name
        for name, value in bar.measures.items()
        if value is True and name in measures and measures[name].better == "lower"
    ]


def _cut_close(variants: Sequence[Variant]) -> frozenset[str]:
    """The variants whose border is drawn broken: those of a close trim, where others are not."""
    kinds = {one.name: one.recipe.trim.kind if one.recipe.trim else "" for one in variants}
    if len(set(kinds.values())) == 1:
        return frozenset()
    return frozenset(name for name, kind in kinds.items() if kind == "close")


def _signs(variants: Sequence[Variant]) -> dict[str, str]:
    """What is written beside the name of a variant's bars: all its choices but the trim."""
    parts = {one.name: one.name.split("/") for one in variants if one.name != AS_WRITTEN}
    trims = {one.name: one.recipe.trim.kind if one.recipe.trim else "" for one in variants}
    signs = dict.fromkeys(parts, "")
    for place in range(max(map(len, parts.values()), default=0)):
        choices = {name: names[place] for name, names in parts.items()}
        pairs = {(choice, trims[name]) for name, choice in choices.items()}
        of_trim = len(pairs) == len(set(choices.values())) == len({trim for _, trim in pairs})
        if not of_trim:
            signs = {name: f"{sign} {choices[name]}".strip() for name, sign in signs.items()}
    return signs


def _head(
    context: DesignContext,
    pour: Pour,
    bars: Sequence[Bar],
    recipes: Mapping[str, Recipe],
    sign: str,
) -> Words:
    """A pour's letter and date, what all its bars have in common, and at what its body was poured.

    That is madder if it was out of its window.
    """
    title = f"{pour.label}, {words.short_date(pour.date)}"
    layer = _main_layer(context.design.recipe)
    poured = [(bar, body_temperature(context.design, pour, bar, layer)) for bar in bars]
    known_c = [at_c for _, at_c in poured if at_c is not None]
    if not known_c:
        return (title, TextRun(sign, "soft")) if sign else (title,)
    outside = any(
        not low <= at_c <= high
        for bar, at_c in poured
        if at_c is not None
        for low, high in _windows(recipes.get(bar.variant, context.design.recipe), layer)
    )
    text = f"{layer} {context.at(min(known_c), max(known_c))}"
    said = f"{sign}, {text}" if sign else text
    return (title, TextRun(said, "mind" if outside else "soft"))


def _main_layer(recipe: Recipe) -> str:
    """The layer that is called the body, else the one that takes most."""
    return max(recipe.layers, key=lambda layer: (layer.name == "body", layer.amount)).name


def _windows(recipe: Recipe, layer: str) -> list[tuple[float, float]]:
    return [one.pour for one in recipe.layers if one.name == layer and one.pour is not None]


def _fit_text(bars: Sequence[Bar]) -> str:
    """How many bars are fit to sell, how many were not judged, and how many dropped or lost."""
    judged = [bar.measures["keep"] for bar in bars if "keep" in bar.measures]
    spoilt = sum(bool(bar.spoilt) for bar in bars)
    fit = sum(keep is True for keep in judged)
    parts = [f"{fit} of {len(judged)} fit" if judged else "Not judged"]
    if judged and (unjudged := len(bars) - len(judged) - spoilt):
        parts.append(f"{unjudged} not judged")
    return ", ".join((*parts, *spoilt_counts(bars)))


def spoilt_counts(bars: Sequence[Bar]) -> list[str]:
    """How many bars are not judged since they were dropped or lost: "1 dropped"."""
    counts = Counter(bar.spoilt for bar in bars if bar.spoilt)
    return [f"{number} {how}" for how, number in counts.items()]


def _key(context: DesignContext) -> CaptionedDrawing:
    """What the marks mean, of those that the design has."""
    bars = context.design.bars
    keeps = {bar.measures.get("keep") for bar in bars if not bar.spoilt} or {None}
    marks = [
        (True in keeps, DrawnBar("fit to sell", True)),
        (False in keeps, DrawnBar("not fit", False)),
        (
            any(bar.measures.get("lifted") is True for bar in bars),
            DrawnBar("lifted", None, lifted=True),
        ),
        (None in keeps, DrawnBar("not judged", None)),
        (_has_lip(bars), DrawnBar("lip", None, 0.7)),
        (bool(_cut_close(context.design.variants)), DrawnBar("cut close", None, broken=True)),
    ]
    mould = context.book.bench.moulds.get(context.design.recipe.mould or "")
    return CaptionedDrawing(
        key_drawing([mark for here, mark in marks if here], lattice_of(mould, 1))
    )


def _has_lip(bars: Sequence[Bar]) -> bool:
    return any(bar.measures.get("lip") for bar in bars)


def _number_text(context: DesignContext) -> str:
    """What the number on a bar is, and how its lip is drawn; "" where neither is there."""
    measure = shown_measure(context)
    if measure is None:
        return ""
    unit = f" in {measure.unit}" if measure.unit in ("mm", "min", "g") else ""
    text = f"The number is {measure_noun(measure.name)}{unit}."
    if not _has_lip(context.design.bars):
        return text
    what = "it" if measure.name == "lip" else "the lip"
    return f"{text} The red border shows {what} {LIP_TIMES} times as wide."
