"""The steps of a card: from layers to a row of boxes to tick, each with its weights."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from journal.figures.derive_fill import piece_outline
from journal.pages.card_amounts import Batch, PotBase, tight, window
from journal.pages.leaf import Amount, CardWords, Word
from journal.pages.parts import Span
from journal.quantities.show import (
    show_size,
    show_size_us,
    show_temperature_c,
    show_temperature_f,
)
from journal.records.shelf import Mat, Piece
from journal.records.then import Step, read_step
from journal.records.trim import Trim
from journal.records.write_up import Layer

# Whether the maker's own words already say a step, it is not said twice.
_PLACES_PIECE = re.compile(r"\b(dab|stick|press|lay|set|place|put|drop)\b.*\bpieces?\b", re.I)
_SAYS_WHERE = re.compile(r"\b(cavity|cavities|mould|moulds)\b", re.I)
_PEELS = re.compile(r"\bpeel", re.I)
_UNMOULDS = re.compile(r"\bunmould", re.I)
_TIDIES = re.compile(r"\b(pare|paring|trim|tidy|plane|clean the edges|scrape the edges)\b", re.I)
_CUTS_BARS = re.compile(r"\bcut\b.*\b(into|bars?|slices?)\b", re.I)


@dataclass(frozen=True, slots=True)
class Pieces:
    """The mat pieces of one round: how many, and those on the shelf if any are kept."""

    needed: int
    owned: int | None
    kept: tuple[Piece, ...]


def trim_words(trim: Trim | None) -> str:
    """How a piece is cut: ``close to the motif``, ``straight, 3 mm outside the motif``."""
    if trim is None:
        return ""
    if trim.kind == "close":
        return "close to the motif"
    if trim.margin_mm is None:
        return "straight, outside the motif"
    return f"straight, {tight(f'{trim.margin_mm:g} mm')} outside the motif"


def steps_of(batch: Batch, pieces: Pieces | None) -> tuple[CardWords, ...]:
    """All steps of one round, in order.

    Takes:  batch   the amounts; the steps tell those of one round
            pieces  the mat pieces of a round; None for a design without a mat
    Gives:  sentences; what a layer's ``then`` says stands as it was written
    """
    layers = batch.case.recipe.layers
    said = [text for layer in layers for text in layer.then]
    steps: list[CardWords] = []
    place_after = None
    if pieces is not None:
        steps.append(_take_pieces(batch, pieces))
        place_after = _place_after(layers)
    if place_after == -1:
        steps.append(_place_piece(pieces))
    melted: set[str] = set()
    for group in _together(layers, place_after):
        for number in group:
            steps.extend(_melt(batch, layers[number], melted))
            # The piece is laid in once there is hot base for the dab.
            if (
                number
                and place_after == number - 1
                and not any(_PLACES_PIECE.search(text) for text in layers[number - 1].then)
            ):
                steps.append(_place_piece(pieces))
            steps.extend(_colour_steps(batch, number))
            steps.extend(_scent_steps(batch, number))
        for number in group:
            in_relief = place_after is not None and number <= place_after
            steps.append(_pour(batch, number, in_relief))
            steps.extend(_then(batch, number, in_relief, melted))
    if not any(map(_UNMOULDS.search, said)):
        steps.append(("Leave it until it is cold and firm, best overnight. Unmould.",))
    if pieces is not None and not any(map(_PEELS.search, said)):
        steps.append(("Peel the mat off slowly, from one corner.",))
    if _bars_each(batch) > 1 and not any(map(_CUTS_BARS.search, said)):
        steps.append((f"Cut each block into {_bars_each(batch)} bars.",))
    if not any(map(_TIDIES.search, said)):
        steps.append(("Tidy the edges, blade away from the hand.",))
    return tuple(steps)


def _together(layers: tuple[Layer, ...], place_after: int | None) -> tuple[tuple[int, ...], ...]:
    """Layers that are poured one upon another without a wait: all their pots must be ready.

    A pot that several layers are drawn from is tinted and scented between them, so it
    parts them.
    """
    groups: list[list[int]] = []
    for number, layer in enumerate(layers):
        before = layers[number - 1] if number else None
        waits = before is None or any(_waits(text) for text in before.then)
        in_relief = place_after is not None and number - 1 <= place_after
        pots = [layers[n].pot_name for n in groups[-1]] if groups else []
        if waits or in_relief or layer.pot_name in pots:
            groups.append([number])
        else:
            groups[-1].append(number)
    return tuple(tuple(group) for group in groups)


def _waits(text: str) -> bool:
    return read_step(text).kind in ("rest", "chill")


def _then(batch: Batch, number: int, in_relief: bool, melted: set[str]) -> list[CardWords]:
    """What a layer's ``then`` says, with what a stranger needs beside it."""
    layers = batch.case.recipe.layers
    last = number == len(layers) - 1
    steps: list[CardWords] = []
    for text in layers[number].then:
        places = in_relief and not last and _PLACES_PIECE.search(text) is not None
        if places:
            # So that there is hot base for the dab.
            steps.extend(_melt(batch, layers[number + 1], melted))
        written = _as_written(read_step(text))
        if places and not _SAYS_WHERE.search(text):
            written = (*written, " It lies in its cavity, relief up.")
        steps.append(written)
    if in_relief and not last and not any(map(_waits, layers[number].then)):
        steps.append(("Leave it until it is firm to the touch.",))
    return steps


