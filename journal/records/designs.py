"""One folder of ``designs/`` -> a design, checked by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from journal.errors import ContentError, Position, Problem, QuantityError
from journal.quantities.number import quoted
from journal.records.gather import Gather
from journal.records.pours import PourReader
from journal.records.settings import Measure, read_measure_difference
from journal.records.source import (
    Table,
    inside,
    is_file,
    keeps_inside,
    place,
    read_text,
    split_write_up,
)
from journal.records.typed import checked, nearest
from journal.records.variants import RECIPE_KEYS, Variants, read_variants, recipe_tree
from journal.records.write_up import Design, Failure, Layer, Photo, Recipe, Variant, WriteUp

# What may a folder of a design, or an entry of the shelf, be called? Plain words, so that
# the name is a page's address on every system.
ID = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")
# Names that one common system keeps for devices.
DEVICES = frozenset(
    ["con", "prn", "aux", "nul"] + [f"{n}{i}" for n in ("com", "lpt") for i in range(1, 10)]
)
ID_MEND = "Use small letters a-z, digits and hyphens, such as kelp-on-slate."


def bad_id(name: str) -> bool:
    """Whether ``name`` cannot be an id."""
    return ID.fullmatch(name) is None or name in DEVICES


def read_design(
    root: Path,
    design_id: str,
    measures: Mapping[str, Measure],
    symptoms: Mapping[str, str],
    problems: list[Problem],
) -> Design | None:
    """The design in ``designs/<design_id>``, or None if too little of it can be read.

    Takes:  the notebook's folder, the design's id, the measures and symptoms known
    Gives:  a ``Design`` whenever its recipe can be read, even beside other errors
    Fails:  never; everything wrong is added to ``problems``
    """
    folder = f"designs/{design_id}"
    path = f"{folder}/design.md"
    try:
        parts = split_write_up(read_text(root, path), path, problems)
    except ContentError as error:
        problems.extend(error.problems)
        return None
    front = parts.front
    write_up = checked(WriteUp, front, "design", problems)
    recipe = _recipe(front, write_up)
    if recipe is None:
        # Without a recipe, names in variants and pours cannot be judged.
        return None
    variants = read_variants(front, recipe, problems)
    if not variants.made:
        return None
    gather = Gather(root, folder, problems)
    pours = PourReader(gather, variants, measures).read_pours(front.get("pours"))
    if write_up is None:
        return None
    design = Design(
        id=design_id,
        path=path,
        title=write_up.title,
        date=write_up.date,
        state=write_up.state,
        summary=write_up.summary or "",
        subjects=write_up.subjects,
        grew_from=write_up.grew_from,
        recipe=recipe,
        variants=variants.made,
        groups=variants.groups,
        question=write_up.question,
        pours=pours,
        failed=write_up.failed,
        photos=write_up.photos,
        private=write_up.private,
        body=parts.body,
        body_line=parts.body_line,
        written=front,
        files=(path, *gather.files),
    )
    problems.extend(_within(design, variants, measures, symptoms, root))
    return design


def _recipe(front: Table, write_up: WriteUp | None) -> Recipe | None:
    """The recipe of a write-up; read by itself where something else of the write-up is wrong."""
    if write_up is None:
        return checked(Recipe, recipe_tree(front), "design", []) if "layers" in front else None
    # Its parts have been checked as those of the write-up.
    return Recipe.model_construct(**{key: getattr(write_up, key) for key in RECIPE_KEYS})


def _within(
    design: Design,
    variants: Variants,
    measures: Mapping[str, Measure],
    symptoms: Mapping[str, str],
    root: Path,
) -> list[Problem]:
    """What does not fit within one write-up."""
    problems: dict[Problem, None] = {}
    for variant in design.variants:
        problems.update(dict.fromkeys(_recipe_problems(variant)))
    found = list(problems)
    names = [*variants.names, *(choice for group in variants.groups.values() for choice in group)]
    found.extend(_question_problems(design, names, measures))
    bars = [bar.bar for bar in design.bars]
    named: tuple[tuple[str, tuple[Failure | Photo, ...]], ...] = (
        ("failed", design.failed),
        ("photos", design.photos),
    )
    for kind, entries in named:
        for number, entry in enumerate(entries):
            for key, name, known in (
                ("variant", entry.variant, names),
                ("bar", entry.bar, bars),
            ):
                if name is not None and name not in known:
                    found.append(
                        Problem(
                            place(design.written, kind, number, key),
                            f"no {key} is called {quoted(name)}",
                            nearest(name, known),
                        )
                    )
    for number, failure in enumerate(design.failed):
        if failure.what not in symptoms:
            found.append(
                Problem(
                    place(design.written, "failed", number, "what"),
                    f"{quoted(failure.what)} is no known symptom",
                    nearest(failure.what, symptoms) + " More can be named in journal.yaml.",
                )
            )
    for number, photo in enumerate(design.photos):
        missing = photo_problem(
            photo.file, place(design.written, "photos", number, "file"), design, root
        )
        if missing is not None:
            found.append(missing)
    return found


def photo_problem(file: str, at: Position, design: Design, root: Path) -> Problem | None:
    """What is wrong with the path of a photo, if anything."""
    path = inside(file, design.path.rpartition("/")[0])
    if path is None or not keeps_inside(root, path):
        return Problem(at, f"{quoted(file)} leads out of the notebook", "Keep photos inside it.")
    if not is_file(root, path):
        return Problem(at, f"there is no photo {quoted(file)}", "Put it there, or mend its name.")
    return None


def _recipe_problems(variant: Variant) -> Iterator[Problem]:
    tree = variant.written
    first_of: dict[str, int] = {}
    pots: dict[str, Layer] = {}
    for number, layer in enumerate(variant.recipe.layers):
        if layer.name in first_of:
            first = place(tree, "layers", first_of[layer.name], "name")
            yield Problem(
                place(tree, "layers", number, "name"),
                f"two layers are called {quoted(layer.name)}, first on line {first.line}",
                "Rename one.",
            )
        first_of.setdefault(layer.name, number)
        if layer.amount <= 0:
            yield Problem(
                place(tree, "layers", number, "amount"), "a layer of nothing", "Write its mass."
            )
        for index, colour in enumerate(layer.colours):
            if (colour.dose is None) == (colour.by is None):
                yield Problem(
                    place(tree, "layers", number, "colours", index),
                    "a colour is dosed, or done by eye",
                    "Write dose: …, or by: eye.",
                )
        if pots.setdefault(layer.pot_name, layer).base != layer.base:
            yield Problem(
                place(tree, "layers", number, "base"),
                f"the pot {quoted(layer.pot_name)} would hold two bases",
                "Give the layer a pot of its own, or the same base.",
            )


def _question_problems(
    design: Design, names: Sequence[str], measures: Mapping[str, Measure]
) -> list[Problem]:
    question = design.question
    if question is None:
        return []
    problems: list[Problem] = []
    at = place(design.written, "question", "compare")
    if len(question.compare) == 1:
        if question.compare[0] not in design.groups:
            problems.append(
                Problem(at, f"{quoted(question.compare[0])} is no group of variants",
                        "Write a group's name, or two variants: [close, straight].")
            )  # fmt: skip
    else:
        for number, name in enumerate(question.compare):
            if name not in names:
                problems.append(
                    Problem(place(design.written, "question", "compare", number),
                            f"no variant is called {quoted(name)}", nearest(name, names))
                )  # fmt: skip
    measure = measures.get(question.by)
    if measure is None or measure.better is None:
        known = [name for name, known in measures.items() if known.better is not None]
        problems.append(
            Problem(place(design.written, "question", "by"),
                    f"{quoted(question.by)} is no measure that can decide",
                    nearest(question.by, known))
        )  # fmt: skip
    elif question.matters is not None:
        try:
            read_measure_difference(question.matters, measure.kind)
        except QuantityError as error:
            problems.append(
                Problem(place(design.written, "question", "matters"), error.what, error.mend)
            )
    return problems
