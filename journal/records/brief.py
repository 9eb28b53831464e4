"""A design in brief: what lists, the shelf and other designs' pages say of it.

They are about many designs at once, whose pours and recipes are too much to go through for
the number of bars that were kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from journal.records.write_up import AS_WRITTEN, Brief, Cast, Pour, Poured, Recipe, Variant


def brief_of(recipe: Recipe, variants: Sequence[Variant], pours: Sequence[Pour]) -> Brief:
    """A design in brief.

    Takes:  recipe    as it stands at the top of the write-up
            variants  all of them
            pours     all of them, in the order that they were written in
    Gives:  Brief; temperatures in degrees C
    Fails:  never: what cannot be read is not among them
    """
    recipes = {variant.name: variant.recipe for variant in variants}
    every = (recipe, *recipes.values())
    return Brief(
        bars=recipe.bars,
        mould=recipe.mould,
        variants=len(variants),
        differ=tuple(name for name, one in recipes.items() if name != AS_WRITTEN and one != recipe),
        trims=tuple(dict.fromkeys((one.mat, one.mould, one.trim) for one in every)),
        pours=tuple(_poured(pour, recipes, recipe) for pour in pours),
    )


def _poured(pour: Pour, recipes: dict[str, Recipe], recipe: Recipe) -> Poured:
    judged = [bar.measures["keep"] for bar in pour.bars if "keep" in bar.measures]
    cast: Counter[tuple[str, str | None]] = Counter()
    for bar in pour.bars:
        own = recipes.get(bar.variant, recipe)
        piece = bar.piece or own.piece
        if piece is not None:
            cast[piece, own.mould] += 1
    return Poured(
        label=pour.label,
        date=pour.date,
        room_c=pour.room_c,
        bars=len(pour.bars),
        judged=len(judged),
        kept=sum(kept is True for kept in judged),
        variants=tuple(dict.fromkeys(bar.variant for bar in pour.bars)),
        cast=tuple(Cast(piece, mould, bars) for (piece, mould), bars in cast.items()),
        poured_c=pour.poured_c,
    )
