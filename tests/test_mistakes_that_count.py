"""Which of the mistakes that ``tests.mutation`` makes are held against the tests."""

from __future__ import annotations

import pytest
from mutation.__main__ import counts, wilson


def diff(old: str, new: str) -> str:
    return f"--- a.py\n+++ a.py\n@@ -1,2 +1,2 @@\n def f():\n-    {old}\n+    {new}"


@pytest.mark.parametrize(
    ("old", "new", "held"),
    [
        ("return a + b", "return a - b", True),
        ('return "mould"', 'return "XXmouldXX"', True),
        ('return "no mould"', 'return "XXno mouldXX"', False),
        ('case.warning("no mould", at)', 'case.warning("NO MOULD", at)', False),
        ('case.warning("no mould", at)', 'case.warning("no mould", None)', True),
        ('case.warning("no mould", at)', "case.warning(None, at)", True),
        ('case.warning("no mould", at)', "case.warning(at)", True),
        ('say("a", "no mould")', 'say("A", "no mould")', True),
        ("zip(a, b, strict=True)", "zip(a, b, strict=False)", False),
        ("zip(a, b, strict=True)", "zip(a, b, strict=None)", False),
        ("zip(a, b, strict=True)", "zip(a, b, )", False),
        ("zip(a, b, strict=True)", "zip(a, strict=True)", True),
        ("zip(a, b, strict=True)", "zip(a, None, strict=True)", True),
    ],
)
def test_what_counts(old: str, new: str, held: bool) -> None:
    assert counts(diff(old, new)) is held


def test_interval_of_a_share() -> None:
    # Newcombe, Stat. Med. 17 (1998) 857, method 3: 81 of 263.
    assert wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)
