"""The texts by which the index finds a page, each with the anchor of its place on the page."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from msgspec import Struct

from journal.figures.common.spec import FIGURE_ENTRIES
from journal.html.card_page import plain_text
from journal.records.models.shelf import KINDS
from journal.records.models.summary import DesignSummary
from journal.records.models.write_up import Design, Pour
from journal.views.lists.failed import failures_by_symptom
from journal.views.lists.methods import METHODS
from journal.views.lists.safety import CAUTIONS
from journal.views.shared.book import Book
from journal.views.shared.catalogue import ENGLISH
from journal.views.shared.places import POTS, Address, pour_anchor, symptom_places
from journal.views.shared.summary import failed_anchor
from journal.views.shared.words import NO_BREAK, capitalised, list_text, long_date, variants_text
from journal.views.shelf.facts import facts_of

_FENCE = re.compile(r"^ {0,3}(```|~~~).*$", re.MULTILINE)
_LINK = re.compile(r"!?\[([^\]\n]*)\](?:\([^()\s]*(?:\s+\"[^\"\n]*\")?\)|\[[^\]\n]*\])")
_REFERENCE = re.compile(r"^ {0,3}\[[^\]\n]+\]:.*$", re.MULTILINE)
_HEAD_OF_LINE = re.compile(r"^[ \t]*(?:#{1,6}|>|[-*+]|\d{1,9}[.)])(?=\s)", re.MULTILINE)
_RULES = re.compile(r"^[ \t|:=-]+$", re.MULTILINE)
_UNDERSCORES = re.compile(r"(?<!\w)_|_(?!\w)")
_SIGNS = str.maketrans("", "", "*`|\\[]^")
_BLANKS = re.compile(rf"[\s{NO_BREAK}]+")

# The anchor of the prose on a page.
PROSE: Final = "notes"
_METHOD: Final = "How a figure is made"


class IndexEntry(Struct, frozen=True):
    """A page, or a part of one, as an entry of the search data.

    ``written`` are pairs of an anchor ("" is the page's head) and the text there. ``when`` is a
    month, or "" without a date. ``own_words`` marks a page whose texts have their own script.
    """

    href: str
    title: str
    number: str
    kind: str
    when: str
    written: tuple[tuple[str, str], ...]
    own_words: bool = False

    @property
    def texts(self) -> tuple[tuple[str, str], ...]:
        """Pairs of an anchor and its text, in one line, without Markdown signs and never empty."""
        plain = (
            (anchor, one_line(plain_prose(text) if anchor == PROSE else text))
            for anchor, text in self.written
        )
        return tuple((anchor, text) for anchor, text in plain if text)


def design_index_entries(book: Book, names: Iterable[str]) -> Iterator[IndexEntry]:
    """The entries of the designs with these ids."""
    for name in names:
        place, design = book.places.designs[name], book.notebook.designs[name]
        yield IndexEntry(
            place.path,
            one_line(design.title),
            place.folio,
            f"Design, {design.state}",
            long_date(design.date).partition(NO_BREAK)[2],
            tuple(_design_texts(book, design)),
            own_words=True,
        )


def thing_index_entries(book: Book) -> Iterator[IndexEntry]:
    """The entries of everything on the shelf, kind by kind."""
    for (kind, name), place in book.places.things.items():
        record = book.notebook.shelf.of_kind(kind)[name]
        facts = [f"{fact}: {plain_text(words)}" for fact, words in facts_of(book, place, record)]
        if name.replace("-", " ") != record.name.lower():
            facts.insert(0, name)
        yield _entry_of_page(place, capitalised(KINDS[kind].noun), ("", ". ".join(facts)))


def other_index_entries(book: Book) -> Iterator[IndexEntry]:
    """The entries of questions across designs, orders, lots, symptoms, methods and cautions."""
    for name, place in book.places.compared.items():
        comparison = book.notebook.comparisons[name]
        question = comparison.record
        sentence = f"By {list_text(question.by)}, between {question.between}."
        yield _entry_of_page(
            place, "Question across designs",
            ("", sentence), (PROSE, comparison.body), ("", question.private or ""),
        )  # fmt: skip
    summaries = book.notebook.summaries
    for name, place in book.places.orders.items():
        order = book.notebook.orders[name].record
        designs = [summaries[one.design] for one in order.designs if one.design in summaries]
        sentence = f"Due {long_date(order.due)}: {list_text([one.title for one in designs])}."
        texts = tuple(("", text or "") for text in (sentence, order.customer, order.private))
        yield _entry_of_page(place, "Order", *texts)
    for place in book.places.lots.values():
        yield _entry_of_page(place, "Lot")
    symptoms = book.settings.all_symptoms()
    for symptom, place in symptom_places(failures_by_symptom(book)).items():
        text = ("", symptoms.get(symptom, ""))
        yield IndexEntry(place.path, capitalised(symptom), place.folio, "What failed", "", (text,))
    how = book.places.fixed("how")
    for method in METHODS:
        facts = ". ".join(f"{name}: {says}" for name, says in method.facts.items())
        told = f"{method.plain} {method.says} {facts}"
        yield _entry_of_part(how, method.anchor, method.name, _METHOD, told)
    yield _entry_of_page(POTS, _METHOD, ("", FIGURE_ENTRIES["forecast"].methods[0].says))
    safety = book.places.fixed("safety")
    for name in CAUTIONS:
        title, points = ENGLISH.text(f"safety.{name}"), ENGLISH.points(f"safety.{name}")
        yield _entry_of_part(safety, name, title, "Caution", " ".join(points))


def _entry_of_page(place: Address, kind: str, *texts: tuple[str, str]) -> IndexEntry:
    return IndexEntry(place.path, one_line(place.title), place.folio, kind, "", texts)


def _entry_of_part(page: Address, anchor: str, title: str, kind: str, text: str) -> IndexEntry:
    return IndexEntry(f"{page.path}#{anchor}", title, page.folio, kind, "", (("", text),))


def _design_texts(book: Book, design: Design) -> Iterator[tuple[str, str]]:
    """Pairs of an anchor and the text there, for everything written in a design."""
    yield "", design.summary
    yield "", f"{capitalised(list_text(design.subjects))}." if design.subjects else ""
    places = (book.places.thing(kind, name) for kind, name in design.things)
    made_with = [place.title for place in places if place is not None]
    trims = [f"{kind} trim" for kind in trims_of(design)]
    yield "", f"{'; '.join([*made_with, *trims])}." if made_with or trims else ""
    yield "order", "; ".join(_step_texts(design))
    names = [variant.name for variant in design.variants] if len(design.variants) > 1 else []
    question = f" Asked by {design.question.by}." if design.question is not None else ""
    yield "variants", f"Variants {variants_text(names)}.{question}" if names else ""
    has_records = design.id in book.places.batches
    for pour in design.pours:
        yield pour_anchor(pour.label), _pour_text(pour, pour.batch if has_records else "")
    for number, failure in enumerate(design.failed, start=1):
        parts = (capitalised(failure.what) + ".", failure.saw, failure.why, failure.mend)
        yield failed_anchor(number), " ".join(filter(None, parts))
    yield PROSE, design.body
    yield "photos", " ".join(photo.alt for photo in design.photos)
    yield "private", " ".join(filter(None, (design.private, *(p.private for p in design.pours))))


def trims_of(design: Design | DesignSummary) -> tuple[str, ...]:
    """The kinds of trim of a design's pieces ("close", "straight"), each once."""
    return tuple(
        dict.fromkeys(trim.kind for _, _, trim in design.overview.trims if trim is not None)
    )


def _step_texts(design: Design) -> Iterator[str]:
    """The names of layers and pots, the steps after each layer, and the colours aimed for."""
    for layer in design.recipe.layers:
        yield layer.name if layer.pot is None else f"{layer.name}, pot {layer.pot}"
        yield from layer.then
        yield from (f"aim for {one.aim}" for one in layer.dosed if one.aim)


def _pour_text(pour: Pour, batch: str) -> str:
    """A sentence with the date of a pour and its code, then its notes on bars and readings."""
    notes = [bar.note for bar in pour.bars if bar.note]
    notes += [reading.did for reading in pour.readings if " " in reading.did]
    poured = f"Pour {pour.label} on {long_date(pour.date)}{f', batch {batch}' if batch else ''}."
    return f"{poured} {'; '.join(notes)}" if notes else poured


def plain_prose(text: str) -> str:
    """A Markdown text without its signs, code fences and link addresses."""
    if not text.strip():
        return ""
    if "```" in text or "~~~" in text:
        text = _FENCE.sub("", text)
    if "]" in text:
        text = _REFERENCE.sub("", text)
        for _ in range(2):  # a picture may stand in a link
            text = _LINK.sub(r"\1", text)
    if "--" in text:
        text = _RULES.sub("", text)
    if "_" in text:
        text = _UNDERSCORES.sub("", text)
    return _HEAD_OF_LINE.sub("", text).translate(_SIGNS)


def one_line(text: str) -> str:
    """The text with each run of blanks and line breaks made one plain space."""
    return _BLANKS.sub(" ", text).strip()
