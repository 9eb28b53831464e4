"""Where things stand in the checkout."""

from __future__ import annotations

from pathlib import Path
from typing import Final

PROJECT: Final = Path(__file__).resolve().parent.parent
#: The demo notebook's content.
CONTENT: Final = PROJECT / "content"
#: Published tables, each with its source.
REFERENCE: Final = PROJECT / "tests" / "reference"
#: Photos with what is true of them.
MEASURABLE: Final = PROJECT / "tests" / "photos" / "measurable"
