"""The steps of a card, derived from the layers: sentences to tick off, with their weights."""

from __future__ import annotations

import re
from collections.abc import Iterator

from msgspec import Struct

from journal.figures.recipe.derive_fill import piece_outline
from journal.html.card_page import CardAmount, CardWord, CardWords
from journal.quantities.show import show_size, show_size_us, show_temperature_c, show_temperature_f
from journal.records.models.shelf import Mat, Piece
from journal.records.models.then import WaitStep, read_step
from journal.records.models.trim import Trim
from journal.records.models.write_up import Layer
from journal.views.card.amounts import CardAmounts, PotIngredient, non_breaking
from journal.views.shared.catalogue import PhraseCatalogue

# Patterns of steps in the maker's own words, which the card then does not repeat.
_PLACES_PIECE = re.compile(r"\b(dab|stick|press|lay|set|place|put|drop)\b.*\bpieces?\b", re.I)
_SAYS_WHERE = re.compile(r"\b(cavity|cavities|mould|moulds)\b", re.I)
# The last steps of every card, in order, with patterns of the maker's own words for them.
_ENDS = {
    "unmould": re.compile(r"\bunmould", re.I),
    "peel": re.compile(r"\bpeel", re.I),
    "slices": re.compile(r"\bcut\b.*\b(into|bars?|slices?)\b", re.I),
    "tidy": re.compile(r"\b(pare|paring|trim|tidy|plane|clean the edges|scrape the edges)\b", re.I),
}


class Pieces(Struct, frozen=True):
    """The mat pieces of one round: how many it needs, how many the shelf has, which ones.

    ``owned`` is None where the shelf does not say how many.
    """

    needed: int
    owned: int | None
    kept: tuple[Piece, ...]


def card_trim_text(trim: Trim | None, say: PhraseCatalogue) -> str:
    """A trim in words, such as ``straight, 3 mm outside the motif``; "" for None."""
    if trim is None:
        return ""
    if trim.kind == "close":
        return say.text("cut.close")
    if trim.margin_mm is None:
        return say.text("cut.straight")
    return say.text("cut.margin", margin=non_breaking(f"{trim.margin_mm:g} mm"))


def steps_of(batch: CardAmounts, pieces: Pieces | None) -> tuple[CardWords, ...]:
    """All steps of one round, in order; the lines of a layer's ``then`` are among them.

    ``pieces`` are the mat pieces of a round; None for a design without a mat.
    """
    return tuple(_all_steps(batch, pieces))


def _all_steps(batch: CardAmounts, pieces: Pieces | None) -> Iterator[CardWords]:
    """The steps as ``steps_of`` gives them, one by one."""
    layers = batch.case.recipe.layers
    place_after = None
    if pieces is not None:
        yield _pieces_step(batch, pieces)
        place_after = _layer_before_piece(layers)
    if place_after == -1:
        yield _place_step(batch, pieces)
    melted: set[str] = set()
    for group in _pour_groups(layers, place_after):
        for number in group:
            yield from _melt_step(batch, layers[number], melted)
            # The piece is placed once there is hot base for the dab.
            if (
                number
                and place_after == number - 1
                and not any(_PLACES_PIECE.search(text) for text in layers[number - 1].then)
            ):
                yield _place_step(batch, pieces)
            yield from _dosed_steps(batch, number)
            yield from _scent_steps(batch, number)
        for number in group:
            in_relief = place_after is not None and number <= place_after
            yield _pour_step(batch, number, in_relief)
            yield from _steps_of_then(batch, number, in_relief, melted)
    written = [text for layer in layers for text in layer.then]
    needless = {"peel": pieces is None, "slices": _bars_each(batch) == 1}
    for phrase, pattern in _ENDS.items():
        if not needless.get(phrase) and not any(map(pattern.search, written)):
            yield (batch.phrases.text(phrase, n=_bars_each(batch)),)


def _pour_groups(layers: tuple[Layer, ...], place_after: int | None) -> tuple[tuple[int, ...], ...]:
    """Indices of layers, grouped: those of a group are poured one after another without a wait.

    Their pots must all be ready first. Layers from the same pot are in different groups,
    since it is tinted and scented between them.
    """
    groups: list[list[int]] = []
    for number, layer in enumerate(layers):
        before = layers[number - 1] if number else None
        waits = before is None or any(_is_wait(text) for text in before.then)
        in_relief = place_after is not None and number - 1 <= place_after
        pots = [layers[n].pot_name for n in groups[-1]] if groups else []
        if waits or in_relief or layer.pot_name in pots:
            groups.append([number])
        else:
            groups[-1].append(number)
    return tuple(tuple(group) for group in groups)


def _is_wait(text: str) -> bool:
    return read_step(text).kind in ("rest", "chill")


