"""The commands and their options."""

from __future__ import annotations

import argparse
import difflib
import shutil
import textwrap
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn

from journal import __version__
from journal.command_line.clock import read_clock, read_hours
from journal.command_line.examples import EXAMPLES
from journal.errors import UsageError

EDITIONS = ("studio", "helpers", "public")
THEMES = ("paper", "bench")
LANGUAGES = ("en", "es")
SIZES = ("4x6in", "a6", "half-letter", "a5")
PAPERS = ("letter", "a4")
LABEL_SHAPES = ("rectangle", "round", "band")


SHELLS = ("bash", "zsh", "fish")
# Asked by the shell's own script; of no use to anybody else.
COMPLETE = "complete-words"
# No line of help is wider, however wide the terminal.
WIDEST_HELP = 88


class _Help(argparse.HelpFormatter):
    """Help within the terminal's width; lines that are set in stay as they are."""

    def __init__(self, prog: str) -> None:
        width = min(WIDEST_HELP, shutil.get_terminal_size().columns)
        super().__init__(prog, max_help_position=26, width=max(40, width - 2))

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction):
            # The names of commands are set in, which the parent class does not count.
            self._action_max_length += self._indent_increment

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        lines = (
            [line] if line.startswith("  ") else textwrap.wrap(line, width) or [""]
            for line in text.split("\n")
        )
        return "\n".join(indent + part for parts in lines for part in parts)


class _Parser(argparse.ArgumentParser):
    """A parser that raises instead of leaving, and knows the nearest command."""

    def __init__(self, **how: Any) -> None:
        super().__init__(**{"formatter_class": _Help, **how})

    def error(self, message: str) -> NoReturn:
        raise UsageError(message, f"See: {self.prog} --help")


def read_arguments(arguments: Sequence[str]) -> argparse.Namespace:
    """The command and its options; ``run`` is the function that does it.

    Fails:  UsageError for a command or an option that there is not
    """
    parser, names = program_parser()
    for word in arguments:
        if not word.startswith("-"):
            if word not in (*names, COMPLETE):
                close = difflib.get_close_matches(word, names, n=1)
                mend = f"Did you mean: journal {close[0]}" if close else "See: journal --help"
                raise UsageError(f'there is no command "{word}"', mend)
            break
    asked = parser.parse_args(arguments)
    if not hasattr(asked, "run"):
        raise UsageError("no command was given", "See: journal --help")
    return asked


def _command(name: str, module: str) -> Callable[[argparse.Namespace], int]:
    """A command by name; what it needs is loaded when it is run, so that help answers at once."""

    def run(asked: argparse.Namespace) -> int:
        status: int = getattr(import_module(f"journal.command_line.{module}"), name)(asked)
        return status

    return run


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f'"{text}" is no port; write a number from 0 to 65535')
    return int(text)


