"""What goes between the program and the process that sets the pages of a notebook's own theme.

Data alone, as MessagePack, each message behind its length. What comes back are bytes of
HTML, or what is wrong, as texts and numbers that are checked as they are read.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Any, BinaryIO, Final, Literal

import msgspec
from markupsafe import Markup
from msgspec import Struct

from journal.html.bench_page import PhotoCardPage, PourSheet
from journal.html.blocks import IndexPage, Page
from journal.html.card_page import CardPage
from journal.html.true_size import TruePage

#: The views that a template gets as ``page``.
View = Page | IndexPage | CardPage | TruePage | PourSheet | PhotoCardPage


class Sources(Struct, frozen=True):
    """The templates by their names: those that came with the notebook, and the program's."""

    own: Mapping[str, str]
    shared: Mapping[str, str]


class Request(Struct, frozen=True):
    """A page to be set with a template; without one, all templates of its own are looked through.

    ``seconds`` of processor and ``most_bytes`` of HTML are what it may take.
    """

    template: str = ""
    page: View | None = None
    seconds: float = 0.0
    most_bytes: int = 0


class TemplateFault(Struct, frozen=True):
    """What is wrong with a template. ``template`` is "" where none of its own is to blame."""

    kind: Literal["template", "forbidden", "time", "memory", "size", "program"]
    what: str
    template: str = ""
    line: int = 1


def _encoded(value: Any) -> Any:
    if isinstance(value, Markup):
        return str.__str__(value)
    raise TypeError(f"{type(value).__name__} is nothing that a theme is given")


def _decoded(kind: type, value: Any) -> Any:
    return Markup(value) if kind is Markup else value


ENCODER: Final = msgspec.msgpack.Encoder(enc_hook=_encoded)
SOURCES: Final = msgspec.msgpack.Decoder(Sources)
REQUEST: Final = msgspec.msgpack.Decoder(Request, dec_hook=_decoded)
FAULTS: Final = msgspec.msgpack.Decoder(tuple[TemplateFault, ...])

#: What a message is: a page, or faults.
PAGE: Final = b"P"
WRONG: Final = b"W"
_HEAD: Final = struct.Struct("<cQ")


def send(stream: BinaryIO, kind: bytes, data: bytes) -> None:
    """Write one message."""
    stream.write(_HEAD.pack(kind, len(data)))
    stream.write(data)
    stream.flush()


def receive(stream: BinaryIO, most_bytes: int | None = None) -> tuple[bytes, bytes] | None:
    """Read one message: its kind and its bytes; None where the stream ends.

    Fails:  ValueError for a message of more than ``most_bytes``
    """
    head = stream.read(_HEAD.size)
    if len(head) < _HEAD.size:
        return None
    kind, length = _HEAD.unpack(head)
    if most_bytes is not None and length > most_bytes:
        raise ValueError(f"a message of {length} bytes")
    data = stream.read(length)
    return (kind, data) if len(data) == length else None
