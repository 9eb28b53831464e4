"""A plugin of pytest: what was kept hides no mistake, and no test that would notice it.

An answer kept from before the mistake was made would hide it. While mutmut asks which tests
reach which functions, a kept answer or a shared fixture would hide all tests but the first.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Generator
from typing import Any

import pytest

#: Functions that a fixture reached when it was set up.
_reached: dict[pytest.FixtureDef[Any], set[str]] = {}


def _forget() -> None:
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in ("journal", "tests"):
            for value in vars(module).values():
                if hasattr(value, "cache_clear"):
                    value.cache_clear()


def _asked_for_reach() -> bool:
    return os.environ.get("MUTANT_UNDER_TEST") == "stats"


def pytest_sessionstart() -> None:
    _forget()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    if _asked_for_reach():
        _forget()


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef[Any]) -> Generator[None, object, object]:
    """Set apart what the fixture reaches; it is every user's."""
    if not _asked_for_reach():
        return (yield)
    from mutmut.state import state

    reached = state()._stats
    before = set(reached)
    reached.clear()
    try:
        return (yield)
    finally:
        _reached.setdefault(fixturedef, set()).update(reached)
        reached.update(before)


def pytest_runtest_call(item: pytest.Function) -> None:
    """Whoever uses a fixture reaches what it reached."""
    if _asked_for_reach():
        from mutmut.state import state

        for definitions in item._fixtureinfo.name2fixturedefs.values():
            for definition in definitions:
                state()._stats.update(_reached.get(definition, ()))
