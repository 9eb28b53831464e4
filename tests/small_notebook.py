"""A notebook that builds in a moment: three of the demo's designs, with a shelf and photos."""

from __future__ import annotations

import shutil
from pathlib import Path

from demo import BARLEY, FAN, HONEYCOMB, KELP_ON_CLAY, KELP_ON_GREY, MOTH, OAT_LOAF

DESIGNS = (BARLEY, KELP_ON_CLAY, KELP_ON_GREY)


def lay_down_small(made: Path, demo: Path) -> Path:
    """Lay it out in a new folder."""
    made.mkdir()
    shutil.copyfile(demo / "journal.yaml", made / "journal.yaml")
    shutil.copytree(demo / "shelf", made / "shelf")
    for name in DESIGNS:
        shutil.copytree(demo / "designs" / name, made / "designs" / name)
    _edit(made / f"designs/{BARLEY}/design.md", f"grew_from: {OAT_LOAF}\n", "")
    for name in (FAN, HONEYCOMB, MOTH):
        _edit(made / "shelf/leftovers.yaml", f"  from: {name}\n", "")
    return made


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


QUESTION = "comparisons/cut.md"
ORDER = "orders/dozen.yaml"
_ASKED = {
    QUESTION: "---\ntitle: Close or straight\nby: [lip, keep]\nbetween: trim\n---\n",
    ORDER: f"title: A dozen\ndue: 2027-05-01\ndesigns:\n  - {{design: {KELP_ON_CLAY}, bars: 12}}\n",
}


def lay_down_asking(made: Path, demo: Path) -> Path:
    """The small notebook with a question across its designs, and an order."""
    lay_down_small(made, demo)
    for path, text in _ASKED.items():
        (made / path).parent.mkdir()
        (made / path).write_text(text, "utf-8")
    return made
