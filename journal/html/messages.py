"""Messages between the program and the process that renders a notebook's own theme.

They are plain data in MessagePack, each after its length. The answers are bytes of HTML, or
faults as texts and numbers, which are checked as they are read.
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
    """Texts of templates by name: ``own`` came with the notebook, ``shared`` are the program's."""

    own: Mapping[str, str]
    shared: Mapping[str, str]


class Request(Struct, frozen=True):
    """A request to render ``page`` with ``template``; "" checks all own templates instead.

    ``seconds`` limits the CPU time, ``most_bytes`` the length of the HTML.
    """

    template: str = ""
    page: View | None = None
    seconds: float = 0.0
    most_bytes: int = 0


class TemplateFault(Struct, frozen=True):
    """A fault in a template; ``template`` is "" if none of the notebook's own is to blame."""

    kind: Literal["template", "forbidden", "time", "memory", "size", "program"]
    what: str
    template: str = ""
    line: int = 1


def _encoded(value: Any) -> Any:
    # A text that knows more of itself, such as its languages, is given as the text that it is.
    if isinstance(value, str):
        return str.__str__(value)
    raise TypeError(f"{type(value).__name__} is nothing that a theme is given")


def _decoded(kind: type, value: Any) -> Any:
    return Markup(value) if kind is Markup else value


ENCODER: Final = msgspec.msgpack.Encoder(enc_hook=_encoded)
SOURCES: Final = msgspec.msgpack.Decoder(Sources)
REQUEST: Final = msgspec.msgpack.Decoder(Request, dec_hook=_decoded)
FAULTS: Final = msgspec.msgpack.Decoder(tuple[TemplateFault, ...])

#: The kinds of answers: a page, or faults.
PAGE: Final = b"P"
WRONG: Final = b"W"
_MESSAGE_HEAD: Final = struct.Struct("<cQ")


def send(stream: BinaryIO, kind: bytes, data: bytes) -> None:
    """Write one message."""
    stream.write(_MESSAGE_HEAD.pack(kind, len(data)))
    stream.write(data)
    stream.flush()


def receive(stream: BinaryIO, most_bytes: int | None = None) -> tuple[bytes, bytes] | None:
    """Read one message: its kind and its bytes; None where the stream ends.

    Fails:  ValueError for a message of more than ``most_bytes``
    """
    head = stream.read(_MESSAGE_HEAD.size)
    if len(head) < _MESSAGE_HEAD.size:
        return None
    kind, length = _MESSAGE_HEAD.unpack(head)
    if most_bytes is not None and length > most_bytes:
        raise ValueError(f"a message of {length} bytes")
    data = stream.read(length)
    return (kind, data) if len(data) == length else None
