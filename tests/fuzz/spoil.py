"""Whole notebooks with a few things put wrong, from a seed: the same seed, the same mistakes.

A notebook is files by path. Values, keys and entries are swapped, dropped, repeated, replaced by
what is nasty; lines and bytes too; files are emptied, exchanged, renamed and taken away.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Iterator
from typing import Any

import yaml
from strategies import as_write_up, as_yaml

Files = dict[str, bytes]

#: Values that no key, or hardly any, means.
NASTY = (
    "", " ", "~", "no", "yes", "null", "0", "-0", "1", "-1", "1e308 g", "1e-308 g", "0 g",
    "0.0001 g", "99999999 g", "1e9 bars", "100000", "99999999999999999999", "NaN", "inf g",
    "-40 F", "0 K", "9999 C", "1000000 h", "0:00", "23:59", "24:00", "12:60", "0001-01-01",
    "9999-12-31", "2026-02-29", "1/0 tsp", "1/3 tsp", "5 %", "100 %", "0 %", "1000 %", "-5 %",
    "1-1 g", "2-1 g", "0-0 F", "index", "Index", "con", "..", "../..", "/dev/zero", "a/b",
    "a" * 300, "é" * 100, "\u202e", "\u200b", "\U0001f9fc", "\ufeff", "\x00", "\x1b[31m",
    "<script>", "&amp;", "{{ 7 }}", "{% x %}", "%s%n", "'", '"', "\\", "|", ">", "[", "]", "{",
    "}", "a: b", "- x", "# x", "*a", "&a b", "!!x y", "\t", "\n", "a\n\nb", "12 drops", "1 tsp",
    "1 oz", "1 fl oz", "1 lb", "$1", "$0 / lb", "€1e9/kg", "0.01 mm", "100 km", "0 x 0 mm",
    "straight 0 mm", "close", "eye", "rest 0 min", "chill 999 h",
)  # fmt: skip
#: Prose that a converter may stumble on; kept short enough to be tried many times.
PROSE = (
    "[" * 300, "[a](" * 200, "![" * 200, "*" * 400, "_a" * 300, "`" * 301, "> " * 60 + "deep",
    "\n".join(" " * 4 * n + "- a" for n in range(30)), "| a " * 200 + "|\n" + "|-" * 200 + "|",
    "".join(f"[^{n}]" for n in range(300)), "[^a]: x\n" * 200, "[a]: b\n" * 200, "<" * 400,
    "<a <b " * 100, "![x](photos/none.jpg)", "![x](/dev/zero)", "[x](javascript:1)", "[x](index)",
    "[x](../../x)", "```\n" * 41, "~~~\n", "\\" * 301, "&#0;&#x110000;&lt;", "# " * 60,
    "a\n===\n" * 99, "1. a\n" * 300, "[a][a]" * 200, "[^a][^a]\n\n[^a]: [^a]", "\u202e\u2066",
    "http://" * 99, "> - > - > - > - x", "    code\n\tcode", "a  \n" * 99, "\x02wzxhzdk:0\x03",
    "klzzwxh:0000",
)  # fmt: skip
NAMES = (
    "index", "Index", "INDEX", "con", "a.b", "..a", " a", "a ", "é", "e\u0301", "a" * 200, "-",
    "terms", "search", "feed", "look.css", "orders", "x" * 80, "photo-card", "1", "journal",
    "a\nb", "all",
)  # fmt: skip
#: What becomes of a value.
KINDS = (
    "nasty", "nasty", "nasty", "near", "drop", "rename", "wrap", "swap", "many", "deep", "other",
)  # fmt: skip


def front_of(raw: bytes, path: str) -> tuple[Any, str] | None:
    """The tree of a file and its prose; None for one that has none, or is spoilt already."""
    try:
        text = raw.decode()
        if path.endswith(".md"):
            head, _, body = text.removeprefix("---\n").partition("\n---\n")
        elif path.endswith(".yaml"):
            head, body = text, ""
        else:
            return None
        return yaml.load(head, yaml.CBaseLoader), body
    except (UnicodeDecodeError, yaml.YAMLError, RecursionError):
        return None


def nodes(tree: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The ways to everything in a tree but its root."""
    pairs = (
        tree.items()
        if isinstance(tree, dict)
        else enumerate(tree)
        if isinstance(tree, list)
        else ()
    )
    for key, value in pairs:
        yield (*way, key)
        yield from nodes(value, (*way, key))


def holder(tree: Any, way: tuple[Any, ...]) -> Any:
    """What holds the end of a way."""
    for step in way[:-1]:
        tree = tree[step]
    return tree


