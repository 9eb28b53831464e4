"""Answers as bytes and back."""

from __future__ import annotations

import pickle


def packed(answer: object) -> bytes:
    """An answer as bytes; ``pickle.loads`` gives it back.

    Equal answers are mostly the same bytes, in every process.
    """
    return pickle.dumps(answer, pickle.HIGHEST_PROTOCOL)
