"""What the long command, JOURNAL_LONG_TESTS=1, runs beyond the usual one."""

from __future__ import annotations

import os
from typing import Final

from hypothesis import settings

LONG: Final = os.environ.get("JOURNAL_LONG_TESTS") == "1"


def examples(few: int, many: int | None = None, like: settings | None = None) -> settings:
    """So many examples, and in the long command ``many``, or 20 times as many."""
    return settings(like, max_examples=(many or 20 * few) if LONG else few)
