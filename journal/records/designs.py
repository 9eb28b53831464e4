"""Read one folder of ``designs/`` to a design, and check it by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import NamedTuple

from journal.errors import ContentError, Position, Problem, QuantityError
from journal.quantities.number import excerpt
from journal.records.models import write_up as write_ups
from journal.records.models.design_reader import DesignReader
from journal.records.models.fields import plain_id, spelling_hint, unknown_name, validated
from journal.records.models.links import pictures_in
from journal.records.models.pours import DROPPED, DROPPED_HINT, PourReader, says_dropped
from journal.records.models.prose import prose_problems
from journal.records.models.salvage import salvage
from journal.records.models.settings import Measure, Settings, read_measure_difference
from journal.records.models.summary import overview_of
from journal.records.models.things import things_of
from journal.records.models.variants import read_variants
from journal.records.yaml.source import (
    FrontMatterDocument,
    is_file,
    path_in_notebook,
    read_text,
    split_write_up,
    stays_in_notebook,
)
from journal.records.yaml.tree import SourceTree, WrittenTable, position_of

# What may a folder of a design, or an entry of the shelf, be called? Plain words, so that
# the name is a page's address on every system.
ID = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")
# A title, date or state on one line, as plain or quoted text that needs no YAML parser.
_HEAD_LINE = re.compile(
    r"^(title|date|state):[ \t]+"
    r"""("[^"\\\n]+"|'[^'\n]+'|[^\s"'\[\]{}|>&*!%@`#,?:-][^#:\n]*?)[ \t]*$""",
    re.MULTILINE,
)
# Names that one common system keeps for devices.
DEVICES = frozenset(
    ["con", "prn", "aux", "nul"] + [f"{n}{i}" for n in ("com", "lpt") for i in range(1, 10)]
)
# Names of the notebook's own pages among those of designs, comparisons and orders.
OWN_PAGES = frozenset(["index"])
ID_HINT = "Use small letters a-z, digits and hyphens, such as kelp-on-slate."


def bad_id(name: str) -> bool:
    """Whether ``name`` is not allowed as an id."""
    return ID.fullmatch(name) is None or name in DEVICES


def id_hint(text: str) -> str:
    """The hint for a text that is no id: the id that it would be."""
    plain = plain_id(text)
    return ID_HINT if bad_id(plain) else f"Write {plain}: small letters a-z, digits and hyphens."


def bad_page_id(name: str) -> bool:
    """Whether no page of a design, a question or an order can have ``name``."""
    return bad_id(name) or name in OWN_PAGES


class ReadDesign(NamedTuple):
    """A design; ``sound`` is False if some faulty part of the write-up was left out of it."""

    design: write_ups.Design
    sound: bool


def read_design(
    root: Path,
    design_id: str,
    settings: Settings,
    settings_are_whole: bool,
    problems: list[Problem],
) -> ReadDesign | None:
    """Read the design in ``designs/<design_id>``; None if too little of it can be read.

    Takes:  the notebook's folder, the design's id, the studio's settings, and whether those
            are whole; if not, unknown measures and symptoms are not reported; another
            text that is to stand in the write-up, None for the file's own
    Gives:  a design whenever its layers can be read, even beside other errors
    Fails:  never; everything wrong is added to ``problems``
    """
    try:
        text = read_text(root, f"designs/{design_id}/design.md")
    except ContentError as error:
        problems.extend(error.problems)
        return None
    return design_of(root, design_id, text, settings, settings_are_whole, problems)


def design_of(
    root: Path,
    design_id: str,
    text: str,
    settings: Settings,
    settings_are_whole: bool,
    problems: list[Problem],
) -> ReadDesign | None:
    """``read_design`` of a text that need not stand in a file yet."""
    folder = f"designs/{design_id}"
    path = f"{folder}/design.md"
    try:
        parts = split_write_up(text, path, problems)
    except ContentError as error:
        problems.extend(error.problems)
        return None
    problems.extend(prose_problems(parts.body, path, parts.body_line))
    front = parts.front
    write_up, sound = validated(write_ups.WriteUp, front, "design", problems), True
    if write_up is None:
        salvaged, sound = salvage(write_ups.WriteUp, front), False
        if salvaged is None:
            return None
        write_up, front = salvaged
    # The recipe's parts have been checked as those of the write-up.
    recipe = write_ups.Recipe.model_construct(
        **{key: getattr(write_up, key) for key in write_ups.RECIPE_KEYS}
    )
    variants = read_variants(front, recipe, problems)
    if not variants.readable:
        return None
    measures = settings.all_measures()
    reader = DesignReader(root, folder, problems)
    pour_reader = PourReader(reader, variants, measures, settings_are_whole)
    pours = pour_reader.read_pours(front.get("pours"))
    design = write_ups.Design(
        id=design_id,
        path=path,
        title=write_up.title,
        date=write_up.date,
        state=write_up.state,
        summary=write_up.summary or "",
        subjects=write_up.subjects,
        grew_from=write_up.grew_from,
        recipe=recipe,
        variants=variants.readable,
        groups=variants.groups,
        question=write_up.question,
        plan=write_up.plan,
        pours=pours,
        failed=write_up.failed,
        photos=write_up.photos,
        private=write_up.private,
        body=parts.body,
        body_line=parts.body_line,
        source=SourceTree(front),
        files=(path, *reader.files),
        things=things_of((recipe, *(variant.recipe for variant in variants.readable)), pours),
        pictures=tuple(_pictures(front, write_up.photos, parts, path)),
        overview=overview_of(recipe, variants.readable, pours),
    )
    names = (*variants.names, *(choice for group in variants.groups.values() for choice in group))
    # What a variant leaves as it is has the same fault in every variant, at the same place.
    problems.extend(dict.fromkeys(p for one in recipes_of(design) for p in _recipe_problems(one)))
    bars = None if pour_reader.bars_unread else list(pour_reader.bar_positions)
    problems.extend(_unknown_variants_and_bars(design, names, bars))
    problems.extend(_dropped_bars_judged(design))
    if settings_are_whole:
        problems.extend(_unknown_symptoms(design, settings.all_symptoms()))
    if design.question is not None:
        known_measures = measures if settings_are_whole else None
        problems.extend(_question_problems(design, design.question, names, known_measures))
    if design.plan is not None:
        problems.extend(_plan_problems(design, design.plan))
    for number, photo in enumerate(design.photos):
        at = position_of(front, "photos", number, "file")
        problem = photo_problem(photo.file, at, design, root)
        problems.extend([problem] if problem is not None else ())
    return ReadDesign(design, sound and len(variants.readable) == len(variants.names))


