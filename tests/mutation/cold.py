"""A plugin of pytest: every run begins with nothing kept from the one that it was forked from."""

from __future__ import annotations

import sys


def pytest_sessionstart() -> None:
    """An answer that was kept before the mistake was made would hide it."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in ("journal", "tests"):
            for value in vars(module).values():
                if hasattr(value, "cache_clear"):
                    value.cache_clear()
