"""What the notebook holds on paper: for what is in use; the rest is a command away."""

from __future__ import annotations

import html
import re
import shutil
from pathlib import Path

from demo_book import demo_notebook

from journal.records.notebook import read_notebook
from journal.views.shared.paper_places import label_place, pour_sheet_place, trims_used


def test_labels_of_keepers_and_sheets_of_what_is_not_set_aside(notebook: Path) -> None:
    designs = demo_notebook().designs.values()
    assert {design.state for design in designs} == {"keeper", "trial", "set aside"}
    labels = {label_place(design).path for design in designs if design.state == "keeper"}
    sheets = {pour_sheet_place(design).path for design in designs if design.state != "set aside"}
    found = {folder: {path.relative_to(notebook).as_posix() for path in notebook.glob(folder)}
             for folder in ("labels/*.html", "sheets/pour-*.html")}  # fmt: skip
    assert found == {"labels/*.html": labels, "sheets/pour-*.html": sheets}


def test_the_page_of_a_design_leads_to_its_paper_or_says_what_makes_it(notebook: Path) -> None:
    for design in demo_notebook().designs.values():
        text = html.unescape((notebook / "designs" / f"{design.id}.html").read_text("utf-8"))
        for made, place, command in (
            (design.state == "keeper", label_place(design), f"journal label {design.id}"),
            (
                design.state != "set aside",
                pour_sheet_place(design),
                f"journal sheet pour-day {design.id}",
            ),
        ):
            assert (f'href="../{place.path}"' in text) == made, (design.id, place.path)
            assert (command in text) == (not made), (design.id, command)


def test_a_pair_of_which_all_designs_are_set_aside_has_no_template(
    tmp_path: Path, demo_content: Path
) -> None:
    content = tmp_path / "content"
    shutil.copytree(demo_content, content)
    path = content / "designs" / "barley-ears" / "design.md"
    assert ("barley-ear", "six-oblong") in trims_used(read_notebook(content))
    path.write_text(path.read_text("utf-8").replace("state: trial", "state: set aside"), "utf-8")
    assert ("barley-ear", "six-oblong") not in trims_used(read_notebook(content))


def test_a_page_to_cut_by_says_what_to_do_if_a_browser_prints_it_too_small(notebook: Path) -> None:
    pages = [*notebook.glob("templates/*.html"), *notebook.glob("labels/*.html")]
    assert pages
    for path in pages:
        opening = path.read_text("utf-8").split("<div class=sheet>")[0]
        command = re.search(r"journal (template|label) [a-z0-9 -]+ --pdf", opening)
        assert command, path.name
        assert "-".join(command[0].split()[2:-1]) == path.stem
        assert "this browser cannot print to size" in opening
