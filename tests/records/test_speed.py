"""How long reading takes, against the YAML library's own safe loader on the same text.

In the long command alone: a busy machine would make it fail for no fault.
"""

from __future__ import annotations

import gc
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from journal.records.notebook import read_notebook
from journal.records.yaml.source import parse_yaml

pytestmark = pytest.mark.long

#: Copies of each design of the demo.
COPIES = 20
#: What reading may cost, as a share of what the library's safe loader takes.
PARSED = 0.5
#: What checking may cost, as a multiple of the parsing alone.
CHECKED = 2.0


def least(work: Callable[[], object], times: int = 5) -> float:
    """Seconds of the processor, the least of a few runs: what else runs only adds to it."""
    found = []
    for _ in range(times):
        gc.collect()
        began = time.process_time()
        work()
        found.append(time.process_time() - began)
    return min(found)


def fronts(content: Path) -> list[str]:
    texts = [path.read_text(encoding="utf-8") for path in content.glob("designs/*/design.md")]
    return [text.split("---\n", 2)[1] for text in texts]


def test_parsing_costs_half_of_the_safe_loader(demo_content: Path) -> None:
    texts = fronts(demo_content) * COPIES
    library = least(lambda: [yaml.load(text, yaml.CSafeLoader) for text in texts])
    ours = least(lambda: [parse_yaml(text, "x", 2) for text in texts])
    assert ours <= PARSED * library, f"{ours / library:.2f} of the library"


def test_checking_costs_no_more_than_twice_the_parsing(demo_content: Path, tmp_path: Path) -> None:
    content = tmp_path / "content"
    shutil.copytree(demo_content, content)
    for design in sorted((demo_content / "designs").iterdir()):
        for number in range(1, COPIES):
            shutil.copytree(design, content / "designs" / f"{design.name}-{number}")
    texts = fronts(content)
    gc.disable()
    try:
        parsing = least(lambda: [parse_yaml(text, "x", 2) for text in texts])
    finally:
        gc.enable()
    reading = least(lambda: read_notebook(content))
    assert reading - parsing <= CHECKED * parsing, f"{(reading - parsing) / parsing:.2f} of parsing"
