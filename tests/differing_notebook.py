"""A small notebook in which no two things are alike, so that nothing can stand for another.

Shares, densities, pitches, rounds and dates all differ, and whatever comes as a pair comes
in unequal halves. What its figures must be is worked by hand in the tests that use it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.records.notebook import Notebook, read_notebook

#: Makes a folder once for all tests: its name, and what makes it.
MakeOnce = Callable[[str, Callable[[Path], None]], Path]

SETTINGS = """\
studio: The lean-to
currency: EUR
units: metric
paper: a4
labour: 18.00
waste: 4 %
scales: [1 g, 0.1 g]
margin: 60 %
fixed_costs: 90.00
region: [us, eu]
room: 19 C
"""

BASES = """\
milk:
  name: Milk
  density: 1.0-1.1 g/mL
  softens: 53-57 C
  sets: 46-49 C
  melts: 61-66 C
  scorches: 88-92 C
  price: 8.00/kg
  on_hand: 700 g
  ingredients:
    - {inci: Aqua, share: 46 %}
    - {inci: Glycerin, share: 30 %}
    - {inci: Sodium Stearate, share: 22 %}
    - {inci: Sorbitol, share: 2 %}
clear:
  name: Clear
  density: 1.1-1.3 g/mL
  price: 12.00/kg
  on_hand: 650 g
  ingredients:
    - {inci: Glycerin, share: 40 %}
    - {inci: Sodium Laurate, share: 36 %}
    - {inci: Aqua, share: 20 %}
    - {inci: Propylene Glycol, share: 4 %}
honey:
  name: Honey
  density: 1.2-1.4 g/mL
  price: 9.00/kg
  ingredients: [{inci: Mel, share: 55 %}, {inci: Aqua, share: 45 %}]
"""

FRAGRANCES = """\
thyme:
  name: Thyme
  density: 0.80-1.00 g/mL
  price: 0.25/mL
  limit: 2.4 %
  flash_point: 71 C
  allergens: {Linalool: 4 %, Geraniol: 1 %, Citral: 1 %}
  certificate: 2026-02-11
  on_hand: 6 mL
resin:
  name: Resin
  price: 40.00/kg
  limit: 3 %
  allergens: {Limonene: 3 %, Coumarin: 1.2 %, Geraniol: 1 %}
  certificate: 2025-12-13
  on_hand: 9 mL
"""

COLOURANTS = """\
brick: {name: Brick, density: 0.4-0.6 g/mL, price: 0.10/g, inci: CI 77491, on_hand: 12 g}
"""

MOULDS = """\
tray: {name: Tray, cavities: 6, face: 90 x 60 mm, corner_radius: 10 mm, depth: 30 mm,
       price: 54.00, life: 90}
box: {name: Box, cavities: 3, face: 62 x 47 mm, depth: 20 mm, price: 21.00, life: 70}
"""

MATS = """\
fern:
  name: Fern
  sheet: 320 x 205 mm
  thickness: 4 mm
  relief: 2 mm
  relief_volume: 3 mL
  motif: {size: 50 x 30 mm, pitch: 80 x 55 mm, offset: 45 x 28 mm}
  price: 36.00
  life: 40
dots:
  name: Dots
  sheet: 200 x 150 mm
  thickness: 3 mm
  motif: {size: 40 x 25 mm, pitch: 48 x 37 mm, offset: 30 x 22 mm}
  price: 30.00
  life: 20
wide: {name: Wide, sheet: 300 x 200 mm, thickness: 3 mm, price: 20.00, life: 25}
slim: {name: Slim, sheet: 270 x 120 mm, thickness: 3 mm, price: 18.00, life: 15}
"""

PIECES = """\
fern-a: {name: Fern straight, mat: fern, mould: tray, trim: straight 3 mm, casts_before: 7,
         on_hand: 5}
fern-b: {name: Fern close, mat: fern, mould: tray, trim: close, casts_before: 2, on_hand: 4}
"""

PACKAGING = """\
sleeve: {name: Sleeve, price: 0.60, each: 2, on_hand: 3}
"""

LEFTOVERS = """\
ends: {name: Ends, base: honey, amount: 400 g, from: fern, melted_times: 2}
"""

FERN = """\
---
title: Fern on brick
date: 2026-03-14
state: trial
summary: A milk fern with a scented rim.
mat: fern
mould: tray
trim: straight 3 mm
piece: fern-a
bars: 8
packaging: [sleeve]
minutes: {pour: 14, tidy: 24}
layers:
  - name: detail
    pot: milk
    base: milk
    amount: 10 g
    overpour: 5 g
    pour: 72-78 C
    spritz: after
    then: [rest 12 min, chill 9 min at 4 C]
  - name: rim
    pot: milk
    base: milk
    amount: 30 g
    overpour: 2 g
    pour: 60-64 C
    fragrance: {oil: thyme, dose: 20 mL/kg, add: 65-68 C}
    then: [rest 25 min]
  - name: body
    pot: slate
    base: {milk: 25 %, clear: 75 %}
    amount: 60 g
    pour: 50-54 C
    fragrance: {oil: resin, dose: 10 mL/kg}
    colours: [{colourant: brick, dose: 1.9 %}]
    then: [unmould after 10 h]
variants:
  cut:
    close: {trim: close, piece: fern-b}
    straight:
  heat:
    cool: {layers: {body: {pour: 46-49 C}}}
    hot:
