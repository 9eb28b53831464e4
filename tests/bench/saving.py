"""From a save to the page in a preview, held against the page by bare libraries in a live process.

Prints JSON: seconds of the processor for each.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from journal.build_options import BuildOptions
from journal.preview.session import NotebookRebuilder
from tests.bench.baseline import page_setter

ROUNDS = 5


def saving(content: Path, out: Path) -> dict[str, float]:
    """The middle of several saves of one write-up: to its page, and until all the rest follows."""
    desk = NotebookRebuilder(BuildOptions(content, out))
    desk.make()
    paths = sorted(content.glob("designs/*/design.md"))
    path = paths[len(paths) // 2]
    changed = path.relative_to(content).as_posix()
    set_page = page_setter()
    pages, wholes, baselines = [], [], []
    for number in range(ROUNDS):
        path.write_text(path.read_text("utf-8") + f"\nSaved, number {number}.\n", "utf-8")
        pages.append(_took(lambda: _sure(desk.make_page([changed]))))
        wholes.append(_took(desk.make))
        baselines.append(_took(lambda: set_page(path)))
    return {"page": median(pages), "whole": median(wholes), "baseline": median(baselines)}


def _sure(pages: dict[str, bytes]) -> None:
    if not pages:
        raise RuntimeError("no page was made of what was saved")


def _took(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


if __name__ == "__main__":
    sys.stdout.write(json.dumps(saving(Path(sys.argv[1]), Path(sys.argv[2]))))
