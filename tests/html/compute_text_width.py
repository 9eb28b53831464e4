"""Recompute the table ``journal/html/text_width.toml`` from the theme's font files.

Run as a program it prints the table; the test beside it compares.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont

FONTS = Path(__file__).resolve().parents[2] / "themes" / "desk" / "fonts"
# Widths are carried up to this step, so that the table stays short and never tells too little.
STEP = 10
# Which file and weight does each face of a card stand for?
FACES = {
    "regular": ("atkinson-next.woff2", 400),
    "bold": ("atkinson-next.woff2", 700),
    "title": ("literata.woff2", 600),
}


def advances(file: str, weight: int) -> dict[str, int]:
    """Advance width of every letter that the file has, in thousandths of the type size.

    A figure counts as its tabular form.
    """
    font = TTFont(io.BytesIO((FONTS / file).read_bytes()))
    font = instantiateVariableFont(font, {"wght": weight}, inplace=True)
    assert font["head"].unitsPerEm == 1000
    tabular: dict[str, str] = {}
    for record in font["GSUB"].table.FeatureList.FeatureRecord:
        if record.FeatureTag == "tnum":
            for index in record.Feature.LookupListIndex:
                for table in font["GSUB"].table.LookupList.Lookup[index].SubTable:
                    inner = getattr(table, "ExtSubTable", table)
                    tabular.update(inner.mapping)
    metrics = font["hmtx"]
    found = {}
    for code, glyph in font.getBestCmap().items():
        width = metrics[glyph][0]
        if glyph in tabular:
            set_as = metrics[tabular[glyph]][0]
            # The title is set in the font's own figures, all else in tabular ones.
            width = max(width, set_as) if weight == FACES["title"][1] else set_as
        if width:
            found[chr(code)] = -(-width // STEP) * STEP
    return found


def grouped(widths: dict[str, int]) -> dict[int, str]:
    """The same table with the letters of one width together."""
    found: dict[int, str] = {}
    for letter, width in sorted(widths.items(), key=lambda entry: (entry[1], entry[0])):
        found[width] = found.get(width, "") + letter
    return found


def _written(letters: str) -> str:
    """A string of TOML; spaces other than the usual one are written by their number."""
    plain = letters.replace("\\", "\\\\").replace('"', '\\"')
    shown = [one if one.isprintable() else f"\\u{ord(one):04x}" for one in plain]
    return f'"{"".join(shown)}"'


def main() -> None:
    """Write the table as it stands in the file."""
    for name, (file, weight) in FACES.items():
        sys.stdout.write(f"\n[{name}]\n")
        for width, letters in grouped(advances(file, weight)).items():
            sys.stdout.write(f"{width} = {_written(letters)}\n")


if __name__ == "__main__":
    main()
