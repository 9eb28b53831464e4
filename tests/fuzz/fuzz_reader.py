"""Looks for bytes on which the reader stumbles, led by the lines of code that they reach.

    .venv/bin/pip install '.[fuzz]'
    .venv/bin/python tests/fuzz/fuzz_reader.py -max_total_time=300 FOLDER

Nothing else needs atheris, and no other test does. It begins from the cases and the demo
notebook, and takes the options of libFuzzer; what reaches new lines is kept in FOLDER, or in
one that it names, and searched on from. A stumble ends the search and is written to
``crash-…``; with ``FUZZ_ON=FOLDER`` the first of each kind is written there, and the search
goes on. Mend it, and put the smallest form of it into the tests of what stumbled.
"""

from __future__ import annotations

import math
import os
import sys
import tempfile
from pathlib import Path

import atheris

PROJECT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(PROJECT), str(PROJECT / "tests")]

with atheris.instrument_imports(include=["journal"]):
    from case_notebooks import laid_out
    from fuzz.stumbles import keep_first, refuse_without_place

    from journal.errors import Problem, QuantityError
    from journal.quantities import read
    from journal.records.checks.references import ReferenceChecker
    from journal.records.designs import read_design
    from journal.records.models.fields import keys_of
    from journal.records.models.questions import WrittenComparison, WrittenOrder
    from journal.records.models.settings import Settings
    from journal.records.models.shelf import KINDS
    from journal.records.models.write_up import (
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
    from journal.records.notebook import read_notebook

MODELS = (
    WriteUp, Layer, FragranceDose, ColourDose, Question, WrittenPour, Failure, Photo, Measuring,
    Settings, WrittenComparison, WrittenOrder, *(kind.record for kind in KINDS.values()),
)  # fmt: skip
#: Which file is written is the first byte of an input; most are write-ups and tables, which
#: are read by themselves, the rest with the whole notebook. A quantity is no file: every
#: reader of quantities is given its text.
QUANTITY = ""
DESIGN = "designs/tried/design.md"
TABLE = "designs/tried/table.csv"
FILES = (
    *[DESIGN] * 24,
    *[TABLE] * 8,
    *[QUANTITY] * 8,
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

QUANTITIES = (
    "85 g", "4 lb 5.2 oz", "3.6-3.8 oz", "2 1/2 tsp", "12 drops", "about 5 mL/lb", "3 %", "-5 °C",
    "150 to 160 F", "2 h 15 min", "1:30 pm", "80 x 55 mm", "3/8 in", "$12.50 / lb", "0.9-1.1 g/mL",
    "0.2 W/mK", "2.1 kJ/kgK", "180 kJ/kg", "12.4 px/mm", "2026-04-18", "½", "yes", "6 bars",
)  # fmt: skip
READERS = {name: one for name, one in vars(read).items() if name.startswith("read_")}

ROOT = Path(tempfile.mkdtemp(prefix="reader-")) / "content"
SOUND = laid_out(None, ROOT)


def lay_ground() -> None:
    """Make room in the sound notebook for every file that is tried."""
    for path in {*FILES} - {QUANTITY}:
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
        references = ReferenceChecker(
            ROOT, SOUND.shelf, [*SOUND.designs, "tried"], SOUND.comparisons
        )
        problems.extend(references.of_design(read.design))
    return problems


def leaves(value: object) -> list[object]:
    """The numbers and words that a quantity is made of."""
    if isinstance(value, tuple):
        return list(value)
    fields = getattr(value, "__struct_fields__", getattr(value, "__slots__", ()))
    return [getattr(value, field) for field in fields] if isinstance(fields, tuple) else []


def try_quantity(raw: bytes) -> None:
    """Every reader gives numbers that can be counted with, or says in one line why not."""
    text = raw.decode("utf-8", "surrogateescape")
    for name, reader in READERS.items():
        try:
            value = reader(text)
        except QuantityError as error:
            assert error.what.isprintable(), name
            assert error.hint.isprintable(), name
            assert error.hint[-1] in ".?", name
            continue
        for leaf in (value, *leaves(value)):
            if isinstance(leaf, float):
                assert math.isfinite(leaf), name
                assert leaf != 0 or math.copysign(1, leaf) == 1, name


def try_file(path: str, raw: bytes) -> None:
    """Write one file, read it, look at what is told, and take the file away."""
    file = ROOT / path
    before = file.read_bytes() if path not in (DESIGN, TABLE) and file.exists() else None
    file.write_bytes(raw)
    if path == TABLE:
        (ROOT / DESIGN).write_text(TABLES, encoding="utf-8")
    try:
        refuse_without_place(ROOT, problems_of(path))
    finally:
        if before is not None:
            file.write_bytes(before)
        elif path not in (DESIGN, TABLE):
            file.unlink()


def try_one(data: bytes) -> None:
    """Try what the first byte of ``data`` names on the rest of it."""
    if not data:
        return
    path = FILES[data[0] % len(FILES)]
    if path == QUANTITY:
        try_quantity(data[1:])
    else:
        try_file(path, data[1:])


def try_on(data: bytes) -> None:
    """Try one; write the first of each kind of stumble into a folder, and go on."""
    try:
        try_one(data)
    except Exception as stumble:  # noqa: BLE001 - whatever it is, it is what is looked for
        keep_first(Path(os.environ["FUZZ_ON"]), stumble, data)


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
    for text in QUANTITIES:
        number += 1
        first = bytes([FILES.index(QUANTITY)])
        (folder / f"seed-{number}").write_bytes(first + text.encode())


def main() -> None:
    work = Path(tempfile.mkdtemp(prefix="found-"))
    lay_ground()
    lay_seeds(work)
    words = [*WORDS, *sorted({key for model in MODELS for key in keys_of(model)})]
    (work.parent / f"{work.name}.dict").write_text(
        "".join(f'"{word}"\n' for word in words), encoding="utf-8"
    )
    sys.stdout.write(f"searching from, and keeping what is found in, {work}\n")
    # Whether a stumble ends the search is for who asked for it.
    look = try_on if "FUZZ_ON" in os.environ else try_one
    arguments = [*sys.argv, f"-dict={work}.dict", "-timeout=20", "-max_len=8000", str(work)]
    atheris.Setup(arguments, look)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
