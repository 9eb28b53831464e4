"""Pages as a PDF without a browser: the same templates and stylesheet, fonts embedded.

WeasyPrint makes it; it is an optional dependency, loaded only here. Files that a page
refers to come from the theme, and from nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Any

from journal.errors import UsageError
from journal.html.theme import Theme

# The base address of the pages; by RFC 2606 no site has this name.
_ROOT = "http://notebook.invalid/"
# Links lead nowhere on paper. The head of the first sheet goes to the end of the text, and
# notes go under their passage: a grid over several pages loses lines in WeasyPrint.
_PDF_STYLES = """
a, a[href] { -weasy-link: none }
.colophon { position: static !important; display: block !important }
.beside { display: block !important }
.notes { margin: 0 0 4mm 6mm !important }
.note::before { display: none !important }
.part > h2 { width: 40mm !important }
.run table { break-inside: auto !important }
"""


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
        for page in pages
    ]
    whole = documents[0].copy([sheet for document in documents for sheet in document.pages])
    data: bytes = whole.write_pdf()
    return data


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
