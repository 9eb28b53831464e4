"""Pages as a PDF without a browser: the same templates and stylesheet, fonts embedded.

WeasyPrint makes it; it is an optional dependency, loaded only here. Files that a page
refers to come from the theme, and from nowhere else.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from importlib import import_module
from typing import Any

from journal.errors import UsageError
from journal.html.theme import Theme

# The base address of the pages; by RFC 2606 no site has this name.
_ROOT = "http://notebook.invalid/"
# Links lead nowhere on paper. The head of the first sheet goes to the end of the text, and
# notes go under their passage: a grid over several pages loses lines in WeasyPrint. It breaks
# words at the end of a line if they stand in an element of their own.
_PDF_STYLES = """
a, a[href] { -weasy-link: none }
.colophon { position: static !important; display: block !important }
.beside { display: block !important }
.part > h2 { width: 40mm !important }
.run table { break-inside: auto !important }
.day span[lang] { overflow-wrap: normal }
.days .foot { margin: 0 !important }
.days .colophon { position: running(foot) !important; border: 0 }
@page { @bottom-left { content: element(foot) } }
"""

# Charts of a day in px: what ``look.css`` sets on paper.
_CHART_PX = 9.6
_VARIABLE = re.compile(r"--(\w+):\s*([^;}]+)")
_INK = re.compile(
    r"(?m)^(?:\.chart [^{}]*|[^{}@]*)\{[^{}]*(?:fill|stroke|weight|display:\s*none)[^{}]*\}$"
)
# It paints the rim of a letter over the letter.
_NO_RIM = ".chart .over, .chart .head, .chart .in { stroke: none }"
# As templates of the program and of a notebook may write it.
_CHART = re.compile(r'<svg class="?chart"?(?=[ >])')
_USED = re.compile(r"var\(--(\w+)\)")


def pdf_of(theme: Theme, pages: Iterable[str]) -> bytes:
    """One PDF of pages from ``theme.set_page``, one after the other.

    Takes:  theme  the theme that the pages were set with
            pages  whole HTML documents; addresses in them are relative to the notebook's root
    Gives:  the file's bytes; the same pages give the same bytes if SOURCE_DATE_EPOCH is
            set, which dates the embedded fonts
    Fails:  UsageError if WeasyPrint is not installed, or lacks its libraries
    """
    weasyprint = _load_weasyprint()
    fetcher = _theme_fetcher(theme)
    fonts = weasyprint.text.fonts.FontConfiguration()
    style = weasyprint.CSS(string=_PDF_STYLES, font_config=fonts)
    documents = [
        weasyprint.HTML(string=page, base_url=_ROOT, url_fetcher=fetcher).render(
            font_config=fonts, stylesheets=[style]
        )
        for page in _with_styled_charts(theme, pages)
    ]
    whole = documents[0].copy([sheet for document in documents for sheet in document.pages])
    # ISO 14289-1, so that a reader can read it aloud: the order, heads, tables, the language.
    data: bytes = whole.write_pdf(pdf_variant="pdf/ua-1")
    return data


def _with_styled_charts(theme: Theme, pages: Iterable[str]) -> Iterator[str]:
    """The pages with the inks of the stylesheet in every chart, by day and on no narrow screen.

    WeasyPrint lets no stylesheet in from outside, knows no variables there, and no type but
    what stands in attributes.
    """
    css = dict(theme.files)["look.css"].decode("utf-8").split("@media screen and (max-width")[0]
    values = dict(reversed(_VARIABLE.findall(css))) | {"paper": "#fff"}
    inks = (rule[0] for rule in _INK.finditer(css))
    css = _USED.sub(lambda used: values.get(used[1], "currentColor"), f"{''.join(inks)}{_NO_RIM}")
    chart = f'<svg font-size="{_CHART_PX}" font-family="Bench" class="chart"'
    for page in pages:
        first, *charts = _CHART.split(page)
        styled = (one.replace(">", f"><style>{css}</style>", 1) for one in charts)
        yield chart.join((first, *styled))


def _load_weasyprint() -> Any:
    """The WeasyPrint module; UsageError if it cannot be loaded."""
    try:
        import_module("weasyprint.text.fonts")
        return import_module("weasyprint")
    except (ImportError, OSError) as error:
        # OSError: the package is there, the system library that it draws letters with is not.
        raise UsageError(
            f"a PDF is made by WeasyPrint, which cannot be loaded here ({error})",
            "Install it: pip install 'soap-design-journal[pdf]'. Or leave --pdf away, open the"
            " page in a browser and print it from there: it comes out the same.",
        ) from error


def _theme_fetcher(theme: Theme) -> Any:
    """A fetcher for WeasyPrint that gives out the theme's files and refuses all others."""
    urls: Any = import_module("weasyprint.urls")
    files = dict(theme.files)

    class FromTheme(urls.URLFetcher):  # type: ignore[misc]
        """Gives out the theme's own files and no others."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            path = url.removeprefix(_ROOT)
            if path not in files:
                raise ValueError(f"{url} is no file of the theme")
            kind = "text/css" if path.endswith(".css") else "application/octet-stream"
            return urls.URLFetcherResponse(url, files[path], {"Content-Type": kind})

    return FromTheme()
