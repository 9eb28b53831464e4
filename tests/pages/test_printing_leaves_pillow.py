"""Printing a PDF leaves photos as strict as they were."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


def test_a_picture_cut_short_stays_refused(project: Path) -> None:
    pytest.importorskip("weasyprint")
    code = (
        "from PIL import ImageFile; from journal.pages.printing import _weasyprint;"
        " _weasyprint(); print(ImageFile.LOAD_TRUNCATED_IMAGES)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=project, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
