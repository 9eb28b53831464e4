"""A notebook of any size from a seed: the demo's designs over and over, varied.

Every copy has its own id, title, days, amounts, temperatures and results, and
prose of its own put together from the demo's sentences; the shelf grows with the
designs as a studio's does. The demo's own designs stand among them unchanged, so
that its orders and comparisons hold. The same seed gives the same bytes.
"""

from __future__ import annotations

import random
import re
import shutil
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import yaml

#: How many designs come to one set of mats, pieces, oils and colourants.
DESIGNS_A_SHELF = 110
#: Kinds of which a studio gets more with the years; of the others it keeps to a few.
GROWING = ("mats", "pieces", "fragrances", "colourants")
WHEN = ("early", "late", "spring", "summer", "autumn", "winter", "market", "plain", "fine")
_TEXT = """the bar came out of the cavity clean at its foot and the edge of the relief held while
a corner near the lip had gone soft under the body so the next pot waits two minutes longer on the
bench before it is poured from the far side"""
WORDS = re.findall(r"\w+", _TEXT)

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_LINK = re.compile(r"!?\[[^\]]*\]\([^)]*\)|\[\^[^\]]*\]")
_PICTURE = re.compile(r"!\[([^\]]*)\]\([^)]*\)")
_PLAIN = re.compile(r"^[A-Za-z][^|\[\]#{}<>]*[.!?]$")


class _Dumper(yaml.SafeDumper):
    """Tables in a text keep their lines."""


def _written(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    style = "|" if "\n" in text else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _written)


def as_yaml(tree: dict[str, Any]) -> str:
    """A tree as text, written as the write-ups of the notebook are."""
    written: str = yaml.dump(
        tree,
        Dumper=_Dumper,
        allow_unicode=True,
        sort_keys=False,
        width=100,
        default_flow_style=None,
    )
    return written