def _bars_each(batch: Batch) -> int:
    mould = batch.case.shelf.moulds.get(batch.case.recipe.mould or "")
    return (mould.bars_each or 1) if mould is not None else 1


def _place_after(layers: tuple[Layer, ...]) -> int:
    """The layer after which the piece goes into the cavity; -1: before the first pour."""
    for number, layer in enumerate(layers[:-1]):
        if any(_PLACES_PIECE.search(text) for text in layer.then):
            return number
    return 0 if len(layers) > 1 else -1


def _take_pieces(batch: Batch, pieces: Pieces) -> CardWords:
    case = batch.case
    mat: Mat = case.shelf.mats[case.recipe.mat or ""]
    mould = case.shelf.moulds.get(case.recipe.mould or "")
    named = case.shelf.pieces.get(case.recipe.piece or "")
    kept = named or (pieces.kept[0] if pieces.kept else None)
    outline = piece_outline(case, mat, mould, kept)
    noun = "piece" if pieces.needed == 1 else "pieces"
    count = Amount(f"{pieces.needed}\u00a0{noun}", "pieces", "pieces", "round", "strong")
    trim = trim_words(case.recipe.trim)
    size: list[Span | str] = []
    if outline is not None:
        # Metric first in either system: the trade cuts in millimetres.
        size = [f", {tight(show_size(*outline))} ({tight(show_size_us(*outline))})"]
    cut: list[Span | str] = [Span(trim, "strong")] if trim else []
    try_one = ". Try one in its cavity: it must lie flat."
    if kept is not None:
        where = [", cut ", *cut] if cut else []
        return ("Take ", count, f" “{kept.name}”", *where, *size, try_one)
    where = [", ", *cut] if cut else []
    return ("Cut ", count, f" from the mat “{mat.name}”", *where, *size, try_one)


def _place_piece(pieces: Pieces | None) -> CardWords:
    text = "the piece" if pieces is not None and pieces.needed == 1 else "each piece"
    each = Amount(text, "pieces", "each", "round")
    return ("Lay ", each, " in its cavity, relief up, on a dab of hot base. Press it flat.")


def _melt(batch: Batch, layer: Layer, melted: set[str]) -> list[CardWords]:
    """The step that melts a layer's pot, unless it is melted already."""
    if layer.pot_name in melted:
        return []
    melted.add(layer.pot_name)
    masses = batch.round_masses
    place = [pot.name for pot in masses.pots].index(layer.pot_name)
    pot = masses.pots[place]
    words: list[Word] = ["Melt"]
    if len(pot.layers) > 1:
        words.append(f" the {pot.name} pot, for {_listed(pot.layers)} together:")
    else:
        words.append(f" the {pot.layers[0]}:")
    for number, base in enumerate(batch.pot_bases(place)):
        first, second = batch.base_said(base, "round")
        words.append(" " if number == 0 else " and ")
        words.extend(_strong(first))
        words.extend((" (", *second, ") "))
        words.append(base_name(batch, base))
    words.append(".")
    scorch = _scorches(batch, place)
    if scorch is not None:
        f, c = tight(show_temperature_f(scorch)), tight(show_temperature_c(scorch))
        words.append(f" Never above {f} ({c})." if batch.us_first else f" Never above {c} ({f}).")
    return [tuple(words)]


def base_name(batch: Batch, base: PotBase) -> str:
    """What a base or a leftover is called on the shelf."""
    shelf = batch.case.shelf
    if base.leftover:
        return f"{shelf.leftovers[base.name].name}, from the leftovers"
    return shelf.bases[base.name].name


