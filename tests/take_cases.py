"""A copy of the demo into which something is taken, and the write-up that gets it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from demo import KELP_ON_CLAY


def copy_beside(demo_content: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo's content in a folder, which is the working folder from then on."""
    made = folder / "content"
    shutil.copytree(demo_content, made, copy_function=shutil.copyfile)
    monkeypatch.chdir(folder)
    return made


def write_up(content: Path) -> Path:
    """The write-up that is taken into."""
    return content / f"designs/{KELP_ON_CLAY}/design.md"
