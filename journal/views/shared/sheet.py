"""One file of the notebook before it is rendered: its path, and a function for its bytes."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct


class Sheet(Struct, frozen=True):
    """A file that can be rendered.

    ``path`` is relative to the notebook's root. ``key`` is a digest of everything that the bytes
    depend on; without one the bytes themselves are digested. ``lasting`` files are named by their
    content.
    """

    path: str
    make: Callable[[], bytes]
    key: str = ""
    lasting: bool = False
