"""``journal begin``: the starter in a language is the same notebook in other words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from journal.cli import main
from journal.cli.begin import STARTER


def test_the_spanish_starter_has_the_same_figures_in_other_words(tmp_path: Path) -> None:
    made = tmp_path / "jabon"
    assert main(["begin", str(made), "--language", "es"]) == 0
    changed = 0
    for path in sorted(STARTER.rglob("*.*")):
        if path.is_dir():
            continue
        own = (made / path.relative_to(STARTER)).read_text("utf-8")
        english = path.read_text("utf-8")
        assert re.findall(r"\d[\d.:/-]*", own) == re.findall(r"\d[\d.:/-]*", english), path
        keys = re.compile(r"^ *-? *[a-z_]+(?=:)", re.M)
        added = ["language", "written_in"] if path.name == "journal.yaml" else []
        left = [key for key in keys.findall(own) if key not in added]
        assert sorted(left) == sorted(
            key.replace("green", "verde") for key in keys.findall(english)
        ), path
        changed += own != english
    assert changed == 11


def test_its_cards_are_wholly_spanish(tmp_path: Path) -> None:
    made, out = tmp_path / "jabon", tmp_path / "cards"
    assert main(["begin", str(made), "--language", "es"]) == 0
    assert main(["check", "--content", str(made)]) == 0
    assert main(["cards", "fern-leaf", "--content", str(made), "--out", str(out)]) == 0
    html = (out / "index.html").read_text("utf-8")
    card = html[html.index("<article") :]
    assert 'lang="es"' in card
    assert 'lang="en' not in card
    for word in ("Hoja de helecho", "Blanca sencilla", "Poner un toque de base caliente"):
        assert word in card


def test_a_word_that_is_no_longer_there_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    words = {"es": {"journal.yaml": {"nowhere": "en ninguna parte"}}}
    monkeypatch.setattr("journal.cli.begin._starter_words", lambda: words)
    with pytest.raises(KeyError, match="nowhere"):
        main(["begin", str(tmp_path / "x"), "--language", "es"])
