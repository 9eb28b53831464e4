"""Recipe cards: one recipe for a number of bars, as printed leaves to work from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Final

from msgspec.structs import replace

from journal.charts.drawing import InkDrawing
from journal.errors import Problem, UsageError
from journal.figures.common.derive_context import RecipeContext
from journal.figures.day.derive_card import CardFigures, derive_card, round_masses
from journal.figures.day.derive_day import USUAL_HOURS
from journal.figures.day.derive_rounds import round_limit
from journal.figures.day.rounds import days_of_rounds
from journal.figures.heat.pot_rates import NO_RATES, RateLine
from journal.figures.pieces.derive_pieces import places_of_recipe
from journal.figures.recipe.derive_by_round import scrapings_g
from journal.figures.recipe.derive_layers import RecipeMasses
from journal.html.blocks import PageFrame, TextRun, Words
from journal.html.card_page import (
    CardLeaf,
    CardPage,
    CardSize,
    CardWord,
    CardWords,
    RoundRow,
    WriteOnLine,
    plain_text,
)
from journal.records.models.fields import spelling_hint
from journal.records.models.shelf import MATERIALS
from journal.records.models.things import references_of
from journal.records.models.write_up import AS_WRITTEN, Design, Failure, Variant
from journal.records.notebook import Notebook
from journal.views.card.amounts import RoundAmounts, non_breaking, written_units
from journal.views.card.layout import leaves_of
from journal.views.card.numbers import (
    MOST_BARS,
    TextTable,
    card_numbers,
    marked_text,
    widest_text,
    with_amounts,
)
from journal.views.card.sheet import ON_SHEET, cut_marks
from journal.views.card.steps import (
    Pieces,
    RoundSteps,
    rescue_lines,
    round_steps_of,
    set_out_words,
    steps_of,
    timing_words,
)
from journal.views.card.weights import RoundColumn, Rounds, round_column, round_rows, weights_of
from journal.views.shared.catalogue import ENGLISH, PhraseCatalogue, phrases_of
from journal.views.shared.over_limit import why_over

# No vowels, so that no word is spelt by chance; no 0, 1 and l, which are easily misread.
_ALPHABET: Final = "23456789bcdfghjkmnpqrstvwxz"
_VERSION_LETTERS: Final = 5
# A card is made for every number of bars of a round, so that its page can show each, up to here.
_MOST_SIZES: Final = 24


def cards_of(
    notebook: Notebook,
    design: Design,
    variant: str | None,
    bars: int | None,
    size: CardSize,
    rates: RateLine,
    dew_min: Mapping[str, int],
    problems: list[Problem] | None = None,
    say: PhraseCatalogue = ENGLISH,
    rescaled: bool = False,
    printed_on: date | None = None,
    drawing: InkDrawing | None = None,
) -> tuple[CardLeaf, ...]:
    """The card of one recipe: one leaf, or as many as it takes.

    Takes:  variant   name of a variant; None for the recipe as written
            bars      None for the batch that the recipe was written for
            rates     how fast the pots cooled that speak for the design
            dew_min   how long a chilled piece of a variant stands wet, where it does
            problems  a list; mistakes that only the figures find are added to it
            say       the catalogue of the card's language
            rescaled  whether a script can say it for other numbers of bars
            printed_on  the day that stands in the corner; None leaves a line to write it on
            drawing   of the bar, for the corner of the heading
    Gives:  leaves in order, each with its heading; anchors begin with the design's id
    Fails:  UsageError for a variant that the design does not have, or less than one bar
    """
    chosen = _chosen_variant(design, variant)
    number = chosen.recipe.bars if bars is None else bars
    if number < 1:
        raise UsageError(f"a card for {number} bars", "Ask for 1 bar or more.")
    reported: list[Problem] = [] if problems is None else problems
    context = RecipeContext(notebook.settings, notebook.shelf, design, chosen, number, reported)
    card = _Card(context, rates, dew_min.get(chosen.name, 0), say)
    whole = replace(card.whole(number), drawing=drawing)
    if printed_on is not None:
        whole = replace(whole, printed_on=printed_on.isoformat())
    # The script on the page has its words in English.
    if say.language != "en":
        english = _Card(context, rates, dew_min.get(chosen.name, 0), ENGLISH).whole(number)
        return leaves_of(whole, size, say, like=len(leaves_of(english, size)))
    if not rescaled:
        return leaves_of(whole, size, say)
    return _rescaled(card, whole, size)


def _rescaled(card: _Card, own: CardLeaf, size: CardSize) -> tuple[CardLeaf, ...]:
    """The leaves of a card with its words for other numbers of bars, and room for each."""
    every, several, table = card.single(), card.several(), TextTable()
    whole = with_amounts(own, every, table.amount)
    rounds = [own.rounds, *(one.rounds for one in every), *(words for words, _ in several)]
    tallest = replace(
        with_amounts(own, every, widest_text),
        bars=card.bars_text(MOST_BARS),
        rounds=max(rounds, key=lambda words: len(plain_text(words))),
    )
    if several:
        tables = [rows for _, rows in several]
        whole = replace(whole, rows=own.rows or tables[0], hidden=not own.rows)
        tallest = replace(tallest, rows=_widest_rows([whole.rows, *tables]))
    leaves = leaves_of(whole, size, card.say, tallest)
    numbers = card_numbers(card.texts(every, several), table)
    return (replace(leaves[0], numbers=numbers), *leaves[1:])


def _widest_rows(tables: Sequence[tuple[RoundRow, ...]]) -> tuple[RoundRow, ...]:
    """Rows with the longest text that each cell has in any of the tables."""
    rows = []
    for same in zip(*tables, strict=True):
        first, further, last, whole = (
            max(cells, key=len) for cells in zip(*(row.cells for row in same), strict=True)
        )
        rows.append(same[0]._replace(cells=(first, further, last, whole)))
    return tuple(rows)


def card_page(
    frame: PageFrame,
    leaves: Iterable[CardLeaf],
    size: CardSize,
    paper: str = "",
    title: str = "Recipe cards",
    standfirst: Words = (),
) -> CardPage:
    """A page of cards: one a sheet, or set out on ``paper`` ("a4", "letter") with cut marks."""
    all_leaves = tuple(leaves)
    sheet, across, down = ON_SHEET[size, paper] if paper else ("", 1, 1)
    count = across * down
    sheets = tuple(all_leaves[n : n + count] for n in range(0, len(all_leaves), count))
    marks = cut_marks(size, sheet, across, down) if sheet else None
    about = f"{title}, to print."
    return CardPage(frame, title, size, sheets, sheet, marks, standfirst, about=about)


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


class _Card:
    """The card of one recipe, made for any number of bars."""

    def __init__(
        self, context: RecipeContext, rates: RateLine, dew_min: int, say: PhraseCatalogue
    ) -> None:
        self.say = say
        self._context = context
        self._rates = rates
        self._dew_min = dew_min
        self._places = places_of_recipe(context.shelf, context.recipe)
        # Without bars there is one round, of all of them.
        self._limit = round_limit(context, self._places)
        self._figures: dict[int, CardFigures] = {}
        self._rounds: dict[tuple[int, int], RoundColumn] = {}
        self._tails: dict[tuple[int, int], str] = {}
        self._version = _version_letters(context)
        self._units = written_units(context, self._places)

    def _first_round(self, bars: int) -> CardFigures:
        """The steps of the first round of so many bars."""
        first = min(bars, self._limit.bars or bars)
        if first not in self._figures:
            context = self._context.for_bars(first)
            self._figures[first] = derive_card(context, self._places, self._rates, self._dew_min)
        return self._figures[first]

    def _column(self, bars: int, before: int) -> RoundColumn:
        """The amounts of a round of so many bars, after one of ``before`` (0: of the first)."""
        if (bars, before) not in self._rounds:
            masses = round_masses(self._context, bars, before)
            amounts = RoundAmounts(self._context, masses, self._units, self.say)
            self._rounds[bars, before] = round_column(amounts)
        return self._rounds[bars, before]

    def rounds(self, bars: int) -> Rounds:
        """The rounds of so many bars; those that are alike stand once."""
        full = min(bars, self._limit.bars or bars)
        number, rest = divmod(bars, full)
        return Rounds(
            self._column(full, 0),
            self._column(full, full) if number > 1 else None,
            number - 1,
            self._column(rest, full) if rest else None,
        )

    def bars_text(self, bars: int) -> str:
        """The number of bars in the heading."""
        return self.say.text("for", bars=self.say.bars(bars))

    def whole(self, bars: int) -> CardLeaf:
        """The card for so many bars, as one leaf."""
        context, say, rounds = self._context, self.say, self.rounds(bars)
        sheet = self._first_round(bars).sheet
        steps = round_steps_of(rounds.first.amounts, self._places, sheet.steps)
        return CardLeaf(
            anchor=_card_anchor(context),
            card=_card_anchor(context),
            title=context.design.title,
            sub=_subtitle(context, say),
            bars=self.bars_text(bars),
            version=self._version,
            dated=say.text("changed", date=changed_on(context.design).isoformat()),
            printed=say.text("printed"),
            state=_state_words(context, rounds.first.amounts.masses, say),
            stop=(say.text("state.aside"),) if rounds.first.amounts.masses.over else (),
            rounds=self._rounds_words(bars),
            intro=(timing_words(steps), set_out_words(steps), *_lots_words(context, say)),
            weights=weights_of(rounds.first.amounts),
            steps=steps_of(steps),
            rescue=tuple(rescue_lines(steps)),
            watch=_watch_points(context, say),
            cautions=caution_sentences(context, say),
            lines=_blank_lines(context, say),
            rows=round_rows(rounds) if rounds.further or rounds.last else (),
            heads=tuple(
                say.text(f"rounds.{head}") for head in ("first", "further", "last", "whole")
            ),
            scrapings=say.text("rounds.scrapings") if _scraped(context) else "",
            caption=say.text("weigh"),
            after=say.text("step.after"),
            language=say.text("code"),
            names=say.names_code,
        )

    def single(self) -> list[CardLeaf]:
        """The cards of 1, 2, … bars, which one round makes."""
        most = max(_MOST_SIZES, self._context.recipe.bars)
        return [self.whole(bars) for bars in range(1, min(self._limit.bars or most, most) + 1)]

    def several(self) -> list[tuple[CardWords, tuple[RoundRow, ...]]]:
        """The sentence and the table of rounds for more bars, up to the most that the page has."""
        full = self._limit.bars
        if full is None or full > _MOST_SIZES:
            return []
        numbers = range(full + 1, MOST_BARS + 1)
        return [(self._rounds_words(bars), round_rows(self.rounds(bars))) for bars in numbers]

    def _rounds_words(self, bars: int) -> CardWords:
        """The sentence on rounds and days; empty if nothing limits a round."""
        say, full = self.say, self._limit.bars
        if full is None:
            return ()
        if bars <= full:
            return say.words("rounds.single", bars=say.bars(bars))
        number, last = divmod(bars, full)
        phrase = "even" if not last else "two" if number == 1 else "more"
        words = say.words(f"rounds.{phrase}", n=str(number), bars=str(full), last=str(last))
        return (*words, self._rounds_tail(bars))

    def _rounds_tail(self, bars: int) -> str:
        """How many days the rounds take, and what keeps them from being fewer."""
        limit, places = self._limit, self._places
        assert limit.bars is not None
        number = fewer = -(-bars // limit.bars)
        if limit.by == "pieces" and places.owned is not None and places.cavities is not None:
            most = min(filter(None, (places.cavities * places.bars_each, limit.jug_bars)))
            fewer = -(-bars // most)
        # Numbers of bars that take as many rounds, with all pieces too, have the same.
        if (number, fewer) not in self._tails:
            self._tails[number, fewer] = self._tail_of(bars, number, fewer)
        return self._tails[number, fewer]

    def _tail_of(self, bars: int, number: int, fewer: int) -> str:
        say, limit, places = self.say, self._limit, self._places
        days = days_of_rounds(self._first_round(bars).round, number, USUAL_HOURS)
        takes = say.text("rounds.days", days=days) if days > 1 else ""
        if limit.by != "pieces" or places.owned is None:
            return takes + say.text(f"rounds.by.{limit.by}")
        only = say.text("rounds.by.pieces", pieces=say.several(places.owned, "pieces"))
        if places.cavities is None or fewer == number:
            return takes + only
        rounds, more = say.several(fewer, "rounds.count"), places.cavities - places.owned
        return takes + only + say.text("rounds.by.more", n=more, rounds=rounds)

    def texts(
        self, single: Sequence[CardLeaf], several: Sequence[tuple[CardWords, tuple[RoundRow, ...]]]
    ) -> dict[str, object]:
        """What the script shows: sentences on rounds to fill in, and the cells of their table."""
        full, most = len(single), len(single) + len(several)
        texts = {"full": full, "most": most, "single": [marked_text(one.rounds) for one in single]}
        if not several:
            return texts
        tails = [self._rounds_tail(bars) for bars in range(full + 1, most + 1)]
        known = list(dict.fromkeys(tails))
        cells = [[row.cells for row in rows] for _, rows in several]
        sentences = phrases_of(self.say.language)
        return {
            **texts,
            "sentences": [sentences[f"rounds.{which}"] for which in ("even", "two", "more")],
            "tails": known,
            "tail": [known.index(tail) for tail in tails],
            "first": [first for first, *_ in cells[0]],
            "further": [further for _, further, *_ in cells[full - 1]],
            "last": [[last for _, _, last, _ in rows] for rows in cells[: full - 1]],
            "whole": [[whole for *_, whole in rows] for rows in cells],
        }


def _scraped(context: RecipeContext) -> bool:
    """Whether anything is poured over and scraped back for the next round."""
    return any(scrapings_g(context.recipe, layer.pot_name, 1) for layer in context.recipe.layers)


def changed_on(design: Design) -> date:
    """The day from which the card is as it is: the last pour, since recipes change with them."""
    return max([design.date, *(pour.date for pour in design.pours)])


def _version_letters(context: RecipeContext) -> str:
    """A few letters that change when the recipe on the card does, and only then.

    They are a digest of the card for the batch that the recipe was written for, in one
    round: what is on hand, cost, how other pots cooled and the number of bars of this card
    change nothing. The English words are used, so that a card has one version in all languages.
    """
    written = context.for_bars(context.recipe.bars)
    places = replace(places_of_recipe(context.shelf, context.recipe), cavities=None, owned=None)
    figures = derive_card(written, replace(places, bars_each=1), NO_RATES)
    amounts = RoundAmounts(written, figures.masses[0])
    pieces = Pieces(1, None, ()) if context.recipe.mat is not None else None
    steps = RoundSteps(amounts, figures.sheet.steps, pieces, 1, 1)
    parts = [context.design.title, _subtitle(context, ENGLISH), context.design.date.isoformat()]
    parts.append(caution_sentences(context, ENGLISH))
    for weight in weights_of(amounts, with_shelf=False):
        parts.extend((weight.layer, weight.what, plain_text(weight.mind)))
        parts.extend((plain_text(weight.first), plain_text(weight.second)))
    parts.extend(plain_text(step.words) for step in steps_of(steps))
    parts.extend(plain_text(words) for words in _watch_points(context, ENGLISH))
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


def _state_words(context: RecipeContext, masses: RecipeMasses, say: PhraseCatalogue) -> CardWords:
    """Why a design is not to be poured; that it is a trial; else no words."""
    design = context.design
    if masses.over:
        why = "; ".join(why_over(context.shelf, over, say) for over in masses.over)
        return (TextRun(say.text("state.over", why=why), "mind"),)
    if design.state == "set aside":
        aside: CardWords = (TextRun(say.text("state.aside"), "mind"),)
        return (*aside, " ", say.own_words(design.summary)) if design.summary else aside
    return (TextRun(say.text("state.trial"), "strong"),) if design.state == "trial" else ()


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
    # The trim has been said, in the card's language.
    kind = None if trim is None else trim.kind
    choices = [one for one in context.variant.name.split("/") if one not in (kind, AS_WRITTEN)]
    if choices:
        parts.append(say.text("variant", name=", ".join(choices)))
    return " · ".join(parts)


def _lots_words(context: RecipeContext, say: PhraseCatalogue) -> Iterator[CardWords]:
    """The open lot of each material, with its date; none where the shelf has none.

    A date that was past when the recipe last changed is marked: from a card no calendar is read.
    """
    named = (one for layer in context.recipe.layers for one in references_of(layer))
    lots: list[CardWord] = []
    for kind, name in dict.fromkeys((one.kind, one.name) for one in named):
        record = context.shelf.of_kind(kind)[name] if kind in MATERIALS else None
        if record is None or record.lot is None:
            continue
        lots.append(f"{', ' if lots else ''}{record.name} {non_breaking(record.lot)}")
        day = record.best_before
        if day is not None and day < changed_on(context.design):
            lots.append(TextRun(f" {say.text('lots.past', date=day.isoformat())}", "mind"))
        elif day is not None:
            lots.append(f" {say.text('lots.until', date=day.isoformat())}")
    if lots:
        yield say.words("lots", lots=tuple(lots))


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


def caution_sentences(context: RecipeContext, say: PhraseCatalogue) -> str:
    """The cautions that this recipe needs, as one text."""
    return cautions_of([context], say)


def cautions_of(contexts: Sequence[RecipeContext], say: PhraseCatalogue) -> str:
    """The cautions that one or more recipes need, as one text."""
    layers = [layer for context in contexts for layer in context.recipe.layers]
    phrases = ["care.heat"]
    if any(layer.spritz for layer in layers):
        phrases.append("care.alcohol")
    mats = any(context.recipe.mat is not None for context in contexts)
    if mats or any("cut" in text for la in layers for text in la.then):
        phrases.append("care.blade")
    if any(layer.fragrance for layer in layers):
        phrases.append("care.oil")
    phrases.append("care.law")
    if say.names_code:
        phrases.append("care.names")
    return " ".join(filter(None, map(say.text, (*phrases, "care.unchecked"))))


def _blank_lines(
    context: RecipeContext, say: PhraseCatalogue
) -> tuple[tuple[WriteOnLine, ...], ...]:
    """The lines to write on, in one row; those for melting are spare."""
    scale = "°F" if context.settings.units == "us" else "°C"
    layers = context.recipe.layers
    pots = dict.fromkeys(layer.pot_name for layer in layers)
    usual = [say.text(f"line.{what}") for what in ("date", "by", "batch")]
    starts = [say.text("line.start", pot=pot, scale=scale) for pot in pots]
    pours = [say.text("line.pour", layer=layer.name, scale=scale) for layer in layers]
    spare = (WriteOnLine(label, spare=True) for label in starts)
    after = map(WriteOnLine, (*pours, say.text("line.result")))
    return ((*map(WriteOnLine, usual), *spare, *after),)