class Spoiler:
    """Puts mistakes into notebooks, by one source of chance."""

    def __init__(self, seed: int) -> None:
        self._chance = random.Random(seed)

    def spoilt(self, files: Files, most: int = 5) -> tuple[Files, list[str]]:
        """A notebook with one mistake up to ``most``, and what they are."""
        files, done = dict(files), []
        for _ in range(self._chance.randint(1, most)):
            change = self._chance.choices(*zip(*self._changes(), strict=True))[0]
            done.append(f"{change.__name__.strip('_')}: {change(files)}")
        return files, done

    def _changes(self) -> list[tuple[Callable[[Files], str], int]]:
        return [
            (self._tree, 12),
            (self._lines, 4),
            (self._bytes, 3),
            (self._prose, 2),
            (self._file, 2),
        ]

    def _pick(self, files: Files, *endings: str) -> str:
        return self._chance.choice(
            sorted(path for path in files if path.endswith(endings)) or sorted(files)
        )

    def _tree(self, files: Files) -> str:
        """Change the tree of a file: values, keys and entries."""
        path = self._pick(files, ".md", ".yaml")
        read = front_of(files[path], path)
        if read is None or not (ways := list(nodes(read[0]))):
            return f"{path} is spoilt already"
        tree, body = read
        way = self._chance.choice(ways)
        what = self._change_node(tree, way, ways)
        flow = self._chance.choice((False, None, True))
        text = as_write_up(tree, body, flow) if path.endswith(".md") else as_yaml(tree, flow)
        if self._chance.random() < 0.1:  # a key twice, which no tree can hold
            lines = text.split("\n")
            number = self._chance.randrange(len(lines))
            lines.insert(number, lines[number])
            text, what = "\n".join(lines), f"{what}, line {number + 1} twice"
        files[path] = text.encode("utf-8", "surrogatepass")
        return f"{path} {way} {what}"

    def _change_node(self, tree: Any, way: tuple[Any, ...], ways: list[tuple[Any, ...]]) -> str:
        chance, table, key = self._chance, holder(tree, way), way[-1]
        kind = chance.choice(
            (
                "nasty",
                "nasty",
                "nasty",
                "near",
                "drop",
                "rename",
                "wrap",
                "swap",
                "many",
                "deep",
                "other",
            )
        )
        if kind == "nasty":
            table[key] = chance.choice(NASTY)
        elif kind == "near":  # what is right in form, of another size
            value = table[key]
            digits = (
                "".join(
                    chance.choice("0123456789.-") if c.isdigit() and chance.random() < 0.5 else c
                    for c in value
                )
                if isinstance(value, str)
                else "1"
            )
            table[key] = digits
        elif kind == "drop":
            del table[key]
        elif kind == "rename" and isinstance(table, dict):
            table[chance.choice((*NAMES, *NASTY, *map(str, table)))] = table.pop(key)
        elif kind == "wrap":
            table[key] = chance.choice(([table[key]], {"a": table[key]}, [[table[key]]], [], {}))
        elif kind == "swap":
            other = chance.choice(ways)
            if other[: len(way)] != way and way[: len(other)] != other:
                second = holder(tree, other)
                table[key], second[other[-1]] = second[other[-1]], table[key]
        elif kind == "many":
            times = chance.choice((2, 3, 60))
            if isinstance(table, list):
                table[key : key + 1] = [copy.deepcopy(table[key]) for _ in range(times)]
            else:
                table.update({f"{key}{n}": copy.deepcopy(table[key]) for n in range(times)})
        elif kind == "deep":
            for _ in range(chance.choice((3, 60))):
                table[key] = chance.choice(([table[key]], {"a": table[key]}))
        else:
            table[key] = copy.deepcopy(tree[way[0]] if len(way) > 1 else table[key])
        return kind

    def _lines(self, files: Files) -> str:
        """Drop, repeat, move or cut lines, or set them further in."""
        path = self._pick(files, ".md", ".yaml", ".csv", ".svg")
        lines = files[path].split(b"\n")
        at, other = self._chance.randrange(len(lines)), self._chance.randrange(len(lines))
        kind = self._chance.choice(("drop", "repeat", "move", "in", "cut", "end"))
        if kind == "drop":
            del lines[at]
        elif kind == "repeat":
            lines[at:at] = [lines[at]] * self._chance.choice((1, 2, 200))
        elif kind == "move":
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == "in":
            lines[at] = self._chance.choice((b" ", b"  ", b"\t", b"    - ")) + lines[at]
        elif kind == "cut":
            lines[at] = lines[at][: self._chance.randrange(len(lines[at]) + 1)]
        else:
            del lines[at:]
        files[path] = b"\n".join(lines)
        return f"{path}:{at + 1} {kind}"

    def _bytes(self, files: Files) -> str:
        """Random bytes, or a nasty word, put in, or over others."""
        path = self._pick(files)
        raw, at = bytearray(files[path]), self._chance.randrange(len(files[path]) + 1)
        put = self._chance.choice((
            self._chance.randbytes(self._chance.choice((1, 4, 64))),
            self._chance.choice(NASTY).encode("utf-8", "surrogatepass"),
            bytes([self._chance.choice(b"\"'[]{}:,-#&*!|>%@`\n\t 0123456789")]),
        ))  # fmt: skip
        raw[at : at + self._chance.choice((0, 0, len(put), 40))] = put
        files[path] = bytes(raw)
        return f"{path} at {at}: {put!r}"

    def _prose(self, files: Files) -> str:
        """Nasty Markdown behind the prose of a file."""
        path = self._pick(files, ".md")
        text = (
            self._chance.choice(PROSE)
            + self._chance.choice(("", "\n\n"))
            + self._chance.choice(PROSE)
        )
        files[path] += b"\n\n" + text.encode()
        return f"{path} {text[:40]!r}"

    def _file(self, files: Files) -> str:
        """Files emptied, exchanged, renamed, taken away, laid double."""
        path, other = self._pick(files), self._pick(files)
        kind = self._chance.choice(("empty", "exchange", "rename", "drop", "double", "half"))
        if kind == "empty":
            files[path] = b""
        elif kind == "exchange":
            files[path], files[other] = files[other], files[path]
        elif kind == "rename":
            steps = path.split("/")
            at = self._chance.randrange(len(steps))
            ending = "." + steps[at].rpartition(".")[2] if "." in steps[at] else ""
            new = self._chance.choice(NAMES) + ending
            head, renamed = "/".join(steps[: at + 1]), "/".join((*steps[:at], new))
            for old in [old for old in files if old == head or old.startswith(head + "/")]:
                files[renamed + old[len(head) :]] = files.pop(old)
        elif kind == "drop" and len(files) > 1:
            del files[path]
        elif kind == "double":
            files[path] += files[path]
        else:
            files[path] = files[path][: len(files[path]) // 2]
        return f"{path} {kind} ({other})"
