"""Write-ups and notebooks with known mistakes, or none, and what is expected of each.

A case is a write-up ``NAME.md``, or a folder ``NAME`` whose files are laid over the
small notebook in ``cases/notebook``. Beside it stands what is expected: for one of
``cases/invalid`` the whole list of messages, ``NAME.txt``; for one of ``cases/valid``
the design as it is read, ``NAME.json``. To write what is expected anew, and then to read
the changes before they are kept:

    .venv/bin/python tests/case_notebooks.py
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from journal.errors import Position
from journal.records.notebook import Notebook, read_notebook
from journal.records.yaml.tree import SourceTree, WrittenTable

CASES = Path(__file__).resolve().parent / "cases"
ENDINGS = {"invalid": ".txt", "valid": ".json"}


def cases(kind: str) -> list[Path]:
    """The cases of a kind; a folder found empty is a mistake of the tests, not a success."""
    found = [
        path for path in sorted((CASES / kind).iterdir()) if path.is_dir() or path.suffix == ".md"
    ]
    assert found, f"no case stands in {kind}"
    return found


def laid_out(case: Path | None, folder: Path) -> Notebook:
    """The small notebook with the case in it, read from a new ``folder``."""
    shutil.copytree(CASES / "notebook", folder)
    if case is None:
        pass
    elif case.is_dir():
        shutil.copytree(case, folder, dirs_exist_ok=True)
    else:
        design = folder / "designs" / case.stem
        design.mkdir()
        shutil.copyfile(case, design / "design.md")
    return read_notebook(folder)


def expected_of(case: Path) -> Path:
    """The file that says what is expected of a case."""
    return case.with_name(case.stem + ENDINGS[case.parent.name])


def outcome(case: Path, notebook: Notebook) -> str:
    """What came of a case, as its expected file has it."""
    if case.parent.name == "invalid":
        return "".join(f"{problem}\n" for problem in notebook.problems)
    design = notebook.designs[case.stem]
    return json.dumps(plain(design), indent=1, ensure_ascii=False) + "\n"


# Places, and what stands in the file anyway.
LEFT_OUT = {
    "at", "piece_at", "source", "body_line", "path", "files", "private",
}  # fmt: skip


def plain(value: Any) -> Any:
    """A record as plain data, without places and without what stands in the file anyway."""
    if isinstance(value, BaseModel):
        return {
            name: plain(getattr(value, name))
            for name in type(value).model_fields
            if getattr(value, name) not in (None, ())
        }
    if isinstance(value, tuple | list):
        return [plain(entry) for entry in value]
    if isinstance(value, SourceTree):
        return plain(value.table)
    if isinstance(value, WrittenTable):
        return {name: plain(entry) for name, entry in value.items()}
    if isinstance(value, Position):
        return str(value)
    names = getattr(value, "__struct_fields__", None) or getattr(value, "__dataclass_fields__", ())
    if names:
        return {
            # What a pour really did is held as a tree.
            name.removesuffix("_source"): plain(getattr(value, name))
            for name in names
            if name not in LEFT_OUT and getattr(value, name) not in (None, (), {}, "")
        }
    if isinstance(value, Mapping):
        return {str(name): plain(entry) for name, entry in value.items()}
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        # Twelve digits: what is left of the last is the machine's.
        return float(f"{value:.12g}")
    return str(value)


def write_expected() -> None:
    """Write what is expected of every case as it comes out now."""
    for case in [case for kind in ENDINGS for case in cases(kind)]:
        with tempfile.TemporaryDirectory() as folder:
            now = outcome(case, laid_out(case, Path(folder) / "content"))
        path = expected_of(case)
        if not path.exists() or path.read_text(encoding="utf-8") != now:
            path.write_text(now, encoding="utf-8")
            sys.stdout.write(f"wrote {path.name}\n")


if __name__ == "__main__":
    write_expected()
