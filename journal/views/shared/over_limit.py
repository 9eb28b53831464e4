"""What is said of a recipe with more oil than a certificate allows: why, and not to pour it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from journal.figures.recipe.derive_layers import OverLimit
from journal.html.blocks import Words
from journal.quantities.show import show_percent
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import variant_words
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue
from journal.views.shared.places import Address, span

# By design: what its page says of each recipe that is over a limit.
OverLimitTexts = Mapping[str, tuple[str, ...]]


def why_over(shelf: Shelf, over: OverLimit, say: PhraseCatalogue = ENGLISH) -> str:
    """How far over a limit a layer is: "Cedar is 0.91 % of the body; its certificate …"."""
    if over.limit is None:
        return say.text("limit.why.together", layer=over.layer, share=_percent(over.share))
    record = shelf.fragrances.get(over.oils[0])
    name = over.oils[0] if record is None else record.name
    shares = {"share": _percent(over.share), "limit": _percent(over.limit)}
    return say.text("limit.why", oil=name, layer=over.layer, **shares)


def _percent(share: float) -> str:
    return show_percent(share).replace(" ", "\u00a0")


def over_limit_texts(
    shelf: Shelf, recipes: Iterable[tuple[str, Iterable[OverLimit]]]
) -> tuple[str, ...]:
    """What is said of the limits that recipes are over, each with its variant, "" as written.

    A variant that is as far over it as another recipe has none of its own.
    """
    said: dict[str, str] = {}
    for variant, limits in recipes:
        for over in limits:
            said.setdefault(
                why_over(shelf, over), f" ({variant_words(variant)})" if variant else ""
            )
    return tuple(f"Over the limit{of}: {why}. Do not pour or sell it." for why, of in said.items())


def over_limit_lines(
    here: Address, designs: Mapping[str, Address], over: OverLimitTexts
) -> tuple[Words, ...]:
    """What other pages say of the designs over a limit, each with a link to its page."""
    return tuple(
        (span(here, designs[name]), f". {text}") for name, texts in over.items() for text in texts
    )