def _bars(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 100_000:
        raise argparse.ArgumentTypeError(f'"{text}" is no number of bars; write 24, say')
    return int(text)


def program_parser() -> tuple[_Parser, list[str]]:
    """The program's arguments, and the names of its commands."""
    parser = _Parser(
        prog="journal",
        description="Turns write-ups of soap designs into an offline notebook and recipe cards.",
        epilog="A first hour:\n"
        "  journal begin soap                       a notebook with a worked example\n"
        "  journal preview --content soap --open    see it, write, see it change\n"
        "  journal check --content soap             what is wrong, where, and its mend\n"
        "  journal build --content soap             the folder to keep, copy or pass on\n\n"
        "journal COMMAND --help explains one command, with an example.",
    )
    parser.add_argument("--version", action="version", version=f"journal {__version__}")
    known = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    names: list[str] = []

    def command(name: str, does: str, more: str = "") -> _Parser:
        names.append(name)
        example, result = EXAMPLES[name]
        made: _Parser = known.add_parser(
            name,
            help=does,
            description=f"{does[0].upper()}{does[1:]}. {more}".strip(),
            epilog=f"Example:\n  {example}\n{result[0].upper()}{result[1:]}.",
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
    begin.set_defaults(run=_command("begin", "begin"), content=None)

    write_up = with_content("write-up", "begin the write-up of a new design",
                            "Asks for what is not given. Nothing is overwritten, and photos"
                            " are copied, never moved.")  # fmt: skip
    write_up.add_argument("title", nargs="?", metavar="TITLE", help="what the design is called")
    write_up.add_argument("--from", dest="origin", metavar="ID",
                          help="an earlier design whose recipe is taken over")  # fmt: skip
    write_up.add_argument("--mat", metavar="MAT", help="a mat of the shelf, by id")
    write_up.add_argument("--mould", metavar="MOULD", help="a mould of the shelf, by id")
    write_up.add_argument("--photos", type=Path, metavar="DIR",
                          help="a folder of photos to copy, in order of time taken")  # fmt: skip
    write_up.set_defaults(run=_command("write_up", "write_up"))

    check = with_content("check", "list every error and warning, with its place and its mend")
    check.add_argument("--json", action="store_true", help="as JSON, for other programs")
    check.set_defaults(run=_command("check", "check"))

    build = with_content("build", "make the notebook; only what changed is made again")
    build.add_argument("--out", type=Path, default=Path("notebook"), metavar="DIR",
                       help="folder to make (notebook)")  # fmt: skip
    build.add_argument("--edition", choices=EDITIONS, default="studio",
                       help="who it is for (studio)")  # fmt: skip
    build.add_argument(
        "--bars", type=_bars, metavar="N", help="bars on the cards (each recipe's own)"
    )
    build.add_argument("--theme", choices=THEMES, help="how it looks (the settings')")
    build.add_argument("--strict", action="store_true",
                       help="make nothing where there is a mistake")  # fmt: skip
    build.add_argument("--open", action="store_true", help="open it in the browser")
    build.set_defaults(run=_command("build", "unchanged"))

    preview = with_content("preview", "show the notebook while you write, anew at each save",
                           "For this computer alone. What is wrong stands on the page, with its"
                           " place. Ends with Ctrl-C.")  # fmt: skip
    preview.add_argument("--edition", choices=EDITIONS, default="studio",
                         help="who it is for (studio)")  # fmt: skip
    preview.add_argument("--port", type=_port, default=None, metavar="N",
                         help="port to listen on (7627, or the next that is free)")  # fmt: skip
    preview.add_argument("--out", type=Path, metavar="DIR",
                         help="folder to keep it in (one of the user's cache)")  # fmt: skip
    preview.add_argument("--open", action="store_true", help="open it in the browser")
    preview.set_defaults(run=_command("preview", "preview"))

    figures = with_content("figures", "print the figures as JSON, or write them as CSV tables")
    figures.add_argument("designs", nargs="*", metavar="ID", help="only these designs")
    figures.add_argument(
        "--csv", type=Path, metavar="DIR", help="write tables into this folder instead"
    )
    figures.set_defaults(run=_command("figures", "figures"))

    compare = with_content("compare", "compare variants, in the terminal",
                           "Each measure with its numbers and a verdict; without an ID"
                           " every design and every question across designs.")  # fmt: skip
    compare.add_argument("id", nargs="?", metavar="ID", help="one design, or one comparison")
    compare.set_defaults(run=_command("compare", "compare"))

    cards = with_content("cards", "make recipe cards for printing")
    cards.add_argument("designs", nargs="+", metavar="ID", help="the designs")
    cards.add_argument("--bars", type=_bars, metavar="N", help="bars (each recipe's own)")
    cards.add_argument("--variant", metavar="V", help="a variant of the design")
    cards.add_argument("--size", choices=SIZES, default="4x6in", help="size of a card (4x6in)")
    cards.add_argument("--language", choices=LANGUAGES,
                       help="language of the words (the settings')")  # fmt: skip
    cards.add_argument("--sheet", choices=PAPERS,
                       help="several to a sheet of this paper, with marks to cut by")  # fmt: skip
    cards.add_argument("--out", type=Path, default=Path("cards"), metavar="DIR",
                       help="folder to make (cards)")  # fmt: skip
    cards.add_argument("--pdf", type=Path, metavar="FILE",
                       help="write a PDF instead (needs the extra pdf)")  # fmt: skip
    cards.set_defaults(run=_command("cards", "card_folder"))

    def on_paper(name: str, does: str, more: str = "") -> _Parser:
        made = with_content(name, does, more)
        made.add_argument("--out", type=Path, default=Path(name), metavar="DIR",
                          help=f"folder to make ({name})")  # fmt: skip
        made.add_argument("--pdf", type=Path, metavar="FILE",
                          help="write a PDF instead (needs the extra pdf)")  # fmt: skip
        made.set_defaults(run=_command(name, name), command_name=name)
        return made

    template = on_paper(
        "template",
        "draw a cutting template at true size",
        "A piece of the mat for a cavity of the mould, and all pieces of a sheet, with lines of"
        " 100 mm to measure first.",
    )
    template.add_argument("mat", metavar="MAT", help="a mat of the shelf")
    template.add_argument("mould", metavar="MOULD", help="a mould of the shelf")
    template.add_argument("--trim", action="append", metavar="TRIM",
                          help='close, or "straight 3 mm"; may be repeated'
                          " (those that designs use)")  # fmt: skip

    label = on_paper(
        "label",
        "draft a label, several to a sheet",
        "Ingredients and net weight by region, in the height that the rule asks for. Says where"
        " they do not fit. Always a draft.",
    )
    label.add_argument("id", metavar="ID", help="a design")
    label.add_argument("--shape", choices=LABEL_SHAPES, help="shape (all three)")
    label.add_argument("--size", metavar='"W x H mm"',
                       help='size, such as "60 x 40 mm", "50 mm" for a round one,'
                       " the way round x height for a band (by the bar's)")  # fmt: skip

    sheet = on_paper(
        "sheet",
        "a sheet for the bench: blank tables for a pour, or the photo card",
    )
    sheet.add_argument("which", choices=("pour-day", "photo-card"), help="which sheet")
    sheet.add_argument("id", nargs="?", metavar="ID", help="the design, for a pour")
    sheet.add_argument("--stand", metavar='"H mm"',
                       help="height of the photo card's legs (the mould's depth)")  # fmt: skip

    measure = with_content(
        "measure",
        "measure colours and the width of a bleed in a photo",
        "Pixels are those of the upright picture, origin top left. Without options, as the"
        " photo's write-up says.",
    )
    measure.add_argument("photo", type=Path, metavar="PHOTO", help="the photo")
    measure.add_argument("--scale", metavar='"MM mm/px"', help='such as "0.08 mm/px"')
    measure.add_argument("--region", action="append", metavar="NAME=x,y,w,h",
                         help="a colour to take; may be repeated")  # fmt: skip
    measure.add_argument("--across", metavar="x1,y1,x2,y2", help="a line from body to detail")
    measure.add_argument(
        "--neutral", metavar="x,y,w,h=118", help="a grey of known sRGB level in the picture"
    )
    measure.add_argument("--blur", metavar="PX", help="blur of the lens, if known")
    measure.add_argument(
        "--card", action="store_true", help="the photo card is in the picture and gives the scale"
    )
    measure.add_argument(
        "--above", metavar="25mm", help="how much nearer to the lens the face is than the card (0)"
    )
    measure.add_argument("--camera", metavar="400mm", help="from the lens to the card, if known")
    measure.add_argument("--ruler", metavar="99.5mm",
                         help="what the card's ruler of 100 mm measures (100 mm)")  # fmt: skip
    measure.add_argument("--json", action="store_true", help="as JSON, for other programs")
    measure.set_defaults(run=_command("measure_command", "measure"))

    order = with_content("order", "plan an order: what to buy, rounds, a day sheet by the clock",
                         "Refuses only for errors in what the order uses.")  # fmt: skip
    order.add_argument("file", metavar="FILE", help="a file of orders/, or its id")
    order.add_argument("--begins", type=read_clock, metavar="H:MM",
                       help="when the first day begins (when the hours do)")  # fmt: skip
    order.add_argument("--hours", type=read_hours, default="8:00-18:00", metavar="FROM-TO",
                       help="when hands are there (8:00-18:00)")  # fmt: skip
    order.add_argument("--pdf", type=Path, metavar="FILE",
                       help="write its sheet as a PDF instead (needs the extra pdf)")  # fmt: skip
    order.set_defaults(run=_command("order", "order"))

    schema = with_content("schema", "write what each key means where an editor can read it",
                          "JSON Schema of write-ups, shelf, settings, comparisons and orders, and"
                          " settings for an editor that tell which file each is for.")  # fmt: skip
    schema.add_argument("dir", nargs="?", type=Path, metavar="DIR",
                        help="folder to make (.schema in the notebook's folder)")  # fmt: skip
    schema.add_argument("--settings", type=Path, metavar="FILE",
                        help="where to put the editor's settings (DIR/settings.json)")  # fmt: skip
    schema.set_defaults(run=_command("schema", "schema"))

    completion = command("completion", "print what lets the Tab key fill in words",
                         "Put the line of the example at the end of the shell's own start file, to"
                         " have it in every terminal.")  # fmt: skip
    completion.add_argument("shell", choices=SHELLS, help="the shell that you type in")
    completion.set_defaults(run=_command("completion", "completion"), content=None)
    asked = known.add_parser(COMPLETE)
    asked.add_argument("index", type=int)
    asked.add_argument("words", nargs=argparse.REMAINDER)
    asked.set_defaults(run=_command("complete", "completion"), content=None)
    return parser, names
