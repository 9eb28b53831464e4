"""Encode records and figures to MessagePack, and decode them by the annotations of their fields.

The cache between builds holds such bytes. Decoding makes values of the requested type and of
no other, so that bytes from elsewhere cannot run code.
"""

from __future__ import annotations

import hashlib
import inspect
from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from pathlib import PurePosixPath
from types import NoneType, UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

from journal.records.models.fields import Record
from journal.records.models.own_words import OwnWords
from journal.records.yaml.tree import SourceTree

Value = TypeVar("Value")


class CodecError(Exception):
    """Raised for bytes that are no value of the requested type."""


def encode(value: object) -> bytes:
    """Encode a value as bytes.

    Takes:  value  of Structs, dataclasses, Pydantic records, source trees and plain values
    Gives:  MessagePack, mappings in their order; equal values give equal bytes in every process
    Fails:  TypeError for what is none of these
    """
    return _encoder().encode(value)


def decode(data: bytes, kind: Any) -> Any:
    """Decode bytes that ``encode`` made to a value of type ``kind``.

    Fails:  CodecError if the bytes are none of that type
    """
    try:
        return _decoder(kind).decode(data)
    except (
        msgspec.MsgspecError, TypeError, ValueError, ArithmeticError, LookupError, RecursionError
    ) as error:  # fmt: skip
        raise CodecError(str(error)) from error


@lru_cache(maxsize=64)
def return_type(function: Callable[..., Any]) -> Any:
    """The return type of a function, from its annotation.

    The types of its arguments are not evaluated: they may be imported for type checks alone.
    """
    kind = function.__annotations__["return"]
    return eval(kind, inspect.unwrap(function).__globals__) if isinstance(kind, str) else kind


def digest(*parts: str | bytes) -> str:
    """A digest of the parts in their order; 32 hexadecimal digits."""
    raw = [part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part
           for part in parts]  # fmt: skip
    # The lengths keep ("ab", "c") and ("a", "bc") apart.
    lengths = ",".join([str(len(part)) for part in raw]).encode()
    return hashlib.blake2b(b"".join([lengths, b":", *raw]), digest_size=16).hexdigest()


def digest_of(value: object) -> str:
    """The digest of a value's encoded bytes; 32 hexadecimal digits."""
    return hashlib.blake2b(encode(value), digest_size=16).hexdigest()


def cached_digest(values: Mapping[str, Any], name: str) -> str:
    """The digest of the value ``name``, if possible without loading it; "" if there is none."""
    if name not in values:
        return ""
    cached: Callable[[str], str] | None = getattr(values, "digest", None)
    return cached(name) if cached is not None else digest_of(values[name])


class LazyValues(Mapping[str, Value]):
    """A mapping of names to values that calls ``load`` for a value at every look-up.

    ``digest`` gives the digest of a value without loading it.
    """

    def __init__(
        self, names: Iterable[str], load: Callable[[str], Value], digest: Callable[[str], str]
    ) -> None:
        self._names, self._load, self.digest = dict.fromkeys(names), load, digest

    def __getitem__(self, name: str) -> Value:
        if name not in self._names:
            raise KeyError(name)
        return self._load(name)

    def __contains__(self, name: object) -> bool:
        return name in self._names

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


@lru_cache(maxsize=1)
def _encoder() -> msgspec.msgpack.Encoder:
    return msgspec.msgpack.Encoder(enc_hook=_plain)


@lru_cache(maxsize=64)
def _decoder(kind: Any) -> msgspec.msgpack.Decoder[Any]:
    return msgspec.msgpack.Decoder(kind, dec_hook=_from_plain)


def _plain(value: Any) -> Any:
    """Turn a value that MessagePack has no type for into one that it has."""
    if isinstance(value, Record):
        return list(value.__dict__.values())
    if isinstance(value, OwnWords) and (value.others or value.language):
        return [str(value), value.language, value.others]
    if isinstance(value, str):
        return str.__str__(value)
    if isinstance(value, SourceTree):
        return [value.path, value.data]
    if isinstance(value, Fraction):
        return [value.numerator, value.denominator]
    if isinstance(value, PurePosixPath):
        return str(value)
    raise TypeError(f"a {type(value).__name__} cannot be cached")


def _from_plain(kind: Any, value: Any) -> Any:
    """Turn a value that ``_plain`` made back into one of type ``kind``."""
    if isinstance(kind, type):
        if issubclass(kind, Record):
            return _record(kind, value)
        if kind is OwnWords:
            if isinstance(value, str):
                return OwnWords(value)
            return OwnWords(*msgspec.convert(value, tuple[str, str, tuple[tuple[str, str], ...]]))
        if kind is SourceTree:
            path, data = msgspec.convert(value, tuple[str, bytes])
            return SourceTree(None, path, data)
        if kind is Fraction:
            # Of a text a fraction may have a thousand million digits.
            numerator, denominator = msgspec.convert(value, tuple[int, int])
            return Fraction(numerator, denominator)
    raise TypeError(f"{kind} cannot be cached")


@lru_cache(maxsize=256)
def _fields(kind: type[Record]) -> tuple[tuple[str, Any], ...]:
    """The names of a record's fields in order, each with the type that its value is decoded to."""
    hints = get_type_hints(kind)
    return tuple((name, _bare_type(hints[name])) for name in kind.model_fields)


def _record(kind: type[Record], values: Any) -> Record:
    """Make a record from the values of its fields, without validating them again."""
    if not isinstance(values, list):
        raise TypeError(f"a {type(values).__name__} is no {kind.__name__}")
    convert = msgspec.convert
    attributes = {
        # What most values are needs no converting.
        name: value
        if value is None or type(value) is hint
        else convert(value, hint, dec_hook=_from_plain)
        for (name, hint), value in zip(_fields(kind), values, strict=True)
    }
    record = kind.__new__(kind)
    state = {"__dict__": attributes, "__pydantic_fields_set__": set(attributes)}
    record.__setstate__({**state, "__pydantic_extra__": None, "__pydantic_private__": None})
    return record


def _bare_type(hint: Any) -> Any:
    """A type annotation without ``Annotated`` and without ``| None``: None is never converted."""
    if get_origin(hint) is Annotated:
        return _bare_type(get_args(hint)[0])
    if get_origin(hint) in (Union, UnionType):
        others = [entry for entry in get_args(hint) if entry is not NoneType]
        return _bare_type(others[0]) if len(others) == 1 else hint
    return hint
