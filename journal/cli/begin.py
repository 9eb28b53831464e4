"""``journal begin``: a new notebook with a worked example."""

from __future__ import annotations

import argparse
import tomllib
from pathlib import Path

from journal.cli.terminal import counted, print_lines
from journal.output import write_new_files

STARTER = Path(__file__).resolve().parent.parent / "starter"


def _starter_words() -> dict[str, dict[str, dict[str, str]]]:
    """By language and file, the words of the starter and what stands in their place."""
    return tomllib.loads((Path(__file__).parent / "starter_words.toml").read_text("utf-8"))


def _in_other_words(file: bytes | Path, words: dict[str, str]) -> bytes:
    """A file of the starter with other words."""
    text = file.decode("utf-8") if isinstance(file, bytes) else file.read_text("utf-8")
    for said, instead in words.items():
        if said not in text:
            raise KeyError(said)
        text = text.replace(said, instead)
    return text.encode("utf-8")


def begin(args: argparse.Namespace) -> int:
    """Run ``journal begin DIR``: copy the starter into a new notebook, its words in a language."""
    files: dict[str, bytes | Path] = {
        path.relative_to(STARTER).as_posix(): path
        for path in sorted(STARTER.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }
    for name, words in _starter_words().get(args.language, {}).items():
        files[name] = _in_other_words(files[name], words)
    write_new_files(files, args.dir)
    print_lines(
        f"Laid out a notebook in {args.dir}: {counted(len(files), 'file')}.",
        f"Build it with: journal build --content {args.dir} --open",
    )
    return 0
