"""Whether the chilled piece or a wrapped bar sweats: the answer, then what to do about it."""

from __future__ import annotations

from journal.figures.heat.derive_dew import DEW, DewFigures
from journal.html import blocks as html
from journal.html.blocks import Passage, SideNote
from journal.views.shared import words
from journal.views.shared.on_design import DesignContext


def sweating_text(context: DesignContext) -> str:
    """What to do about a piece that gets wet; "" where none does."""
    dew = context.known_figures.recipe[DEW].value
    if dew is None or dew.piece_c is None or not (_is_cold(dew) and dew.wet):
        return ""
    return f"The chilled piece gets wet in this room. {_wet_text(dew)}"


def dew_passages(context: DesignContext) -> list[Passage]:
    """Folded: dew; empty where there is no piece to sweat and no bar to wait for."""
    dew = context.known_figures.recipe[DEW].value
    if dew is None or (dew.piece_c is None and not dew.wrap_after_min and not dew.wrapped_early):
        return []
    paragraphs = (_piece_text(dew), _wrap_text(dew))
    blocks = [html.Paragraph((text,)) for text in paragraphs if text]
    fold = "Will the piece sweat, and when may a bar be wrapped?"
    return [Passage(tuple(blocks), (_note(context, dew),), fold)]


def _is_cold(dew: DewFigures) -> bool:
    """Whether the piece comes colder into the room, so that it may be wet."""
    return dew.wet_above_humidity is not None and dew.wet_above_humidity < 1


def _driest(dew: DewFigures) -> str:
    """The humidity up to which a cold piece stays dry, rounded down."""
    return words.percent(dew.wet_above_humidity or 0.0, whole=True, round_down=True)


def _piece_text(dew: DewFigures) -> str:
    """What the maker must know of the piece before the body goes on; "" without a piece."""
    if dew.piece_c is None:
        return ""
    if not _is_cold(dew):
        return "The piece is no colder than the room, so it stays dry."
    room = "" if dew.humidity is None else words.percent(dew.humidity, whole=True)
    if not dew.wet:
        known = f"; the room is at {room}" if room else ""
        return f"The chilled piece stays dry up to {_driest(dew)} humidity{known}."
    text = f"The chilled piece gets wet: it stays dry only up to {_driest(dew)} humidity,"
    # What to do about it stands open, over the fold.
    return f"{text} and the room is at {room}."


def _wet_text(dew: DewFigures) -> str:
    """What to do about a piece that gets wet."""
    if dew.wait_min is None:
        return "Waiting does not help in air as damp as this. Chill it less."
    return f"Let it stand for {words.minutes(dew.wait_min)}, then dab it dry."


def _wrap_text(dew: DewFigures) -> str:
    """When a bar may be wrapped, and who was sooner; "" where that is not known."""
    if dew.wrap_after_min is None:
        return ""
    out = "the chill" if dew.chilled_last else "the mould"
    if dew.wrap_after_min:
        text = f"Wait {words.duration(dew.wrap_after_min)} after {out} before you wrap a bar."
        text += " A bar that is warmer or colder than the room sweats in its wrap."
    else:
        text = f"Wrap a bar as soon as you like once it is out of {out}."
    if dew.wrapped_early:
        pours = words.list_text([f"pour {label}" for label in dew.wrapped_early])
        text += f" You wrapped {pours} sooner."
    return text


def _note(context: DesignContext, dew: DewFigures) -> SideNote:
    """A side note: how cold the piece is, and the room's dew point."""
    figure = context.known_figures.recipe[DEW]
    if dew.piece_c is None or not _is_cold(dew):
        return context.note(figure)
    says = "is the piece as it comes out of the chill."
    if dew.dew_point_c is not None:
        says += f" Water settles on anything colder than {context.at(dew.dew_point_c)}."
    return context.note(figure, (says,), big=context.at(dew.piece_c))
