"""The bond of the body to the detail: what the studio observed, then the model's answer."""

from __future__ import annotations

from collections.abc import Sequence

from journal.charts.rows import PoursRow, TemperatureRange, bond_chart
from journal.figures.heat.bond_case import FOLLOWED_MIN
from journal.figures.heat.derive_heat import BOND, BondFigures, PouredBars
from journal.html import blocks as html
from journal.html.blocks import Passage, SideNote, TextRun
from journal.views.shared import words
from journal.views.shared.on_design import DesignContext


def sticking_text(context: DesignContext) -> str:
    """Between which temperatures the body sticks; the studio's own pours where the model differs.

    "" without an answer.
    """
    bond = context.known_figures.recipe[BOND].value
    if bond is None:
        return ""
    if bond.contradicted or _disagreements(context, bond):
        seen = observed_bonds_text(context, bond.poured_bars)
        otherwise = ", not by the model" if bond.contradicted else ""
        return f"Go by your own pours here{otherwise}. {seen}"
    return _ends_text(context, bond)


def _ends_text(context: DesignContext, bond: BondFigures) -> str:
    """Below what the body may not stick, above what the detail melts; "" where neither is known."""
    low_c, high_c = bond.window.low_c, bond.window.high_c
    parts: list[str] = []
    if low_c is not None:
        parts.append(f"below about {context.at(low_c)} the {bond.body_layer} may not stick")
    if high_c is not None:
        detail = context.design.recipe.layers[0].name
        parts.append(f"above about {context.at(high_c)} it starts to melt the {detail}")
    return f"{words.capitalised('; '.join(parts))}." if parts else ""


def bond_passages(context: DesignContext) -> list[Passage]:
    """Folded: bars observed, the model, where they disagree, a chart; empty without a model."""
    bond = context.known_figures.recipe[BOND].value
    if bond is None:
        return []
    disagreements, summary = _disagreements(context, bond), _model_text(context, bond)
    if not (bond.contradicted or disagreements):  # else it stands open, over the fold
        summary = f"{observed_bonds_text(context, bond.poured_bars)} {summary}"
    blocks: list[html.Block] = [html.Paragraph((summary,))]
    if disagreements:
        standfirst = TextRun("Here the model and your pours disagree.", "strong")
        blocks.append(html.Paragraph((standfirst,)))
        blocks.append(html.BulletList(tuple((text,) for text in disagreements)))
    chart = _chart(context, bond)
    if chart is not None:
        blocks.append(chart)
    fold = f"Will it stick without melting the {context.design.recipe.layers[0].name}?"
    return [Passage(tuple(blocks), (_note(context, bond),), fold)]


def _pours_that_held(pours: Sequence[PouredBars]) -> list[PouredBars]:
    """The pours with bars that held and none that lost detail."""
    return [entry for entry in pours if entry.held and not entry.lost]


def _held_at(context: DesignContext, held: Sequence[PouredBars]) -> str:
    """Between which temperatures of the body some pours held."""
    temperatures = [entry.body_c for entry in held]
    return context.at(min(temperatures), max(temperatures))


def observed_bonds_text(context: DesignContext, pours: Sequence[PouredBars]) -> str:
    """A sentence on the bars poured so far: "Your 18 bars poured at 127–128 °F held; …"."""
    held = _pours_that_held(pours)
    parts: list[str] = []
    if held:
        number = sum(entry.held for entry in held)
        at = _held_at(context, held)
        parts.append(f"Your {words.count_in_words(number, 'bar')} poured at {at} held")
    for entry in pours:
        if not entry.lost:
            continue
        of = words.number_in_words(entry.held + entry.lost)
        lost = words.number_in_words(entry.lost)
        whose = f"{lost} of {of}" if held else f"{lost} of your {of} bars"
        parts.append(f"{whose} at {context.at(entry.body_c)} lost detail")
    unknown = sum(entry.unrecorded for entry in pours)
    if unknown:
        parts.append(
            f"of {words.count_in_words(unknown, 'bar')} nobody wrote down whether the detail held"
        )
    if not parts:
        return "No bar has the temperature of its body written down yet."
    return f"{words.capitalised('; '.join(parts))}."


def _model_text(context: DesignContext, bond: BondFigures) -> str:
    """The model's window in a sentence, or the reason why it gives none."""
    window = bond.window
    parts: list[str] = []
    if window.low_c is not None:
        tolerance = _tolerance(context, window.low_band_c)
        parts.append(f"the body sticks from {context.at(window.low_c)}{tolerance}")
    if window.high_c is not None:
        tolerance = _tolerance(context, window.high_band_c)
        parts.append(f"at {context.at(window.high_c)} a quarter of the detail melts{tolerance}")
    if not parts:
        return f"The model gives no window: {window.why}."
    why = f" {words.capitalised(window.why)}." if window.why else ""
    return f"The model says: {'; '.join(parts)}.{why}"


def _tolerance(context: DesignContext, band: tuple[float, float] | None) -> str:
    """`` (give or take 4 °F)``: half the width of a band given in °C; "" without a band."""
    if band is None:
        return ""
    return f" (give or take {context.units.degrees((band[1] - band[0]) / 2).first})"


