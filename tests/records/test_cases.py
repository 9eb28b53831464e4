"""Every case of ``tests/cases`` comes out as its expected file says, positions included."""

from __future__ import annotations

from pathlib import Path

import pytest
from case_notebooks import CASES, ENDINGS, cases, expected_of, laid_out, outcome


def test_the_notebook_that_cases_are_laid_over_is_sound(tmp_path: Path) -> None:
    assert laid_out(None, tmp_path / "content").problems == ()


@pytest.mark.parametrize("case", cases("invalid"), ids=lambda case: case.stem)
def test_invalid_case_gives_exactly_these_messages(case: Path, tmp_path: Path) -> None:
    notebook = laid_out(case, tmp_path / "content")
    assert notebook.problems
    assert outcome(case, notebook) == expected_of(case).read_text(encoding="utf-8")


@pytest.mark.parametrize("case", cases("valid"), ids=lambda case: case.stem)
def test_valid_case_is_read_as_meant(case: Path, tmp_path: Path) -> None:
    notebook = laid_out(case, tmp_path / "content")
    assert notebook.problems == ()
    assert outcome(case, notebook) == expected_of(case).read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", sorted(ENDINGS))
def test_no_expected_file_is_left_without_its_case(kind: str) -> None:
    expected = {path for path in (CASES / kind).iterdir() if path.suffix == ENDINGS[kind]}
    assert expected == {expected_of(case) for case in cases(kind)}


def test_an_empty_folder_of_cases_fails(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "invalid").mkdir()
    monkeypatch.setattr("case_notebooks.CASES", tmp_path)
    with pytest.raises(AssertionError, match="no case stands in invalid"):
        cases("invalid")
