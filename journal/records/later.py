"""Records whose parts are fetched when they are first asked for.

Ten years of write-ups take seconds to read. A record that is known from before is a
``later`` one: it holds nothing until somebody asks, and is then what it was.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

# Gives a part of a record by the name of its field.
Fetch = Callable[[str], Any]


class Later:
    """Parent of records that can be made without their parts."""

    __slots__ = ("_fetch",)
    _fetch: Fetch

    if not TYPE_CHECKING:  # a name that no field has is a mistake all the same

        def __getattr__(self, name: str) -> Any:
            """A part that is not there yet; kept from then on."""
            if name.startswith("_"):
                raise AttributeError(name)
            try:
                fetch = self._fetch
            except AttributeError:
                fetch = None
            if fetch is None or name not in self.__dataclass_fields__:
                kind = type(self).__name__
                raise AttributeError(f"{kind!r} object has no attribute {name!r}")
            found = fetch(name)
            object.__setattr__(self, name, found)
            return found


Record = TypeVar("Record", bound=Later)


_NOTHING: Mapping[str, Any] = {}


def later(kind: type[Record], fetch: Fetch, at_once: Mapping[str, Any] = _NOTHING) -> Record:
    """A record of this kind whose parts are fetched by their names, each at most once.

    ``at_once`` are parts that are at hand.
    """
    record = object.__new__(kind)
    object.__setattr__(record, "_fetch", fetch)
    for name, part in at_once.items():
        object.__setattr__(record, name, part)
    return record


def fetch_of(record: Later) -> Fetch | None:
    """What fetches a record's parts; None for one that has them all."""
    try:
        return record._fetch
    except AttributeError:
        return None
