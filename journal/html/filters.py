"""The smallest things on a page as HTML: words, cells, the lines and letters of drawings.

A page has hundreds of them, and a macro takes some ten times as long over each, so these
are functions. Templates call them as filters: ``{{ page.lead|words }}``. All that is
larger is set by templates, which a notebook may replace.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Final

from markupsafe import Markup, escape

from journal.charts.drawing import ChartLabel, ChartLine
from journal.html.blocks import Link, PageCell, TextRun
from journal.html.card_page import CardAmount, CardWord
from journal.html.true_size import PathShape, PrintedText


# Units, names and figures come back page after page. A text that is HTML already is not
# escaped again, so the same letters may have two answers, by their type.
@lru_cache(maxsize=16384, typed=True)
def escaped(text: str) -> str:
    """A text as it stands in HTML, between elements or in an attribute."""
    return str(escape(text))


def shown(value: object) -> str:
    """Whatever a template prints, as it stands in HTML."""
    if type(value) is str:
        return escaped(value)
    return value if isinstance(value, Markup) else escape(value)


def _attribute(name: str, value: str) -> str:
    """An attribute with a space before it; nothing where it has no value."""
    return f' {name}="{escaped(value)}"' if value else ""


def words(every: Iterable[TextRun | str]) -> Markup:
    """Words of a sentence, each with its weight or the page that it leads to."""
    return Markup(_words(every))


def _words(every: Iterable[TextRun | str]) -> str:
    return "".join([escaped(w) if isinstance(w, str) else _span(w) for w in every])


def _span(span: TextRun) -> str:
    text = escaped(span.text)
    if span.href:
        paper, tone = _attribute("data-paper", span.paper), _attribute("class", span.tone)
        return f'<a href="{escaped(span.href)}"{paper}{tone}>{text}</a>'
    if span.tone == "strong":
        return f"<b>{text}</b>"
    return f"<span{_attribute('class', span.tone)}>{text}</span>" if span.tone else text


def card_words(every: Iterable[CardWord], scripts: Sequence[str]) -> Markup:
    """Words of a card; where the page has ``scripts``, each amount says what it is worked from."""
    return Markup("".join([_card_word(word, bool(scripts)) for word in every]))


def _card_word(word: CardWord, scripted: bool) -> str:
    if isinstance(word, str):
        return escaped(word)
    if isinstance(word, TextRun):
        return _span(word)
    if scripted:
        return _amount(word)
    # What only another number of bars calls for says nothing here.
    return _span(TextRun(word.text, word.tone)) if word.text else ""


def _amount(amount: CardAmount) -> str:
    of = (
        f' data-of="{escaped(amount.of)}" data-show="{escaped(amount.show)}"'
        f' data-scope="{escaped(amount.scope)}"'
    )
    if amount.tone == "strong":
        return f"<b{of}>{escaped(amount.text)}</b>"
    return f"<span{_attribute('class', amount.tone)}{of}>{escaped(amount.text)}</span>"


def link(to: Link) -> Markup:
    """A line that leads to another page."""
    here = ' aria-current="page"' if to.here else ""
    paper = _attribute("data-paper", to.paper)
    return Markup(f'<a href="{escaped(to.href)}"{paper}{here}>{escaped(to.text)}</a>')


def rows(every: Iterable[Iterable[PageCell]], figures: bool = False, named: bool = False) -> Markup:
    """The rows of a table, a line each.

    Takes:  every    the rows in order, each with its cells
            figures  whether the table is one of figures, which stand right without a class
            named    whether the second column of such a table is text, as its head says
    """
    return Markup("".join([f"<tr>{_cells(row, figures, named)}</tr>\n" for row in every]))


def cells(row: Iterable[PageCell], figures: bool = False, named: bool = False) -> Markup:
    """The cells of one row; ``figures`` and ``named`` as in ``rows``."""
    return Markup(_cells(row, figures, named))


def _cells(row: Iterable[PageCell], figures: bool, named: bool) -> str:
    return "".join(
        [
            f"{_cell_begins(cell, figures, named and place == 1)}{_words(cell.words)}"
            f"{f'<small>{escaped(cell.second)}</small>' if cell.second else ''}"
            f"{'</th>' if cell.head else '</td>'}"
            for place, cell in enumerate(row)
        ]
    )


def _cell_begins(cell: PageCell, figures: bool, named: bool) -> str:
    if cell.head:
        scope = "" if figures else ' scope="row"'
        return f"<th{scope}{_attribute('class', 'n' if cell.number else '')}>"
    if not figures:
        kind = f"n {cell.tone}".rstrip() if cell.number else cell.tone
        return f"<td{_attribute('class', kind)}{_attribute('data-exact', cell.data)}>"
    if cell.number:
        return f"<td{_attribute('class', cell.tone)}>"
    return '<td class="t">' if cell.words and not named else "<td>"


# Of drawings the words alone are escaped. Places, sizes, paths and colours are what
# ``drawing``, ``true_size`` and the modules that draw with them wrote, never the maker.


def strokes(every: Iterable[ChartLine]) -> Markup:
    """The straight lines of a drawing."""
    lines = [
        f'<line x1="{one.x1}" y1="{one.y1}" x2="{one.x2}" y2="{one.y2}" class="{one.tone}"/>'
        for one in every
    ]
    return Markup("".join(lines))


def letters(every: Iterable[ChartLabel], toned: bool = True) -> Markup:
    """The labels of a drawing; not ``toned`` where the group that they stand in is."""
    return Markup("".join([_label(one, one.tone if toned else "") for one in every]))


def _label(one: ChartLabel, tone: str) -> str:
    side = "" if one.anchor == "start" else f' text-anchor="{one.anchor}"'
    kind = f' class="{tone}"' if tone else ""
    # What lies on lines has a rim of paper, which is drawn first.
    rim = ' paint-order="stroke"' if tone in ("over", "in") else ""
    return f'<text x="{one.x}" y="{one.y}"{side}{kind}{rim}>{escaped(one.text)}</text>'


def shapes(every: Iterable[PathShape]) -> Markup:
    """The strokes and outlines of a drawing that is true to size, a line each."""
    return Markup("".join([_shape(one) for one in every]))


def _shape(one: PathShape) -> str:
    dash = f' stroke-dasharray="{one.dash}"' if one.dash else ""
    return (
        f'<path d="{one.d}" fill="{one.fill}" stroke="{one.stroke}"'
        f' stroke-width="{one.width}"{dash}/>\n'
    )


def lettering(every: Iterable[PrintedText]) -> Markup:
    """The texts of a drawing that is true to size, a line each."""
    return Markup("".join([_lettering(one) for one in every]))


def _lettering(one: PrintedText) -> str:
    side = "" if one.anchor == "start" else f' text-anchor="{one.anchor}"'
    turn = f' transform="{one.turn}"' if one.turn else ""
    return (
        f'<text x="{one.x}" y="{one.y}" font-family="{one.font}" font-size="{one.size}"'
        f' font-weight="{one.weight}"{side} fill="{one.fill}"{turn}>{escaped(one.text)}</text>\n'
    )


#: What templates may call, by name.
FILTERS: Final[Mapping[str, Callable[..., Markup]]] = {
    function.__name__: function
    for function in (
        words, card_words, link, rows, cells, strokes, letters, shapes, lettering,
    )
}  # fmt: skip