def _disagreements(context: DesignContext, bond: BondFigures) -> list[str]:
    """A sentence for each way in which the model's window and the observed bars disagree."""
    low_c, high_c = bond.window.low_c, bond.window.high_c
    sentences: list[str] = []
    held = [entry.body_c for entry in _pours_that_held(bond.poured_bars)]
    if low_c is not None and held and min(held) < low_c:
        sentences.append(_held_below_window(context, bond, min(held), low_c))
    if high_c is not None and held and max(held) > high_c:
        sentences.append(
            f"Bars held at {context.at(max(held))}. The model says more than a quarter of the"
            " detail melts there. Go by your pours."
        )
    if low_c is not None and high_c is not None:
        lost = [
            f"pour {entry.pour} at {context.at(entry.body_c)}"
            for entry in bond.poured_bars
            if entry.lost and low_c <= entry.body_c <= high_c
        ]
        if lost:
            pours = words.capitalised(words.list_text(lost))
            sentences.append(
                f"{pours} lost detail, where the model says it holds."
                " Something else may have lifted it, such as a detail peeled too soon."
            )
    return sentences


def _held_below_window(context: DesignContext, bond: BondFigures, at_c: float, low_c: float) -> str:
    """A sentence on bars that held at ``at_c``, below the window, and what would explain it."""
    text = f"Bars held at {context.at(at_c)}. The model says they need {context.at(low_c)}."
    if bond.agrees_at_c is not None:
        softens = bond.case.detail.softens_c
        shelf, would = context.at(softens.low, softens.high), context.at(bond.agrees_at_c)
        text += f" The two agree if the base softens at {would}; the model took {shelf}."
    band = bond.window.low_band_c
    if band is not None and band[0] <= at_c:
        text += " The model may be off by that much."
    return text


def _model_window(bond: BondFigures) -> tuple[float, float] | None:
    """The ends of the model's window in °C; None unless both are known and in order."""
    low_c, high_c = bond.window.low_c, bond.window.high_c
    return (low_c, high_c) if low_c is not None and high_c is not None and low_c < high_c else None


def _chart(context: DesignContext, bond: BondFigures) -> html.ChartFigure | None:
    """A chart of both windows and of the pours that held or lost detail; None without a window."""
    window, units = _model_window(bond), context.units
    windows: list[TemperatureRange] = []
    if window is not None:
        ends = tuple(
            (units.in_scale(band[0]), units.in_scale(band[1]))
            for band in (bond.window.low_band_c, bond.window.high_band_c)
            if band is not None
        )
        says = "the model's window; a line is how far its end may be off"
        low, high = map(units.in_scale, window)
        windows.append(TemperatureRange(says, low, high, ends))
    layer = next(la for la in context.design.recipe.layers if la.name == bond.body_layer)
    if layer.pour is not None:
        low, high = map(units.in_scale, layer.pour)
        windows.append(TemperatureRange("the recipe's window", low, high))
    if not windows:
        return None
    held, lost = (
        _pours_that_held(bond.poured_bars),
        [entry for entry in bond.poured_bars if entry.lost],
    )
    pour_rows = []
    if held:
        says = f"held: {words.count_text(sum(e.held for e in held), 'bar')}; each mark is a pour"
        pour_rows.append(PoursRow(says, tuple(units.in_scale(e.body_c) for e in held), "dot"))
    if lost:
        says = f"lost detail: {words.count_text(sum(e.lost for e in lost), 'bar')}"
        pour_rows.append(PoursRow(says, tuple(units.in_scale(e.body_c) for e in lost), "cross"))
    title = f"Temperature of the {bond.body_layer} at its pour"
    chart = bond_chart("bond-chart", title, "", windows, pour_rows, units.degree)
    caption = f"Temperature of the {bond.body_layer} when it is poured over the detail."
    return html.ChartFigure(chart, (caption,))


def _note(context: DesignContext, bond: BondFigures) -> SideNote:
    """A side note: the model's window, and what it predicts at the middle of the recipe's.

    Where the studio's pours disagree, the large figure is where its bars held.
    """
    window, planned = _model_window(bond), bond.planned
    at, detail = (context.at(c) for c in (planned.pour_c, planned.detail_c))
    middle = f"At {at}, the middle of the recipe's window,"
    if planned.softened_min > 0:
        hour = planned.softened_min >= FOLLOWED_MIN
        grips = "an hour or longer" if hour else words.minutes(planned.softened_min)
        melted = words.percent(planned.remelted_share, whole=True)
        middle += f" the two have {grips} to grip. By the model {melted} of the detail melts again."
    else:
        middle += " the detail does not soften."
    big = "" if window is None else context.at(*window)
    first = f"is the model's window for the {bond.body_layer}."
    if window is None:
        first = f"The model gives no window for the {bond.body_layer}."
    held = _pours_that_held(bond.poured_bars)
    if held and _disagreements(context, bond):
        model = f"; the model says {big}" if big else ""
        first = f"is where your bars held{model}. Go by your pours."
        big = _held_at(context, held)
    says = [first, f"{middle} By then the detail is at {detail}."]
    if bond.assumed:
        usual = words.list_text([name.replace("_", " ") for name in bond.assumed])
        says.append(f"Not on the shelf, so the model took the usual: {usual}.")
    return context.note(context.known_figures.recipe[BOND], *((text,) for text in says), big=big)
