"""Whether the body bonds to the detail or melts it: what the studio saw, then the model."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from journal.figures.bond_case import FOLLOWED_MIN
from journal.figures.derive_heat import BOND, BondFigures, PouredBars
from journal.pages.on_design import OnDesign
from journal.pages.parts import Block, Figure, Note, Passage, Points, Said, Span, Subhead, Words
from journal.pages.row_charts import Seen, Stretch, bond_chart
from journal.pages.words import (
    count_said,
    counted,
    keep,
    listed,
    minutes,
    number_said,
    sentence,
)
from journal.quantities.show import show_percent

WHOLE = Decimal(1)


def bond_passages(on: OnDesign) -> list[Passage]:
    """What was seen of the bond, what the model says, where they disagree."""
    assert on.figures is not None
    figure = on.figures.recipe[BOND]
    found = figure.value
    if found is None:
        return []
    blocks: list[Block] = [Subhead("Does the body hold?", "bond")]
    seen = seen_said(on, found.seen)
    model = _model_said(on, found)
    blocks.append(Said((f"{seen} {model}".strip(),)))
    against = _disagreements(on, found)
    if against:
        blocks.append(Said((Span("Here the model and your pours disagree.", "strong"),)))
        blocks.append(Points(tuple(against)))
    chart = _chart(on, found)
    if chart is not None:
        blocks.append(chart)
    return [Passage(tuple(blocks), (_note(on, found),))]


def seen_said(on: OnDesign, seen: Sequence[PouredBars]) -> str:
    """What came of the bars poured so far: "Your 18 bars poured at 127–128 °F held; …"."""
    held = [entry for entry in seen if entry.held and not entry.lost]
    lost = [entry for entry in seen if entry.lost]
    parts: list[str] = []
    if held:
        number = sum(entry.held for entry in held)
        ends = [entry.body_c for entry in held]
        at = on.units.temperatures(min(ends), max(ends)).first
        parts.append(f"Your {count_said(number, 'bar')} poured at {at} held")
    for entry in lost:
        told = entry.held + entry.lost
        at = on.units.temperature(entry.body_c).first
        what = f"{number_said(entry.lost)} of {number_said(told)} at {at} lost detail"
        parts.append(what if held else f"Of your bars {what}")
    silent = sum(entry.not_told for entry in seen)
    if silent:
        parts.append(f"of {count_said(silent, 'bar')} nobody wrote down whether the detail held")
    if not parts:
        return "No bar has a temperature of its body written down yet."
    return f"{'; '.join(parts)}."


def _model_said(on: OnDesign, found: BondFigures) -> str:
    window = found.window
    parts: list[str] = []
    if window.low_c is not None:
        low = on.units.temperature(window.low_c).first
        parts.append(f"softens the detail's face from {low}{_give(on, window.low_band_c)}")
    if window.high_c is not None:
        high = on.units.temperature(window.high_c).first
        parts.append(f"remelts a quarter of it at {high}{_give(on, window.high_band_c)}")
    if not parts:
        return f"The model gives no window: {window.why}."
    why = f" {sentence(window.why)}." if window.why else ""
    return f"The model {', and '.join(parts)}.{why}"


def _give(on: OnDesign, band: tuple[float, float] | None) -> str:
    if band is None:
        return ""
    return f", give or take {on.units.degrees((band[1] - band[0]) / 2).first}"


def _disagreements(on: OnDesign, found: BondFigures) -> list[Words]:
    """Where the model and the pours do not say the same."""
    window = found.window
    said: list[Words] = []
    held = [entry for entry in found.seen if entry.held and not entry.lost]
    if window.low_c is not None:
        cooler = [entry.body_c for entry in held if entry.body_c < window.low_c]
        if cooler:
            said.append(_cooler(on, found, min(cooler), window.low_c))
    if window.high_c is not None:
        hotter = [entry.body_c for entry in held if entry.body_c > window.high_c]
        if hotter:
            at = on.units.temperature(max(hotter)).first
            said.append(
                (
                    f"Bars held at {at}, where the model melts more than a quarter of the detail."
                    " Go by your pours.",
                )
            )
    if window.low_c is not None and window.high_c is not None:
        within = [
            entry
            for entry in found.seen
            if entry.lost and window.low_c <= entry.body_c <= window.high_c
        ]
        if within:
            lost = listed(
                [f"pour {e.pour} at {on.units.temperature(e.body_c).first}" for e in within]
            )
            said.append(
                (
                    f"{sentence(lost)} lost detail inside the model's window."
                    " Something else may have lifted it, such as a detail peeled too soon.",
                )
            )
    return said


def _cooler(on: OnDesign, found: BondFigures, at_c: float, low_c: float) -> Words:
    at, low = on.units.temperature(at_c).first, on.units.temperature(low_c).first
    words = [f"Bars held at {at}, and by the model none should below {low}."]
    if found.agrees_at_c is not None:
        softens = found.case.detail.softens_c
        shelf = on.units.temperatures(softens.low, softens.high).first
        would = on.units.temperature(found.agrees_at_c).first
        words.append(
            f" They would agree for a base that softens at {would} (reckoned with {shelf})."
        )
    band = found.window.low_band_c
    if band is not None and band[0] <= at_c:
        words.append(" That is within what the model may be wrong by.")
    return ("".join(words),)


def _chart(on: OnDesign, found: BondFigures) -> Figure | None:
    window, units = found.window, on.units
    stretches: list[Stretch] = []
    if window.low_c is not None and window.high_c is not None and window.low_c < window.high_c:
        ends = tuple(
            (units.in_scale(band[0]), units.in_scale(band[1]))
            for band in (window.low_band_c, window.high_band_c)
            if band is not None
        )
        stretches.append(
            Stretch(
                "the model's window; a line is how sure its end is",
                units.in_scale(window.low_c),
                units.in_scale(window.high_c),
                ends,
            )
        )
    layer = next(la for la in on.design.recipe.layers if la.name == found.body_layer)
    if layer.pour is not None:
        low, high = map(units.in_scale, layer.pour)
        stretches.append(Stretch("the recipe's window", low, high))
    if not stretches:
        return None
    held = [entry for entry in found.seen if entry.held and not entry.lost]
    lost = [entry for entry in found.seen if entry.lost]
    seen = []
    if held:
        at = tuple(units.in_scale(entry.body_c) for entry in held)
        seen.append(
            Seen(f"held: {counted(sum(e.held for e in held), 'bar')}, a mark a pour", at, "dot")
        )
    if lost:
        at = tuple(units.in_scale(entry.body_c) for entry in lost)
        seen.append(Seen(f"lost detail: {counted(sum(e.lost for e in lost), 'bar')}", at, "cross"))
    title = f"Temperature of the {found.body_layer} at its pour"
    desc = f"{seen_said(on, found.seen)} {_model_said(on, found)}"
    chart = bond_chart("bond-chart", title, desc, stretches, seen, units.degree)
    caption = f"Temperature of the {found.body_layer} when it is poured over the detail."
    return Figure(chart, (caption,))


def _note(on: OnDesign, found: BondFigures) -> Note:
    assert on.figures is not None
    window, planned = found.window, found.planned
    big = ""
    if window.low_c is not None and window.high_c is not None and window.low_c < window.high_c:
        big = on.units.temperatures(window.low_c, window.high_c).first
    soft = (
        "an hour or longer"
        if planned.softened_min >= FOLLOWED_MIN
        else minutes(planned.softened_min)
        if planned.softened_min > 0
        else ""
    )
    at = on.units.temperature(planned.pour_c).first
    melted = keep(show_percent(planned.remelted_share, WHOLE))
    first: Words = (
        "is the model's window for the body."
        if big
        else "The model gives no window for this body.",
    )
    middle = (
        f"At {at}, the middle of the recipe's window, the face stays soft for {soft}"
        f" and {melted} of the detail is remelted."
        if soft
        else f"At {at}, the middle of the recipe's window, the face does not soften."
    )
    detail = on.units.temperature(planned.detail_c).first
    says: list[Words] = [first, (f"{middle} The detail itself is at {detail} by then.",)]
    if found.assumed:
        says.append(
            (f"Not on the shelf, so the usual ranges were taken: {listed(found.assumed)}.",)
        )
    return on.note(on.figures.recipe[BOND], *says, big=big)