class WrittenHead(NamedTuple):
    """Title, date and state of a write-up; the state is "" if it is not known."""

    title: str
    date: date | None
    state: str


def written_head(root: Path, design_id: str) -> WrittenHead:
    """Title, date and state of a write-up that cannot be parsed, read line by line.

    The id stands in for a title that is not found.
    """
    try:
        text = read_text(root, f"designs/{design_id}/design.md")
    except ContentError:
        return WrittenHead(design_id, None, "")
    front = text.removeprefix("---\n").partition("\n---")[0]
    head = {line[1]: line[2].strip("\"'") for line in _HEAD_LINE.finditer(front)}
    try:
        day = date.fromisoformat(head.get("date", ""))
    except ValueError:
        day = None
    return WrittenHead(head.get("title", design_id), day, head.get("state", ""))


def _pictures(
    front: WrittenTable, photos: Sequence[write_ups.Photo], parts: FrontMatterDocument, path: str
) -> Iterator[tuple[Position, str]]:
    """Yield the position of each mention of a picture, and the picture's path in the notebook."""
    folder = path.rpartition("/")[0]
    for number, photo in enumerate(photos):
        file = path_in_notebook(photo.file, folder)
        if file is not None:
            yield position_of(front, "photos", number, "file"), file
    yield from pictures_in(parts.body, path, parts.body_line)


def recipes_of(design: write_ups.Design) -> tuple[write_ups.Variant, ...]:
    """The variants of a design, after the recipe as written if that is none of them."""
    if any(variant.name == write_ups.AS_WRITTEN for variant in design.variants):
        return design.variants
    return (design.as_written, *design.variants)


def _unknown_variants_and_bars(
    design: write_ups.Design, variants: Sequence[str], bars: Sequence[str] | None
) -> Iterator[Problem]:
    """Yield a problem for each unknown variant or bar that a failure or a photo names.

    ``bars`` is None if some could not be read; then no bar is unknown.
    """
    named: Mapping[str, tuple[write_ups.Failure | write_ups.Photo, ...]] = {
        "failed": design.failed, "photos": design.photos,
    }  # fmt: skip
    for kind, entries in named.items():
        for number, entry in enumerate(entries):
            for key, name, names in (
                ("variant", entry.variant, variants),
                ("bar", entry.bar, bars),
            ):
                if name is not None and names is not None and name not in names:
                    at = position_of(design.written, kind, number, key)
                    yield unknown_name(name, at, names, key)


def _dropped_bars_judged(design: write_ups.Design) -> Iterator[Problem]:
    """Ask about each failure of a bar that was dropped and is counted as not fit to sell.

    Where the bar's own note says so, it has been asked about there.
    """
    judged = {bar.bar: bar for bar in design.bars if bar.measures.get("keep") is False}
    for number, failure in enumerate(design.failed):
        bar = judged.get(failure.bar or "")
        if bar is None or says_dropped(bar.note):
            continue
        if says_dropped(failure.saw) or says_dropped(failure.why or ""):
            at = position_of(design.written, "failed", number, "bar")
            yield Problem(at, DROPPED, DROPPED_HINT, warning=True)


def _unknown_symptoms(design: write_ups.Design, symptoms: Mapping[str, str]) -> Iterator[Problem]:
    """Yield a problem for each failure whose symptom is none of ``symptoms``."""
    for number, failure in enumerate(design.failed):
        if failure.what not in symptoms:
            at = position_of(design.written, "failed", number, "what")
            hint = spelling_hint(failure.what, symptoms, "symptom")
            what = f"{excerpt(failure.what)} is no known symptom"
            yield Problem(at, what, f"{hint} More can be named in journal.yaml.")


