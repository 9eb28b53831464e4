"""The numbers from which the script on a card's page rescales it to other numbers of bars.

The script (``rescale.js`` of the theme) does the same sums in the same order as
``figures.recipe``, rounds as ``quantities.rounding`` does and breaks leaves as ``layout``
does; a test compares the two for every number of bars. Only
numbers are handed over: the words stand on the page.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Any, Final

from markupsafe import Markup

from journal.figures.common.derive_context import RecipeContext, midpoint
from journal.figures.recipe.derive_layers import layer_bases
from journal.figures.recipe.fragrance import HEAVIEST_OIL_G_ML
from journal.html.card_page import CardLeaf, CardSize, plain_text
from journal.html.text_width import letter_widths
from journal.quantities.kinds import Dose
from journal.quantities.rounding import decimal_of_twelve_digits, nice_step
from journal.quantities.show import show_mass, show_mass_us
from journal.quantities.units import G_PER_OZ
from journal.records.models.write_up import Layer
from journal.views.card.amounts import ABOUT_G, CardAmounts, non_breaking
from journal.views.card.layout import MEASURES, TYPES

# Letters that the script's own words and figures may bring onto a card.
_SCRIPT_LETTERS: Final = "".join(map(chr, range(32, 127))) + "\u00a0½¼¾×–"


def card_numbers(
    batch: CardAmounts, whole: CardLeaf, size: CardSize, places: int | None, owned: int | None
) -> Markup:
    """The numbers of a card, as JSON that is safe in an attribute between single quotes.

    Takes:  whole   the card as one leaf
            places  cavities or pieces, the fewer; None where nothing limits a round
            owned   pieces on the shelf; None where their number is not written
    """
    case = batch.case
    mould = case.shelf.moulds.get(case.recipe.mould or "")
    layers = case.recipe.layers
    measures = MEASURES[size]
    waste = case.settings.waste
    numbers = {
        "of": case.design.recipe.bars,
        "us": batch.us_first,
        "scales": _scales(batch.steps_g),
        "about": [
            [below if below < float("inf") else None, *_steps_g_and_oz(step)]
            for below, step in ABOUT_G
        ],
        "waste": [waste.share, waste.least],
        "places": places,
        "each": (mould.bars_each or 1) if mould is not None else 1,
        "cavities": mould.cavities if mould is not None else None,
        "owned": owned,
        "mat": case.recipe.mat is not None,
        "pots": [
            [[layer.name for layer in layers].index(name) for name in pot.layers]
            for pot in batch.masses["all"].pots
        ],
        "there": [
            _leftover_on_shelf(batch, layers, pot.layers[0]) for pot in batch.masses["all"].pots
        ],
        "layers": [_layer_numbers(case, layer) for layer in layers],
        "lines": [[blank.label, blank.spare] for row in whole.lines for blank in row],
        "inner": measures.inner_pt,
        "deep": measures.deep_pt,
        "types": TYPES[size],
        "letters": _letter_widths(whole),
    }
    text = json.dumps(numbers, separators=(",", ":"), ensure_ascii=False)
    for letter, written in (("&", "&amp;"), ("<", "&lt;"), ("'", "&#39;")):
        text = text.replace(letter, written)
    # Whatever could end the attribute is written out above.
    return Markup(text)


def _scales(steps_g: Sequence[float]) -> list[list[Any]]:
    """Each scale's upper end in grams (None for the last), and its steps in grams and ounces."""
    steps = sorted(decimal_of_twelve_digits(step) for step in steps_g)
    limits: list[float | None] = [float(100 * coarser) for _, coarser in pairwise(steps)]
    return [
        [below, *_steps_g_and_oz(float(step))]
        for step, below in zip(steps, [*limits, None], strict=True)
    ]


def _steps_g_and_oz(step_g: float) -> tuple[str, str]:
    return f"{nice_step(step_g):f}", f"{nice_step(step_g / float(G_PER_OZ)):f}"


def _leftover_on_shelf(batch: CardAmounts, layers: Sequence[Layer], name: str) -> list[Any] | None:
    """The amount, in g and as text, on the shelf of the leftover that the layer is made of.

    None if it is not made of a leftover, or the amount is not known.
    """
    leftover = next(layer for layer in layers if layer.name == name).base.leftover
    amount = batch.case.shelf.leftovers[leftover].amount if leftover is not None else None
    if amount is None:
        return None
    show = show_mass_us if batch.us_first else show_mass
    return [amount, non_breaking(show(amount, batch.steps_g))]


def _layer_numbers(context: RecipeContext, layer: Layer) -> dict[str, Any]:
    """The numbers of one layer by the script's keys: masses, shares, doses, limits."""
    shelf = context.shelf
    stirred = []
    for entry in layer.dosed:
        density = shelf.dosed_ingredient(*entry.thing).density
        one = midpoint(density) if density else None
        stirred.append(None if entry.dose is None else [*_dose_values(entry.dose), one])
    oils = []
    for oil in layer.fragrance:
        record = shelf.fragrances[oil.oil]
        density = record.density
        heavy = (density[1] if density is not None else None) or HEAVIEST_OIL_G_ML
        oils.append([*_dose_values(oil.dose), heavy, record.limit])
    numbers: dict[str, Any] = {
        "g": layer.amount,
        "overpour": layer.overpour or 0.0,
        "bases": [share for _, share in layer_bases(context, layer)],
        "dosed": stirred,
        "oils": oils,
    }
    leftover = shelf.leftovers.get(layer.base.leftover or "")
    if leftover is not None:
        numbers["left"] = layer.base.leftover
        if leftover.scented is not None:
            limit = shelf.fragrances[leftover.scented.oil].limit
            numbers["scent"] = [leftover.scented.concentration, limit]
    return numbers


def _dose_values(dose: Dose) -> tuple[str, float, str, float | None]:
    return dose.kind, dose.value, dose.per, dose.per_g


def _letter_widths(whole: CardLeaf) -> Mapping[str, Mapping[int, str]]:
    """The widths of all letters that may stand on the card: letters by width, by face."""
    return _letters_by_width("".join(sorted({*_SCRIPT_LETTERS, *"".join(_card_texts(whole))})))


# The cards of a design's variants mostly have the same letters.
@lru_cache(maxsize=64)
def _letters_by_width(used: str) -> Mapping[str, Mapping[int, str]]:
    """The letters in ``used`` grouped by width in thousandths of the type size, by face."""
    by_face: dict[str, dict[int, str]] = {}
    for face, widths in letter_widths().items():
        groups = by_face.setdefault(face, {})
        for letter in used:
            if letter in widths:
                groups[widths[letter]] = groups.get(widths[letter], "") + letter
    return by_face


def _card_texts(whole: CardLeaf) -> Iterable[str]:
    yield from (whole.title, whole.sub, whole.cautions)
    for weight in whole.weights:
        yield from (weight.layer, weight.what, plain_text(weight.second))
    for words in (*whole.steps, *whole.watch):
        yield plain_text(words)
    for row in whole.lines:
        yield from (blank.label for blank in row)
