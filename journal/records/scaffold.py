"""The text of a new write-up: from nothing, or from an earlier design."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Literal

from msgspec import Struct

from journal.records.designs import DEVICES
from journal.records.source import split_write_up

# What a new design does not take over: what was poured, and what came of it.
LEFT_BEHIND = ("summary", "question", "pours", "failed", "photos", "private")
# Nor what is cut to the old mat and mould, where one of them is another.
CUT_TO_THEM = ("piece", "variants")
# What nobody could guess from the maker's answers stands as this, to be filled in.
TO_FILL = "…"


class Figures(Struct, frozen=True):
    """Figures of a first pour, in one system of units; common practice, no source."""

    detail: str
    overpour: str
    detail_pour: str
    body: str
    body_pour: str
    oil: str
    add: str
    room: str
    readings: tuple[str, str, str]


FIGURES: Mapping[Literal["us", "metric"], Figures] = {
    "us": Figures(
        "5 g", "8 g", "165-176 F", "3.4 oz", "122-132 F", "5 mL/lb", "135-145 F", "69 F",
        ("152 F", "140 F", "130 F"),
    ),
    "metric": Figures(
        "5 g", "8 g", "74-80 C", "96 g", "50-56 C", "11 mL/kg", "57-63 C", "21 C",
        ("67 C", "60 C", "54 C"),
    ),
}  # fmt: skip


class Begun(Struct, frozen=True):
    """What is known of a new design.

    ``base`` is what both layers are cast in at first; ``body`` is the mass of a bar's
    body as it is written, where the mould tells it.
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