def write_corpus(
    into: Path, demo: Path, designs: int, *, photos: int = 0, link: bool = True, seed: int = 7
) -> None:
    """Write a notebook's content.

    Takes:  into     a new folder
            demo     the content of the demo notebook
            designs  how many; the demo's own are the first of them
            photos   how many in all, spread over the designs; with none the demo's own are
                     taken out too
            link     give the demo's photos second names; else each is a file of its own
            seed     of everything that varies
    """
    rng = random.Random(seed)
    into.mkdir(parents=True)
    shutil.copyfile(demo / "journal.yaml", into / "journal.yaml")
    for name in ("comparisons", "orders"):
        shutil.copytree(demo / name, into / name)
    sets = max(1, designs // DESIGNS_A_SHELF)
    renamed = _write_shelf(into, demo, sets)
    shutil.copytree(demo / "designs", into / "designs")
    originals = sorted(path.name for path in (demo / "designs").iterdir() if path.is_dir())
    fronts = {name: taken_apart(demo / "designs" / name / "design.md") for name in originals}
    if not photos:
        for name, (front, body) in fronts.items():
            _take_photos_out(into / "designs" / name, front, body)
    sentences = sorted({s for _, body in fronts.values() for s in _sentences(body)})
    pictures = sorted((demo / "designs").glob("*/photos/*.jpg"))
    each, more = divmod(photos, max(1, designs))
    for number in range(designs - len(originals)):
        name = originals[number % len(originals)]
        copy, of_shelf = number // len(originals) + 2, rng.randrange(sets)
        front, _ = fronts[name]
        own = f"{name}-{copy:04d}"
        folder = into / "designs" / own
        folder.mkdir()
        if (demo / "designs" / name / "readings").is_dir():
            shutil.copytree(demo / "designs" / name / "readings", folder / "readings")
        varied = _varied(front, rng, renamed[of_shelf])
        varied["title"] = f"{front['title']}, {rng.choice(WHEN)} {copy}"
        if front.get("grew_from") and copy > 2:
            varied["grew_from"] = f"{front['grew_from']}-{copy - 1:04d}"
        varied.pop("photos", None)
        for pour in varied.get("pours", ()):
            pour.pop("batch", None)  # no two pours have one code
        taken = [
            add_photo(folder, rng.choice(pictures), at, link, rng)
            for at in range(each + (number < more))
        ]
        if taken:
            varied["photos"] = taken
        body = _prose(rng, sentences, own)
        put_together(folder / "design.md", varied, body)


def put_together(write_up: Path, front: dict[str, Any], body: str) -> None:
    """Write a write-up of what was taken apart."""
    write_up.write_text(f"---\n{as_yaml(front)}---\n{body}", "utf-8")


def _take_photos_out(folder: Path, front: dict[str, Any], body: str) -> None:
    bare = {key: value for key, value in front.items() if key != "photos"}
    text = _PICTURE.sub(r"\1", body)
    put_together(folder / "design.md", bare, text)
    shutil.rmtree(folder / "photos", ignore_errors=True)


def taken_apart(write_up: Path) -> tuple[dict[str, Any], str]:
    """The front matter of a write-up, every value a text, and its prose."""
    _, front, body = write_up.read_text("utf-8").split("---\n", 2)
    return yaml.load(front, Loader=yaml.CBaseLoader), body


def _sentences(body: str) -> list[str]:
    found = re.split(r"(?<=[.!?])\s+", _LINK.sub("", body))
    return [text for text in found if _PLAIN.match(text) and "\n" not in text]


def _write_shelf(into: Path, demo: Path, sets: int) -> list[dict[str, str]]:
    """Write the shelf, once for each set; gives the new ids by the old ones, a set each."""
    (into / "shelf").mkdir()
    if (demo / "shelf" / "outlines").is_dir():
        shutil.copytree(demo / "shelf" / "outlines", into / "shelf" / "outlines")
    renamed: list[dict[str, str]] = [{} for _ in range(sets)]
    for path in sorted((demo / "shelf").glob("*.yaml")):
        text = path.read_text("utf-8")
        if path.stem in GROWING:
            records = yaml.load(text, Loader=yaml.CBaseLoader)
            for number in range(1, sets):
                renamed[number] |= {name: f"{name}-set-{number + 1}" for name in records}
            for number in range(1, sets):
                more = {
                    f"{name}-set-{number + 1}": _of_set(record, number, renamed[number])
                    for name, record in records.items()
                }
                text += "\n" + as_yaml(more)
        (into / "shelf" / path.name).write_text(text, "utf-8")
    return renamed


def _of_set(record: dict[str, Any], number: int, renamed: dict[str, str]) -> dict[str, Any]:
    own = {**record, "name": f"{record['name']} {number + 1}"}
    for key in ("mat", "same_as"):
        if key in own:
            own[key] = renamed.get(own[key], f"{own[key]}-set-{number + 1}")
    return own


def _varied(front: dict[str, Any], rng: random.Random, renamed: dict[str, str]) -> dict[str, Any]:
    days = timedelta(days=-rng.randrange(3000))
    warmer = rng.choice((-1, 0, 0, 1))

    def of(value: Any, key: str) -> Any:
        if isinstance(value, dict):
            return {renamed.get(name, name): of(inner, name) for name, inner in value.items()}
        if isinstance(value, list):
            return [of(inner, key) for inner in value]
        if value in renamed and key not in ("what", "name", "pot", "bar", "variant"):
            return renamed[value]
        if _DAY.fullmatch(value):
            return (date.fromisoformat(value) + days).isoformat()
        if key in ("lip", "bleed", "run") and value.endswith(" mm") and value != "0 mm":
            return f"{max(0.1, float(value[:-3]) + rng.choice((-0.2, -0.1, 0, 0.1, 0.2))):.1f} mm"
        if key == "weight" and value.endswith(" g"):
            return f"{float(value[:-2]) + rng.choice((-0.4, -0.1, 0.2, 0.3)):.1f} g"
        if key in ("readings", "room") and re.fullmatch(r"\d+ F", value):
            return f"{int(value[:-2]) + warmer} F"
        if key == "amount" and re.fullmatch(r"[\d.]+ oz", value):
            return f"{float(value[:-3]) * rng.choice((0.96, 0.98, 1.0)):.2f} oz"
        return value

    def within(value: Any, key: str) -> Any:
        """Pots of readings are keyed by their names, so the key above them is what counts."""
        if isinstance(value, dict):
            return {
                renamed.get(name, name): (
                    {pot: of(rows, "readings") for pot, rows in inner.items()}
                    if name == "readings" and isinstance(inner, dict)
                    else within(inner, name)
                )
                for name, inner in value.items()
            }
        if isinstance(value, list):
            return [within(inner, key) for inner in value]
        return of(value, key)

    found: dict[str, Any] = within(front, "")
    return found


def _prose(rng: random.Random, sentences: list[str], own: str) -> str:
    parts = []
    for _ in range(rng.randint(4, 9)):
        chosen = rng.sample(sentences, k=min(len(sentences), rng.randint(2, 5)))
        made = " ".join(rng.choices(WORDS, k=rng.randint(6, 18)))
        chosen.append(f"{made[0].upper()}{made[1:]}, {rng.randint(40, 75)} of them.")
        kind = rng.random()
        if kind < 0.15:
            parts.append("\n".join(f"- {text}" for text in chosen))
        elif kind < 0.25:
            rows = "\n".join(f"| {rng.choice(WORDS)} | {rng.randint(1, 90)} |" for _ in range(4))
            parts.append(f"| what | how much |\n| --- | ---: |\n{rows}")
        else:
            parts.append(" ".join(chosen))
    parts.append(f"See [this one again](../{own}/design.md).")
    return "\n\n".join(parts) + "\n"


def add_photo(
    folder: Path, source: Path, number: int, link: bool, rng: random.Random
) -> dict[str, str]:
    """Put a photo into a design's folder; gives what its write-up says of it."""
    (folder / "photos").mkdir(exist_ok=True)
    target = folder / "photos" / f"{number + 1:02d}.jpg"
    if link:
        target.hardlink_to(source)
    else:
        raw = source.read_bytes()
        # A comment of its own behind the first marker (ITU-T T.81, B.2.4.5) gives a digest of
        # its own.
        comment = rng.randbytes(16).hex().encode()
        mark = b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment
        target.write_bytes(raw[:2] + mark + raw[2:])
    return {"file": f"photos/{target.name}", "alt": f"The bars of pour {number + 1} on the bench."}
