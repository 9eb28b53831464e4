"""A notebook that is edited step by step is, after each step, what it would be from nothing."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from small_notebook import lay_down_small

from journal.build_options import BuildOptions
from journal.building import build_notebook

Edit = Callable[[Path], None]


def _edits(content: Path) -> Iterator[tuple[str, Edit]]:
    """Edits as a maker would make them, each on top of those before; with what they are."""
    designs = sorted(path.parent.name for path in content.glob("designs/*/design.md"))
    first, last = designs[0], designs[-1]

    def in_front(name: str, old: str, new: str) -> Edit:
        return lambda root: _put(root / "designs" / name / "design.md", old, new)

    def remark(root: Path) -> None:
        path = root / "designs" / first / "design.md"
        path.write_text(path.read_text("utf-8") + "\nLooked at again: a hairline.\n", "utf-8")

    def copy(root: Path) -> None:
        shutil.copytree(root / "designs" / last, root / "designs" / "zz-again")
        path = root / "designs" / "zz-again" / "design.md"
        path.write_text(re.sub(r"\ngrew_from: .*", "", path.read_text("utf-8")), "utf-8")
        _put(path, "title: ", f"grew_from: {last}\ntitle: Again, ")

    def no_copy(root: Path) -> None:
        shutil.rmtree(root / "designs" / "zz-again")

    yield "a remark in the prose", remark
    yield "another title", in_front(first, "title: ", "title: Late ")
    yield "a comment, which moves every line", in_front(last, "title: ", "# Seen.\ntitle: ")
    yield "one more design, grown from another", copy
    yield (
        "a failure in it",
        in_front("zz-again", "failed:\n", "failed:\n  - {what: bubbles, saw: Five.}\n"),
    )
    yield "a subject", in_front("zz-again", "subjects: [", "subjects: [quagga, ")
    yield "a dearer base", lambda root: _put(root / "shelf/bases.yaml", "price: ", "price: 1")
    yield "the design taken away", no_copy


def _put(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text, (path, old)
    path.write_text(text.replace(old, new, 1), "utf-8")


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.long)])
def test_edit_by_edit(
    tmp_path: Path, demo_content: Path, monkeypatch: pytest.MonkeyPatch, whole: bool
) -> None:
    content = tmp_path / "content"
    if whole:
        shutil.copytree(demo_content, content)
    else:
        lay_down_small(content, demo_content)
    cache, out = str(tmp_path / "kept"), tmp_path / "out"
    monkeypatch.setenv("JOURNAL_CACHE", cache)
    build_notebook(BuildOptions(content, out))
    before = _bytes(out)
    for what, edit in _edits(content):
        edit(content)
        monkeypatch.setenv("JOURNAL_CACHE", cache)
        build_notebook(BuildOptions(content, out))
        found = _bytes(out)
        assert found != before, what
        monkeypatch.setenv("JOURNAL_CACHE", "")
        fresh = tmp_path / "fresh"
        build_notebook(BuildOptions(content, fresh))
        wanted = _bytes(fresh)
        shutil.rmtree(fresh)
        wrong = sorted(p for p in {*wanted, *found} if wanted.get(p) != found.get(p))
        assert not wrong, (what, wrong)
        before = found


def _bytes(root: Path) -> dict[str, bytes]:
    return {str(p.relative_to(root)): p.read_bytes() for p in root.rglob("*") if p.is_file()}
