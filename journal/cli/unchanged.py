"""``journal build`` where nothing has changed: answered before anything slow is loaded."""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path

from journal.build_options import BuildOptions
from journal.cache_folder import cache_store
from journal.cli.terminal import print_lines
from journal.made_from import is_up_to_date
from journal.output import recover
from journal.scan import ContentScan, cached_program_digest, program_fingerprint, scan_content


def build(args: argparse.Namespace) -> int:
    """Run ``journal build``: report that nothing has changed, or build; gives the exit status."""
    options = BuildOptions(args.content, args.out, args.edition, args.bars, args.theme, args.strict)
    store = cache_store(options.content)
    program = cached_program_digest(store, program_fingerprint())
    scan: ContentScan | None = None
    if not args.open and program is not None:
        recover(options.out)
        scan = scan_content(options.content, store)
        if is_up_to_date(options.out, options.stamp(scan.key, program), store):
            print_lines(*unchanged_lines(options.out))
            return 0
    status: int = import_module("journal.cli.build").build(options, scan, args.open)
    return status


def unchanged_lines(out: Path) -> tuple[str, str]:
    """Two lines that report that nothing has changed."""
    return (
        f"Nothing has changed: the notebook in {out} is up to date.",
        f"Open it at {out / 'index.html'}",
    )
