"""Recipe cards: one recipe for a number of bars, as printed leaves to work from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Final

from msgspec.structs import replace

from journal.errors import Problem, UsageError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_layers import RecipeMasses
from journal.html.blocks import PageFrame, Words
from journal.html.card_page import CardLeaf, CardPage, CardSize, CardWords, WriteOnLine, plain_text
from journal.records.models.fields import spelling_hint
from journal.records.models.write_up import AS_WRITTEN, Design, Failure, Variant
from journal.records.notebook import Notebook
from journal.views.card.amounts import CardAmounts, card_amounts_of, non_breaking
from journal.views.card.layout import leaves_of
from journal.views.card.numbers import card_numbers
from journal.views.card.sheet import ON_SHEET, cut_marks
from journal.views.card.steps import Pieces, steps_of
from journal.views.card.weights import weights_of
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue

# No vowels, so that no word is spelt by chance; no 0, 1 and l, which are easily misread.
_ALPHABET: Final = "23456789bcdfghjkmnpqrstvwxz"
_VERSION_LETTERS: Final = 5


def cards_of(
    notebook: Notebook,
    design: Design,
    variant: str | None,
    bars: int | None,
    size: CardSize,
    problems: list[Problem] | None = None,
    say: PhraseCatalogue = ENGLISH,
) -> tuple[CardLeaf, ...]:
    """The card of one recipe: one leaf, or as many as it takes.

    Takes:  variant   name of a variant; None for the recipe as written
            bars      None for the batch that the recipe was written for
            problems  a list; mistakes that only the figures find are added to it
            say       the catalogue of the card's language
    Gives:  leaves in order, each with its heading; anchors begin with the design's id
    Fails:  UsageError for a variant that the design does not have, or less than one bar
    """
    chosen = _chosen_variant(design, variant)
    number = chosen.recipe.bars if bars is None else bars
    if number < 1:
        raise UsageError(f"a card for {number} bars", "Ask for 1 bar or more.")
    reported: list[Problem] = [] if problems is None else problems
    case = RecipeContext(notebook.settings, notebook.shelf, design, chosen, number, reported)
    return _card_leaves(case, size, say)


def card_page(
    frame: PageFrame,
    leaves: Iterable[CardLeaf],
    size: CardSize,
    paper: str = "",
    title: str = "Recipe cards",
    lead: Words = (),
) -> CardPage:
    """A page of cards: one a sheet, or set out on ``paper`` ("a4", "letter") with cut marks."""
    all_leaves = tuple(leaves)
    sheet, across, down = ON_SHEET[size, paper] if paper else ("", 1, 1)
    count = across * down
    sheets = tuple(all_leaves[n : n + count] for n in range(0, len(all_leaves), count))
    marks = cut_marks(size, sheet, across, down) if sheet else None
    about = f"{title}, to print."
    return CardPage(frame, title, size, sheets, sheet, marks, lead, about=about)


def _chosen_variant(design: Design, name: str | None) -> Variant:
    """The named variant, or with None the recipe as written; UsageError if there is none."""
    if name is None or name == AS_WRITTEN:
        return design.as_written
    try:
        return design.variant(name)
    except KeyError:
        names = [variant.name for variant in design.variants]
        raise UsageError(
            f'the design "{design.id}" has no variant "{name}"', spelling_hint(name, names)
        ) from None


def _card_leaves(
    context: RecipeContext, size: CardSize, say: PhraseCatalogue
) -> tuple[CardLeaf, ...]:
    """The leaves of one card; the first bears the numbers to rescale it by, if it can be."""
    places = places_of_recipe(context.shelf, context.recipe)
    batch = card_amounts_of(context, places.casts_a_round, places.bars_each, say)
    pieces = None
    if context.recipe.mat is not None:
        kept = tuple(context.shelf.pieces[name] for name in places.pieces)
        pieces = Pieces(-(-batch.round_bars // places.bars_each), places.owned, kept)
    whole = CardLeaf(
        anchor=_card_anchor(context),
        card=_card_anchor(context),
        title=context.design.title,
        sub=_subtitle(context, say),
        bars=say.text("for", bars=say.bars(context.bars)),
        version=_version_letters(
            context, batch.masses["all"] if context.bars == context.recipe.bars else None
        ),
        dated=context.design.date.isoformat(),
        rounds=_rounds_sentence(batch, pieces, places.cavities),
        weights=weights_of(batch),
        steps=steps_of(batch, pieces),
        watch=_watch_points(context, say),
        cautions=_caution_sentences(context, say),
        lines=_blank_lines(context, say),
        caption=say.text("weigh"),
        language=say.text("code"),
    )
    leaves = leaves_of(whole, size, say)
    # The script on the page has its words in English.
    if say.language != "en":
        return leaves
    # A step that goes on overleaf cannot be put together again on the page.
    if sum(len(leaf.steps) + len(leaf.watch) for leaf in leaves) > len(whole.steps + whole.watch):
        return leaves
    numbers = card_numbers(batch, whole, size, places.casts_a_round, places.owned)
    return (replace(leaves[0], numbers=numbers), *leaves[1:])


def _version_letters(context: RecipeContext, masses: RecipeMasses | None = None) -> str:
    """A few letters that change when the recipe on the card does, and only then.

    They are a digest of the card for the batch that the recipe was written for, in one
    round: stock on hand, cost and the number of bars of this card change nothing.
    The English words are used, so that a card has one version in all languages.
    ``masses`` are those of that batch, if they were computed before.
    """
    written = RecipeContext(
        context.settings, context.shelf, context.design, context.variant, context.recipe.bars
    )
    batch = card_amounts_of(written, None, 1, masses=masses)
    pieces = Pieces(1, None, ()) if context.recipe.mat is not None else None
    say = ENGLISH
    parts = [context.design.title, _subtitle(context, say), context.design.date.isoformat()]
    parts.append(_caution_sentences(context, say))
    for weight in weights_of(batch, with_shelf=False):
        parts.extend((weight.layer, weight.what, plain_text(weight.mind)))
        parts.extend((plain_text(weight.first), plain_text(weight.second)))
    parts.extend(plain_text(step) for step in steps_of(batch, pieces))
    parts.extend(plain_text(words) for words in _watch_points(context, say))
    digest = hashlib.blake2b(digest_size=8)
    for part in parts:
        raw = part.encode("utf-8")
        digest.update(len(raw).to_bytes(4, "big") + raw)
    number = int.from_bytes(digest.digest(), "big")
    letters = ""
    for _ in range(_VERSION_LETTERS):
        number, place = divmod(number, len(_ALPHABET))
        letters += _ALPHABET[place]
    return letters


def _card_anchor(context: RecipeContext) -> str:
    """The anchor of a card on its page: the design's id, and the variant unless as written."""
    variant = "" if context.variant.name == AS_WRITTEN else "-" + context.variant.name
    return f"card-{context.design.id}{variant.replace('/', '-').replace(' ', '-')}"


