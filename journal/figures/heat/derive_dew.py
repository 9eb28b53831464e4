"""Whether a chilled piece is wet when the body goes on, and when a bar may be wrapped."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from journal.errors import FigureError
from journal.figures.common.as_json_numbers import number_fields, percent
from journal.figures.common.derive_context import RecipeContext, midpoint
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableSpec
from journal.figures.heat.bond_case import BondCase, DetailStay
from journal.figures.heat.derive_heat import bond_case, properties_of, stays_of, usual_room
from journal.figures.heat.dew import dew_point, wet_above
from journal.figures.heat.standing import Course, minutes_until, standing
from journal.figures.recipe.derive_fill import face_area
from journal.figures.recipe.derive_layers import layer_bases, recipe_masses
from journal.quantities.show import show_percent, show_temperature_c

# A bar is wrapped once it is so near to the room. Common practice, no source.
WRAP_WITHIN_K = 1.0


class DewFigures(Struct, frozen=True):
    """The room's dew point, and what follows for piece and bar; a part that cannot be had is None.

    ``room_c`` and ``humidity`` (a share from 0 to 1) are those of the latest pour, else of the
    settings. ``piece_c`` is the piece's detail as it comes out of its last chill; with a
    ``wet_above_humidity`` of 1 it is never wet. ``wait_min`` is how long it must stand in the
    room until no more water settles on it. ``wrap_after_min`` counts from the end of what the
    last layer's steps name, such as a chill or the time in the mould; ``wrapped_early`` are
    the pours whose bars were wrapped before.
    """

    room_c: float
    humidity: float | None
    dew_point_c: float | None
    piece_c: float | None
    wet_above_humidity: float | None
    wet: bool | None
    wait_min: float | None
    wrap_after_min: float | None
    chilled_last: bool  # the bar comes out of a chill, not out of the mould
    wrapped_early: tuple[str, ...]


def derive_dew(context: RecipeContext, builder: FigureBuilder) -> DewFigures | None:
    """Work out dew on the piece and on a bar; what cannot be had is None, and noted."""
    room_c, humidity = room_air(context)
    builder.used("room", f"{show_temperature_c(room_c)}")
    dew_c = None
    if humidity is None:
        builder.lacks("journal.yaml: humidity")
    else:
        builder.used("humidity of the room", show_percent(humidity))
        dew_c = dew_point(room_c, humidity)
    piece = _course(context, piece_case, room_c, builder, "dew on the piece")
    bar = _course(context, bar_case, room_c, builder, "dew on a bar")
    if dew_c is None and piece is None and bar is None:
        return None
    piece_c = wet_at = wait_min = wrap_min = None
    if piece is not None:
        piece_c = piece[0][1]
        wet_at = wet_above(room_c, piece_c)
        wait_min = None if dew_c is None else _finite(minutes_until(piece, dew_c, math.inf))
    if bar is not None:
        coldest_c = room_c - WRAP_WITHIN_K if dew_c is None else max(room_c - WRAP_WITHIN_K, dew_c)
        wrap_min = _finite(minutes_until(bar, coldest_c, room_c + WRAP_WITHIN_K))
    stays = stays_of(context.settings, context.recipe.layers[-1], room_c)
    return DewFigures(
        room_c=room_c,
        humidity=humidity,
        dew_point_c=dew_c,
        piece_c=piece_c,
        wet_above_humidity=wet_at,
        wet=None if piece_c is None or dew_c is None else piece_c < dew_c,
        wait_min=wait_min,
        wrap_after_min=wrap_min,
        chilled_last=stays[-1].air_c < room_c,
        wrapped_early=_wrapped_early(context, stays, wrap_min),
    )


def room_air(context: RecipeContext) -> tuple[float, float | None]:
    """Temperature in degrees C and humidity of the room at the latest pour, else the usual ones."""
    room_c, humidity = usual_room(context.settings), context.settings.humidity
    latest = max(context.design.pours, key=lambda pour: pour.date, default=None)
    if latest is not None:
        room_c = room_c if latest.room_c is None else latest.room_c
        humidity = humidity if latest.humidity is None else latest.humidity
    return room_c, humidity


def _finite(minutes: float) -> float | None:
    """Minutes, or None for a time that never comes."""
    return minutes if math.isfinite(minutes) else None


def _course(
    context: RecipeContext,
    case_of: Callable[[RecipeContext, float, FigureBuilder], BondCase | None],
    room_c: float,
    builder: FigureBuilder,
    part: str,
) -> Course | None:
    """How a thing warms or cools in the room; None, noted for the ``part``, if it cannot be had."""
    notes = FigureBuilder(part)
    case = case_of(context, room_c, notes)
    course = None
    if case is not None:
        try:
            course = context.memo(standing, case)
        except FigureError as error:
            notes.lacks(str(error))
    builder.missing += notes.missing
    return course


def piece_case(context: RecipeContext, room_c: float, builder: FigureBuilder) -> BondCase | None:
    """The detail on its mat up to its last chill: the bond model's, in a room of ``room_c``."""
    case = bond_case(context, recipe_masses(context), builder, room_c)
    if case is None:
        return None
    chills = [number for number, stay in enumerate(case.stays, 1) if stay.air_c < room_c]
    stays = case.stays[: chills[-1]] if chills else case.stays
    # The body is not there yet: pieces that are alike have one answer.
    return replace(case, stays=stays, body=case.detail, body_mm=case.detail_mm)


