"""The commands and their options."""

from __future__ import annotations

import argparse
import difflib
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import NoReturn

from journal import __version__
from journal.command_line.clock import read_clock, read_hours
from journal.errors import UsageError

EDITIONS = ("studio", "helpers", "public")
THEMES = ("paper", "bench")
LANGUAGES = ("en", "es")
SIZES = ("4x6in", "a6", "half-letter", "a5")


class _Parser(argparse.ArgumentParser):
    """A parser that raises instead of leaving, and knows the nearest command."""

    def error(self, message: str) -> NoReturn:
        raise UsageError(message, f"See: {self.prog} --help")


def read_arguments(arguments: Sequence[str]) -> argparse.Namespace:
    """The command and its options; ``run`` is the function that does it.

    Fails:  UsageError for a command or an option that there is not
    """
    parser, names = _parser()
    for word in arguments:
        if not word.startswith("-"):
            if word not in names:
                close = difflib.get_close_matches(word, names, n=1)
                mend = f"Did you mean: journal {close[0]}" if close else "See: journal --help"
                raise UsageError(f'there is no command "{word}"', mend)
            break
    asked = parser.parse_args(arguments)
    if not hasattr(asked, "run"):
        raise UsageError("no command was given", "See: journal --help")
    return asked


def _command(name: str, module: str = "commands") -> Callable[[argparse.Namespace], int]:
    """A command by name; what it needs is loaded when it is run, so that help answers at once."""

    def run(asked: argparse.Namespace) -> int:
        status: int = getattr(import_module(f"journal.command_line.{module}"), name)(asked)
        return status

    return run


def _bars(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 100_000:
        raise argparse.ArgumentTypeError(f'"{text}" is no number of bars; write 24, say')
    return int(text)


def _parser() -> tuple[_Parser, list[str]]:
    parser = _Parser(
        prog="journal",
        description="Turns write-ups of soap designs into an offline notebook and recipe cards.",
        epilog="A first hour: journal begin soap, journal check --content soap,"
        " journal build --content soap --open",
    )
    parser.add_argument("--version", action="version", version=f"journal {__version__}")
    known = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    names: list[str] = []

    def command(name: str, does: str, more: str = "") -> _Parser:
        names.append(name)
        made: _Parser = known.add_parser(
            name, help=does, description=f"{does[0].upper()}{does[1:]}. {more}".strip()
        )
        return made

    def with_content(name: str, does: str, more: str = "") -> _Parser:
        made = command(name, does, more)
        made.add_argument(
            "--content", type=Path, default=Path("content"), metavar="DIR",
            help="folder of the notebook (content)",
        )  # fmt: skip
        return made

    begin = command("begin", "lay out a new notebook with a worked example",
                    "Nothing that is there is overwritten.")  # fmt: skip
    begin.add_argument("dir", type=Path, metavar="DIR", help="the folder to lay it out in")
    begin.set_defaults(run=_command("begin"), content=None)

    check = with_content("check", "list every error and warning, with its place and its mend")
    check.add_argument("--json", action="store_true", help="as JSON, for other programs")
    check.set_defaults(run=_command("check"))

    build = with_content("build", "make the notebook; only what changed is made again")
    build.add_argument("--out", type=Path, default=Path("notebook"), metavar="DIR",
                       help="folder to make (notebook)")  # fmt: skip
    build.add_argument("--edition", choices=EDITIONS, default="studio",
                       help="who it is for (studio)")  # fmt: skip
    build.add_argument(
        "--bars", type=_bars, metavar="N", help="bars on the cards (each recipe's own)"
    )
    build.add_argument("--theme", choices=THEMES, help="how it looks (the settings')")
    build.add_argument("--open", action="store_true", help="open it in the browser")
    build.set_defaults(run=_command("build"))

    figures = with_content("figures", "print the figures as JSON, or write them as CSV tables")
    figures.add_argument("designs", nargs="*", metavar="ID", help="only these designs")
    figures.add_argument(
        "--csv", type=Path, metavar="DIR", help="write tables into this folder instead"
    )
    figures.set_defaults(run=_command("figures"))

    compare = with_content("compare", "compare variants, in the terminal",
                           "Each measure with its numbers and a verdict; without an ID"
                           " every design and every question across designs.")  # fmt: skip
    compare.add_argument("id", nargs="?", metavar="ID", help="one design, or one comparison")
    compare.set_defaults(run=_command("compare"))

    cards = with_content("cards", "make recipe cards for printing")
    cards.add_argument("designs", nargs="+", metavar="ID", help="the designs")
    cards.add_argument("--bars", type=_bars, metavar="N", help="bars (each recipe's own)")
    cards.add_argument("--variant", metavar="V", help="a variant of the design")
    cards.add_argument("--size", choices=SIZES, default="4x6in", help="size of a card (4x6in)")
    cards.add_argument("--out", type=Path, default=Path("cards"), metavar="DIR",
                       help="folder to make (cards)")  # fmt: skip
    cards.add_argument("--pdf", type=Path, metavar="FILE",
                       help="write a PDF instead (needs the extra pdf)")  # fmt: skip
    cards.set_defaults(run=_command("cards", "card_folder"))

    measure = with_content(
        "measure",
        "measure colours and the width of a bleed in a photo",
        "Pixels are those of the upright picture, origin top left. Without options, as the"
        " photo's write-up says.",
    )
    measure.add_argument("photo", type=Path, metavar="PHOTO", help="the photo")
    measure.add_argument("--scale", metavar='"MM mm/px"', help='such as "0.08 mm/px"')
    measure.add_argument(
        "--region", action="append", metavar="NAME=x,y,w,h", help="a colour to take; may be repeated"
    )
    measure.add_argument("--across", metavar="x1,y1,x2,y2", help="a line from body to detail")
    measure.add_argument(
        "--neutral", metavar="x,y,w,h=118", help="a grey of known sRGB level in the picture"
    )
    measure.add_argument("--blur", metavar="PX", help="blur of the lens, if known")
    measure.add_argument(
        "--card", action="store_true", help="the photo card is in the picture and gives the scale"
    )
    measure.add_argument("--json", action="store_true", help="as JSON, for other programs")
    measure.set_defaults(run=_command("measure_command", "measure"))

    order = with_content("order", "plan an order: what to buy, rounds, a day sheet by the clock",
                         "Refuses only for errors in what the order uses.")  # fmt: skip
    order.add_argument("file", metavar="FILE", help="a file of orders/, or its id")
    order.add_argument("--begins", type=read_clock, metavar="H:MM",
                       help="when the first day begins (when the hours do)")  # fmt: skip
    order.add_argument("--hours", type=read_hours, default="8:00-18:00", metavar="FROM-TO",
                       help="when hands are there (8:00-18:00)")  # fmt: skip
    order.set_defaults(run=_command("order", "order"))
    return parser, names
