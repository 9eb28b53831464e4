"""The look of the notebook: its templates, its stylesheet, its sizes of paper, its fonts.

The only module that reads ``themes/``. One theme, ``desk``, is complete; any other holds
only the files that differ. A template of the same name in a notebook's ``content/theme/``
replaces the theme's, and a ``colours.css`` there is added to the end of the stylesheet.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import lru_cache
from importlib.util import cache_from_source
from pathlib import Path
from typing import Final, cast

import msgspec
from jinja2 import ChoiceLoader, Environment, FileSystemBytecodeCache, FileSystemLoader
from jinja2.bccache import Bucket
from markupsafe import Markup
from msgspec import Struct

from journal.errors import ContentError, Problem
from journal.html.bench_page import BenchPage
from journal.html.blocks import PageFrame, Section
from journal.html.compact import compact_css, compact_js
from journal.html.escaping import ENVIRONMENT_OPTIONS, EscapingCodeGenerator
from journal.html.filters import FILTERS, shown
from journal.html.messages import View
from journal.html.policy import PolicyViolation, apply_policy, policy_alone, policy_of
from journal.html.sandbox import Sandbox, read_own_theme

# The complete theme, which supplies the files that another does not have.
WHOLE: Final = "desk"
STYLESHEET: Final = "look.css"
CARD_STYLES: Final = "card.css"
SHEET_STYLES: Final = "sheet.css"
OTHERWISE: Final = "otherwise.css"
OWN_COLOURS: Final = "colours.css"


class _TemplateCache(FileSystemBytecodeCache):
    """Jinja's cache of compiled templates, in the folder of Python's compiled modules.

    It lies with the program, which is trusted, and never in the cache of a notebook.
    ``version`` is that of the program, on which compiled templates depend too.
    """

    def __init__(self, version: str) -> None:
        super().__init__(os.path.dirname(cache_from_source(__file__)), "templates-%s.bytecode")
        self._version = version

    def get_source_checksum(self, source: str) -> str:
        """A digest of a template's text and the program's version."""
        return super().get_source_checksum(self._version + source)

    def load_bytecode(self, bucket: Bucket) -> None:
        """Load a compiled template into the bucket, if it can be read."""
        with suppress(OSError):
            super().load_bytecode(bucket)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Write a compiled template, unless Python writes no bytecode or the folder forbids it."""
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                super().dump_bytecode(bucket)


class _ThemeEnvironment(Environment):
    code_generator_class = EscapingCodeGenerator
    shown = staticmethod(shown)


class Theme(Struct, frozen=True):
    """A theme read from disk, ready to render pages.

    ``environment`` has the program's templates. If the notebook replaces any, ``own`` renders
    all pages, in a confined process. ``files`` are pairs of a path from the notebook's root
    and its bytes: stylesheets, scripts, the icon, fonts and the fonts' licences. ``policy`` is the
    Content Security Policy of the program's pages, "" if ``own`` is None.
    """

    environment: Environment
    files: tuple[tuple[str, bytes], ...]
    own: Sandbox | None = None
    policy: str = ""

    def compile_all(self) -> None:
        """Compile the program's templates, before processes are forked that all need them."""
        if self.own is None:
            for name in self.environment.list_templates(extensions=["html"]):
                self.environment.get_template(name)

    def set_part(self, part: Section) -> str:
        """A section by itself, as the program's templates set it in a page."""
        macros = vars(self.environment.get_template("setting.html").module)
        return str(macros["part"](part))

    def set_page(self, template: str, page: object) -> str:
        """One page as HTML: a template, such as "page.html", rendered with its view.

        Fails:  ContentError, with file and line, if a template of the notebook's own is at fault or
                uses what is not allowed; an error in the program's templates passes through
        """
        if self.own is None:
            return self.environment.get_template(template).render(page=page)
        view = cast(View, page)
        html = self.own.set_page(template, view)
        frame: PageFrame = view.frame
        try:
            return apply_policy(html, self.policy, frame.root, frame.scripts)
        except PolicyViolation as tag:
            what = f"the template sets a tag that a theme may not set: {tag}"
            hint = "Leave it out; themes/README.md lists what a notebook's own theme may use."
            raise ContentError((Problem(self.own.blamed(template), what, hint),)) from tag

    def set_alone(self, template: str, page: BenchPage) -> str:
        """A page that is one file, its script and its stylesheet within, as HTML.

        It is always set by the program's own template: what is noted there goes into the write-up.
        Its inks are those of the theme, and of the notebook's own ``colours.css``.
        """
        files = dict(self.files)
        paper = files[f"paper/lying-{page.frame.paper}.css"].decode()
        inks = "".join(_inks(files[STYLESHEET].decode()))
        style = f"{inks}{_compact_part(SHEET_STYLES)}{_compact_part('bench/bench.css')}{paper}"
        # A notebook's own colours may hold anything: nothing in them ends the element.
        style = style.replace("<", "\\3c ")
        script = _compact_part("bench/bench.js")
        facts = msgspec.json.encode(page.facts).decode()
        for sign in _ENDS_ELEMENT:
            facts = facts.replace(sign, f"\\u{ord(sign):04x}")
        return self.environment.get_template(template).render(
            page=page,
            style=Markup(f"<style>{style}</style>"),
            scripts=Markup(
                f'<script type="application/json" id=facts>{facts}</script>\n'
                f"<script>{script}</script>"
            ),
            policy=Markup(policy_alone(style, script)),
        )


