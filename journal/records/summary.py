"""What lists, the shelf and the pages of other designs show of a design."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from msgspec import Struct

from journal.errors import Position
from journal.records.links import Target, links_in, target_of
from journal.records.things import Thing
from journal.records.write_up import Brief, Design, Failure, Photo, Question


class DesignSummary(Struct, frozen=True):
    """A design as far as anything but its own pages needs it.

    The names are those of ``Design``. ``leads_to`` is where the links of its prose lead,
    ``layers`` what its layers are called.
    """

    id: str
    path: str
    title: str
    date: date
    state: str
    summary: str
    subjects: tuple[str, ...]
    grew_from: str | None
    groups: Mapping[str, tuple[str, ...]]
    question: Question | None
    failed: tuple[Failure, ...]
    photos: tuple[Photo, ...]
    things: tuple[Thing, ...]
    pictures: tuple[tuple[Position, str], ...]
    brief: Brief
    leads_to: tuple[Target, ...]
    layers: tuple[str, ...]


def summary_of(design: Design) -> DesignSummary:
    """The summary of a design."""
    folder = design.path.rpartition("/")[0]
    links = links_in(design.body, design.path, design.body_line)
    return DesignSummary(
        id=design.id,
        path=design.path,
        title=design.title,
        date=design.date,
        state=design.state,
        summary=design.summary,
        subjects=design.subjects,
        grew_from=design.grew_from,
        groups=design.groups,
        question=design.question,
        failed=design.failed,
        photos=design.photos,
        things=design.things,
        pictures=design.pictures,
        brief=design.brief,
        leads_to=tuple(dict.fromkeys(target_of(link, folder) for _, link, _ in links)),
        layers=tuple(layer.name for layer in design.recipe.layers),
    )
