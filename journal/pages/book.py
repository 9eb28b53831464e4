"""What every page is laid out from: one notebook, cut to one edition.

A page's key is a digest of everything that its bytes depend on. It is worked out
before the page is, so that a page of an unchanged key need not be made again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import jinja2
import markdown

from journal.comparison.derive import Compared
from journal.errors import Problem
from journal.figures.derive import Figures
from journal.figures.derive_bases import FindsThreshold
from journal.figures.pot_rates import PotRate
from journal.figures.thresholds import pour_threshold
from journal.pages.editions import Edition
from journal.pages.frame import frame_for
from journal.pages.parts import Frame, Page
from journal.pages.photos import Photos
from journal.pages.places import Place, Places
from journal.pages.sheet import Sheet, digest
from journal.pages.theme import Theme, themes_folder
from journal.pages.uses import Uses
from journal.pages.words import Units
from journal.photos.derive import MeasuredPhoto
from journal.photos.source import picture_libraries
from journal.records.later import Later
from journal.records.notebook import Notebook
from journal.records.settings import Settings


@dataclass(frozen=True, slots=True)
class Book(Later):
    """One notebook as it is laid out.

    ``notebook``, ``figures`` and ``compared`` hold what the edition holds and no
    more; ``measured`` is what photos show; ``unshown`` tells of photos
    that cannot be shown; ``problems`` is everything wrong, or to be minded, in the files of
    a design; ``rates`` are how fast the studio's pots
    cooled, in all designs. ``bars`` is a batch for the cards; None leaves each
    recipe its own. ``ground`` is the digest of what every page depends on: the
    program, the theme, the settings, the edition. ``threshold`` finds where an outcome
    of the pours turns.
    """

    notebook: Notebook
    figures: Figures
    compared: Compared
    edition: Edition
    theme: Theme
    photos: Photos
    places: Places
    uses: Uses
    units: Units
    rates: tuple[PotRate, ...]
    bars: int | None
    ground: str
    templates: Mapping[tuple[str, str], Place] = field(default_factory=dict)  # (mat, mould)
    measured: tuple[MeasuredPhoto, ...] = ()
    unshown: tuple[Problem, ...] = ()
    problems: Mapping[str, tuple[Problem, ...]] = field(default_factory=dict)  # by design
    threshold: FindsThreshold = pour_threshold

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
        """Where the edition will stand: the public one, if the settings say so; else nothing."""
        return (self.settings.address or "") if self.edition == "public" else ""

    def frame(self, here: Place, scripts: tuple[str, ...] = ()) -> Frame:
        """What stands round the page ``here``."""
        return frame_for(self.settings, self.edition, here, scripts)

    def sheet(
        self, here: Place, template: str, make: Callable[[], object], *depends: object
    ) -> Sheet:
        """A page that is made only if something in ``depends`` changed.

        Takes:  here      where the page stands
                template  how it is set
                make      lays the page out
                depends   all that the page shows beyond ``ground``; each is told
                          apart by its ``repr``, which must say everything
        Gives:  a Sheet
        """
        return Sheet(here.path, self.key(here, template, *depends), self._setter(template, make))

    def shown_sheet(self, here: Place, template: str, make: Callable[[], Page]) -> Sheet:
        """A page that is cheap to lay out: its key is a digest of all that it shows.

        It is laid out again when it is made: all such pages together are too large to be held.
        """
        return Sheet(here.path, self.key(here, template, make()), self._setter(template, make))

    def key(self, here: Place, *depends: object) -> str:
        """The key of a page that depends on these and on ``ground``."""
        return digest(self.ground, here.path, here.title, here.folio, *map(repr, depends))

    def _setter(self, template: str, make: Callable[[], object]) -> Callable[[], bytes]:
        return lambda: self.theme.set_page(template, make()).encode()


def ground_key(theme: Theme, settings: Settings, edition: Edition) -> str:
    """A digest of what every page depends on."""
    return digest(program_key(), templates_key(theme), repr(settings), edition)


def templates_key(theme: Theme) -> str:
    """A digest of every template that a page may be set with."""
    loader = theme.environment.loader
    assert loader is not None
    names = theme.environment.list_templates(extensions=["html"])
    return digest(*(part for name in names for part in (name, _source(theme, name))))


def _source(theme: Theme, name: str) -> str:
    loader = theme.environment.loader
    assert loader is not None
    return loader.get_source(theme.environment, name)[0]


@lru_cache(maxsize=1)
def program_key() -> str:
    """A digest of this program as it runs, of its themes, and of what sets its pages."""
    package = Path(__file__).resolve().parent.parent
    files = [*sorted(package.rglob("*.py")), *sorted(themes_folder().rglob("*"))]
    return digest(
        jinja2.__version__,
        markdown.__version__,
        picture_libraries(),
        *(part for file in files if file.is_file() for part in (file.name, file.read_bytes())),
    )
