"""A notebook small enough to reckon through on paper; used by tests of derived figures."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from journal.figures.derive import DesignFigures, derive_design
from journal.records.notebook import Notebook, read_notebook

SETTINGS = """\
studio: The back kitchen
currency: EUR
units: metric
labour: 24.00
waste: 5 %
scales: [1 g, 0.1 g]
margin: 50 %
fixed_costs: 100.00
region: [us, eu]
room: 20 C
chill_at: 4 C
chill_places: 4
"""

BASES = """\
plain:
  name: Plain
  price: 10.00/kg
  density: 1 g/mL
  ingredients:
    - {inci: Glycerin, share: 35 %}
    - {inci: Aqua, share: 40 %}
    - {inci: Sodium Stearate, share: 25 %}
  on_hand: 300 g
  takes: 3 %
"""

FRAGRANCES = """\
herb:
  name: Herb
  density: 0.9 g/mL
  price: 0.20/mL
  limit: 2 %
  allergens: {Linalool: 5 %, Citral: 0.5 %}
  certificate: 2026-01-15
  on_hand: 10 mL
"""

COLOURANTS = """\
brick:
  name: Brick
  density: 0.5 g/mL
  true_density: 0.5 g/mL       # no air in it: as bulky in the bar as on the spoon
  price: 0.10/g
  inci: CI 77491
  on_hand: 100 g
"""

MOULDS = """\
four:
  name: Four oblongs
  cavities: 4
  face: 80 x 50 mm
  depth: 25 mm
  price: 40.00
  life: 100
  on_hand: 1
"""

MATS = """\
leaf:
  name: Leaves
  sheet: 300 x 200 mm
  thickness: 3 mm
  relief: 2 mm
  relief_volume: 2 mL
  density: 1.2 g/mL
  motif: {size: 60 x 40 mm, pitch: 90 x 60 mm, offset: 50 x 40 mm}
  price: 24.00
  life: 50
"""

PIECES = """\
leaf-a:
  name: Leaf, straight
  mat: leaf
  mould: four
  trim: straight 2 mm
  casts_before: 3
  on_hand: 2
"""

PACKAGING = """\
sleeve:
  name: Sleeve
  price: 0.25
  on_hand: 5
"""

DESIGN = """\
---
title: Leaf on brick
date: 2026-03-01
state: keeper
summary: A pale leaf on brick red.
mat: leaf
mould: four
trim: straight 2 mm
bars: 4
packaging: [sleeve]
minutes: {pour: 20, tidy: 8}
layers:
  - name: detail
    pot: pale
    base: plain
    amount: 5 g
    overpour: 5 g
    pour: 75-80 C
    then: [rest 15 min, chill 10 min at 4 C, press flat]
  - name: body
    base: plain
    amount: 80 g
    pour: 50-55 C
    fragrance: {oil: herb, dose: 10 mL/kg, add: 58-62 C}
    colours: [{colourant: brick, dose: 1 %}]
    then: [unmould after 10 h, peel]
pours:
  - date: 2026-03-01
    room: 20 C
    melted: {pale: 60 g, body: 380 g}
    readings: {body: [[0:00, 70 C, melted], [0:10, 62 C, scented], [0:25, 54 C, poured]]}
    bars:
      - {bar: A1, piece: leaf-a, keep: yes, weight: 84 g}
      - {bar: A2, piece: leaf-a, keep: yes, weight: 85 g}
      - {bar: A3, piece: leaf-a, keep: yes, weight: 86 g}
      - {bar: A4, keep: no, weight: 85 g}
---
On paper first.
"""

ORDER = """\
title: A dozen and two
due: 2026-04-30
customer: Wilma Oake
designs: [{design: leaf, bars: 14}]
private: Half in advance.
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
    "designs/leaf/design.md": DESIGN,
    "orders/dozen.yaml": ORDER,
}


def lay_out(root: Path, *changes: tuple[str, str, str], more: Mapping[str, str] = {}) -> Path:
    """Write the notebook; ``changes`` are (file, old text, new text), ``more`` other files."""
    files = {**FILES, **more}
    for name, old, new in changes:
        assert old in files[name], f"{old!r} stands nowhere in {name}"
        files[name] = files[name].replace(old, new)
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return root


def read(
    root: Path, *changes: tuple[str, str, str], more: Mapping[str, str] = {}, errors: int = 0
) -> Notebook:
    """The notebook, laid out in ``root`` and read."""
    notebook = read_notebook(lay_out(root, *changes, more=more))
    assert len(notebook.errors) == errors, [str(problem) for problem in notebook.errors]
    return notebook


def leaf(notebook: Notebook) -> DesignFigures:
    """The figures of its one design."""
    design = notebook.designs["leaf"]
    return derive_design(notebook, design, models=False)[0]
