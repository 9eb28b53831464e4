"""What a card has to weigh: a line a base, an oil, a colourant."""

from __future__ import annotations

from journal.pages.card_amounts import Batch, PotBase, tight
from journal.pages.leaf import Amount, CardWords, Weight
from journal.quantities.show import show_mass, show_mass_us, show_percent
from journal.records.shelf import Shelf


def weights_of(batch: Batch, with_shelf: bool = True) -> tuple[Weight, ...]:
    """Every line to weigh, pot by pot.

    Takes:  batch       the amounts
            with_shelf  whether a leftover that is short of what is needed is told
    Gives:  what is melted in a pot, then what is stirred into its layers
    """
    rows: list[Weight] = []
    shelf = batch.case.shelf
    for place, pot in enumerate(batch.masses.pots):
        title = _pot_title(pot.name, pot.layers)
        for number, base in enumerate(batch.pot_bases(place)):
            first, second = batch.base_said(base, "all")
            each = [(scope, batch.base_said(base, scope)) for scope in batch.round_scopes]
            if base.leftover:
                what = _leftover_what(shelf, base.name)
            else:
                what = shelf.bases[base.name].name
            rows.append(
                Weight(
                    what,
                    first,
                    second,
                    title if number == 0 else "",
                    batch.each_said(each) if each else (),
                    _leftover_mind(batch, base, with_shelf) if base.leftover else (),
                )
            )
        for name in pot.layers:
            rows.extend(_stirred_in(batch, name, several=len(pot.layers) > 1))
    return tuple(rows)


def _pot_title(pot: str, layers: tuple[str, ...]) -> str:
    if len(layers) == 1:
        return layers[0][:1].upper() + layers[0][1:]
    return f"{pot[:1].upper()}{pot[1:]} pot"


def _leftover_what(shelf: Shelf, name: str) -> str:
    """A leftover, with what is in it already: no more of it goes in by mistake."""
    leftover = shelf.leftovers[name]
    held: list[str] = []
    if leftover.tinted is not None and leftover.tinted != "no":
        colour = shelf.colourants.get(leftover.tinted)
        held.append(f"tinted {colour.name if colour is not None else leftover.tinted}")
    if leftover.scented is not None:
        oil = shelf.fragrances.get(leftover.scented.oil)
        scent = oil.name if oil is not None else leftover.scented.oil
        held.append(f"{tight(show_percent(leftover.scented.concentration))} {scent} in it")
    return ", ".join([f"{leftover.name}, leftover", *held])


def _leftover_mind(batch: Batch, base: PotBase, with_shelf: bool) -> CardWords:
    """What to mind of a leftover: scent over its limit, or less of it than is needed."""
    layers = batch.case.recipe.layers
    minds = [
        batch.over_limit(number, place)
        for number, layer in enumerate(layers)
        if layer.base.leftover == base.name
        for place, oil in enumerate(batch.masses.layers[number].fragrances)
        if oil.from_leftover
    ]
    amount = batch.case.shelf.leftovers[base.name].amount
    if with_shelf and amount is not None and amount < batch.base_g(base, "all"):
        us, metric = show_mass_us(amount, batch.steps_g), show_mass(amount, batch.steps_g)
        minds.append(f"only {tight(us if batch.us_first else metric)} there")
    text = ", ".join(dict.fromkeys(filter(None, minds)))
    return (Amount(text, f"left {base.pot}", "left", tone="mind"),)


def _stirred_in(batch: Batch, name: str, several: bool) -> list[Weight]:
    rows: list[Weight] = []
    number = [layer.name for layer in batch.case.recipe.layers].index(name)
    layer = batch.written(number)
    into = f", into the {name}" if several else ""
    for place, colour in enumerate(layer.colours):
        first, second = batch.colour_said(number, place, "all")
        by_eye = colour.dose is None
        each = (
            ()
            if by_eye
            else [(scope, batch.colour_said(number, place, scope)) for scope in batch.round_scopes]
        )
        what = batch.case.shelf.colourants[colour.colourant].name
        rows.append(Weight(what + into, first, second, each=batch.each_said(each) if each else ()))
    for place, oil in enumerate(layer.fragrance):
        first, second = batch.oil_said(number, place, "all")
        each = [(scope, batch.oil_said(number, place, scope)) for scope in batch.round_scopes]
        what = batch.case.shelf.fragrances[oil.oil].name
        rows.append(
            Weight(
                what + into,
                first,
                second,
                each=batch.each_said(each) if each else (),
                mind=(batch.limit_said(number, place, "limit"),),
            )
        )
    return rows
