"""A preview that is stopped in the middle leaves the old notebook or the new one, whole."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from journal.cli import DONE, WRONG_USE, main


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A content just begun, and the same with another write-up."""
    root = tmp_path_factory.mktemp("previewed")
    assert main(["begin", str(root / "one")]) == DONE
    shutil.copytree(root / "one", root / "other")
    path = root / "other/designs/fern-leaf/design.md"
    text = path.read_text("utf-8")
    assert "bars: 6" in text
    path.write_text(text.replace("bars: 6", "bars: 12"), "utf-8")
    return root / "one", root / "other"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no processes are forked here")
@pytest.mark.long  # of kills the usual command has those of builds, in test_build_faults.py
def test_stopped_at_any_moment(two: tuple[Path, Path], tmp_path: Path, project: Path) -> None:
    stops = 300
    script = Path(__file__).with_name("stop_previews.py")
    done = subprocess.run(
        [sys.executable, script, tmp_path / "out", tmp_path / "content", *two, str(stops), "627"],
        env={**os.environ, "PYTHONPATH": str(project), "JOURNAL_CACHE": str(tmp_path / "kept")},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-4000:]
    came_to = json.loads(done.stdout)
    assert {came_to[name] for name in ("SIGINT", "SIGTERM", "SIGKILL")} == {stops // 3}
    assert came_to["old"] + came_to["new"] == stops
    assert came_to["old"], came_to
    assert came_to["new"], came_to


def test_a_port_that_is_taken_costs_nothing(
    two: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, built = tmp_path / "out", tmp_path / "built"
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        asked = ["--content", str(two[0]), "--out", str(out), "--port", str(port)]
        assert main(["preview", *asked]) == WRONG_USE
    assert f"port {port} is taken. Name another with --port N" in capsys.readouterr().err
    assert not (out / ".journal-work").exists()
    ask = ["--content", str(two[0]), "--out"]
    assert main(["build", *ask, str(out)]) == DONE
    assert main(["build", *ask, str(built)]) == DONE
    found = [{p.relative_to(root).as_posix(): p.read_bytes() for p in root.rglob("*.*")
              if p.is_file()} for root in (out, built)]  # fmt: skip
    assert found[0] == found[1]
