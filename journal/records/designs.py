"""One folder of ``designs/`` -> a design, checked by itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from journal.errors import ContentError, Position, Problem, QuantityError
from journal.records.pours import PourReader
from journal.records.settings import Measure, read_measure_difference
from journal.records.source import inside, place, read_text, split_write_up
from journal.records.typed import checked, nearest
from journal.records.variants import read_variants, recipe_tree, variants_named
from journal.records.write_up import Design, Failure, Photo, Recipe, Variant, WriteUp

# What may a folder of a design, or an entry of the shelf, be called? Plain words, so that
# the name is a page's address on every system.
ID = re.compile(r"^[a-z0-9][a-z0-9-]{0,79}$")
# Names that one common system keeps for devices.
DEVICES = frozenset(
    ["con", "prn", "aux", "nul"] + [f"{n}{i}" for n in ("com", "lpt") for i in range(1, 10)]
)
ID_MEND = "Use small letters a-z, digits and hyphens, such as kelp-on-slate."


def bad_id(name: str) -> bool:
    """Whether ``name`` cannot be an id."""
    return ID.match(name) is None or name in DEVICES


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
        parts = split_write_up(read_text(root, path), path)
    except ContentError as error:
        problems.extend(error.problems)
        return None
    front = parts.front
    found: list[Problem] = []
    write_up = checked(WriteUp, front, "design", found)
    recipe = checked(Recipe, recipe_tree(front), "design", []) if "layers" in front else None
    variants, groups = read_variants(front, recipe, found) if recipe is not None else ((), {})
    reader = PourReader(root, folder, variants, groups, measures, found)
    # Without a recipe, names in pours cannot be judged.
    pours = reader.read_pours(front.get("pours")) if recipe is not None and variants else ()
    problems.extend(found)
    if write_up is None or recipe is None or not variants:
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
        variants=variants,
        groups=groups,
        question=write_up.question,
        pours=pours,
        failed=write_up.failed,
        photos=write_up.photos,
        private=write_up.private,
        body=parts.body,
        body_line=parts.body_line,
        written=front,
        files=(path, *reader.files),
    )
    problems.extend(_within(design, measures, symptoms, root))
    return design


def _within(
    design: Design, measures: Mapping[str, Measure], symptoms: Mapping[str, str], root: Path
) -> list[Problem]:
    """What does not fit within one write-up."""
    problems: list[Problem] = []
    for variant in design.variants:
        for problem in _recipe_problems(variant):
            if problem not in problems:
                problems.append(problem)
    problems.extend(_question_problems(design, measures))
    bars = [bar.bar for bar in design.bars]
    names = [variant.name for variant in design.variants]
    choices = [choice for group in design.groups.values() for choice in group]
    named: tuple[tuple[str, tuple[Failure | Photo, ...]], ...] = (
        ("failed", design.failed),
        ("photos", design.photos),
    )
    for kind, entries in named:
        for number, entry in enumerate(entries):
            if entry.variant is not None and entry.variant not in names + choices:
                problems.append(
                    Problem(
                        place(design.written, kind, number, "variant"),
                        f'no variant is called "{entry.variant}"',
                        nearest(entry.variant, names + choices),
                    )
                )
            if entry.bar is not None and entry.bar not in bars:
                problems.append(
                    Problem(
                        place(design.written, kind, number, "bar"),
                        f'no bar is called "{entry.bar}"',
                        nearest(entry.bar, bars),
                    )
                )
    for number, failure in enumerate(design.failed):
        if failure.what not in symptoms:
            problems.append(
                Problem(
                    place(design.written, "failed", number, "what"),
                    f'"{failure.what}" is no known symptom',
                    nearest(failure.what, symptoms) + " More can be named in journal.yaml.",
                )
            )
    for number, photo in enumerate(design.photos):
        missing = photo_problem(
            photo.file, place(design.written, "photos", number, "file"), design, root
        )
        if missing is not None:
            problems.append(missing)
    return problems


def photo_problem(file: str, at: Position, design: Design, root: Path) -> Problem | None:
    """What is wrong with the path of a photo, if anything."""
    path = inside(file, design.path.rpartition("/")[0])
    if path is None or not (root / path).resolve().is_relative_to(root.resolve()):
        return Problem(at, f'"{file}" leads out of the notebook', "Keep photos inside it.")
    if not (root / path).is_file():
        return Problem(at, f'there is no photo "{file}"', "Put it there, or mend its name.")
    return None


def _recipe_problems(variant: Variant) -> list[Problem]:
    problems: list[Problem] = []
    tree, recipe = variant.written, variant.recipe
    if not recipe.layers:
        problems.append(Problem(place(tree, "layers"), "there is no layer", "Write at least one."))
    if recipe.bars < 1:
        problems.append(
            Problem(place(tree, "bars"), "a batch has at least one bar", "Write 1 or more.")
        )
    seen: dict[str, Position] = {}
    for number, layer in enumerate(recipe.layers):
        at = place(tree, "layers", number, "name")
        if layer.name in seen:
            problems.append(
                Problem(
                    at,
                    f'two layers are called "{layer.name}", first on line {seen[layer.name].line}',
                    "Rename one.",
                )
            )
        seen[layer.name] = at
        if layer.amount <= 0:
            problems.append(
                Problem(
                    place(tree, "layers", number, "amount"), "a layer of nothing", "Write its mass."
                )
            )
        for index, colour in enumerate(layer.colours):
            place_c = place(tree, "layers", number, "colours", index)
            if (colour.dose is None) == (colour.by is None):
                problems.append(
                    Problem(
                        place_c, "a colour is dosed, or done by eye", "Write dose: …, or by: eye."
                    )
                )
        pots = [other for other in recipe.layers if other.pot_name == layer.pot_name]
        if any(other.base != pots[0].base for other in pots) and layer is not pots[0]:
            problems.append(
                Problem(
                    place(tree, "layers", number, "base"),
                    f'the pot "{layer.pot_name}" would hold two bases',
                    "Give the layer a pot of its own, or the same base.",
                )
            )
    return problems


def _question_problems(design: Design, measures: Mapping[str, Measure]) -> list[Problem]:
    question = design.question
    if question is None:
        return []
    problems: list[Problem] = []
    names = [variant.name for variant in design.variants]
    choices = [choice for group in design.groups.values() for choice in group]
    at = place(design.written, "question", "compare")
    if len(question.compare) == 1:
        if question.compare[0] not in design.groups:
            problems.append(
                Problem(at, f'"{question.compare[0]}" is no group of variants',
                        "Write a group's name, or two variants: [close, straight].")
            )  # fmt: skip
    else:
        for number, name in enumerate(question.compare):
            if not variants_named(design.variants, design.groups, name):
                problems.append(
                    Problem(place(design.written, "question", "compare", number),
                            f'no variant is called "{name}"', nearest(name, names + choices))
                )  # fmt: skip
    measure = measures.get(question.by)
    if measure is None or measure.better is None:
        known = [name for name, known in measures.items() if known.better is not None]
        problems.append(
            Problem(place(design.written, "question", "by"),
                    f'"{question.by}" is no measure that can decide', nearest(question.by, known))
        )  # fmt: skip
    elif question.matters is not None:
        try:
            read_measure_difference(question.matters, measure.kind)
        except QuantityError as error:
            problems.append(
                Problem(place(design.written, "question", "matters"), error.what, error.mend)
            )
    return problems
