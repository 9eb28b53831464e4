"""The look of the notebook: its templates, its one stylesheet, its fonts.

The only module that reads ``themes/``. One theme, ``paper``, is whole; another holds
only what it does otherwise, and shares the rest. A notebook may put a template of the
same name into ``content/theme/``, which then stands in for the theme's own, and a
``colours.css`` there is added to the end of the stylesheet.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from jinja2 import (
    ChoiceLoader,
    Environment,
    FileSystemLoader,
    StrictUndefined,
    TemplateError,
    TemplateSyntaxError,
    nodes,
)
from jinja2.compiler import CodeGenerator, Frame
from msgspec import Struct

from journal.errors import ContentError, Position, Problem
from journal.pages.compiled import Compiled
from journal.pages.setting import FILTERS, shown

# The theme that holds everything; what another does not hold is taken from it.
WHOLE: Final = "paper"
STYLESHEET: Final = "look.css"
CARD_STYLES: Final = "card.css"
OTHERWISE: Final = "otherwise.css"
OWN_FOLDER: Final = "theme"
OWN_COLOURS: Final = "colours.css"


class _Escaping(CodeGenerator):
    """Templates that escape by ``shown``, which knows the texts that a page has over and over.

    The hook is the one that Jinja's own native templates are made by; a Jinja without it
    would escape as it always does, and take longer.
    """

    def _output_child_pre(
        self, node: nodes.Expr, frame: Frame, finalize: CodeGenerator._FinalizeInfo
    ) -> None:
        if frame.eval_ctx.autoescape and not frame.eval_ctx.volatile and finalize.src is None:
            self.write("environment.shown(")
        else:
            super()._output_child_pre(node, frame, finalize)


class _Environment(Environment):
    code_generator_class = _Escaping
    shown = staticmethod(shown)


class Theme(Struct, frozen=True):
    """A theme read from disk, ready to set pages.

    ``files`` are what a page needs beside it, by path from the notebook's root:
    the stylesheet, the scripts, the fonts, and the fonts' licences.
    """

    environment: Environment
    files: tuple[tuple[str, bytes], ...]
    own: Path | None

    def set_page(self, template: str, page: object) -> str:
        """One page as HTML.

        Takes:  template  name of a template, such as "page.html"
                page      the view that the template expects, as ``page``
        Gives:  the whole document
        Fails:  ContentError, with file and line, if a template in the notebook's
                own ``theme`` folder is at fault; any other template error is a
                fault of the program and passes through
        """
        try:
            return self.environment.get_template(template).render(page=page)
        except TemplateError as error:
            place = _own_place(error, self.own)
            if place is None:
                raise
            what = f"the template says something that cannot be set: {error.message}"
            mend = "Compare it with the theme's own template of the same name."
            raise ContentError((Problem(place, what, mend),)) from error


def themes_folder() -> Path:
    """Where the themes stand: beside the package in a checkout, inside it when installed."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "themes"
    return inside if inside.is_dir() else package.parent / "themes"


def theme_names() -> tuple[str, ...]:
    """The themes that there are."""
    return tuple(sorted(path.name for path in themes_folder().iterdir() if path.is_dir()))


def read_theme(
    name: str = WHOLE, content: Path | None = None, compiled: Compiled | None = None
) -> Theme:
    """Read a theme and what the notebook at ``content`` puts in its place.

    Takes:  name      a folder in ``themes/``
            content   the notebook's folder; None for the theme as it is
            compiled  templates as they were compiled before
    Gives:  a Theme; its environment refuses names that do not exist and escapes
            every text that is not marked as HTML
    Fails:  FileNotFoundError if there is no such theme
    """
    whole, folder = themes_folder() / WHOLE, themes_folder() / name
    if not folder.is_dir():
        raise FileNotFoundError(folder)
    own = content / OWN_FOLDER if content is not None else None
    own = own if own is not None and own.is_dir() else None
    # What stands in one of these is looked for there first.
    folders = tuple(dict.fromkeys((folder, whole)))
    places = [*([own] if own is not None else []), *(place / "templates" for place in folders)]
    # autoescape: a title with "<" in it is a title; StrictUndefined: a misspelt
    # name is an error and not an empty space on a card.
    environment = _Environment(
        loader=ChoiceLoader([FileSystemLoader(place) for place in places]),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        auto_reload=False,
        bytecode_cache=compiled,
    )
    environment.filters |= FILTERS
    files = {STYLESHEET: _style(folders, own)}
    for place in reversed(folders):
        for path in sorted(place.glob("*.js")):
            files[path.name] = path.read_bytes()
        for path in sorted((place / "fonts").glob("*")):
            files[f"fonts/{path.name}"] = path.read_bytes()
    return Theme(environment, tuple(files.items()), own)


def _style(folders: tuple[Path, ...], own: Path | None) -> bytes:
    """The one stylesheet: one file for the browser, since a card may be printed from any page."""
    parts = [_first(folders, STYLESHEET), _first(folders, CARD_STYLES)]
    otherwise = folders[0] / OTHERWISE
    if otherwise.is_file():
        parts.append(otherwise.read_bytes())
    if own is not None and (own / OWN_COLOURS).is_file():
        parts.append(b"\n/* The notebook's own colours. */\n" + (own / OWN_COLOURS).read_bytes())
    return b"".join(parts)


def _first(folders: tuple[Path, ...], name: str) -> bytes:
    """A file of the theme, or of the theme that it shares with."""
    return next(folder / name for folder in folders if (folder / name).is_file()).read_bytes()


def _own_place(error: TemplateError, own: Path | None) -> Position | None:
    """Where in the notebook's own templates an error arose, if it did there."""
    if own is None:
        return None
    places: list[tuple[str, int]] = []
    trace = error.__traceback__
    while trace is not None:
        places.append((trace.tb_frame.f_code.co_filename, trace.tb_lineno))
        trace = trace.tb_next
    if isinstance(error, TemplateSyntaxError):
        places.append((error.filename or "", error.lineno))
    for name, line in reversed(places):
        if name and Path(name).is_relative_to(own):
            return Position(f"{OWN_FOLDER}/{Path(name).relative_to(own).as_posix()}", line)
    return None
