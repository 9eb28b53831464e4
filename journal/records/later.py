"""Records whose parts are fetched when they are first asked for.

Ten years of write-ups take seconds to read. A record that is known from before is a
``later`` one: it holds nothing until somebody asks, and is then what it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

# Gives a part of a record by the name of its field.
Fetch = Callable[[str], Any]


class Later:
    """Parent of records that can be made without their parts."""

    __slots__ = ("_fetch", "_holds")
    _fetch: Fetch
    _holds: bool

    if not TYPE_CHECKING:  # a name that no field has is a mistake all the same

        def __getattr__(self, name: str) -> Any:
            """A part that is not there yet."""
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
            if self._holds:
                object.__setattr__(self, name, found)
            return found


Record = TypeVar("Record", bound=Later)


_NOTHING: Mapping[str, Any] = {}


def later(
    kind: type[Record],
    fetch: Fetch,
    at_once: Mapping[str, Any] = _NOTHING,
    *,
    holds: bool = True,
) -> Record:
    """A record of this kind whose parts are fetched by their names.

    Takes:  fetch    gives a part
            at_once  parts that are at hand
            holds    whether a part that was fetched is held from then on, until ``let_go``
    """
    record = object.__new__(kind)
    object.__setattr__(record, "_fetch", fetch)
    object.__setattr__(record, "_holds", holds)
    for name, part in at_once.items():
        object.__setattr__(record, name, part)
    return record


def let_go(record: Later, names: Iterable[str]) -> None:
    """Let go of parts that were fetched; they are fetched again when they are asked for."""
    for name in names:
        try:  # several times as fast as ``suppress``, for parts by the hundred thousand
            object.__delattr__(record, name)
        except AttributeError:
            pass


def fetch_of(record: Later) -> Fetch | None:
    """What fetches a record's parts; None for one that has them all."""
    try:
        return record._fetch
    except AttributeError:
        return None
