"""Make the text of a new write-up, blank or from an earlier design."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Literal

from msgspec import Struct

from journal.records.designs import DEVICES, OWN_PAGES
from journal.records.models.fields import plain_id
from journal.records.models.variants import groups_of
from journal.records.yaml.source import split_write_up
from journal.records.yaml.tree import WrittenList, WrittenTable, WrittenText

# Keys that are not copied from an earlier design: its pours and their results.
LEFT_BEHIND = ("summary", "question", "plan", "pours", "failed", "photos", "private")
# Keys that are not copied either if the mat or the mould is another.
CUT_TO_THEM = ("piece", "variants")
# Keys of a test that the text offers behind hash marks.
OFFERED_TEST = ("question", "plan")
# Stands in the text for what the maker has to fill in.
TO_FILL = "…"


# Figures of a first pour, in each system of units; common practice, no source.
FIGURES: Mapping[Literal["us", "metric"], Mapping[str, str]] = {
    "us": {
        "detail": "5 g", "overpour": "8 g", "detail_pour": "165-176 F",
        "body": "3.4 oz", "body_pour": "122-132 F", "oil": "5 mL/lb", "add": "135-145 F",
        "room": "69 F", "first": "152 F", "second": "140 F", "last": "130 F",
    },
    "metric": {
        "detail": "5 g", "overpour": "8 g", "detail_pour": "74-80 C",
        "body": "96 g", "body_pour": "50-56 C", "oil": "11 mL/kg", "add": "57-63 C",
        "room": "21 C", "first": "67 C", "second": "60 C", "last": "54 C",
    },
}  # fmt: skip


class NewWriteUp(Struct, frozen=True):
    """The values that a new write-up begins with.

    ``base`` is the base of both layers; ``body`` is the mass of a bar's body as text, None if
    the mould does not say it; ``photos`` are file names.
    """

    title: str
    day: date
    base: str
    mat: str | None = None
    mould: str | None = None
    bars: int = 6
    body: str | None = None
    units: Literal["us", "metric"] = "us"
    photos: tuple[str, ...] = ()


def id_of(title: str, used: Iterable[str]) -> str:
    """Make an unused id from a design's title: small letters, digits and hyphens.

    Takes:  title  any text
            used   ids that there are
    Gives:  1 to 64 characters; "design" for a title without a letter a to z or digit
    """
    name = plain_id(title)[:60].strip("-") or "design"
    if name in DEVICES or name in OWN_PAGES:
        name += "-design"
    # On many disks capitals make no other name.
    ids = {one.casefold() for one in used}
    numbered = (f"{name}-{number}" for number in itertools.count(2))
    return next(
        candidate for candidate in itertools.chain([name], numbered) if candidate not in ids
    )


def new_write_up(new: NewWriteUp) -> str:
    """Make the text of a write-up to be filled in, with comments that explain it."""
    return _rendered(
        new.day, new.units, new.photos, title=yaml_value(new.title), base=new.base,
        mat=new.mat, mould=new.mould, bars=new.bars, body=new.body,
    )  # fmt: skip


def _rendered(
    day: date, units: Literal["us", "metric"], photos: Sequence[str], **values: object
) -> str:
    """Fill in the template of a write-up; ``values`` are further names that it uses."""
    # Loaded here: the commands that only check a notebook need no templates.
    from jinja2 import StrictUndefined, Template

    template = Template(
        Path(__file__).with_name("write_up.jinja").read_text("utf-8"),
        trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True,
        undefined=StrictUndefined,
    )  # fmt: skip
    usual = {"recipe": "", "compare": "", "of_variant": named_by_bars(None)}
    text: str = template.render(
        **{**usual, **values}, day=day.isoformat(), figures=FIGURES[units],
        photos=photos, to_fill=TO_FILL,
    )  # fmt: skip
    return text


def write_up_from(
    text: str,
    path: str,
    origin: str,
    title: str,
    day: date,
    changed: Mapping[str, str],
    units: Literal["us", "metric"] = "us",
    photos: Sequence[str] = (),
) -> str:
    """Make the text of a write-up with the recipe of an earlier one.

    Takes:  text     the earlier design.md, with its line ends made equal
            path     where it stands
            origin   its id
            title    of the new design
            day      when it is begun
            changed  new values of other keys, such as the mat
            units    of the example figures to be filled in
            photos   names of the files in its folder of photos
    Gives:  the earlier keys as they were written, with their comments, but for pours and results
    Fails:  ContentError if the earlier one cannot be read; ValueError if two of its keys
            stand on one line, so that they cannot be copied one by one
    """
    new_values = {
        "title": yaml_value(title), "date": day.isoformat(), "state": "trial", **changed,
        "grew_from": origin,
    }  # fmt: skip
    omitted = (*LEFT_BEHIND, *CUT_TO_THEM) if {"mat", "mould"} & changed.keys() else LEFT_BEHIND
    recipe_lines: list[str] = []
    for key, lines in _lines_by_key(text, path):
        if key in omitted:
            continue
        if key in new_values:
            comments = [line for line in lines if line.lstrip().startswith("#")]
            lines = [*comments, f"{key}: {new_values.pop(key)}"]
        recipe_lines += lines
    while recipe_lines and not recipe_lines[-1].strip():
        recipe_lines.pop()
    recipe = "\n".join([*recipe_lines, *(f"{key}: {value}" for key, value in new_values.items())])
    front = split_write_up(text, path).front
    variants = None if "variants" in omitted else front.get("variants")
    return _rendered(
        day, units, photos, recipe=recipe, compare=compared_in(variants),
        of_variant=named_by_bars(variants),
    )  # fmt: skip


def with_offered_test(text: str) -> str:
    """The text of a new write-up with the test that it offers, as if its hash marks were gone."""
    lines = text.split("\n")
    offered = tuple(f"# {key}:" for key in OFFERED_TEST)
    return "\n".join(line[2:] if line.startswith(offered) else line for line in lines)


def with_last_amount(text: str, amount: str) -> str:
    """The text of a write-up with another amount of its last layer; as it is, if none is found."""
    layers = split_write_up(text, "").front.get("layers")
    layer = layers[-1] if isinstance(layers, WrittenList) and layers else None
    written = layer.get("amount") if isinstance(layer, WrittenTable) else None
    if not isinstance(written, WrittenText):
        return text
    lines = text.split("\n")
    line, start = lines[written.at.line - 1], written.at.column - 1
    if line[start : start + len(written)] != written:
        return text
    lines[written.at.line - 1] = line[:start] + amount + line[start + len(written) :]
    return "\n".join(lines)


def named_by_bars(variants: object) -> str:
    """What a row of a bar says of its variant, such as ``variant: close``; of groups, of each."""
    if not isinstance(variants, WrittenTable) or not variants:
        return "variant: close"
    first = {name: next(iter(variants[name])) for name in groups_of(variants, []) or ()}
    first = first or {"variant": next(iter(variants))}
    return ", ".join(f"{yaml_value(key)}: {yaml_value(name)}" for key, name in first.items())


def compared_in(variants: object) -> str:
    """What a question compares, as YAML: the variants of a write-up, or its first group of them.

    "" where it has none.
    """
    if not isinstance(variants, WrittenTable) or not variants:
        return ""
    groups = groups_of(variants, [])
    if groups:
        return yaml_value(groups[0])
    names = [yaml_value(name) for name in variants]
    return f"[{', '.join(names if len(names) > 1 else [*names, TO_FILL])}]"


def yaml_value(text: str) -> str:
    """``text`` on one line as a YAML value: in quotes where it could be read as something else."""
    line = " ".join(text.split())
    plain = all(sign.isalnum() or sign in " ,.()’&/-" for sign in line)
    if plain and line[:1].isalpha():
        return line
    return '"' + line.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _lines_by_key(text: str, path: str) -> list[tuple[str, list[str]]]:
    """Split a front matter into (top-level key, its lines); comments go with the key below."""
    parts = split_write_up(text, path)
    lines = text.split("\n")
    end = parts.body_line - 2
    starts = sorted((at.line - 1, key) for key, at in parts.front.keys_at.items())
    if len({line for line, _ in starts}) < len(starts):
        raise ValueError("two keys stand on one line")
    begins = [1]
    for line, _ in starts[1:]:
        while line > begins[-1] + 1 and _belongs_below(lines[line - 1]):
            line -= 1
        begins.append(line)
    return [
        (key, lines[begin:stop])
        for (_, key), begin, stop in zip(starts, begins, [*begins[1:], end], strict=True)
    ]


def _belongs_below(line: str) -> bool:
    """Whether a line belongs to the key below it: it is blank or an unindented comment."""
    return not line.strip() or line.startswith("#")
