"""The parts that a page is made of: text that is ready to print, and its place on the page.

Every number arrives here as text in the maker's units, every drawing as prepared
coordinates (``drawing``). The templates only set them.

A page is a row of parts; a part has its head in the left margin and a column of
passages; a passage is a stretch of text with the notes that stand beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import ClassVar, Literal, NamedTuple

from markupsafe import Markup
from msgspec import Struct

from journal.charts.drawing import CellsMark, Chart, InkDrawing, InkShape, SectionDrawing

Tone = Literal["", "strong", "mind", "mended", "soft"]


class TextRun(Struct, frozen=True):
    """A few words of a sentence, with a tone or a link.

    ``href`` is relative to the page that the words stand on; ``paper`` is the
    page number that is printed after a link. The tone "mind" is the one accent, for
    warnings. ``language`` is the code of the words' language if it is not that around them.
    ``cells`` is drawn before the words, which say the same.
    """

    text: str
    tone: Tone = ""
    href: str = ""
    paper: str = ""
    language: str = ""
    cells: CellsMark | None = None


Words = tuple[TextRun | str, ...]

# Columns of a few words or figures each, on the 288 px that 320 has between its margins.
_MOST_ON_PHONE = 4
# Columns of a few figures each, in type of 7 pt on 86 mm.
_MOST_ON_HALF = 10


class Link(Struct, frozen=True):
    """A link to another page; ``here`` says that it is the page itself.

    ``paper`` is its page number, printed after it on paper; ``end`` is what stands
    at the end of its line in the contents, such as "41 written up".
    """

    text: str
    href: str
    paper: str = ""
    end: str = ""
    here: bool = False


class Paragraph(Struct, frozen=True, tag=True):
    """A paragraph of the notebook's own sentences."""

    block: ClassVar[str] = "said"
    words: Words
    tone: Tone = ""


class Prose(Struct, frozen=True, tag=True):
    """The maker's Markdown, already turned into safe HTML."""

    block: ClassVar[str] = "prose"
    html: Markup


class VerdictLine(Struct, frozen=True, tag=True):
    """The sentence that answers a question: its stressed words in ``mark``, then the rest."""

    block: ClassVar[str] = "verdict"
    mark: str
    rest: Words = ()


class Heading(Struct, frozen=True):
    """The head of a column; with ``number`` it is aligned right, over figures.

    With ``once`` its cells do not say it again where rows turn over: they speak for themselves.
    """

    text: str
    number: bool = False
    wide: bool = False
    once: bool = False


# Of cells, marks and the like a page has hundreds: a tuple is made in half the time.
class PageCell(NamedTuple):
    """One cell of a table: words, and beneath them the same in the second system of units.

    ``head`` makes it the head of its row. ``data`` is the exact figure that the
    words were rounded from, for the script that works out another number of bars.
    """

    words: Words
    second: str = ""
    number: bool = False
    head: bool = False
    tone: Tone = ""
    data: str = ""


def number_cell(text: str, second: str = "", tone: Tone = "") -> PageCell:
    """A cell that holds a figure, and so is aligned right."""
    return PageCell((text,) if text else (), second, number=True, tone=tone)


class RowGroup(Struct, frozen=True):
    """Rows that belong together, under a head of their own if ``head`` is given."""

    rows: tuple[tuple[PageCell, ...], ...]
    head: Words = ()
    anchor: str = ""


