"""The commands and their options."""

from __future__ import annotations

import argparse
import difflib
import json
import re
import sys
import textwrap
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, Final, NoReturn

from journal import __version__
from journal.cli.clock import read_clock, read_day, read_hours
from journal.cli.terminal import columns, print_text
from journal.errors import UsageError

# Called by the shell's own script; of no use to anybody else.
COMPLETE = "complete-words"
# No line of help is wider, however wide the terminal.
WIDEST_HELP = 88
# In fewer columns options do not fit beside the name of their command.
NARROW_HELP = 60
NO_BREAK = "\u00a0"


class _Help(argparse.HelpFormatter):
    """Lays out help within the terminal's width; indented lines stay as they are."""

    def __init__(self, prog: str) -> None:
        width = min(WIDEST_HELP, columns(sys.stdout)) - 2
        super().__init__(prog, max_help_position=min(26, width // 3), width=width)

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction):
            # The names of commands are set in, which the parent class does not count.
            self._action_max_length += self._indent_increment

    def _format_usage(self, usage: Any, actions: Any, groups: Any, prefix: Any) -> str:
        width = self._width
        if width >= NARROW_HELP:
            return super()._format_usage(usage, actions, groups, prefix)
        self._width = sys.maxsize
        try:
            line = super()._format_usage(usage, actions, groups, prefix).strip()
        finally:
            self._width = width
        parts = (part.replace(" ", NO_BREAK) for part in re.findall(r"\[[^]]*\]|[^ ]+", line))
        lines = textwrap.wrap(" ".join(parts), width, subsequent_indent="  ")
        return "\n".join(lines).replace(NO_BREAK, " ") + "\n\n"

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        lines = (
            _folded_command(line, width) if line.startswith("  ") else textwrap.wrap(line, width)
            for line in text.split("\n")
        )
        return "\n".join(indent + part for parts in lines for part in parts or [""])


def _folded_command(line: str, width: int) -> list[str]:
    """A command with what it does, below it if that is too wide.

    A command that is too wide goes on after a backslash, so that it can be copied.
    """
    if len(line) <= width:
        return [line]
    command, _, meaning = line.strip().partition("   ")
    lines = [" "]
    # What is quoted is not broken.
    for part in re.findall('[^ "]*"[^"]*"|[^ ]+', command):
        if lines[-1].strip() and len(f"{lines[-1]} {part}") > width - 2:
            lines[-1] += " \\"
            lines.append("   ")
        lines[-1] += f" {part}"
    wrapped = textwrap.wrap(meaning.strip(), width - 4) if meaning else []
    return [*lines, *(f"      {part}" for part in wrapped)]


class _Parser(argparse.ArgumentParser):
    """A parser that raises UsageError instead of ending the program."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**{"formatter_class": _Help, **settings})

    def _print_message(self, message: str, file: Any = None) -> None:
        print_text(message, file)

    def error(self, message: str) -> NoReturn:
        raise UsageError(message, f"See: {self.prog} --help")


def read_arguments(arguments: Sequence[str]) -> argparse.Namespace:
    """Parse the command line; ``run`` of the result is the function that does the command.

    Fails:  UsageError for a command or an option that there is not
    """
    word = next((word for word in arguments if not word.startswith("-")), COMPLETE)
    if word not in (*commands(), COMPLETE):
        close = difflib.get_close_matches(word, commands(), n=1)
        hint = f"Did you mean: journal {close[0]}" if close else "See: journal --help"
        raise UsageError(f'there is no command "{word}"', hint)
    args, unknown = program_parser().parse_known_args(arguments)
    if unknown:
        raise _unknown_argument(word, unknown)
    if not hasattr(args, "run"):
        raise UsageError("no command was given", "See: journal --help")
    return args


def _unknown_argument(command: str, unknown: Sequence[str]) -> UsageError:
    """What is said of arguments that a command does not take: the nearest option, if it is one."""
    takes = commands().get(command, {"options": []})["options"]
    prog = f"journal {command}" if command in commands() else "journal"
    first = next((one for one in unknown if one.startswith("-")), "").partition("=")[0]
    if not first:
        return UsageError(f'"{unknown[0]}" is one too many', f"See: {prog} --help")
    options = [option["name"] for option in takes if option["name"].startswith("-")]
    # The hyphens make short names alike.
    close = difflib.get_close_matches(first, options, n=1, cutoff=0.7)
    hint = f"Did you mean: {close[0]}" if close else f"See: {prog} --help"
    return UsageError(f'{prog} has no option "{first}"', hint)


def _command_function(path: str) -> Callable[[argparse.Namespace], int]:
    """A function that runs the one at MODULE.FUNCTION of this package.

    The module is loaded only then, so that help answers at once.
    """
    module, _, name = path.rpartition(".")

    def run(args: argparse.Namespace) -> int:
        status: int = getattr(import_module(f"journal.cli.{module}"), name)(args)
        return status

    return run


def _read_port(text: str) -> int:
    """Read a port, 0 to 65535."""
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f'"{text}" is no port; write a number from 0 to 65535')
    return int(text)


def _read_bars(text: str) -> int:
    """Read a number of bars, 1 to 100 000."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 100_000:
        raise argparse.ArgumentTypeError(f'"{text}" is no number of bars; write 24, say')
    return int(text)


# What reads the value of an option, by its ``type`` in commands.json.
_READERS: Final[Mapping[str | None, Callable[[str], Any]]] = {
    None: str, "path": Path, "bars": _read_bars, "port": _read_port, "clock": read_clock,
    "day": read_day,
    "hours": read_hours,
}  # fmt: skip


@cache
def commands() -> Mapping[str, Mapping[str, Any]]:
    """The commands by name, in the order of the help.

    Gives:  ``run`` is the command's MODULE.FUNCTION; ``does``, ``more``, ``example`` and
            ``result`` are sentences of its help; ``options`` have the keys that argparse takes
    """
    # JSON, since it is read at every start, and nothing is read faster.
    table: Mapping[str, Mapping[str, Any]] = json.loads(
        Path(__file__).with_name("commands.json").read_bytes()
    )
    return table


@cache
def program_parser() -> _Parser:
    """The parser of the program's arguments, with one for each command."""
    parser = _Parser(
        prog="journal",
        description="Turns write-ups of soap designs into an offline notebook and recipe cards.",
        epilog="A first hour:\n"
        "  journal begin soap                       a notebook with a worked example\n"
        "  journal preview --content soap --open    see it, write, see it change\n"
        "  journal check --content soap             what is wrong, where, how to fix it\n"
        "  journal build --content soap             the folder to keep, copy or pass on\n\n"
        "journal COMMAND --help explains one command, with an example.",
    )
    parser.add_argument("--version", action="version", version=f"journal {__version__}")
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    for name, command in commands().items():
        subparser = subparsers.add_parser(
            name,
            help=command["does"],
            description=f"{_sentence(command['does'])} {command.get('more', '')}".strip(),
            epilog=f"Example:\n  {command['example']}\n{_sentence(command['result'])}",
        )
        subparser.set_defaults(run=_command_function(command["run"]), command_name=name)
        for option in command["options"]:
            settings = {key: value for key, value in option.items() if key not in ("name", "type")}
            if settings.get("action") != "store_true":
                settings["type"] = _READERS[option.get("type")]
            subparser.add_argument(option["name"], **settings)
    completer = subparsers.add_parser(COMPLETE)
    completer.add_argument("index", type=int)
    completer.add_argument("words", nargs=argparse.REMAINDER)
    completer.set_defaults(run=_command_function("completion.complete"))
    return parser


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