def id_of(title: str, taken: Iterable[str]) -> str:
    """A design's id from its title: small letters, digits, hyphens; one that is free.

    Takes:  title  any text
            taken  ids that there are
    Gives:  1 to 64 characters; "design" for a title without a letter or digit
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "design"
    if name in DEVICES:
        name += "-design"
    used = set(taken)
    number, free = 2, name
    while free in used:
        free, number = f"{name}-{number}", number + 1
    return free


def new_write_up(begun: Begun) -> str:
    """A write-up to be filled in, commented just enough to need no manual."""
    figures = FIGURES[begun.units]
    lines = [
        "---",
        f"title: {quoted(begun.title)}",
        f"date: {begun.day.isoformat()}",
        "state: trial                # trial, keeper or set aside",
        f"# summary: {TO_FILL}                # one sentence, for lists and the head of the page",
        f"mat: {begun.mat}" if begun.mat else "# mat: an id of shelf/mats.yaml",
        f"mould: {begun.mould}" if begun.mould else "# mould: an id of shelf/moulds.yaml",
        *(["trim: straight 3 mm         # or close; how the piece is cut"] if begun.mat else []),
        f"bars: {begun.bars}{'':21}# the batch that the recipe is written for",
        "# subjects: [shoreline, two-tone]    # words to find it by",
        "",
        "layers:                     # in pouring order",
    ]
    if begun.mat:
        lines += [
            "  - name: detail",
            f"    base: {begun.base}",
            f"    amount: {figures.detail}             # base that stays, per bar",
            f"    overpour: {figures.overpour}           # poured over and scraped back, per bar",
            f"    pour: {figures.detail_pour}         # the window to pour in",
            "    spritz: after           # before, after or both",
            "    then: [rest 15 min, chill 10 min]",
        ]
    lines += [
        "  - name: body",
        f"    base: {begun.base}       # or {{one: 70 %, another: 30 %}}",
        f"    amount: {begun.body or figures.body}",
        f"    pour: {figures.body_pour}",
        f"    # fragrance: {{oil: an-id, dose: {figures.oil}, add: {figures.add}}}",
        "    # colours: [{colourant: an-id, dose: 1/4 tsp/lb}]    # or {colourant: an-id, by: eye}",
        "    # additives: [{additive: an-id, dose: 1 tbsp/lb}]",
        "    then: [unmould after 12 h, pare the edges]",
        "",
        "# variants:                 # each changes some of the above",
        "#   close: {trim: close}",
        "#   straight: {trim: straight 3 mm}",
        *_question_to_fill(begun.day),
        "",
        *_pours_to_fill(begun.day, figures),
        *_photos_to_fill(begun.photos),
        "---",
        "What was seen, and what to try next.",
        "",
    ]
    return "\n".join(lines)


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
    """A write-up that takes over the recipe of an earlier one.

    Takes:  text     the earlier design.md, with its line ends made equal
            path     where it stands
            origin   its id
            title    of the new design
            day      when it is begun
            changed  other keys of one value that are to be new, such as the mat
            units    of the lines that are left to fill in
            photos   names of the files in its folder of photos
    Gives:  the keys as they were written, with their comments, without what was poured
            and what came of it
    Fails:  ContentError if the earlier one cannot be read; ValueError if two of its keys
            stand on one line, so that none can be taken by itself
    """
    fresh = {
        "title": quoted(title), "date": day.isoformat(), "state": "trial", **changed,
        "grew_from": origin,
    }  # fmt: skip
    left = (*LEFT_BEHIND, *CUT_TO_THEM) if {"mat", "mould"} & changed.keys() else LEFT_BEHIND
    made: list[str] = []
    for key, lines in _by_key(text, path):
        if key in left:
            continue
        if key in fresh:
            comments = [line for line in lines if line.lstrip().startswith("#")]
            lines = [*comments, f"{key}: {fresh.pop(key)}"]
        made += lines
    while made and not made[-1].strip():
        made.pop()
    return "\n".join(
        [
            "---",
            *made,
            *(f"{key}: {value}" for key, value in fresh.items()),
            "",
            *_question_to_fill(day),
            *_pours_to_fill(day, FIGURES[units]),
            *_photos_to_fill(photos),
            "---",
            "What was changed, and why.",
            "",
        ]
    )


def quoted(text: str) -> str:
    """``text`` on one line as a YAML value: in quotes where it could be read as something else."""
    line = " ".join(text.split())
    plain = all(sign.isalnum() or sign in " ,.()’&/-" for sign in line)
    if plain and line[:1].isalpha():
        return line
    return '"' + line.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _by_key(text: str, path: str) -> list[tuple[str, list[str]]]:
    """The lines of a front matter by their top-level key, comments with what they stand over."""
    parts = split_write_up(text, path)
    lines = text.split("\n")
    end = parts.body_line - 2
    starts = sorted((at.line - 1, key) for key, at in parts.front.keys_at.items())
    if len({line for line, _ in starts}) < len(starts):
        raise ValueError("two keys stand on one line")
    begins = [1]
    for line, _ in starts[1:]:
        while line > begins[-1] + 1 and _is_between(lines[line - 1]):
            line -= 1
        begins.append(line)
    return [
        (key, lines[begin:stop])
        for (_, key), begin, stop in zip(starts, begins, [*begins[1:], end], strict=True)
    ]


def _is_between(line: str) -> bool:
    """Whether a line belongs to what follows: blank, or a comment that is not set in."""
    return not line.strip() or line.startswith("#")


def _question_to_fill(day: date) -> list[str]:
    return [
        f"# question: {{compare: [close, straight], by: lip, asked: {day.isoformat()},"
        " until: 3 pours}",
    ]


def _pours_to_fill(day: date, figures: Figures) -> list[str]:
    first, second, last = figures.readings
    return [
        "# pours:                    # the hash marks go when it is poured",
        "#   - pour: A",
        f"#     date: {day.isoformat()}",
        f"#     room: {figures.room}",
        "#     readings:",
        f"#       body: [[0:00, {first}, melted], [0:10, {second}], [0:22, {last}, poured]]",
        "#     bars:                 # with variants: {bar: A1, variant: close, …}",
        "#       - {bar: A1, lip: 0 mm, lifted: no, relief: 5, tidy: 1 min, keep: yes}",
        "# failed:",
        f"#   - {{what: lip, saw: {TO_FILL}, why: {TO_FILL}, mend: {TO_FILL}, mended: untested}}",
    ]


def _photos_to_fill(photos: Sequence[str]) -> list[str]:
    if not photos:
        return []
    lines = ["", "photos:                     # in the order they were taken"]
    for file in photos:
        lines += [
            f"  - file: photos/{file}",
            f"    alt: {TO_FILL}                  # what it shows, for those who do not see it",
            "    # bar: A1",
            "    # day: 0                # days since the pour",
            "    # scale: 0.08 mm/px     # or {from: [x, y], to: [x, y], is: 50 mm}, or card",
            "    # measure: {regions: {body: [x, y, w, h]}, across: [x1, y1, x2, y2]}",
        ]
    return lines
