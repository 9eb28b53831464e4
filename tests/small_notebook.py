"""A notebook that builds in a moment: three of the demo's designs, with a shelf and photos."""

from __future__ import annotations

import shutil
from pathlib import Path

DESIGNS = ("barley-ears", "kelp-on-clay", "kelp-on-sea-grey")


def lay_down_small(made: Path, demo: Path) -> Path:
    """Lay it out in a new folder."""
    made.mkdir()
    shutil.copyfile(demo / "journal.yaml", made / "journal.yaml")
    shutil.copytree(demo / "shelf", made / "shelf")
    for name in DESIGNS:
        shutil.copytree(demo / "designs" / name, made / "designs" / name)
    _edit(made / "designs/barley-ears/design.md", "grew_from: oat-and-milk-loaf\n", "")
    for name in ("fan-on-rose-clay", "honeycomb-and-bee", "moth-and-moon"):
        _edit(made / "shelf/leftovers.yaml", f"  from: {name}\n", "")
    return made


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