question: {compare: cut, by: lip, asked: 2026-03-13, until: 16 bars}
pours:
  - date: 2026-03-14
    room: 20 C
    melted: {milk: 400 g, slate: 490 g}
    readings:
      milk: [[0:00, 80 C, melted], [0:03, 74.08 C, poured], [0:10, 62.43 C, poured]]
      slate: [[0:00, 68 C, melted], [0:20, 52 C, poured]]
    bars:
      - {bar: A1, cut: close, heat: hot, lip: 1.4 mm, lifted: no, keep: yes}
      - {bar: A2, cut: close, heat: hot, lip: 1.2 mm, lifted: yes, keep: no}
      - {bar: A3, cut: close, heat: hot, lip: 1.1 mm, lifted: no, keep: no}
      - {bar: A4, cut: straight, heat: hot, lip: 0.3 mm, lifted: no, keep: yes}
      - {bar: A5, cut: straight, heat: hot, lip: 0.5 mm, lifted: no, keep: yes}
      - {bar: A6, cut: straight, heat: hot, lip: 0.2 mm, lifted: no, keep: yes}
      - {bar: A7, cut: straight, heat: hot, lip: 0.4 mm, lifted: no, keep: no}
      - {bar: A8, cut: straight, heat: hot, lip: 0.6 mm, lifted: no, keep: yes}
  - date: 2026-04-05
    room: 17 C
    bars:
      - {bar: B1, cut: close, heat: cool, lip: 1.7 mm, lifted: no, keep: yes}
      - {bar: B2, cut: straight, heat: cool, lip: 0.7 mm, lifted: no, keep: yes}
      - {bar: B3, cut: straight, heat: cool, lip: 0.1 mm, lifted: no, keep: no}
failed:
  - {what: lip, variant: close, saw: A hem all round., mend: Leave a border., mended: yes}
  - {what: cloudy, variant: cool, saw: A grey bloom., mend: Pour it warmer., mended: untested}
  - {what: faded, variant: straight/hot, saw: One brown bar., mend: Wait longer., mended: no}
  - {what: bubbles, saw: Five in a row., mend: Spritz sooner., mended: untested}
---
The knife decides; see [the question](../../comparisons/blade.md).
"""

HEEL = """\
---
title: Heel of honey
date: 2026-02-20
state: keeper
mould: tray
bars: 8
layers:
  - {name: bar, base: {leftover: ends}, amount: 60 g, pour: 55-58 C, then: [unmould after 6 h]}
pours:
  - {date: 2026-05-02, bars: [{bar: A1, keep: yes}]}
---
Out of what was left.
"""


def _tile(title: str, written: str, state: str, mat: str, mould: str, *poured: str) -> str:
    """A design of one layer on a mat."""
    trim = "trim: straight 2 mm\n" if mat == "dots" else ""
    pours = "".join(
        f"  - {{date: {day}, bars: [{{bar: {letter}1, keep: yes}}]}}\n"
        for day, letter in zip(poured, "ABC", strict=False)
    )
    return (
        f"---\ntitle: {title}\ndate: {written}\nstate: {state}\nmat: {mat}\nmould: {mould}\n{trim}"
        "bars: 3\nlayers:\n  - {name: bar, base: clear, amount: 35 g}\n"
        f"pours:\n{pours}---\n{title} it is.\n"
    )


BLADE = """\
---
title: Which blade wins?
by: [lip]
between: trim
---
Close or with a border.
"""

ORDER = """\
title: Thirteen and nine
due: 2026-07-09
customer: Tamsin Rook
designs:
  - {design: fern, bars: 13}
  - {design: heel, bars: 9}
"""

FILES: Mapping[str, str] = {
    "journal.yaml": SETTINGS,
    "shelf/bases.yaml": BASES,
    "shelf/fragrances.yaml": FRAGRANCES,
    "shelf/colourants.yaml": COLOURANTS,
    "shelf/moulds.yaml": MOULDS,
    "shelf/mats.yaml": MATS,
    "shelf/pieces.yaml": PIECES,
    "shelf/packaging.yaml": PACKAGING,
    "shelf/leftovers.yaml": LEFTOVERS,
    "designs/fern/design.md": FERN,
    "designs/heel/design.md": HEEL,
    "designs/wide/design.md": _tile(
        "Wide", "2026-01-09", "trial", "wide", "tray", "2026-01-09", "2026-06-07"
    ),
    "designs/slim/design.md": _tile("Slim", "2025-11-23", "trial", "slim", "tray", "2025-11-23"),
    "designs/dots/design.md": _tile("Dots", "2026-04-21", "keeper", "dots", "box", "2026-04-21"),
    "comparisons/blade.md": BLADE,
    "orders/thirteen.yaml": ORDER,
}


#: What makes one of its designs, then a keeper, hold more of an oil than its certificate allows.
OVER_LIMIT = (
    ("shelf/fragrances.yaml", "limit: 2.4 %", "limit: 0.5 %"),
    ("designs/fern/design.md", "state: trial", "state: keeper"),
)
#: What puts a mistake into another, and into an order beside sound ones.
FAULTY = (
    ("designs/dots/design.md", "bars: 3", "bars: three"),
    ("orders/thirteen.yaml", "bars: 9}", "bars: 9}\n  - {design: dots, bars: 4}"),
)


def lay_out(root: Path, *changes: tuple[str, str, str]) -> Path:
    """Write the notebook; ``changes`` are (file, old text, new text)."""
    files = dict(FILES)
    for name, old, new in changes:
        assert old in files[name], f"{old!r} stands nowhere in {name}"
        files[name] = files[name].replace(old, new)
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return root


def read(root: Path, *changes: tuple[str, str, str]) -> Notebook:
    """The notebook, laid out in ``root`` and read."""
    notebook = read_notebook(lay_out(root, *changes))
    assert not notebook.errors, [str(problem) for problem in notebook.errors]
    return notebook


def built(root: Path) -> None:
    """The notebook and, in ``out``, what is built of it; to be made once for all tests."""
    root.mkdir()
    build_notebook(BuildOptions(lay_out(root / "content"), root / "out"))
