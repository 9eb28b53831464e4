"""The edits that a maker makes of an evening, each for a made-up notebook.

Each takes the notebook's content and a number, and leaves the content sound: another number,
another edit. What is edited stands in the middle of the notebook, on the shelf first in its file.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from copy import deepcopy
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from tests.bench.corpus import add_photo, put_together, taken_apart

Edit = Callable[[Path, int], None]


def middle_write_up(content: Path, holding: str = "") -> Path:
    """The first write-up from the middle on that holds this text."""
    paths = sorted(content.glob("designs/*/design.md"))
    later = paths[len(paths) // 2 :] + paths[: len(paths) // 2]
    return next(path for path in later if holding in path.read_text("utf-8"))


def prose(content: Path, number: int) -> None:
    path = middle_write_up(content)
    path.write_text(path.read_text("utf-8") + f"\nSeen again, number {number}.\n", "utf-8")


def a_failure(content: Path, number: int) -> None:
    """Something that failed, which the shelf, the index and other pages tell of too."""
    path = middle_write_up(content, "\nfailed:\n")
    front, body = taken_apart(path)
    front["failed"].insert(0, {"what": "bubbles", "saw": f"Seen in round {number}."})
    put_together(path, front, body)


def a_pour(content: Path, number: int) -> None:
    """The last pour of a design once more, the day after the last of the whole notebook."""
    texts = (path.read_text("utf-8") for path in content.glob("designs/*/design.md"))
    last = max(day for text in texts for day in re.findall(r"\bdate: '?(\d{4}-\d\d-\d\d)", text))
    _pour_again(content, f"N{number}", last)


def a_past_pour(content: Path, number: int) -> None:
    """The last pour of a design once more, a day later: others were poured since."""
    _pour_again(content, f"P{number}")


def _pour_again(content: Path, name: str, after: str = "") -> None:
    path = middle_write_up(content, "\npours:\n- pour: ")
    front, body = taken_apart(path)
    pours: list[dict[str, Any]] = front["pours"]
    pour = deepcopy(pours[-1])
    old = pour["pour"]
    pour["pour"] = name
    for key in ("batch", "later", "complaints"):  # no two have one code; it was only just poured
        pour.pop(key, None)
    pour["date"] = (date.fromisoformat(after or pour["date"]) + timedelta(days=1)).isoformat()
    for bar in pour.get("bars", ()):
        bar["bar"] = bar["bar"].replace(old, f"{name}-", 1)
    pours.append(pour)
    put_together(path, front, body)


def a_bar(content: Path, number: int) -> None:
    """A measured lip put right."""
    path = middle_write_up(content, " lip: ")
    _put_right(path, r" lip: [\d.]+ mm", f" lip: {0.1 * (number % 20):.1f} mm")


def an_oil(content: Path, number: int) -> None:
    """The price of an oil."""
    _price(content, "fragrances", number)


def a_base(content: Path, number: int) -> None:
    """The price of a base, which most designs are poured of."""
    _price(content, "bases", number)


def a_mat(content: Path, number: int) -> None:
    """The price of a mat."""
    _price(content, "mats", number)


def a_photo(content: Path, number: int) -> None:
    """One more photo, a file that no other is like."""
    path = middle_write_up(content)
    front, body = taken_apart(path)
    pictures = sorted(content.parent.glob("pictures/*.jpg"))
    rng = random.Random(number)
    taken = add_photo(path.parent, rng.choice(pictures), 900 + number, False, rng)
    put_together(path, {**front, "photos": [*front.get("photos", ()), taken]}, body)


def the_theme(content: Path, number: int) -> None:
    (content / "theme").mkdir(exist_ok=True)
    (content / "theme" / "colours.css").write_text(f"/* {number} */\n", "utf-8")


def the_settings(content: Path, number: int) -> None:
    _put_right(content / "journal.yaml", r"studio: ", "studio: The ")


def _price(content: Path, kind: str, number: int) -> None:
    _put_right(content / "shelf" / f"{kind}.yaml", r"price: [\d.]+", f"price: {3 + number / 100}")


def _put_right(path: Path, wrong: str, right: str) -> None:
    text, found = re.subn(wrong, right, path.read_text("utf-8"), count=1)
    if not found:
        raise RuntimeError(f"{path} holds nothing like {wrong!r}")
    path.write_text(text, "utf-8")


EDITS: dict[str, Edit] = {
    "prose": prose,
    "pour": a_pour,
    "past-pour": a_past_pour,
    "bar": a_bar,
    "failure": a_failure,
    "oil": an_oil,
    "base": a_base,
    "mat": a_mat,
    "photo": a_photo,
    "theme": the_theme,
    "settings": the_settings,
}
"""By the word that picks one on the command line."""
SAID = {
    "prose": "prose changed",
    "pour": "a pour added",
    "past-pour": "a pour of earlier added",
    "bar": "a bar's result put right",
    "failure": "a failure written down",
    "oil": "an oil's price",
    "base": "a base's price",
    "mat": "a mat's price",
    "photo": "a photo added",
    "theme": "the theme changed",
    "settings": "the settings changed",
}
"""What each is called in the table of figures."""
