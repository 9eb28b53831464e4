"""``journal begin``: a new notebook with a worked example."""

from __future__ import annotations

import argparse
from pathlib import Path

from journal.cli.terminal import counted, print_lines
from journal.output import write_new_files

STARTER = Path(__file__).resolve().parent.parent / "starter"


def begin(args: argparse.Namespace) -> int:
    """Run ``journal begin DIR``: copy the starter into a new notebook."""
    files: dict[str, bytes | Path] = {
        path.relative_to(STARTER).as_posix(): path
        for path in sorted(STARTER.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }
    write_new_files(files, args.dir)
    print_lines(
        f"Laid out a notebook in {args.dir}: {counted(len(files), 'file')}.",
        f"Build it with: journal build --content {args.dir} --open",
    )
    return 0
