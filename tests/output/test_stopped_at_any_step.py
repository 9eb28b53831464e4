"""A build is killed, and paused, at each of its steps in a real process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and signals")
def test_old_or_new_whatever_step_was_the_last(tmp_path: Path, project: Path) -> None:
    here = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, here / "stop_at_steps.py", tmp_path],
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(project), str(here.parent)))},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-4000:]
    came_to = json.loads(done.stdout)
    assert came_to["steps"] > 100, came_to
    assert came_to["old"] > 50, came_to
    assert came_to["new"] > 20, came_to
    # From the taking of the lock to its end.
    assert came_to["kept apart"] > 100, came_to
    assert came_to["went on"] > 30, came_to