def _steps_of_then(
    batch: CardAmounts, number: int, in_relief: bool, melted: set[str]
) -> Iterator[CardWords]:
    """The lines of a layer's ``then``, with steps and words that a helper needs besides."""
    layers = batch.case.recipe.layers
    last = number == len(layers) - 1
    for text in layers[number].then:
        places = in_relief and not last and _PLACES_PIECE.search(text) is not None
        if places:
            # So that there is hot base for the dab.
            yield from _melt_step(batch, layers[number + 1], melted)
        written = _sentence_of_then(read_step(text), batch.phrases)
        if places and not _SAYS_WHERE.search(text):
            written = (*written, batch.phrases.text("lies"))
        yield written
    if in_relief and not last and not any(map(_is_wait, layers[number].then)):
        yield (batch.phrases.text("firm"),)


def _bars_each(batch: CardAmounts) -> int:
    """Bars that a cast is cut into; 1 without a mould."""
    mould = batch.case.shelf.moulds.get(batch.case.recipe.mould or "")
    return (mould.bars_each or 1) if mould is not None else 1


def _layer_before_piece(layers: tuple[Layer, ...]) -> int:
    """The index of the layer after which the piece is placed; -1 if before the first pour."""
    for number, layer in enumerate(layers[:-1]):
        if any(_PLACES_PIECE.search(text) for text in layer.then):
            return number
    return 0 if len(layers) > 1 else -1


def _pieces_step(batch: CardAmounts, pieces: Pieces) -> CardWords:
    """The step to cut the mat pieces of a round, or to take those that the shelf has."""
    case = batch.case
    mat: Mat = case.shelf.mats[case.recipe.mat or ""]
    mould = case.shelf.moulds.get(case.recipe.mould or "")
    named = case.shelf.pieces.get(case.recipe.piece or "")
    kept = named or (pieces.kept[0] if pieces.kept else None)
    outline = piece_outline(case, mat, mould, kept)
    say = batch.phrases
    count = CardAmount(say.several(pieces.needed, "pieces"), "pieces", "pieces", "round")
    trim = card_trim_text(case.recipe.trim, say)
    size = ""
    if outline is not None:
        # Metric first in either system: the trade cuts in millimetres.
        size = f", {non_breaking(show_size(*outline))} ({non_breaking(show_size_us(*outline))})"
    phrase = "cut" if kept is None else "take"
    cut = say.words(f"{phrase}.cut", trim=trim) if trim else ()
    return say.words(phrase, pieces=count, name=(kept or mat).name, cut=cut, size=size)


def _place_step(batch: CardAmounts, pieces: Pieces | None) -> CardWords:
    """The step to lay the pieces into the cavities."""
    one = pieces is not None and pieces.needed == 1
    each = CardAmount(
        batch.phrases.text("lay.one" if one else "lay.each"), "pieces", "each", "round"
    )
    return batch.phrases.words("lay", each=each)


def _melt_step(batch: CardAmounts, layer: Layer, melted: set[str]) -> Iterator[CardWords]:
    """The step that melts a layer's pot, unless it is in ``melted``, to which it is added."""
    if layer.pot_name in melted:
        return
    melted.add(layer.pot_name)
    pots = batch.masses["round"].pots
    place = [pot.name for pot in pots].index(layer.pot_name)
    pot = pots[place]
    say = batch.phrases
    bases: list[CardWord] = []
    for number, base in enumerate(batch.pot_bases(place)):
        first, second = batch.base_amount(base, "round")
        if number:
            bases.append(say.text("melt.and"))
        beside, name = say.beside(second), base_name(batch, base)
        bases.extend(say.words("melt.base", amount=first, beside=beside, base=name))
    if len(pot.layers) > 1:
        layers = say.listed(pot.layers)
        words = say.words("melt.pot", pot=pot.name, layers=layers, bases=tuple(bases))
    else:
        words = say.words("melt", layer=pot.layers[0], bases=tuple(bases))
    scorch = _scorch_temperature(batch, place)
    if scorch is not None:
        f, c = non_breaking(show_temperature_f(scorch)), non_breaking(show_temperature_c(scorch))
        shown, other = (f, c) if batch.us_first else (c, f)
        words = (*words, say.text("scorch", window=shown, other=other))
    yield words


def base_name(batch: CardAmounts, base: PotIngredient) -> str:
    """The name of a base or a leftover, as it stands in a sentence."""
    shelf = batch.case.shelf
    if base.leftover:
        return batch.phrases.text("melt.leftover", name=shelf.leftovers[base.name].name)
    return shelf.bases[base.name].name


