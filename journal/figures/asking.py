"""Who answers a question that is dear to work out: the function itself, or whoever remembers.

What is asked is a pure function of numbers, so an answer that is remembered is the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, Protocol, TypeVar, TypeVarTuple

Answer = TypeVar("Answer")
Inputs = TypeVarTuple("Inputs")


class Ask(Protocol):
    """Gives what a pure function gives for these inputs; they can be hashed and told by
    ``repr``."""

    def __call__(self, function: Callable[[*Inputs], Answer], /, *asked: *Inputs) -> Answer: ...


def plainly(function: Callable[[*Inputs], Answer], /, *asked: *Inputs) -> Answer:
    """Ask the function, and remember while this process lives.

    Variants and designs of one mat and base share their answers; a large notebook has some
    hundreds.
    """
    answer: Answer = _asked(function, asked)
    return answer


@lru_cache(maxsize=1024)
def _asked(function: Callable[..., Any], asked: tuple[Any, ...]) -> Any:
    return function(*asked)
