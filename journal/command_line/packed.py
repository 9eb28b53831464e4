"""Answers as bytes and back: pickles in which a record is its values in a row.

Equal answers are mostly the same bytes, in every process.

What ``dataclasses`` itself does for frozen records with slots asks for the fields of
every one of them, which takes longer than all the rest.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import lru_cache
from io import BytesIO
from operator import attrgetter
from typing import Any


def packed(answer: object) -> bytes:
    """An answer as bytes; ``pickle.loads`` gives it back."""
    raw = BytesIO()
    _Pickler(raw, pickle.HIGHEST_PROTOCOL).dump(answer)
    return raw.getvalue()


class _Pickler(pickle.Pickler):
    def reducer_override(self, value: Any) -> Any:
        kind: Any = type(value)
        values = _values_of(kind)
        if values is not None:
            return rebuilt, (kind, *values(value))
        names = getattr(kind, "__pydantic_fields__", None)
        if names is None:
            return NotImplemented
        # A set is not in the same order in every process: equal records would be other bytes.
        state = (tuple(map(value.__dict__.get, names)), tuple(sorted(value.model_fields_set)))
        return written_again, (kind, *state)


@lru_cache(maxsize=1024)
def _values_of(kind: Any) -> Callable[[Any], tuple[Any, ...]] | None:
    """What gives the values of a record in a row; None for what is no record with slots."""
    if not is_dataclass(kind) or "__slots__" not in kind.__dict__:
        return None
    names = [field.name for field in fields(kind)]
    if len(names) < 2:  # attrgetter gives no row of one
        return None
    return attrgetter(*names)


def written_again(kind: Any, values: tuple[Any, ...], given: tuple[str, ...]) -> Any:
    """A record of the maker's, as it was when it was packed: nothing is checked anew."""
    record = kind.__new__(kind)
    record.__setstate__(
        {
            "__dict__": dict(zip(kind.__pydantic_fields__, values, strict=True)),
            "__pydantic_fields_set__": set(given),
            "__pydantic_extra__": None,
            "__pydantic_private__": None,
        }
    )
    return record


@lru_cache(maxsize=1024)
def _setters(kind: type) -> tuple[Callable[[Any, Any], None], ...]:
    """What puts a value into each slot, frozen or not."""
    return tuple(getattr(kind, field.name).__set__ for field in fields(kind))


def rebuilt(kind: type, *values: Any) -> Any:
    """A record of these values, as it was when it was packed: nothing is checked anew."""
    record: Any = object.__new__(kind)
    for put, value in zip(_setters(kind), values, strict=True):
        put(record, value)
    return record
