"""The text of a new write-up: from nothing, or from an earlier design."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date

# What a new design does not take over: what was poured, and what came of it.
LEFT_BEHIND = ("question", "pours", "failed", "photos", "private", "summary")


def id_of(title: str, taken: Iterable[str]) -> str:
    """A design's id from its title: small letters, digits, hyphens; one that is free.

    Takes:  title  any text
            taken  ids that there are
    Gives:  1 to 60 characters; "design" for a title without a letter or digit
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "design"
    used = set(taken)
    number, free = 2, name
    while free in used:
        free, number = f"{name}-{number}", number + 1
    return free


def new_write_up(
    title: str,
    day: date,
    mat: str | None,
    mould: str | None,
    bases: Sequence[str],
    photos: Sequence[str] = (),
) -> str:
    """A write-up to be filled in, commented just enough to need no manual."""
    base = bases[0] if bases else "a-base"
    lines = [
        "---",
        f"title: {quoted(title)}",
        f"date: {day.isoformat()}",
        "state: trial                # trial, keeper or set aside",
        "summary: …",
        f"mat: {mat}" if mat else "# mat: an id of shelf/mats.yaml",
        f"mould: {mould}" if mould else "# mould: an id of shelf/moulds.yaml",
        "trim: straight 3 mm         # close, or straight with a margin" if mat else "",
        "bars: 6                     # the batch that the recipe is written for",
        "",
        "layers:                     # in pouring order",
    ]
    if mat:
        lines += [
            "  - name: detail",
            f"    base: {base}",
            "    amount: 5 g             # stays, per bar",
            "    over: 8 g               # poured over and scraped back, per bar",
            "    pour: 165-176 F",
            "    spritz: after",
            "    then: [rest 15 min, chill 10 min]",
        ]
    lines += [
        "  - name: body",
        f"    base: {base}            # or {{one: 70 %, another: 30 %}}",
        "    amount: 3.4 oz",
        "    pour: 122-132 F",
        "    # fragrance: {oil: an-oil, dose: 5 mL/lb, add: 135-145 F}",
        "    # colours: [{colourant: a-colour, dose: 1/4 tsp/lb}]",
        "    then: [unmould after 12 h, peel, pare the edges]",
        "",
        "# variants:                 # each changes some of the above",
        "#   close: {trim: close}",
        "#   straight: {trim: straight 3 mm}",
        "# question: {compare: [close, straight], by: lip, asked: "
        f"{day.isoformat()}, until: 3 pours}}",
        "",
        *_pours_to_fill(day),
        *_photos_to_fill(photos),
        "---",
        "What was seen, and what to try next.",
        "",
    ]
    return "\n".join(line for line in lines if line is not None)


def write_up_from(text: str, origin: str, title: str, day: date, photos: Sequence[str] = ()) -> str:
    """A write-up that takes over the recipe of an earlier one.

    Takes:  text    the earlier design.md, with line ends made equal
            origin  its id
    Gives:  its keys as they were written, without what was poured and what came of it
    """
    front = text.split("\n---", 1)[0].split("\n")[1:]
    kept = [line for key, lines in _by_key(front) if key not in LEFT_BEHIND for line in lines]
    fresh = {
        "title": f"title: {quoted(title)}",
        "date": f"date: {day.isoformat()}",
        "state": "state: trial",
        "grew_from": f"grew_from: {origin}",
    }
    made: list[str] = []
    for line in kept:
        key = _key(line)
        made.append(fresh.pop(key) if key in fresh else line)
    while made and not made[-1].strip():
        made.pop()
    return "\n".join(
        [
            "---",
            *fresh.values(),
            *made,
            "",
            *_pours_to_fill(day),
            *_photos_to_fill(photos),
            "---",
            "What was changed, and why.",
            "",
        ]
    )


def quoted(text: str) -> str:
    """``text`` as a YAML value: in quotes where it could be read as something else."""
    if re.fullmatch(r"[A-Za-z][A-Za-z0-9 ,.()’&/-]*", text) and not text.endswith(" "):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _key(line: str) -> str:
    found = re.match(r"([A-Za-z_]+)\s*:", line)
    return found[1] if found else ""


def _by_key(lines: Iterable[str]) -> list[tuple[str, list[str]]]:
    """The lines of a front matter, parted at its top-level keys."""
    parts: list[tuple[str, list[str]]] = [("", [])]
    for line in lines:
        key = _key(line)
        if key:
            parts.append((key, []))
        parts[-1][1].append(line)
    return parts


def _pours_to_fill(day: date) -> list[str]:
    return [
        "# pours:",
        "#   - pour: A",
        f"#     date: {day.isoformat()}",
        "#     room: 69 F",
        "#     readings:",
        "#       body: [[0:00, 152 F, melted], [0:10, 140 F, scented], [0:22, 130 F, poured]]",
        "#     poured: {body: 130 F}",
        "#     bars:",
        "#       - {bar: A1, lip: 0 mm, lifted: no, relief: 5, tidy: 1 min, keep: yes}",
        "# failed:",
        "#   - {what: lip, saw: …, why: …, mend: …, mended: untested}",
    ]


def _photos_to_fill(photos: Sequence[str]) -> list[str]:
    if not photos:
        return []
    lines = ["photos:"]
    for file in photos:
        lines += [
            f"  - file: photos/{file}",
            "    alt: …                  # what it shows, for those who do not see it",
            "    # bar: A1",
            "    # day: 0",
            "    # scale: 0.08 mm/px     # or {from: [x, y], to: [x, y], is: 50 mm}, or card",
            "    # measure: {regions: {body: [x, y, w, h]}, across: [x1, y1, x2, y2]}",
        ]
    return lines
