"""Looks for bytes on which the reader stumbles, led by the lines of code that they reach.

    .venv/bin/pip install atheris
    .venv/bin/python tests/fuzz/fuzz_reader.py -max_total_time=300

Nothing else needs atheris, and no other test does. It begins from the cases and the demo
notebook, keeps what it finds in a folder that it names, and takes the options of libFuzzer;
a folder among them is searched on from. What it stumbles over is written to ``crash-…``:
mend it, and put the smallest form of it into the tests of what stumbled.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

PROJECT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(PROJECT), str(PROJECT / "tests")]

with atheris.instrument_imports(include=["journal"]):
    from case_notebooks import laid_out

    from journal.errors import Problem
    from journal.records.asked import AcrossDesigns, WrittenOrder
    from journal.records.crossed import crossed
    from journal.records.designs import read_design
    from journal.records.notebook import read_notebook
    from journal.records.settings import Settings
    from journal.records.shelf import KINDS
    from journal.records.typed import keys_of
    from journal.records.write_up import (
        ColourDose,
        Failure,
        FragranceDose,
        Layer,
        Measuring,
        Photo,
        Question,
        WriteUp,
        WrittenPour,
    )

MODELS = (
    WriteUp, Layer, FragranceDose, ColourDose, Question, WrittenPour, Failure, Photo, Measuring,
    Settings, AcrossDesigns, WrittenOrder, *KINDS.values(),
)  # fmt: skip
#: Which file is written is the first byte of an input; most are write-ups and tables, which
#: are read by themselves, the rest with the whole notebook.
DESIGN = "designs/tried/design.md"
TABLE = "designs/tried/table.csv"
FILES = (
    *[DESIGN] * 24,
    *[TABLE] * 8,
    "journal.yaml",
    "comparisons/tried.md",
    "orders/tried.yaml",
    *(f"shelf/{kind}.yaml" for kind in KINDS),
)
TABLES = """---
title: Tables
date: 2026-04-18
state: trial
bars: 6
layers: [{name: body, pot: slate, base: clear, amount: 90 g}]
variants: {cool: {trim: close}, hot: {trim: straight}}
pours:
  - {date: 2026-04-18, readings: table.csv, bars: table.csv, later: table.csv}
---
"""
WORDS = (
    "- ", ": ", "{", "}", "[", "]", "|\\x0a", "&a ", "*a", "!x ", "<<: ", "close", "straight 3 mm",
    "150 F", "0:00", "1 mm", "90 g", "5 mL/lb", "3 %", "yes", "no", "clear", "white", "slate",
    "cedar", "[a](../first-try/design.md)", "../", ".csv", "did", "time", "\\x22", "---\\x0a",
)  # fmt: skip

ROOT = Path(tempfile.mkdtemp(prefix="reader-")) / "content"
SOUND = laid_out(None, ROOT)


def lay_ground() -> None:
    """Make room in the sound notebook for every file that is tried."""
    for path in FILES:
        (ROOT / path).parent.mkdir(parents=True, exist_ok=True)
    (ROOT / "designs" / "tried" / "photos").mkdir()
    (ROOT / "designs" / "tried" / "photos" / "front.gif").write_bytes(b"GIF89a")


def problems_of(path: str) -> list[Problem]:
    """What is told of the notebook, of one design where the file is a part of it."""
    if path not in (DESIGN, TABLE):
        return list(read_notebook(ROOT).problems)
    problems: list[Problem] = []
    read = read_design(ROOT, "tried", SOUND.settings, True, problems)
    if read is not None:
        designs = {**SOUND.designs, "tried": read.design}
        measures = SOUND.settings.all_measures()
        problems.extend(crossed(ROOT, measures, SOUND.shelf, designs, (), {}, {}))
    return problems


def try_one(data: bytes) -> None:
    """Write one file, read it, look at what is told, and take the file away."""
    if not data:
        return
    path = FILES[data[0] % len(FILES)]
    file, raw = ROOT / path, data[1:]
    before = file.read_bytes() if path not in (DESIGN, TABLE) and file.exists() else None
    file.write_bytes(raw)
    if path == TABLE:
        (ROOT / DESIGN).write_text(TABLES, encoding="utf-8")
    try:
        problems = problems_of(path)
    finally:
        if before is not None:
            file.write_bytes(before)
        elif path not in (DESIGN, TABLE):
            file.unlink()
    text = raw.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    for problem in problems:
        at, said = problem.position, str(problem)
        assert "\n" not in said, said
        assert len(said) < 700, said
        if at.path == path:
            assert 1 <= at.line <= len(lines), said
            assert 1 <= at.column <= len(lines[at.line - 1]) + 2, said


def lay_seeds(folder: Path) -> None:
    """What to begin from: every case, and the files of the demo."""
    number = 0
    sources = [
        *(PROJECT / "tests" / "cases").rglob("*.*"),
        *(PROJECT / "content").rglob("*.md"),
        *(PROJECT / "content").rglob("*.yaml"),
        *(PROJECT / "content").rglob("*.csv"),
    ]
    for source in sources:
        if not source.is_file() or source.suffix not in (".md", ".yaml", ".csv"):
            continue
        inside = [n for n, path in enumerate(FILES) if path.rpartition("/")[2] == source.name]
        kind = FILES.index(TABLE) if source.suffix == ".csv" else inside[0] if inside else 0
        number += 1
        (folder / f"seed-{number}").write_bytes(bytes([kind]) + source.read_bytes()[:6000])


def main() -> None:
    work = Path(tempfile.mkdtemp(prefix="found-"))
    lay_ground()
    lay_seeds(work)
    words = [*WORDS, *sorted({key for model in MODELS for key in keys_of(model)})]
    (work.parent / f"{work.name}.dict").write_text(
        "".join(f'"{word}"\n' for word in words), encoding="utf-8"
    )
    sys.stdout.write(f"searching from, and keeping what is found in, {work}\n")
    arguments = [*sys.argv, f"-dict={work}.dict", "-timeout=20", "-max_len=8000", str(work)]
    atheris.Setup(arguments, try_one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