def photo_problem(file: str, at: Position, design: write_ups.Design, root: Path) -> Problem | None:
    """The problem that the path of a photo leads to no photo in the notebook; None if it does."""
    path = path_in_notebook(file, design.path.rpartition("/")[0])
    if path is None or not stays_in_notebook(root, path):
        return Problem(at, f"{excerpt(file)} leads out of the notebook", "Keep photos inside it.")
    if not is_file(root, path):
        return Problem(at, f"there is no photo {excerpt(file)}", "Put it there, or mend its name.")
    return None


def _recipe_problems(variant: write_ups.Variant) -> Iterator[Problem]:
    """Yield problems within one recipe: equal names of layers, doses, two bases in one pot."""
    tree = variant.written
    first_index: dict[str, int] = {}
    pots: dict[str, write_ups.Layer] = {}
    for number, layer in enumerate(variant.recipe.layers):
        if layer.name in first_index:
            first = position_of(tree, "layers", first_index[layer.name], "name")
            what = f"two layers are called {excerpt(layer.name)}, first on line {first.line}"
            yield Problem(position_of(tree, "layers", number, "name"), what, "Rename one.")
        first_index.setdefault(layer.name, number)
        for key in write_ups.DOSED:
            for index, one in enumerate(getattr(layer, key)):
                if (one.dose is None) == (one.by is None):
                    at = position_of(tree, "layers", number, key, index)
                    what = f"{'a colour' if key == 'colours' else 'an additive'} is dosed, or done"
                    yield Problem(at, f"{what} by eye", "Write dose: …, or by: eye.")
        if pots.setdefault(layer.pot_name, layer).base != layer.base:
            at = position_of(tree, "layers", number, "base")
            what = f"the pot {excerpt(layer.pot_name)} would hold two bases"
            yield Problem(at, what, "Give the layer a pot of its own, or the same base.")


def _plan_problems(design: write_ups.Design, plan: write_ups.WrittenPlan) -> Iterator[Problem]:
    """Yield problems of a plan: nothing to plan for, too many pots, fewer than are waited for."""

    def place(*path: str | int) -> Position:
        return position_of(design.written, "plan", *path)

    question = design.question
    if question is None:
        hint = "Write the question that the test is to decide, or leave the plan away."
        yield Problem(place(), "a plan is laid out for a question, and there is none", hint)
        return
    if plan.pots > write_ups.MOST_PLANNED_POTS:
        what = f"a plan of {plan.pots} pots is too long to lay out"
        yield Problem(place("pots"), what, f"Write up to {write_ups.MOST_PLANNED_POTS}.")
    until = question.until
    if until.of == "pours" and plan.pots < until.number:
        what = f"the plan ends before the question is decided, at {until.number} pours"
        hint = f"Write pots: {until.number}, or a smaller until."
        yield Problem(place("pots"), what, hint, warning=True)
    compared = write_ups.names_compared(design.groups, question)
    if plan.bars is not None and plan.bars > write_ups.MOST_PLANNED_BARS:
        what = f"a pot of {plan.bars} bars is too large to lay out"
        yield Problem(place("bars"), what, f"Write up to {write_ups.MOST_PLANNED_BARS}.")
    if plan.bars is not None and plan.bars < len(compared):
        what = f"a pot of {plan.bars} cannot hold {len(compared)} variants"
        yield Problem(place("bars"), what, f"Write {len(compared)} or more.")


def _question_problems(
    design: write_ups.Design,
    question: write_ups.Question,
    names: Sequence[str],
    measures: Mapping[str, Measure] | None,
) -> Iterator[Problem]:
    """Yield problems of the names in a design's question; of measures unless these are None."""

    def place(*path: str | int) -> Position:
        return position_of(design.written, "question", *path)

    if len(question.compare) == 1:
        if question.compare[0] not in design.groups:
            what = f"{excerpt(question.compare[0])} is no group of variants"
            hint = "Write a group's name, or two variants: [close, straight]."
            yield Problem(place("compare"), what, hint)
    else:
        for number, name in enumerate(question.compare):
            if name not in names:
                yield unknown_name(name, place("compare", number), names, "variant")
            elif name in question.compare[:number]:
                what = f"{excerpt(name)} stands here twice"
                yield Problem(place("compare", number), what, "Name it once.")
    until, (first, last) = question.until, write_ups.EACH_POUR
    if question.looks and not (until.of == "pours" and first <= until.number <= last):
        hint = 'Write "until: 3 pours", say, or leave "looks" away.'
        yield Problem(
            place("looks"), f"looks at each pour begin with {first} to {last} pours", hint
        )
    if measures is None:
        return
    measure = measures.get(question.by)
    if measure is None or measure.better is None:
        deciding = [name for name, measure in measures.items() if measure.better is not None]
        what = f"{excerpt(question.by)} is no measure that can decide"
        yield Problem(place("by"), what, spelling_hint(question.by, deciding))
    elif question.matters is not None:
        try:
            read_measure_difference(question.matters, measure.kind)
        except QuantityError as error:
            yield Problem(place("matters"), error.what, error.hint)