# Signs that stand in JSON within texts alone, and in HTML could end the element.
_ENDS_ELEMENT: Final = "<>&\u2028\u2029"
# The rules of a compact stylesheet that name its inks, within what they go by.
_INKS: Final = re.compile(r"(@media[^{}]*\{\s*)?:root\s*\{[^{}]*\}")


def _inks(style: str) -> Iterator[str]:
    """The rules in which a stylesheet names its colours and letters, by day and by night."""
    for rule in _INKS.finditer(style):
        yield rule[0] + "}" * (rule[1] is not None)


@lru_cache(maxsize=8)
def _compact_part(name: str) -> str:
    """A script or stylesheet of the complete theme, as it goes into a page that is one file."""
    text = (themes_folder() / WHOLE / name).read_text("utf-8")
    return compact_js(text) if name.endswith(".js") else compact_css(text)


def themes_folder() -> Path:
    """Where the themes stand: beside the package in a checkout, inside it when installed."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "themes"
    return inside if inside.is_dir() else package.parent / "themes"


def read_theme(name: str = WHOLE, content: Path | None = None, program: str | None = None) -> Theme:
    """Read a theme, and the files with which the notebook at ``content`` replaces its own.

    ``name`` is a folder in ``themes/``; without ``program``, its digest, templates are
    compiled anew. Templates refuse names that do not exist and escape every text that is not HTML.

    Fails:  FileNotFoundError if there is no such theme
    """
    whole, folder = themes_folder() / WHOLE, themes_folder() / name
    if not folder.is_dir():
        raise FileNotFoundError(folder)
    own = read_own_theme(content) if content is not None else {}
    colours = own.pop(OWN_COLOURS, "")
    # Files are looked for in the first folder, then in the second.
    folders = tuple(dict.fromkeys((folder, whole)))
    environment = _ThemeEnvironment(
        loader=ChoiceLoader([FileSystemLoader(place / "templates") for place in folders]),
        bytecode_cache=None if program is None else _TemplateCache(program),
        **ENVIRONMENT_OPTIONS,
    )
    environment.filters |= FILTERS
    files = {STYLESHEET: _joined_stylesheet(folders, colours)}
    for place in reversed(folders):
        for path in sorted((*place.glob("*.js"), *place.glob("*.svg"))):
            files[path.name] = path.read_bytes()
        for folder_name in ("fonts", "paper"):
            for path in sorted((place / folder_name).glob("*")):
                files[f"{folder_name}/{path.name}"] = path.read_bytes()
    templates = {name: text for name, text in own.items() if not name.endswith(".css")}
    if not templates:
        return Theme(environment, tuple(files.items()))
    shared = sources_of(environment)
    confined = Sandbox(templates, shared)
    return Theme(environment, tuple(files.items()), confined, policy_of(shared["base.html"]))


def sources_of(environment: Environment) -> dict[str, str]:
    """The texts of all templates of an environment, by name."""
    loader = environment.loader
    assert loader is not None
    names = environment.list_templates(extensions=["html"])
    return {name: loader.get_source(environment, name)[0] for name in names}


def own_theme_problems(name: str, content: Path) -> tuple[Problem, ...]:
    """The problems in the notebook's own theme that are found without rendering a page."""
    try:
        own = read_theme(name, content).own
        return own.problems() if own is not None else ()
    except ContentError as error:
        return error.problems


def _joined_stylesheet(folders: tuple[Path, ...], colours: str) -> bytes:
    """The one stylesheet, joined from its parts, since a card may be printed from any page.

    ``colours`` are the notebook's own and come last.
    """
    paths = [
        next(folder / name for folder in folders if (folder / name).is_file())
        for name in (STYLESHEET, CARD_STYLES, SHEET_STYLES)
    ]
    otherwise = folders[0] / OTHERWISE
    if otherwise.is_file():
        paths.append(otherwise)
    styles = "".join(compact_css(path.read_text("utf-8")) for path in paths)
    if colours:
        styles += f"\n/* The notebook's own colours. */\n{colours}"
    return styles.encode()