class PageTable(Struct, frozen=True, tag=True):
    """A ruled table.

    ``wide`` lets it scroll sideways instead of breaking words, where its rows do not turn over;
    ``strong`` sets its first figures large, to be read at arm's length; ``figures``
    sets every figure of a long table right, without a mark on each cell. Where the head over it
    says what the caption does, that is ``spoken``: read out alone.
    """

    block: ClassVar[str] = "table"
    caption: str
    heads: tuple[Heading, ...]
    groups: tuple[RowGroup, ...]
    wide: bool = False
    strong: bool = False
    quiet: bool = False
    figures: bool = False
    name: str = ""
    spoken: bool = False

    @property
    def span(self) -> int:
        """The number of columns that a group's head spans."""
        return len(self.heads)

    @property
    def turns(self) -> bool:
        """Whether its rows turn over on a phone; what is weighed from stays as it is."""
        return not self.strong and (self.wide or len(self.heads) > _MOST_ON_PHONE)

    @property
    def labels(self) -> tuple[str, ...]:
        """The heads that its cells say again where its rows turn over; a table of figures has none.

        Its heads stay in sight instead: it has so many cells that their names would outweigh them.
        """
        if self.figures or not self.turns:
            return ()
        return tuple("" if head.once else head.text for head in self.heads)

    @property
    def broad(self) -> bool:
        """Whether it has more columns than go beside each other on half a sheet."""
        return len(self.heads) > _MOST_ON_HALF

    @property
    def second_is_text(self) -> bool:
        """Whether a table of figures has text in its second column, with no figure in any row."""
        rows = [row for group in self.groups for row in group.rows if len(row) > 1]
        return self.figures and bool(rows) and not any(row[1].number for row in rows)


def simple_table(
    caption: str,
    heads: Sequence[str | Heading],
    rows: Iterable[Sequence[PageCell]],
    *,
    wide: bool = False,
    quiet: bool = False,
) -> PageTable:
    """A table of one group of rows; heads are aligned as the cells of the first row."""
    cells = tuple(map(tuple, rows))
    first = cells[0] if cells else (PageCell(()),) * len(heads)
    headings = tuple(
        Heading(head, number=cell.number) if isinstance(head, str) else head
        for head, cell in zip(heads, first, strict=True)
    )
    return PageTable(caption, headings, (RowGroup(cells),), wide=wide, quiet=quiet)


class ChartFigure(Struct, frozen=True, tag=True):
    """A chart, its caption, and the table of its values."""

    block: ClassVar[str] = "figure"
    chart: Chart
    caption: Words = ()
    values: PageTable | None = None
    values_say: str = "The values"


class ReadingLine(Struct, frozen=True, tag=True):
    """What the thermometer in a pot reads, to be typed in, for a script to say when to pour.

    ``table`` has a row of temperature and minutes for each step of its cooling, in the scale
    ``degree``; ``high`` and ``low`` are the ends of its window, ``again`` what it is reheated to.
    """

    block: ClassVar[str] = "reading"
    pot: str
    degree: str
    table: str
    high: str
    low: str
    again: str


class CaptionedDrawing(Struct, frozen=True):
    """A drawing to scale with a line over it and a line under it."""

    drawing: InkDrawing
    head: Words = ()
    says: Words = ()
    anchor: str = ""


class DrawingRow(Struct, frozen=True, tag=True):
    """Drawings side by side, as many as there is room for, and what their marks mean.

    With ``joined`` the four are one line on a wide page, and one under another on a phone.
    On a ``plate`` they stand in columns.
    """

    block: ClassVar[str] = "drawings"
    drawings: tuple[CaptionedDrawing, ...]
    caption: Words = ()
    joined: bool = False
    plate: bool = False


class PagePicture(Struct, frozen=True):
    """A photo in its sizes; ``srcset`` and ``sizes`` are as HTML writes them.

    ``modern`` is a second ``srcset``, in a format that most browsers take. ``share`` is how
    much of its column it fills, such as "tens-8 ones-3 tenths-4", where photos stand at one scale.
    """

    src: str
    alt: str
    width: int
    height: int
    srcset: str = ""
    sizes: str = ""
    caption: Words = ()
    first: bool = False
    modern: str = ""
    share: str = ""


class Pictures(Struct, frozen=True, tag=True):
    """Photos side by side, two to a row where there is room."""

    block: ClassVar[str] = "pictures"
    pictures: tuple[PagePicture, ...]