def bar_case(context: RecipeContext, room_c: float, builder: FigureBuilder) -> BondCase | None:
    """What lies in a cavity as one slab of the last layer's base, as warm as that was poured."""
    layer, name = context.recipe.layers[-1], context.recipe.mould
    bases, mould = layer_bases(context, layer), context.shelf.moulds.get(name or "")
    face_mm2 = None if mould is None else face_area(mould)
    if layer.pour is None:
        builder.lacks(f"layers/{layer.name}: pour")
    if not bases:
        builder.lacks(f"layers/{layer.name}: base of the leftover")
    if mould is None or face_mm2 is None:
        builder.lacks("mould" if mould is None else f"moulds/{name}: face")
        return None
    if layer.pour is None or not bases:
        return None
    volume_ml = sum(one.volume_ml_per_bar for one in recipe_masses(context).layers)
    depth_mm = 1000 * volume_ml * (mould.bars_each or 1) / face_mm2
    base = properties_of(context.shelf, bases)
    return BondCase(
        detail=base, body=base, detail_mm=depth_mm, body_mm=depth_mm, mat_mm=0.0, room_c=room_c,
        detail_pour_c=midpoint(layer.pour), stays=stays_of(context.settings, layer, room_c),
    )  # fmt: skip


def _wrapped_early(
    context: RecipeContext, stays: Sequence[DetailStay], wrap_min: float | None
) -> tuple[str, ...]:
    """The pours whose bars were wrapped before ``wrap_min`` minutes after the stays."""
    waits_min = [stay.minutes for stay in stays]
    if wrap_min is None or None in waits_min:
        return ()
    after_min = wrap_min + sum(filter(None, waits_min))
    pours = context.design.pours
    return tuple(
        pour.label
        for pour in pours
        if pour.wrapped_min is not None and pour.wrapped_min < after_min
    )


def _dew_json(dew: DewFigures) -> dict[str, Any]:
    """The block of one recipe; humidities in per cent."""
    return {
        **number_fields(dew, "room_c"),
        "humidity_percent": percent(dew.humidity),
        **number_fields(dew, "dew_point_c piece_c"),
        "wet_above_humidity_percent": percent(dew.wet_above_humidity),
        "wet": dew.wet,
        **number_fields(dew, "wait_min wrap_after_min"),
        "wrapped_early": list(dew.wrapped_early),
    }


def _dew_null_reasons(dew: DewFigures) -> Iterator[str]:
    if dew.dew_point_c is not None and dew.room_c - dew.dew_point_c < WRAP_WITHIN_K:
        yield "the room is so damp that what comes cold into it stays wet"


DEW = FigureSpec(
    name="dew", kind="estimate", derive=derive_dew,
    blocks={"dew": _dew_json},
    tables=(
        TableSpec("dew",
                "room_c humidity_percent dew_point_c piece_c wet_above_humidity_percent wet "
                "wait_min wrap_after_min",
                lambda dew: (tuple(_dew_json(dew).values())[:-1],)),
    ),
    null_reasons=_dew_null_reasons,
)  # fmt: skip
