"""How each figure is made, in the order of the page that tells it.

Each method is put into words beside what it tells of.
"""

from __future__ import annotations

from journal.comparison.derive import COMPARISON, COMPARISON_PARTS, KEPT
from journal.figures.derive_bases import THRESHOLD
from journal.figures.derive_fill import FILL
from journal.figures.derive_heat import BLEED, BOND, COOLING, FORECAST, MELTING
from journal.figures.derive_layers import LAYERS
from journal.figures.derive_leftovers import LEFTOVERS
from journal.figures.derive_order import ORDER, ORDER_PARTS
from journal.figures.derive_pieces import PIECES
from journal.figures.derive_shop import COST, CUT, LABEL, NET_WEIGHT
from journal.figures.registry import FIGURES
from journal.figures.spec import Method, Part
from journal.photos.measurement import COLOUR, EDGE

ROUNDING = Method(
    "rounding",
    "Rounding",
    "12 significant digits, then half up to the step",
    "Once, between a figure and what is shown; oils and net weights down. Masses go by the steps"
    " of the studio's scales. Screen and card agree for every number of bars.",
    (("Source", "Definition."),),
)

GROUPS: tuple[tuple[str, tuple[Method, ...]], ...] = (
    ("Weighing", (*LAYERS.methods, *FILL.methods)),
    (
        "When to pour",
        (*MELTING.methods, *COOLING.methods, FORECAST, *BOND.methods, THRESHOLD, *BLEED.methods),
    ),
    ("Deciding", (COMPARISON, KEPT)),
    (
        "Selling",
        (
            *COST.methods, *NET_WEIGHT.methods, *LABEL.methods, *CUT.methods, *PIECES.methods,
            *LEFTOVERS.methods, ORDER,
        ),
    ),
    ("Seeing", (COLOUR, EDGE, ROUNDING)),
)  # fmt: skip

# What keys of the shelf and of the settings can touch.
PARTS: tuple[Part, ...] = (
    *(part for spec in FIGURES for part in spec.parts),
    *COMPARISON_PARTS,
    *ORDER_PARTS,
)
