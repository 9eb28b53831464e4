"""How a mat piece is cut: close to the motif, or straight with a margin."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from msgspec import Struct

from journal.errors import QuantityError
from journal.quantities import read
from journal.quantities.number import excerpt
from journal.quantities.written_forms import FORMS, WrittenForm
from journal.records.models.fields import TextField

# Borders are cut by eye along a rule: half a millimetre is no other border.
# Common practice, no source.
SAME_BORDER_MM = 0.5
TrimKind = Literal["close", "straight"]
TRIM_KINDS: tuple[TrimKind, ...] = get_args(TrimKind)


class Trim(Struct, frozen=True):
    """The trim of a piece; ``margin_mm`` is the border outside the motif, None if not written."""

    kind: TrimKind
    margin_mm: float | None = None


def read_trim(text: str) -> Trim:
    """Read a trim: ``close``, ``straight`` or ``straight 3 mm``."""
    kind, _, margin = text.strip().partition(" ")
    if kind == "close" and not margin:
        return Trim("close", 0.0)
    if kind == "close":
        what = f"{excerpt(text)} gives the close trim a margin, and it has none"
        raise QuantityError(what, "Write close.")
    if kind == "straight":
        return Trim("straight", read.read_length(margin) if margin.strip() else None)
    raise QuantityError(f"{excerpt(text)} is no trim", "Write close, or straight 3 mm.")


_TRIM = WrittenForm(f"close|straight(?: {FORMS[read.read_length].grouped})?")

WrittenTrim = Annotated[Trim, TextField(read_trim, "straight 3 mm", _TRIM)]
