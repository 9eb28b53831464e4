"""Writes a page for paper: as a small folder to print from, or as a PDF."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable

from journal.cli.clock import source_date_epoch
from journal.cli.terminal import print_lines
from journal.html.blocks import Link, PageFrame, Words
from journal.html.printing import pdf_of
from journal.html.theme import Theme, read_theme
from journal.output import OutputFile, check_file, write_file, write_notebook
from journal.records.codec import digest
from journal.records.notebook import Notebook


def plain_texts(notes: Iterable[Words]) -> list[str]:
    """The notes of a page as plain texts."""
    return [
        "".join(word if isinstance(word, str) else word.text for word in note) for note in notes
    ]


def write_pdf(args: argparse.Namespace, theme: Theme, html: str) -> None:
    """Write a page into the PDF that ``--pdf`` names.

    The fonts within would be dated with the hour; the same content has the same bytes.

    Fails:  OutputError where it may not be written: at once, not when it has been set
    """
    away_from = (args.content,)
    check_file(args.pdf, away_from)
    dated = source_date_epoch() is not None
    if not dated:
        os.environ["SOURCE_DATE_EPOCH"] = "0"
    try:
        pdf = pdf_of(theme, [html])
    finally:
        if not dated:
            del os.environ["SOURCE_DATE_EPOCH"]
    write_file(args.pdf, pdf, away_from=away_from)


def frame_of(notebook: Notebook, called: str, scripts: tuple[str, ...] = ()) -> PageFrame:
    """The frame of a folder's only page: the studio, the paper and the page's name."""
    return PageFrame(
        studio=notebook.settings.studio,
        root="",
        pages=(Link(called, "index.html", here=True),),
        paper=notebook.settings.paper,
        scripts=scripts,
    )


def write_folder(
    args: argparse.Namespace, theme: Theme, html: str, *, with_scripts: bool = False
) -> None:
    """Write a page, and the theme's files, into the folder that ``--out`` names."""
    parts = [
        OutputFile(path, digest(content), content.__bytes__)
        for path, content in (("index.html", html.encode()), *theme.files)
        if with_scripts or not path.endswith(".js")
    ]
    made_by = {"made": args.command_name}
    write_notebook(args.out, parts, stamp=made_by, away_from=(args.content,))


def write_or_print(
    args: argparse.Namespace,
    notebook: Notebook,
    template: str,
    page_of: Callable[[PageFrame], object],
    what: str,
    then: str,
) -> int:
    """Write a page as a PDF if ``--pdf`` names one, else as a folder to print from.

    Takes:  template  of the theme, set with what ``page_of`` gives for the frame
            what      is made, for the report; ``then`` is a second line of it
    Gives:  the exit status, 0
    """
    theme = read_theme(notebook.settings.theme, args.content)
    html = theme.set_page(template, page_of(frame_of(notebook, "To print")))
    if args.pdf is not None:
        write_pdf(args, theme, html)
        print_lines(f"Made {what}: {args.pdf}.", then)
        return 0
    write_folder(args, theme, html)
    print_lines(f"Made {what}: open {args.out / 'index.html'} and print it.", then)
    return 0
