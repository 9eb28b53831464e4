"""One file of the notebook, as it is laid out: where it stands and how its bytes are made."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct


class Sheet(Struct, frozen=True):
    """A file to be made.

    ``path`` is relative to the notebook's root. ``key`` is a digest of everything
    that the bytes depend on; where it is "", only they themselves tell. ``lasting``
    files are named by their content.
    """

    path: str
    make: Callable[[], bytes]
    key: str = ""
    lasting: bool = False
