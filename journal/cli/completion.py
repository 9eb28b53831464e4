"""Completes the command line: commands, options, and the names in the notebook.

A shell's own script is a few lines that ask this program for the words, so that one
answer serves all shells. It reads names of folders and files, and opens only lists of
the shelf.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from journal.cli.arguments import program_parser
from journal.cli.terminal import print_text

Words = Iterator[tuple[str, str]]  # a word and what it is

_ID = re.compile(r"^([a-z0-9][a-z0-9-]*):", re.MULTILINE)

# A script for each shell that words are filled in for, by the shell's name.
_SCRIPTS: Final = Path(__file__).with_name("shells")


def completion(args: argparse.Namespace) -> int:
    """Run ``journal completion``: print the script of a shell."""
    print_text((_SCRIPTS / f"journal.{args.shell}").read_text("utf-8"))
    return 0


def complete(args: argparse.Namespace) -> int:
    """Print the words that may be filled in, one a line, for a shell's script."""
    words = words_for(program_parser(), args.index, args.words)
    print_text("".join(f"{word}\n" for word in words))
    return 0


def words_for(parser: argparse.ArgumentParser, index: int, words: Sequence[str]) -> list[str]:
    """The words that may stand in one place, each with a tab and its meaning.

    None where a file's name belongs: the shell completes these.

    Takes:  index  the number of the word to fill in, from 0
            words  those after the program's name, as far as they are typed
    """
    # Some shells take "--out=x" apart.
    before = [word for word in words[:index] if word != "="]
    begun = words[index] if index < len(words) else ""
    begun = "" if begun == "=" else begun
    option, sign, value = begun.partition("=")
    if sign and option.startswith("--"):
        values = words_for(parser, len(before) + 1, [*before, option, value])
        return [f"{option}={word}" for word in values]
    fitting = dict(word for word in _next_words(parser, before) if word[0].startswith(begun))
    return [
        f"{word}\t{meaning}" if meaning else word
        for word, meaning in fitting.items()
        if word.startswith("-") == begun.startswith("-")
    ]


def _next_words(parser: argparse.ArgumentParser, before: Sequence[str]) -> Words:
    """The words that may follow those in ``before``, with their meanings."""
    commands = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    name = next((word for word in before if not word.startswith("-")), None)
    if name is None:
        for action in commands._choices_actions:
            yield action.dest, action.help or ""
        yield from _options(parser, ())
        return
    command = commands.choices.get(name)
    if command is None:
        return
    typed = before[before.index(name) + 1 :]
    content = _content_folder(typed)
    last = typed[-1] if typed else ""
    options = {option: a for a in command._actions for option in a.option_strings}
    if last in options and options[last].nargs != 0:
        yield from _values(options[last], name, content)
        return
    yield from _options(command, typed)
    places = [action for action in command._actions if not action.option_strings]
    filled = _places_filled(typed, options)
    if places:
        place = places[min(filled, len(places) - 1)]
        if filled < len(places) or place.nargs in ("*", "+"):
            yield from _values(place, name, content)


def _options(parser: argparse.ArgumentParser, typed: Sequence[str]) -> Words:
    """The options of a command that are not typed yet, with their help."""
    for action in parser._actions:
        if action.option_strings and not set(action.option_strings) & set(typed):
            yield action.option_strings[-1], (action.help or "").partition(" (")[0]


def _places_filled(typed: Sequence[str], options: Mapping[str, argparse.Action]) -> int:
    """The number of words that are neither options nor their values."""
    filled = 0
    takes_value = False
    for word in typed:
        filled += not takes_value and not word.startswith("-")
        takes_value = word in options and options[word].nargs != 0
    return filled


def _values(action: argparse.Action, command: str, content: Path) -> Words:
    """The words that an option or a place may have; none for names of files."""
    if action.choices is not None:
        yield from ((str(choice), "") for choice in action.choices)
        return
    metavar = str(action.metavar or "")
    kinds = {"MAT": "mats", "MOULD": "moulds"}
    if metavar == "ID":
        for path in sorted((content / "designs").glob("*/design.md")):
            yield path.parent.name, "a design"
        if command == "compare":
            yield from _file_names(content / "comparisons", ".md", "a question across designs")
    elif metavar in kinds:
        yield from _shelf_names(content, kinds[metavar])
    elif metavar == "FILE" and command == "order":
        yield from _file_names(content / "orders", ".yaml", "an order")


def _content_folder(typed: Sequence[str]) -> Path:
    """The content folder that the words name, else the usual one."""
    for number, word in enumerate(typed):
        if word == "--content" and number + 1 < len(typed):
            return Path(typed[number + 1])
        if word.startswith("--content="):
            return Path(word.partition("=")[2])
    return Path("content")


def _file_names(folder: Path, ending: str, meaning: str) -> Words:
    """The names of the files in a folder, without their ending."""
    for path in sorted(folder.glob(f"*{ending}")):
        yield path.name.removesuffix(ending), meaning


def _shelf_names(content: Path, kind: str) -> Words:
    """The names of things of a kind on the shelf, by a pattern, without parsing the file."""
    try:
        text = (content / "shelf" / f"{kind}.yaml").read_text("utf-8", "replace")
    except OSError:
        return
    for name in _ID.findall(text):
        yield name, f"one of the {kind}"