def _scorches(batch: Batch, pot: int) -> float | None:
    """The lowest temperature at which a base of the pot scorches, if the shelf says."""
    shelf = batch.case.shelf
    names = [base.name for base in batch.pot_bases(pot) if not base.leftover]
    known = [shelf.bases[name].scorches for name in names]
    lows = [ends[0] for ends in known if ends is not None]
    return min(lows) if lows else None


def _colour_steps(batch: Batch, layer: int) -> list[CardWords]:
    steps: list[CardWords] = []
    for place, colour in enumerate(batch.written(layer).colours):
        name = batch.case.shelf.colourants[colour.colourant].name
        first, second = batch.colour_said(layer, place, "round")
        if colour.dose is None:
            aim: CardWords = (", aiming for ", Span(colour.aim, "strong")) if colour.aim else ()
            steps.append((f"Tint the {batch.written(layer).name} by eye with {name}", *aim, "."))
        elif first or second:
            beside: CardWords = (" (", *second, ")") if second and first else second
            steps.append(("Stir in ", *_strong(first), *beside, f" {name}. Leave no dry specks."))
        else:
            steps.append((f"Stir in {name}.",))
    return steps


def _scent_steps(batch: Batch, layer: int) -> list[CardWords]:
    steps: list[CardWords] = []
    for place, oil in enumerate(batch.written(layer).fragrance):
        name = batch.case.shelf.fragrances[oil.oil].name
        first, second = batch.oil_said(layer, place, "round")
        words: list[Word] = []
        if oil.add is not None:
            shown, other = window(oil.add, batch.us_first)
            words.extend(("At ", Span(shown, "strong"), f" ({other}) stir in "))
        else:
            words.append("Stir in ")
        words.extend(_strong(first))
        if second:
            words.extend((" (", *second, ")"))
        words.extend((f" {name}", batch.limit_said(layer, place, "and-limit"), "."))
        steps.append(tuple(words))
    return steps


def _pour(batch: Batch, number: int, in_relief: bool) -> CardWords:
    layer = batch.written(number)
    words: list[Word] = []
    if layer.spritz in ("before", "both"):
        words.append("Spritz with alcohol. ")
    if layer.pour is not None:
        shown, other = window(layer.pour, batch.us_first)
        words.extend(("At ", Span(shown, "strong"), f" ({other}) pour the {layer.name}"))
    else:
        words.append(f"Pour the {layer.name}")
    if in_relief:
        words.append(", into the relief of each piece")
        words.extend((": about ", batch.poured_said(number, "poured")))
    elif _bars_each(batch) > 1:
        words.extend((": about ", batch.poured_said(number, "filled"), " in all"))
    else:
        words.extend((": about ", batch.poured_said(number, "poured"), " a bar"))
    if layer.over:
        words.extend(("; scrape back into the pot until ", batch.poured_said(number, "stays")))
        words.append(" stays")
    words.append(".")
    if layer.spritz == "both":
        words.append(" Spritz again.")
    elif layer.spritz == "after":
        words.append(" Spritz with alcohol.")
    return tuple(words)


_TEMPERATURE = re.compile(r"(\d\s?)°?\s?([FC])\b(?!.*\d\s?°?\s?[FC]\b)")


def _as_written(step: Step) -> CardWords:
    """A line of ``then``, as a sentence; a temperature of a wait is told in both scales."""
    text = step.text.strip()
    if step.temperature_c is not None:
        found = _TEMPERATURE.search(text)
        if found is not None:
            other = show_temperature_c if found[2] == "F" else show_temperature_f
            end = found.end()
            text = f"{text[:end]} ({tight(other(step.temperature_c))}){text[end:]}"
    # Small letters of another alphabet, or a quotation mark, are left as they are.
    text = text[:1].upper() + text[1:]
    if not text.endswith((".", "!", "?", "…")):
        text += "."
    # A number is not parted from its unit at the end of a line.
    text = re.sub(r"(?<=\d) (?=(?:min|h|s|mm|cm|in|F|C|°[FC]|g|oz|lb|mL|tsp|%)\b)", "\u00a0", text)
    return (text,)


def _strong(words: CardWords) -> CardWords:
    return tuple(
        Span(word, "strong")
        if isinstance(word, str)
        else word
        if isinstance(word, Span)
        else replace(word, tone="strong")
        for word in words
    )


def _listed(names: tuple[str, ...]) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
