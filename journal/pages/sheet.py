"""One file of the notebook, as it is laid out: where it stands and how its bytes are made."""

from __future__ import annotations

import hashlib
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


def digest(*parts: str | bytes) -> str:
    """A digest of texts and bytes in order; 32 hexadecimal digits."""
    found = hashlib.blake2b(digest_size=16)
    for part in parts:
        raw = part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part
        # The length keeps ("ab", "c") and ("a", "bc") apart.
        found.update(str(len(raw)).encode() + b":")
        found.update(raw)
    return found.hexdigest()
