"""Calls of pure functions that take long, with or without a cache.

The functions depend on their arguments alone, so a cached result is the result.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, Protocol, TypeVar, TypeVarTuple

Answer = TypeVar("Answer")
Inputs = TypeVarTuple("Inputs")


class Memo(Protocol):
    """Calls a pure function, or takes its result from a cache.

    The arguments can be hashed, and their ``repr`` identifies them.
    """

    def __call__(self, function: Callable[[*Inputs], Answer], /, *arguments: *Inputs) -> Answer: ...


def in_process_memo(function: Callable[[*Inputs], Answer], /, *arguments: *Inputs) -> Answer:
    """Call the function, and cache its result while this process lives.

    Variants and designs of one mat and base share their results; a large notebook has some
    hundreds.
    """
    answer: Answer = _cached_call(function, arguments)
    return answer


@lru_cache(maxsize=1024)
def _cached_call(function: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
    """The result of calling the function; ``lru_cache`` keeps it."""
    return function(*arguments)
