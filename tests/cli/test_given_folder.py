"""A build into a folder that came from elsewhere, as a maker calls it."""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import sys
from pathlib import Path

import pytest
from small_notebook import lay_down_small

from journal.cache_folder import cache_path
from journal.cli import DONE, WRONG_USE, main

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


@pytest.fixture(scope="module")
def content(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Path:
    return lay_down_small(tmp_path_factory.mktemp("given") / "content", demo_content)


@pytest.mark.parametrize("version", [1, 2])
def test_a_build_removes_nothing_behind_a_link(
    content: Path, tmp_path: Path, version: int, capsys: pytest.CaptureFixture[str]
) -> None:
    victim, given = tmp_path / "victim", tmp_path / "given"
    victim.mkdir()
    (victim / "thesis.txt").write_text("years of work")
    (given / ".journal-work" / "new").mkdir(parents=True)
    (given / "designs").symlink_to(victim)
    record = json.dumps({"format": "none"}).encode()
    (given / ".journal-made.json").write_bytes(record)
    digest = hashlib.blake2b(record, digest_size=16).hexdigest()
    note = {"format": f"soap-design-journal exchange/{version}", "add": [], "old": [], "new": [],
            "drop": ["designs/thesis.txt"]}  # fmt: skip
    if version == 2:
        note |= {"before": digest, "after": digest}
    (given / ".journal-work" / "note.json").write_text(json.dumps(note))
    assert main(["build", "--content", str(content), "--out", str(given)]) == WRONG_USE
    assert "Traceback" not in capsys.readouterr().err
    assert (victim / "thesis.txt").read_text() == "years of work"


class Planted:
    """What runs a stranger's code when it is unpickled."""

    def __init__(self, sign: Path) -> None:
        self.sign = sign

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.mkdir, (str(self.sign),)


def test_what_was_planted_behind_a_link_is_not_run(
    content: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The digest of what is kept has no secret in it: anybody can reckon it."""
    given, planted = tmp_path / "given", tmp_path / "given" / "planted"
    monkeypatch.setenv("JOURNAL_CACHE", str(given / "honest"))
    assert main(["build", "--content", str(content), "--out", str(tmp_path / "first")]) == DONE
    honest = cache_path(content)
    assert honest is not None
    names = sorted(os.listdir(honest))
    assert names
    planted.mkdir(mode=0o700)
    for name in names:
        data = pickle.dumps(Planted(tmp_path / "it ran"))
        digest = hashlib.blake2b(name.encode() + b"\0" + data, digest_size=16).digest()
        (planted / name).write_bytes(digest + data)
    monkeypatch.setenv("JOURNAL_CACHE", str(given / "cache"))
    (given / "cache").mkdir(mode=0o700)
    there = cache_path(content)
    assert there is not None
    there.symlink_to(planted)
    assert main(["build", "--content", str(content), "--out", str(tmp_path / "second")]) == DONE
    assert not (tmp_path / "it ran").exists()


def test_schemas_are_not_written_behind_a_link(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    victim, given = tmp_path / "victim", tmp_path / "given"
    victim.mkdir()
    given.mkdir()
    for path in content.iterdir():
        if path.name != "designs":
            (given / path.name).symlink_to(path)
    (given / "designs").symlink_to(content / "designs")
    (given / ".schema").symlink_to(victim)
    assert main(["schema", "--content", str(given)]) == WRONG_USE
    assert "is a link" in capsys.readouterr().err
    assert not os.listdir(victim)
