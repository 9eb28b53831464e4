"""The book: one notebook, cut to one edition, from which every page is laid out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import jinja2
import markdown

from journal.comparison.derive import ComparisonResults
from journal.errors import Problem
from journal.figures.derive import AllFigures
from journal.figures.derive_notebook import NotebookFigures
from journal.html.blocks import Page, PageFrame, Section
from journal.html.theme import Theme, sources_of, themes_folder
from journal.photos.derive import MeasuredPhoto
from journal.photos.source import picture_libraries
from journal.records.codec import digest
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import Design
from journal.records.notebook import Notebook
from journal.views.shared.bars_seen import SeenBar
from journal.views.shared.editions import Edition
from journal.views.shared.over_limit import OverLimitTexts
from journal.views.shared.photos import Photos
from journal.views.shared.places import Address, Addresses, Sheet, contents, root_of, span
from journal.views.shared.uses import SharedThing, Uses
from journal.views.shared.words import ForecastText, UnitFormatter

# The name of each edition on its pages, and a remark on what is private in it.
EDITION_NAMES: Mapping[Edition, tuple[str, str]] = {
    "studio": ("studio edition", "costs and private notes inside"),
    "helpers": ("helpers' edition", ""),
    "public": ("public edition", ""),
}


@dataclass(frozen=True, slots=True)
class Book:
    """One notebook, cut to one edition, with all that its pages are laid out from.

    ``notebook``, ``figures`` and ``compared`` hold what the edition holds and no more.
    ``measured`` has what was measured in the photos of each design, ``unshown`` the problems of
    photos that cannot be shown, ``problems`` the errors and warnings in the files of each design.
    ``bars`` is the batch size for the cards; None leaves each recipe its own. ``ground`` is the
    digest of what every page depends on: program, theme, settings, edition, batch size.

    ``bench`` is the shelf without prices, suppliers and private notes, for cards and labels.
    ``derived`` is worked out from all designs at once. ``templates`` has the addresses of the
    cutting templates by mat and mould, ``comparisons_of`` the questions across designs that each
    design takes part in, ``shares`` what each shares with its neighbours, ``forecasts`` how long
    the pot of each takes, as text. ``recipes`` are the designs without their prose, ``seen`` how
    the bar of each looks, where that is known; ``over_limit`` what is said of each design with more
    oil than its certificate allows; ``lost`` what lost in each design that was decided, by group;
    ``pourers`` the names of those who poured last, each with its place.
    """

    notebook: Notebook
    bench: Shelf
    figures: AllFigures
    compared: ComparisonResults
    edition: Edition
    theme: Theme
    photos: Photos
    places: Addresses
    uses: Uses
    units: UnitFormatter
    derived: NotebookFigures
    bars: int | None
    ground: str
    templates: Mapping[tuple[str, str], Address] = field(default_factory=dict)
    comparisons_of: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    shares: Mapping[str, tuple[SharedThing, ...]] = field(default_factory=dict)
    forecasts: Mapping[str, ForecastText] = field(default_factory=dict)
    recipes: Mapping[str, Design] = field(default_factory=dict)
    measured: Mapping[str, tuple[MeasuredPhoto, ...]] = field(default_factory=dict)
    unshown: tuple[Problem, ...] = ()
    problems: Mapping[str, tuple[Problem, ...]] = field(default_factory=dict)  # by design
    seen: Mapping[str, SeenBar] = field(default_factory=dict)
    over_limit: OverLimitTexts = field(default_factory=dict)
    lost: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    pourers: Mapping[str, int] = field(default_factory=dict)

    @property
    def settings(self) -> Settings:
        """The studio's settings."""
        return self.notebook.settings

    @property
    def studio(self) -> bool:
        """Whether this is the studio's own edition, with costs and private notes."""
        return self.edition == "studio"

    @property
    def address(self) -> str:
        """The web address of the public edition, if the settings name one; otherwise ""."""
        return (self.settings.address or "") if self.edition == "public" else ""

    def frame(self, here: Address, scripts: tuple[str, ...] = ()) -> PageFrame:
        """The frame round the page ``here``: contents, edition, paper size; it runs ``scripts``."""
        name, inside = EDITION_NAMES[self.edition]
        public = self.edition == "public"
        return PageFrame(
            studio=self.settings.studio,
            root=root_of(here),
            pages=contents(here, public=public),
            how=span(here, self.places.fixed("how")),
            edition=name,
            inside=inside,
            paper=self.settings.paper,
            scripts=scripts,
            feed=public and self.settings.address is not None,
            public=public,
        )

    def page(
        self, here: Address, parts: Iterable[Section], about: str = "",
        scripts: tuple[str, ...] = (), **more: Any,
    ) -> Page:  # fmt: skip
        """A page with its frame, title and page number; ``more`` are other fields of ``Page``."""
        frame, title = self.frame(here, scripts), here.title
        return Page(frame, title, tuple(parts), folio=here.folio, about=about, **more)

    def sheet(self, here: Address, template: str, make: Callable[[], object]) -> Sheet:
        """A sheet that renders a template with the page that ``make`` lays out."""
        return Sheet(here.path, lambda: self.theme.set_page(template, make()).encode())


def base_digest(
    theme: Theme, settings: Settings, edition: Edition, bars: int | None, program: str | None
) -> str:
    """A digest of what every page depends on: program, templates, settings, edition, batch.

    ``program`` is the digest of the program, if the caller has it already.
    """
    theme_files = theme.own.own if theme.own is not None else {}
    templates = [*sources_of(theme.environment).items(), ("", ""), *theme_files.items()]
    templates_key = digest(*(part for template in templates for part in template))
    return digest(program or program_digest(), templates_key, repr(settings), edition, str(bars))


@lru_cache(maxsize=1)
def program_digest() -> str:
    """A digest of the program's files, its themes, and the libraries that render pages."""
    package = Path(__file__).resolve().parents[2]
    files = [
        file
        for folder in dict.fromkeys((package, themes_folder()))
        for file in sorted(folder.rglob("*"))
        if file.is_file() and "__pycache__" not in file.parts
    ]
    return digest(
        jinja2.__version__,
        markdown.__version__,
        picture_libraries(),
        *(part for file in files for part in (file.name, file.read_bytes())),
    )