def _subtitle(context: RecipeContext, say: PhraseCatalogue) -> str:
    """The line under the title: mould, trim and variant, where there are any."""
    mould, trim = context.shelf.moulds.get(context.recipe.mould or ""), context.recipe.trim
    parts = [] if mould is None else [mould.name]
    if trim is not None:
        margin = f" {non_breaking(f'{trim.margin_mm:g} mm')}" if trim.margin_mm else ""
        parts.append(say.text(f"trim.{trim.kind}") + margin)
    if context.variant.name != AS_WRITTEN:
        parts.append(say.text("variant", name=context.variant.name))
    return " · ".join(parts)


def _rounds_sentence(batch: CardAmounts, pieces: Pieces | None, cavities: int | None) -> CardWords:
    """The sentence on rounds, mat pieces and base for them; empty if nothing limits a round."""
    say = batch.phrases
    last = batch.last_bars
    full = batch.rounds if last is None else batch.rounds - 1
    if batch.rounds > 1:
        phrase = "even" if last is None else "two" if full == 1 else "more"
        shown = {"n": str(full), "bars": str(batch.round_bars), "last": str(last)}
        words = say.words(f"rounds.{phrase}", **shown)
    elif cavities is None and pieces is None:
        return ()
    else:
        words = say.words("rounds.single", bars=say.bars(batch.round_bars))
    if pieces is not None:
        few = cavities is not None and pieces.owned is not None and pieces.owned < cavities
        all_there = say.text("needed.few", cavities=cavities) if few else ""
        words = (*words, say.several(pieces.needed, "needed", few=all_there))
    if batch.melts_more_in_rounds:
        words = (*words, say.text("rounds.apart"))
    return words


def _watch_points(context: RecipeContext, say: PhraseCatalogue) -> tuple[CardWords, ...]:
    """The failures met in this recipe with their mends; mends that worked come first."""
    order = {"yes": 0, "untested": 1, None: 1, "no": 2}
    met = [failure for failure in context.design.failed if _met_in_recipe(context, failure)]
    met.sort(key=lambda failure: order[failure.mended])
    return tuple(_watch_point(failure, say) for failure in met)


def _met_in_recipe(context: RecipeContext, failure: Failure) -> bool:
    """Whether a failure was met in this recipe, not in another variant."""
    return failure.variant is None or any(
        failure.variant in (variant.name, *variant.chosen.values())
        for variant in context.design.variants
        if variant is context.variant or variant.recipe == context.recipe
    )


def _watch_point(failure: Failure, say: PhraseCatalogue) -> CardWords:
    """One failure as a sentence: the symptom, what was seen, and the mend."""
    what = say.symptom(failure.what)
    what = what[:1].upper() + what[1:]
    mend: CardWords = ()
    if failure.mend is not None:
        phrase = failure.mended if failure.mended in ("yes", "no") else "try"
        mend = say.words(f"mend.{phrase}", mend=say.own_words(failure.mend))
    return say.words("watch", what=what, saw=say.own_words(failure.saw), mend=mend)


def _caution_sentences(context: RecipeContext, say: PhraseCatalogue) -> str:
    """The cautions that this recipe needs, as one text."""
    layers = context.recipe.layers
    phrases = ["care.heat"]
    if any(layer.spritz for layer in layers):
        phrases.append("care.alcohol")
    if context.recipe.mat is not None or any("cut" in text for la in layers for text in la.then):
        phrases.append("care.blade")
    if any(layer.fragrance for layer in layers):
        phrases.append("care.oil")
    return " ".join(filter(None, map(say.text, (*phrases, "care.law", "care.unchecked"))))


def _blank_lines(
    context: RecipeContext, say: PhraseCatalogue
) -> tuple[tuple[WriteOnLine, ...], ...]:
    """The lines to write on, in one row; those for melting are spare."""
    scale = "°F" if context.settings.units == "us" else "°C"
    layers = context.recipe.layers
    pots = dict.fromkeys(layer.pot_name for layer in layers)
    usual = [say.text(f"line.{what}") for what in ("date", "by", "lot")]
    starts = [say.text("line.start", pot=pot, scale=scale) for pot in pots]
    pours = [say.text("line.pour", layer=layer.name, scale=scale) for layer in layers]
    spare = (WriteOnLine(label, spare=True) for label in starts)
    after = map(WriteOnLine, (*pours, say.text("line.result")))
    return ((*map(WriteOnLine, usual), *spare, *after),)