class FailureView(Struct, frozen=True):
    """A failure: what was seen, why, its mend; ``held`` names designs where it did not return.

    ``drawing`` shows what the symptom looks like.
    """

    what: str
    where: Words
    saw: Words
    why: str = ""
    mend: str = ""
    mended: str = ""
    held: Words = ()
    anchor: str = ""
    drawing: InkDrawing | None = None


class FailureList(Struct, frozen=True, tag=True):
    """Failures one under another, each under a short madder rule."""

    block: ClassVar[str] = "failures"
    failures: tuple[FailureView, ...]


class ListEntry(Struct, frozen=True):
    """A line of a list of designs: title, a sentence, words at its end, a photo or a drawing."""

    title: Link
    says: Words = ()
    end: Words = ()
    picture: PagePicture | None = None
    drawing: InkDrawing | None = None


class EntryList(Struct, frozen=True, tag=True):
    """A list of designs, ruled as the contents of a book."""

    block: ClassVar[str] = "entries"
    entries: tuple[ListEntry, ...]


class Definition(Struct, frozen=True):
    """A name and the sentences that explain it."""

    name: str
    says: tuple[Words, ...]
    anchor: str = ""
    href: str = ""


class DefinitionList(Struct, frozen=True, tag=True):
    """Names with their explanations, one a line."""

    block: ClassVar[str] = "terms"
    terms: tuple[Definition, ...]


class Formula(Struct, frozen=True, tag=True):
    """The method of one figure: what it is, plainly; its formula, source and assumptions."""

    block: ClassVar[str] = "formula"
    name: str
    anchor: str
    plain: str
    formula: str
    says: tuple[Words, ...] = ()
    facts: tuple[Definition, ...] = ()


class Subhead(Struct, frozen=True, tag=True):
    """A head inside a part."""

    block: ClassVar[str] = "subhead"
    text: str
    anchor: str = ""


class BulletList(Struct, frozen=True, tag=True):
    """A plain list of sentences."""

    block: ClassVar[str] = "points"
    points: tuple[Words, ...]
    numbered: bool = False


class TimedLine(NamedTuple):
    """A step of a day: when it begins, what is done, of which round; some run by themselves.

    ``key`` is the round's letter in the day's chart.
    """

    at: str
    says: Words
    of: str = ""
    key: str = ""
    by_hand: bool = True


class TimedSteps(Struct, frozen=True, tag=True):
    """The steps of a day in the order of the hands."""

    block: ClassVar[str] = "day"
    steps: tuple[TimedLine, ...]


class Cautions(Struct, frozen=True, tag=True):
    """Cautions, under a short madder rule."""

    block: ClassVar[str] = "care"
    words: tuple[Words, ...]


class ColourRow(Struct, frozen=True, tag=True):
    """Patches of measured colour in a row, each with its name and day."""

    block: ClassVar[str] = "colours"
    title: str
    patches: tuple[tuple[str, str, str], ...]


Block = (
    Paragraph | Prose | VerdictLine | PageTable | ChartFigure | Pictures | FailureList | EntryList
    | DefinitionList | Formula | Subhead | BulletList | TimedSteps | Cautions | ColourRow
    | DrawingRow | ReadingLine
)  # fmt: skip


class SideNote(Struct, frozen=True):
    """A note beside the text: one number in large type, then what it means.

    ``kind`` says whether it was counted, measured, computed or is an estimate,
    ``inputs`` names its inputs, ``how`` is the place of its formula.
    """

    big: str = ""
    says: tuple[Words, ...] = ()
    kind: str = ""
    inputs: str = ""
    how: str = ""
    section: SectionDrawing | None = None
    mind: bool = False


class Passage(Struct, frozen=True):
    """A stretch of the text column and the notes that stand beside it.

    With ``fold`` it is folded away under these words until it is opened; passages under the
    same words, one after another, are in one fold.
    """

    blocks: tuple[Block, ...]
    notes: tuple[SideNote, ...] = ()
    fold: str = ""


