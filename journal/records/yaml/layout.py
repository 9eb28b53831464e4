"""Where each value of a YAML text begins and ends, so that text can be put in beside it."""

from __future__ import annotations

from typing import Any, Final, Literal

import yaml
from msgspec import Struct

_DOCUMENT_EVENTS: Final = (yaml.StreamStartEvent, yaml.DocumentStartEvent)


class LayoutNode(Struct):
    """A value's place: lines and columns from 0; ``flow`` for brackets, braces and plain values.

    The end is behind its last character that is neither blank nor a remark; that of a block of
    text is the start of the line behind it.
    """

    kind: Literal["text", "list", "table"]
    flow: bool
    line: int
    column: int
    end_line: int = 0
    end_column: int = 0
    items: list[LayoutNode] = []
    entries: dict[str, LayoutNode] = {}


def layout_of(text: str) -> LayoutNode:
    """The layout of a text that ``parse_yaml`` reads without an error, and that is not empty."""
    parser: Any = yaml.CBaseLoader(text) if yaml.__with_libyaml__ else yaml.BaseLoader(text)
    event = parser.get_event()
    while isinstance(event, _DOCUMENT_EVENTS):
        event = parser.get_event()
    return _node(parser, event)


def _node(parser: Any, event: Any) -> LayoutNode:
    """The node that begins with ``event``."""
    mark, behind = event.start_mark, event.end_mark
    if isinstance(event, yaml.ScalarEvent):
        node = LayoutNode("text", True, mark.line, mark.column)
        node.end_line, node.end_column = behind.line, behind.column
        return node
    is_list = isinstance(event, yaml.SequenceStartEvent)
    node = LayoutNode(
        "list" if is_list else "table", bool(event.flow_style), mark.line, mark.column
    )
    last: LayoutNode | None = None
    while not isinstance(event := parser.get_event(), yaml.CollectionEndEvent):
        if is_list:
            last = _node(parser, event)
            node.items.append(last)
        else:
            last = _node(parser, parser.get_event())
            node.entries[event.value] = last
    if node.flow or last is None:
        end: Any = event.end_mark
        node.end_line, node.end_column = end.line, end.column
    else:
        node.end_line, node.end_column = last.end_line, last.end_column
    return node
