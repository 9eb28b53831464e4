"""What a variant is called in a sentence (common practice, no source)."""

from __future__ import annotations

import pytest

from journal.records.models.write_up import AS_WRITTEN, variant_words
from journal.views.shared.words import variants_text

EVERY = ("close/pigment", "close/dye", "straight/pigment", "straight/dye")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (AS_WRITTEN, ""),
        ("close", "close trim"),
        ("hot", "hot"),
        ("straight/dye", "straight trim, dye"),
    ],
)
def test_a_variant_is_named_by_its_choices(name: str, said: str) -> None:
    assert variant_words(name) == said


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ((), ""),
        (("hot", "cool"), "hot and cool"),
        (EVERY[:2], "close trim"),
        (EVERY[1::2], "dye"),
        (EVERY[:3], "close trim, pigment; close trim, dye; straight trim, pigment"),
    ],
)
def test_variants_are_named_by_what_they_alone_share(names: tuple[str, ...], said: str) -> None:
    assert variants_text(names, EVERY) == said
