"""``journal schema``: what it writes, where, and what it leaves alone."""

from __future__ import annotations

import fnmatch
import json
from pathlib import Path

import jsonschema
import pytest

from journal.cli import main
from journal.records.notebook import read_notebook


@pytest.fixture
def content(tmp_path: Path) -> Path:
    assert main(["begin", str(tmp_path / "soap")]) == 0
    return tmp_path / "soap"


def snapshot(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and ".schema" not in path.parts
    }


def test_it_writes_beside_the_notebooks_own_files(
    content: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = snapshot(content)
    assert main(["schema", "--content", str(content)]) == 0
    assert snapshot(content) == before
    assert "Wrote 13 schemas" in capsys.readouterr().out
    assert main(["check", "--content", str(content)]) == 0
    assert not read_notebook(content).warnings


def test_the_settings_lead_to_schemas_and_files(content: Path) -> None:
    assert main(["schema", "--content", str(content)]) == 0
    settings = json.loads((content / ".schema" / "settings.json").read_text("utf-8"))
    files = [path.relative_to(content).as_posix() for path in content.rglob("*.*")]
    for place, pattern in settings["yaml.schemas"].items():
        schema = json.loads((content / place).read_text("utf-8"))
        jsonschema.Draft202012Validator.check_schema(schema)
        # A server takes the head of Markdown and its prose for two documents.
        assert pattern.endswith(".yaml")
        if pattern.startswith(("shelf/", "journal")):
            assert fnmatch.filter(files, pattern), pattern
    # No file of the notebook has to name an editor, or its schema.
    assert not any(b"$schema" in text for text in snapshot(content).values())


def test_another_folder_and_another_place_for_the_settings(content: Path, tmp_path: Path) -> None:
    editor = content / ".editor"
    editor.mkdir()
    arguments = ["schema", str(tmp_path / "keys"), "--content", str(content), "--settings",
                 str(editor / "settings.json")]  # fmt: skip
    assert main(arguments) == 0
    settings = json.loads((editor / "settings.json").read_text("utf-8"))
    assert all((content / place).is_file() for place in settings["yaml.schemas"])
    assert not (tmp_path / "keys" / "settings.json").exists()
    assert main(arguments) == 0, "the same again is no overwriting"


def test_other_settings_are_never_overwritten(
    content: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "settings.json"
    own.write_text('{"tabSize": 2}')
    assert main(["schema", "--content", str(content), "--settings", str(own)]) == 2
    assert own.read_text() == '{"tabSize": 2}'
    said = capsys.readouterr().err
    assert "says other things" in said
    assert "yaml.schemas" in said
    assert not (content / ".schema").exists()


def test_the_same_notebook_gives_the_same_bytes(content: Path, tmp_path: Path) -> None:
    made = []
    for name in ("one", "two"):
        assert main(["schema", str(tmp_path / name), "--content", str(content)]) == 0
        made.append({p.name: p.read_bytes() for p in (tmp_path / name).glob("*.schema.json")})
    assert made[0] == made[1]
    assert len(made[0]) == 13


def test_a_notebook_with_mistakes_has_schemas_too(content: Path) -> None:
    design = content / "designs/fern-leaf/design.md"
    design.write_text(design.read_text("utf-8").replace("bars: 6", "bars: many"), "utf-8")
    assert main(["schema", "--content", str(content)]) == 0
