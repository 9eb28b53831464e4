"""The journal as it is used from Python."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from demo import KELP_ON_GREY

from journal import api
from journal.errors import ContentError


def test_a_notebook_is_read_derived_compared_and_built(project: Path, tmp_path: Path) -> None:
    content = tmp_path / "content"
    shutil.copytree(project / "content", content)

    notebook = api.read(content)
    assert notebook.problems == ()
    figures = api.derive(notebook)
    results = api.compare(notebook)
    found = api.as_json(notebook, figures, results, [KELP_ON_GREY])
    built = api.build(content, tmp_path / "out", edition="helpers")

    (design,) = found["designs"].values()
    # Six bars of 3.3 oz of base, an avoirdupois ounce being 28.349523125 g (NIST SP 811, App. B).
    assert design["layers"]["body"]["base_g"] == pytest.approx(6 * 3.3 * 28.349523125)
    assert built.written is not None
    assert "index.html" in built.written.made
    assert (tmp_path / "out" / "index.html").is_file()
    assert api.build(content, tmp_path / "out", edition="helpers").written is None


def test_what_is_wrong_is_told_at_its_place(tmp_path: Path) -> None:
    (tmp_path / "journal.yaml").write_text("studio: A\ncurency: USD\n")
    (problem,) = api.read(tmp_path).problems
    assert str(problem).startswith('journal.yaml:2:1: unknown key "curency".')


def test_a_photo_that_cannot_be_measured_is_told(project: Path, tmp_path: Path) -> None:
    content = tmp_path / "content"
    shutil.copytree(project / "content", content)
    path = content / "designs" / KELP_ON_GREY / "design.md"
    told = 'photos/front.jpg, alt: "'
    measure = 'photos/front.jpg, measure: {regions: {body: [5000, 5, 60, 60]}}, alt: "'
    written = path.read_text("utf-8")
    assert written.count(told) == 1
    path.write_text(written.replace(told, measure), "utf-8")
    notebook = api.read(content)
    assert notebook.problems == ()
    (problem,) = api.derive(notebook).problems
    assert problem.warning
    assert problem.position.line == written[: written.index(told)].count("\n") + 1


def test_a_folder_that_there_is_not(tmp_path: Path) -> None:
    with pytest.raises(ContentError, match="there is no notebook here"):
        api.read(tmp_path / "nowhere")
