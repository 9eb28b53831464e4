"""The smallest things on a page as HTML: words, cells, the lines and letters of drawings.

A page has hundreds of them, and a macro takes some ten times as long over each, so these
are functions. Templates call them as filters: ``{{ page.standfirst|words }}``. All that is
larger is set by templates, which a notebook may replace.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Final

from markupsafe import Markup, escape

from journal.charts.drawing import CellsMark, ChartLabel, ChartLine, InkShape
from journal.html.blocks import Link, PageCell, TextRun
from journal.html.card_page import CardWord, marked_words
from journal.html.true_size import PathShape, PrintedText


# Units, names and figures recur page after page. A text that is HTML already is not
# escaped again, so the same letters may have two results, by their type.
@lru_cache(maxsize=16384, typed=True)
def escaped(text: str) -> str:
    """A text escaped for HTML, between elements or in an attribute; cached."""
    return str(escape(text))


def shown(value: object) -> str:
    """Whatever a template prints, escaped for HTML unless it is HTML already."""
    if type(value) is str:
        return escaped(value)
    return value if isinstance(value, Markup) else escape(value)


# As HTML allows, and a page has hundreds of them.
_NEEDS_NO_QUOTES = re.compile(r"[-\w.%#]+", re.ASCII).fullmatch


@lru_cache(maxsize=16384)
def _short(name: str, value: str) -> str:
    """An attribute as ``_attribute``, without quotes where its value needs none."""
    return f" {name}={value}" if _NEEDS_NO_QUOTES(value) else _attribute(name, value)


def _attribute(name: str, value: str) -> str:
    """An attribute with a space before it; "" if the value is empty."""
    return f' {name}="{escaped(value)}"' if value else ""


def words(every: Iterable[TextRun | str]) -> Markup:
    """The words of a sentence as HTML, with their tones and links."""
    return Markup(_words_html(every))


def _words_html(every: Iterable[TextRun | str]) -> str:
    return "".join([escaped(w) if isinstance(w, str) else _run_html(w) for w in every])


def _cells_svg(mark: CellsMark) -> str:
    """A mould at the height of a line: all its cells, then the hollow ones, then the strokes."""
    paths = "".join(f'<path d="{d}"/>' for d in (mark.cells, mark.hollow, mark.struck) if d)
    size = f'viewBox="{mark.view_box}" width={mark.width}'
    return f"<svg class=cells aria-hidden=true {size}>{paths}</svg>"


def _run_html(span: TextRun) -> str:
    """Words with a tone or a link; a link is an ``a``, "strong" a ``b``, other tones a ``span``."""
    text = escaped(span.text)
    if span.cells is not None:
        return f"{_cells_svg(span.cells)}{text}"
    if span.href:
        paper, tone = _short("data-paper", span.paper), _short("class", span.tone)
        return f"<a{_short('href', span.href)}{paper}{tone}>{text}</a>"
    language = _attribute("lang", span.language)
    if span.tone == "strong":
        return f"<b{language}>{text}</b>"
    marks = f"{_short('class', span.tone)}{language}"
    return f"<span{marks}>{text}</span>" if marks else text


def card_words(every: Iterable[CardWord], scripts: Sequence[str]) -> Markup:
    """The words of a card as HTML; with ``scripts``, what depends on the bars says its place."""
    return Markup("".join([_card_word_html(word, bool(scripts)) for word in every]))


def _card_word_html(word: CardWord, scripted: bool) -> str:
    if isinstance(word, str):
        return escaped(word)
    if isinstance(word, TextRun):
        return _run_html(word)
    place = f' data-text="{word.place}"' if scripted else ""
    text = _words_html(marked_words(word.text))
    if word.tone == "strong":
        return f"<b{place}>{text}</b>"
    marks = f"{_attribute('class', word.tone)}{place}"
    return f"<span{marks}>{text}</span>" if marks else text


def link(to: Link) -> Markup:
    """A link to another page as HTML; the page itself is marked as current."""
    here = " aria-current=page" if to.here else ""
    paper = _short("data-paper", to.paper)
    return Markup(f"<a{_short('href', to.href)}{paper}{here}>{escaped(to.text)}</a>")


def rows(
    every: Iterable[Iterable[PageCell]], figures: bool = False, named: bool = False,
    labels: Sequence[str] = (),
) -> Markup:  # fmt: skip
    """The rows of a table as HTML.

    Takes:  every    the rows in order, each with its cells
            figures  whether it is a table of figures, which are aligned right without a class
            named    whether the second column of such a table is text, as its head states
            labels   the heads of the columns, for the cells to say them on a phone; none if empty
    """
    return Markup(
        "".join([f"<tr>{_cells_html(row, figures, named, labels)}</tr>" for row in every])
    )


def cells(row: Iterable[PageCell], figures: bool = False, named: bool = False) -> Markup:
    """The cells of one row as HTML; ``figures`` and ``named`` as in ``rows``."""
    return Markup(_cells_html(row, figures, named))


def _cells_html(
    row: Iterable[PageCell], figures: bool, named: bool, labels: Sequence[str] = ()
) -> str:
    return "".join(
        [
            f"{_cell_start_tag(cell, figures, named and place == 1, labels[place : place + 1])}"
            f"{_words_html(cell.words)}"
            f"{f'<small>{escaped(cell.second)}</small>' if cell.second else ''}"
            f"{'</th>' if cell.head else '</td>'}"
            for place, cell in enumerate(row)
        ]
    )


def _cell_start_tag(cell: PageCell, figures: bool, named: bool, label: Sequence[str]) -> str:
    """The start tag of a cell, ``th`` or ``td``, with its class and attributes."""
    if cell.head:
        return f"<th scope=row{_short('class', 'n' if cell.number else '')}>"
    if not figures:
        kind = f"n {cell.tone}".rstrip() if cell.number else cell.tone
        head = _short("data-h", label[0]) if label and cell.words else ""
        return f"<td{_short('class', kind)}{_attribute('data-exact', cell.data)}{head}>"
    if cell.number:
        return f"<td{_short('class', cell.tone)}>"
    return "<td class=t>" if cell.words and not named else "<td>"


# Of drawings the words alone are escaped. Places, sizes, paths and colours are what
# ``drawing``, ``true_size`` and the modules that draw with them wrote, never the maker.


def strokes(every: Iterable[ChartLine]) -> Markup:
    """The straight lines of a drawing as SVG."""
    lines = [
        f'<line x1="{one.x1}" y1="{one.y1}" x2="{one.x2}" y2="{one.y2}" class="{one.tone}"/>'
        for one in every
    ]
    return Markup("".join(lines))


def letters(every: Iterable[ChartLabel], toned: bool = True) -> Markup:
    """The labels of a drawing as SVG; without ``toned`` their group carries the tone."""
    return Markup("".join([_label_svg(one, one.tone if toned else "") for one in every]))


def _label_svg(one: ChartLabel, tone: str) -> str:
    side = "" if one.anchor == "start" else f" text-anchor={one.anchor}"
    under = f"<tspan x={one.x} dy=16>{escaped(one.under)}</tspan>" if one.under else ""
    kind = _short("class", tone)
    return f"<text x={one.x} y={one.y}{side}{kind}>{escaped(one.text)}{under}</text>"


def inked(every: Iterable[InkShape], hatching: str = "") -> Markup:
    """The shapes of an ink drawing as SVG; ``hatching`` is the id of its own pattern."""
    return Markup("".join([_inked_svg(one, hatching) for one in every]))


def _inked_svg(one: InkShape, hatching: str) -> str:
    pattern = {"hatched": hatching, "unknown": "hatching"}.get(one.tone.rpartition(" ")[2])
    fill = one.fill or (f"url(#{pattern})" if pattern else "")
    marks = _short("fill", fill) + _short("class", one.tone) + _short("stroke-width", one.width)
    if one.ref:
        place = _short("x", one.x) + _short("y", one.y)
        return f"<use{place}{marks} href=#{one.ref} />"
    return f'<path{marks} d="{one.d}"/>'


def shapes(every: Iterable[PathShape]) -> Markup:
    """The strokes and outlines of a drawing that is true to size, as SVG."""
    return Markup("".join([_shape_svg(one) for one in every]))


def _shape_svg(one: PathShape) -> str:
    dash = f' stroke-dasharray="{one.dash}"' if one.dash else ""
    return (
        f'<path d="{one.d}" fill="{one.fill}" stroke="{one.stroke}"'
        f' stroke-width="{one.width}"{dash}/>\n'
    )


def lettering(every: Iterable[PrintedText]) -> Markup:
    """The texts of a drawing that is true to size, as SVG."""
    return Markup("".join([_lettering_svg(one) for one in every]))


def _lettering_svg(one: PrintedText) -> str:
    side = "" if one.anchor == "start" else f' text-anchor="{one.anchor}"'
    turn = f' transform="{one.turn}"' if one.turn else ""
    return (
        f'<text x="{one.x}" y="{one.y}" font-family="{one.font}" font-size="{one.size}"'
        f' font-weight="{one.weight}"{side} fill="{one.fill}"{turn}>{escaped(one.text)}</text>\n'
    )


#: The filters that templates may call, by name.
FILTERS: Final[Mapping[str, Callable[..., Markup]]] = {
    function.__name__: function
    for function in (
        words, card_words, link, rows, cells, strokes, letters, inked, shapes, lettering,
    )
}  # fmt: skip