class SectionFacts(Struct, frozen=True):
    """The values that a macro of ``shop.html`` sets: texts and links by name, and rows of them.

    A text is "" where there is nothing to show. ``made`` is the note on how the figures were
    made, ``within`` holds the facts of nested parts.
    """

    macro: str
    texts: Mapping[str, str | bool | TextRun] = {}
    rows: Mapping[str, tuple[Words, ...]] = {}
    made: SideNote = SideNote()
    within: tuple[SectionFacts, ...] = ()


class Section(Struct, frozen=True):
    """A part of a page, with its head in the margin; ``language`` if it is not English.

    A part with ``facts`` is set by its own macro instead of from passages. With ``fold`` all of
    it but the head is folded away under these words until it is opened.
    """

    anchor: str
    head: str
    passages: tuple[Passage, ...] = ()
    language: str = ""
    facts: SectionFacts | None = None
    fold: str = ""


def simple_section(anchor: str, head: str, *blocks: Block, note: SideNote | None = None) -> Section:
    """A section of a single passage, with the note beside it if one is given."""
    return Section(anchor, head, (Passage(blocks, () if note is None else (note,)),))


class PageFrame(Struct, frozen=True):
    """The frame of every page: the running head, and the contents at the foot.

    ``pages`` is the navigation of both; ``how`` leads from the foot to the methods.

    ``root`` leads from the page to the notebook's first page and is "" or a row of
    "../". ``paper`` is "a4" or "letter". ``edition`` stands in the running head and,
    with ``inside``, which says what it contains, at the foot. ``feed``: whether it has a feed;
    ``public``: whether it is for others, whose machines want to know what a page is about.
    """

    studio: str
    root: str
    pages: tuple[Link, ...]
    edition: str = ""
    inside: str = ""
    feed: bool = False
    paper: str = "a4"
    scripts: tuple[str, ...] = ()
    how: TextRun = TextRun("")
    public: bool = False


class Page(Struct, frozen=True, tag=True):
    """A page that is a sequence of parts, as most pages are.

    ``before`` stands over the title, ``standfirst`` under it, ``line`` is a ruled line of
    text, such as on the design that this one grew from. ``drawn`` stands where
    there is no photo. ``folio`` is its page number. ``dangers`` are set as large as the title.
    """

    frame: PageFrame
    title: str
    parts: tuple[Section, ...]
    before: Words = ()
    standfirst: Words = ()
    line: Words = ()
    frontispiece: PagePicture | None = None
    drawn: CaptionedDrawing | None = None
    on_page: tuple[Link, ...] = ()
    folio: str = ""
    about: str = ""
    marks: tuple[Words, ...] = ()
    dangers: tuple[Words, ...] = ()

    @property
    def outlines(self) -> tuple[InkShape, ...]:
        """The shapes whose outlines the page's drawings share, each once."""
        shapes = (shape for drawing in self._drawings() for shape in drawing.shapes)
        return tuple({shape.ref: shape for shape in shapes if shape.ref}.values())

    @property
    def hatched(self) -> bool:
        """Whether a drawing needs the page's pattern of hatching."""
        return any("unknown" in s.tone for drawing in self._drawings() for s in drawing.shapes)

    def _drawings(self) -> Iterator[InkDrawing]:
        """Yield every drawing of things on the page."""
        if self.drawn is not None:
            yield self.drawn.drawing
        blocks = (b for part in self.parts for passage in part.passages for b in passage.blocks)
        for block in blocks:
            if isinstance(block, DrawingRow):
                yield from (one.drawing for one in block.drawings)
            elif isinstance(block, EntryList):
                yield from (one.drawing for one in block.entries if one.drawing is not None)


class IndexTerm(Struct, frozen=True):
    """A term of the index and the pages that mention it, each with its number."""

    name: str
    places: tuple[Words, ...]
    href: str = ""


class IndexLetter(Struct, frozen=True):
    """The terms that begin with one letter."""

    name: str
    anchor: str
    terms: tuple[IndexTerm, ...]


class IndexPage(Page, frozen=True, tag=True):
    """The index at the back: ``head`` stands in the margin beside its letters."""

    head: str = ""
    letters: tuple[IndexLetter, ...] = ()
