"""Why a text is not the quantity that is wanted, and how to mend it."""

from __future__ import annotations

from journal.errors import QuantityError
from journal.quantities.number import NotThis, quoted


def refusal(text: str, tidy: str, wanted: str, not_this: NotThis) -> QuantityError:
    """The error to raise for a text that is not of the wanted kind."""
    if not_this.what:
        return QuantityError(not_this.what, not_this.mend)
    return QuantityError(f"{quoted(text)} is no {wanted}", "Check it.")
