"""``journal build`` where nothing has changed: answered before anything slow is loaded."""

from __future__ import annotations

import argparse
from importlib import import_module
from pathlib import Path

from journal.build_options import BuildOptions
from journal.cache_folder import cache_store
from journal.cli.terminal import print_lines
from journal.output import matches_last, recover
from journal.scan import ContentScan, cached_program_digest, program_fingerprint, scan_content


def build(args: argparse.Namespace) -> int:
    """``journal build``: nothing to do, or over to the stages that do it."""
    wanted = BuildOptions(args.content, args.out, args.edition, args.bars, args.theme, args.strict)
    store = cache_store(wanted.content)
    program = cached_program_digest(store, program_fingerprint())
    seen: ContentScan | None = None
    if not args.open and program is not None:
        recover(wanted.out)
        seen = scan_content(wanted.content, store)
        if matches_last(wanted.out, wanted.stamp(seen.key, program)):
            print_lines(*unchanged_lines(wanted.out))
            return 0
    status: int = import_module("journal.cli.build").build(wanted, seen, args.open)
    return status


def unchanged_lines(out: Path) -> tuple[str, str]:
    """What is said where there was nothing to do."""
    return (
        f"Nothing has changed: the notebook in {out} is up to date.",
        f"Open it at {out / 'index.html'}",
    )
