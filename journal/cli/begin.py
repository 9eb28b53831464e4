"""``journal begin``: a new notebook with a worked example."""

from __future__ import annotations

import argparse
import secrets
import string
import tomllib
from collections.abc import Callable
from pathlib import Path

from journal.cli.terminal import counted, print_lines
from journal.output import write_new_files

#: Stands in the starter for what the new notebook is known by.
STARTER_ID = "made-at-begin"
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


def _random_id() -> str:
    """An id that no other notebook has: 16 small letters."""
    return "".join(secrets.choice(string.ascii_lowercase) for _ in range(16))


def begin(args: argparse.Namespace, new_id: Callable[[], str] = _random_id) -> int:
    """Run ``journal begin DIR``: copy the starter into a new notebook, its words in a language.

    ``new_id`` gives what the notebook is known by.
    """
    files: dict[str, bytes | Path] = {
        path.relative_to(STARTER).as_posix(): path
        for path in sorted(STARTER.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }
    for name, words in _starter_words().get(args.language, {}).items():
        files[name] = _in_other_words(files[name], words)
    files["journal.yaml"] = _in_other_words(files["journal.yaml"], {STARTER_ID: new_id()})
    write_new_files(files, args.dir)
    print_lines(
        f"Laid out a notebook in {args.dir}: {counted(len(files), 'file')}.",
        f"Build it with: journal build --content {args.dir} --open",
    )
    return 0
