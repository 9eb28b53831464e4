"""Small notebooks to make cards of: one that fits a card with ease, one that does not."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from journal.errors import Problem
from journal.figures.heat.pot_rates import NO_RATES
from journal.html.card_page import CardLeaf, CardSize
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.card import cards_of
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue

SETTINGS = """\
studio: Corran Bench
units: us
paper: a4
waste: {share: 3 %, least: 8 g}
scales: [1 g, 0.1 g]
"""
SHELF = {
    "bases": """\
white: {name: White base, density: 1.04 g/mL, scorches: 190 F, price: 4.00/lb}
clear: {name: Clear base, density: 1.07 g/mL, scorches: 185 F}
""",
    "fragrances": """\
fern: {name: Fern, density: 0.95 g/mL, limit: 2.5 %}
moss: {name: Moss, limit: 3 %}
strong: {name: Strong, density: 1 g/mL, limit: 0.5 %}
unknown: {name: Unknown, density: 1 g/mL}
""",
    "colourants": """\
slate: {name: Slate, kind: mica, density: 0.45 g/mL}
ink: {name: Ink, kind: dye}
""",
    "moulds": """\
six: {name: Six hollows, cavities: 6, face: 80 x 55 mm, corner_radius: 8 mm, depth: 25 mm}
loaf: {name: Loaf, cavities: 1, bars_each: 10, face: 250 x 90 mm, depth: 60 mm}
""",
    "mats": """\
frond:
  {name: Frond, sheet: 400 x 300 mm, thickness: 3 mm,
   motif: {size: 60 x 40 mm, pitch: 95 x 70 mm, offset: 57 x 45 mm}}
""",
    "pieces": """\
a:
  {name: Frond straight, mat: frond, mould: six, trim: straight 3 mm, size: 66 x 46 mm, on_hand: 4}
b:
  {name: Frond close, mat: frond, mould: six, trim: close, size: 60 x 40 mm}
""",
    "leftovers": """\
ends:
  {name: Ends, base: white, amount: 4 oz, tinted: slate,
   scented: {oil: fern, concentration: 1 %}}
""",
}
TWO_LAYERS = """\
title: Frond on slate
date: 2026-04-18
state: trial
mat: frond
mould: six
trim: straight 3 mm
bars: 6
layers:
  - name: detail
    base: white
    amount: 6 g
    overpour: 8 g
    pour: 165-176 F
    spritz: after
    then: [rest 15 min, chill 10 min at 39 F]
  - name: body
    pot: slate
    base: {white: 70 %, clear: 30 %}
    amount: 3.4 oz
    pour: 122-132 F
    spritz: both
    fragrance: {oil: fern, dose: 5 mL/lb, add: 135-145 F}
    colours:
      - {colourant: slate, dose: 1/4 tsp/lb}
      - {colourant: ink, by: eye, aim: pastel}
    then: [unmould after 12 h]
variants:
  close: {trim: close}
  straight: {trim: straight 3 mm}
failed:
  - {what: lip, variant: close, saw: A hem all round., mend: Leave a border., mended: yes}
  - {what: speckling, saw: Freckles., mend: Wet it first., mended: untested}
"""
ONE_LAYER = """\
title: Plain
date: 2026-04-18
state: keeper
bars: 1
layers:
  - {name: bar, base: white, amount: 100 g}
"""
_LONG = "a name of sixty letters that somebody did in truth write down"
# 0.95 g/mL of 20 mL/lb is 4 %; 2.5 % is allowed.
OVER_LIMIT = TWO_LAYERS.replace("5 mL/lb, add", "20 mL/lb, add")
SIX_LAYERS = f"""\
title: {_LONG.capitalize()}
date: 2026-04-18
state: trial
mat: frond
mould: six
trim: straight 3 mm
bars: 6
layers:
""" + "".join(
    f"""\
  - name: {number} {_LONG[2:]}
    base: {{long: 60 %, clear: 40 %}}
    amount: 250 g
    overpour: 20 g
    pour: 122-132 F
    spritz: both
    fragrance:
      - {{oil: long, dose: 5 mL/lb, add: 135-145 F}}
      - {{oil: moss, dose: 1 mL/lb}}
    colours: [{{colourant: long, dose: 1/4 tsp/lb}}]
    then: [rest 15 min, wipe the rim, "hold {_LONG} {_LONG} up to the light", unmould after 12 h]
"""
    for number in range(1, 7)
)
LONG_SHELF = {
    "bases": f"long: {{name: {_LONG.title()}, density: 1.04 g/mL, scorches: 190 F}}\n",
    "fragrances": f"long: {{name: {_LONG.title()}, density: 0.95 g/mL, limit: 1 %}}\n",
    "colourants": f"long: {{name: {_LONG.title()}}}\n",
}


#: No piece on the shelf has this trim, so six are cut, and six bars are one round.
ONE_ROUND = TWO_LAYERS.replace("trim: straight 3 mm\nbars", "trim: straight 5 mm\nbars")


def card_of(
    notebook: Notebook,
    name: str,
    bars: int | None = None,
    *,
    variant: str | None = None,
    size: CardSize = "half-letter",
    say: PhraseCatalogue = ENGLISH,
    rescaled: bool = False,
    printed_on: date | None = None,
    problems: list[Problem] | None = None,
) -> tuple[CardLeaf, ...]:
    """The leaves of a card, as if no pot had been measured and the air were dry."""
    return cards_of(
        notebook, notebook.designs[name], variant, bars, size, NO_RATES, {}, problems, say,
        rescaled, printed_on,
    )  # fmt: skip


def lay_notebook(
    root: Path, *, settings: str = SETTINGS, more: dict[str, str] | None = None, **designs: str
) -> Notebook:
    """Write a notebook of these designs (front matter by id) and read it."""
    (root / "shelf").mkdir(parents=True, exist_ok=True)
    (root / "journal.yaml").write_text(settings, "utf-8")
    for kind, text in SHELF.items():
        (root / "shelf" / f"{kind}.yaml").write_text(text + (more or {}).get(kind, ""), "utf-8")
    for name, front in designs.items():
        folder = root / "designs" / name.replace("_", "-")
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "design.md").write_text(f"---\n{front}---\nSeen and done.\n", "utf-8")
    return read_notebook(root)
