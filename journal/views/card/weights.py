"""The lines to weigh on a card: one for each base, oil, colourant and additive."""

from __future__ import annotations

from functools import partial

from journal.html.card_page import CardAmount, CardWords, WeighLine
from journal.quantities.show import show_mass, show_mass_us, show_percent
from journal.views.card.amounts import CardAmounts, PotIngredient, non_breaking


def weights_of(batch: CardAmounts, with_shelf: bool = True) -> tuple[WeighLine, ...]:
    """Every line to weigh, pot by pot: what is melted, then what is stirred into its layers.

    ``with_shelf`` warns of a leftover of which there is less than is needed.
    """
    rows: list[WeighLine] = []
    for place, pot in enumerate(batch.masses["all"].pots):
        title = _pot_title(batch, pot.name, pot.layers)
        for number, base in enumerate(batch.pot_bases(place)):
            if base.leftover:
                what = _leftover_name(batch, base.name)
                mind = _leftover_warning(batch, base, with_shelf)
            else:
                what, mind = batch.case.shelf.bases[base.name].name, ()
            amount = partial(batch.base_amount, base)
            rows.append(batch.weight(what, amount, "" if number else title, mind))
        for name in pot.layers:
            rows.extend(_lines_stirred_in(batch, name, several=len(pot.layers) > 1))
    return tuple(rows)


def _pot_title(batch: CardAmounts, pot: str, layers: tuple[str, ...]) -> str:
    title = layers[0] if len(layers) == 1 else batch.phrases.text("pot", pot=pot)
    return title[:1].upper() + title[1:]


def _leftover_name(batch: CardAmounts, name: str) -> str:
    """A leftover's name with the colour and scent in it, so that none is added by mistake."""
    say, shelf = batch.phrases, batch.case.shelf
    leftover = shelf.leftovers[name]
    parts = [say.text("leftover", name=leftover.name)]
    if leftover.colourant is not None:
        colour = shelf.colourants.get(leftover.colourant)
        tint = colour.name if colour is not None else leftover.colourant
        parts.append(say.text("leftover.tinted", colour=tint))
    if leftover.scented is not None:
        oil = shelf.fragrances.get(leftover.scented.oil)
        scent = oil.name if oil is not None else leftover.scented.oil
        share = non_breaking(show_percent(leftover.scented.concentration))
        parts.append(say.text("leftover.scented", percent=share, oil=scent))
    return ", ".join(parts)


def _leftover_warning(batch: CardAmounts, base: PotIngredient, with_shelf: bool) -> CardWords:
    """Warnings for a leftover: scent over its limit, or less on the shelf than is needed.

    Without a warning its text is empty.
    """
    layers = batch.case.recipe.layers
    warnings = [
        batch.over_limit(number, place)
        for number, layer in enumerate(layers)
        if layer.base.leftover == base.name
        for place, oil in enumerate(batch.masses["all"].layers[number].fragrances)
        if oil.from_leftover
    ]
    amount = batch.case.shelf.leftovers[base.name].amount
    if with_shelf and amount is not None and amount < batch.base_g(base, "all"):
        show = show_mass_us if batch.us_first else show_mass
        text = non_breaking(show(amount, batch.steps_g))
        warnings.append(batch.phrases.text("leftover.short", amount=text))
    text = ", ".join(dict.fromkeys(filter(None, warnings)))
    return (CardAmount(text, f"left {base.pot}", "left", tone="mind"),)


def _lines_stirred_in(batch: CardAmounts, name: str, several: bool) -> list[WeighLine]:
    """Lines for what is stirred into a layer; ``several`` layers in the pot: each names its own."""
    rows: list[WeighLine] = []
    number = [layer.name for layer in batch.case.recipe.layers].index(name)
    layer = batch.written(number)

    def into(what: str) -> str:
        return batch.phrases.text("into", what=what, layer=name) if several else what

    for place, one in enumerate(layer.dosed):
        what = into(batch.case.shelf.dosed_ingredient(*one.thing).name)
        amount = partial(batch.dosed_amount, number, place)
        rows.append(batch.weight(what, amount, each=one.dose is not None))
    for place, oil in enumerate(layer.fragrance):
        what = into(batch.case.shelf.fragrances[oil.oil].name)
        mind = (batch.limit_note(number, place, "limit"),)
        rows.append(batch.weight(what, partial(batch.oil_amount, number, place), mind=mind))
    return rows
