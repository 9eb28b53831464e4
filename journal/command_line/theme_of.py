"""The theme that a notebook is set with, its templates compiled once for many runs."""

from __future__ import annotations

from pathlib import Path

from journal.output import Store
from journal.pages.compiled import Compiled
from journal.pages.theme import Theme, read_theme

_NAME = "templates"


def theme_of(store: Store, program: str, name: str, content: Path) -> Theme:
    """A theme with what the notebook puts in its place, ready to set pages.

    Takes:  store    where the compiled templates are kept
            program  the digest of the program that compiles them
            name     of the theme
            content  the notebook's folder
    Gives:  a Theme; before work is shared out all templates of the program are compiled,
            where they set the pages
    """
    compiled = Compiled(program, store.read(_NAME))
    theme = read_theme(name, content, compiled)
    if theme.own is None:
        compiled.compile_all(theme.environment)
    if compiled.changed:
        store.write(_NAME, compiled.packed())
    return theme
