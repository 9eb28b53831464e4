"""The designs of the demo notebook that tests ask for by name."""

from __future__ import annotations

from typing import Final

BARLEY: Final = "barley-ears"
FAN: Final = "fan-on-rose-clay"
WHITE_FAN: Final = "fan-white-on-white"
HONEYCOMB: Final = "honeycomb-and-bee"
AMBER: Final = "honeycomb-in-amber"
KELP_ON_CLAY: Final = "kelp-on-clay"
KELP_ON_GREY: Final = "kelp-on-sea-grey"
MOTH: Final = "moth-and-moon"
OAT_LOAF: Final = "oat-and-milk-loaf"
PEBBLES: Final = "pebble-loaf"
PINE: Final = "pine-and-sea-glass"