def _scorch_temperature(batch: CardAmounts, pot: int) -> float | None:
    """The lowest temperature in °C at which a base of the pot scorches; None if not known."""
    shelf = batch.case.shelf
    names = [base.name for base in batch.pot_bases(pot) if not base.leftover]
    ranges = [shelf.bases[name].scorches for name in names]
    lows = [ends[0] for ends in ranges if ends is not None]
    return min(lows) if lows else None


def _dosed_steps(batch: CardAmounts, layer: int) -> Iterator[CardWords]:
    """A step to stir in each colourant and additive of a layer."""
    say, into = batch.phrases, batch.written(layer).name
    for place, one in enumerate(batch.written(layer).dosed):
        kind, name = one.thing[0], batch.case.shelf.dosed_ingredient(*one.thing).name
        first, second = batch.dosed_amount(layer, place, "round")
        if one.dose is None:
            aim = say.words("tint.aim", aim=one.aim) if one.aim else ()
            how = "tint" if kind == "colourants" else "stir.by-eye"
            yield say.words(how, layer=into, colour=name, aim=aim)
        elif first or second:
            beside = say.beside(second) if first else second
            yield say.words("stir.colour", amount=first, beside=beside, colour=name)
        else:
            yield say.words("stir.plain", colour=name)


def _scent_steps(batch: CardAmounts, layer: int) -> Iterator[CardWords]:
    """A step to stir in each fragrance oil of a layer, with its temperature and limit."""
    for place, oil in enumerate(batch.written(layer).fragrance):
        name = batch.case.shelf.fragrances[oil.oil].name
        first, second = batch.oil_amount(layer, place, "round")
        beside = batch.phrases.beside(second)
        limit = batch.limit_note(layer, place, "and-limit")
        yield batch.phrase_at_temperature(
            "stir.scent", oil.add, amount=first, beside=beside, oil=name, limit=limit
        )


def _pour_step(batch: CardAmounts, number: int, in_relief: bool) -> CardWords:
    """The step to pour a layer, into the relief or the mould, with alcohol where it is written."""
    layer, say = batch.written(number), batch.phrases
    scrape: CardWords = ()
    if layer.overpour:
        scrape = say.words("pour.scrape", amount=batch.poured_amount(number, "stays"))
    where = "relief" if in_relief else "all" if _bars_each(batch) > 1 else "bar"
    amount = batch.poured_amount(number, "filled" if where == "all" else "poured")
    into = say.words(f"pour.{where}", amount=amount, scrape=scrape)
    words = batch.phrase_at_temperature("pour", layer.pour, layer=layer.name, into=into)
    if layer.spritz in ("before", "both"):
        words = (say.text("spritz") + " ", *words)
    if layer.spritz == "both":
        words = (*words, " " + say.text("spritz.again"))
    elif layer.spritz == "after":
        words = (*words, " " + say.text("spritz"))
    return words


_TEMPERATURE = re.compile(r"(\d\s?)°?\s?([FC])\b(?!.*\d\s?°?\s?[FC]\b)")
# A wait in the usual words and no more: these can be translated.
_USUAL = re.compile(
    r"(?:rest|chill|unmould)(?: for| after)? (?P<time>[\d.:\u2013-]+ ?(?:min|h|d))(?: at [^,;.]+)?",
    re.I,
)


def _sentence_of_then(step: WaitStep, say: PhraseCatalogue) -> CardWords:
    """A line of ``then`` as a sentence, its temperature in both scales.

    Usual words for a wait are translated; all others stand as the maker wrote them.
    """
    text = step.text.strip()
    usual = _USUAL.fullmatch(text) if say.language != "en" else None
    at = ""
    if step.temperature_c is not None:
        written = _TEMPERATURE.search(text)
        if written is not None:
            own, other = show_temperature_c, show_temperature_f
            if written[2] == "F":
                own, other = other, own
            beside = f" ({non_breaking(other(step.temperature_c))})"
            before = text[: written.start(2)].rstrip(" °\u00a0")
            text = f"{before}\u00a0°{written[2]}{beside}{text[written.end() :]}"
            at = non_breaking(own(step.temperature_c)) + beside
    if usual is not None and step.kind != "other":
        phrase = f"wait.{step.kind}.at" if at else f"wait.{step.kind}"
        return (say.text(phrase, time=non_breaking(usual["time"]), temperature=at),)
    # Small letters of another alphabet, or a quotation mark, are left as they are.
    text = text[:1].upper() + text[1:]
    if not text.endswith((".", "!", "?", "…")):
        text += "."
    # A number is not parted from its unit at the end of a line.
    text = re.sub(r"(?<=\d) (?=(?:min|h|s|mm|cm|in|F|C|°[FC]|g|oz|lb|mL|tsp|%)\b)", "\u00a0", text)
    return (text,)
