from __future__ import annotations

from pathlib import Path

import pytest
from paths import PROJECT

from journal.errors import ContentError
from journal.records.models.outlines import FOLDER, LARGEST_BYTES, Outline, read_outline

OPEN = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 44">'
DRAWN = '<path d="M0 0H64V44z"/>'

# Ways to do harm with an SVG, each as it is published: CWE-79, CWE-611 and CWE-776; OWASP's sheets
# on XML external entities and on cross-site scripting; the chapters of SVG 1.1 that run or fetch.
ATTACKS = {
    "script": "<script>alert(1)</script>",
    "script by namespace": '<s:script xmlns:s="http://www.w3.org/2000/svg">alert(1)</s:script>',
    "handler": '<path d="M0 0H1V1z" onload="alert(1)"/>',
    "handler of a group": '<g onclick="alert(1)"/>',
    "link": '<a href="javascript:alert(1)"><path d="M0 0H1V1z"/></a>',
    "link by xlink": '<path d="M0 0H1V1z" xlink:href="javascript:alert(1)"/>',
    "foreign content": "<foreignObject><body/></foreignObject>",
    "picture": '<image href="http://example.com/x.png" width="1" height="1"/>',
    "picture as data": '<image href="data:image/svg+xml,%3Csvg/%3E"/>',
    "use": '<use href="other.svg#x"/>',
    "style": "<style>@import url(http://example.com)</style>",
    "style of a path": '<path d="M0 0H1V1z" style="fill:url(http://example.com#x)"/>',
    "animation": '<set attributeName="href" to="javascript:alert(1)"/>',
    "filter": '<filter id="f"><feImage href="http://example.com"/></filter>',
    "text": "<text>Kelp</text>",
    "words": "Kelp",
    "CDATA": "<![CDATA[<script>alert(1)</script>]]>",
    "stylesheet": '<?xml-stylesheet href="http://example.com/x.xsl"?>',
    "XInclude": '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="/etc/passwd"/>',
    "nested": "<svg/>",
    "capitals": "<SCRIPT/>",
    "undeclared entity": "&kelp;",
}
DOCTYPES = {
    "billion laughs": '<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>',
    "quadratic blow-up": f'<!DOCTYPE svg [<!ENTITY a "{"a" * 2000}">]>',
    "external entity": '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
    "parameter entity": '<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://example.com/x.dtd"> %a;]>',
    "external subset": '<!DOCTYPE svg SYSTEM "http://example.com/x.dtd">',
    "default attribute": '<!DOCTYPE svg [<!ATTLIST path onload CDATA "alert(1)">]>',
}


def written(root: Path, text: str, name: str = "kelp.svg") -> Path:
    (root / FOLDER).mkdir(parents=True, exist_ok=True)
    (root / FOLDER / name).write_text(text, encoding="utf-8")
    return root


def refused(root: Path, text: str) -> str:
    with pytest.raises(ContentError) as raised:
        read_outline(written(root, text), "kelp.svg")
    (problem,) = raised.value.problems
    return str(problem)


@pytest.mark.parametrize("attack", ATTACKS)
def test_an_svg_that_would_do_harm_is_refused(attack: str, tmp_path: Path) -> None:
    assert read_outline(written(tmp_path, f"{OPEN}\n{DRAWN}\n</svg>"), "kelp.svg").paths
    said = refused(tmp_path, f"{OPEN}\n{DRAWN}\n{ATTACKS[attack]}\n</svg>")
    assert said.startswith(f"{FOLDER}/kelp.svg:3:"), said


@pytest.mark.parametrize("doctype", DOCTYPES)
def test_a_doctype_is_refused_before_anything_in_it_is_read(doctype: str, tmp_path: Path) -> None:
    said = refused(tmp_path, f"{DOCTYPES[doctype]}\n{OPEN}{DRAWN}</svg>")
    assert "a DOCTYPE stands in the outline" in said
    assert said.startswith(f"{FOLDER}/kelp.svg:1:")


def test_bounds_of_a_file(tmp_path: Path) -> None:
    filled = OPEN + DRAWN + " " * (LARGEST_BYTES - len(OPEN + DRAWN + "</svg>")) + "</svg>"
    assert read_outline(written(tmp_path, filled), "kelp.svg").paths
    assert "too large" in refused(tmp_path, filled + " ")
    many = "".join(f'<path d="M0 0{"h1" * 99}V1"/>' for _ in range(20))
    assert "more than 2000 pieces" in refused(tmp_path, f"{OPEN}{many}</svg>")
    deep = "<g>" * 2000 + DRAWN + "</g>" * 2000
    assert read_outline(written(tmp_path, f"{OPEN}{deep}</svg>"), "kelp.svg").size == (64, 44)


def test_a_link_out_of_the_notebook_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "out.svg").write_text(OPEN + DRAWN + "</svg>", encoding="utf-8")
    folder = tmp_path / "content" / FOLDER
    folder.mkdir(parents=True)
    (folder / "kelp.svg").symlink_to(tmp_path / "out.svg")
    with pytest.raises(ContentError, match="link out of the notebook"):
        read_outline(tmp_path / "content", "kelp.svg")


def test_where_a_path_goes_wrong(tmp_path: Path) -> None:
    said = refused(tmp_path, f'{OPEN}\n<path id="d" transform="scale(2)"\n d="M0 0\nL1 x"/></svg>')
    assert said.startswith(f"{FOLDER}/kelp.svg:4:4: "), said


@pytest.mark.parametrize("box", ["", "0 0 64", "0 0 0 44", "a b c d", "0 0 64 -44", "nan nan x 1"])
def test_a_viewbox_is_four_numbers(box: str, tmp_path: Path) -> None:
    assert "viewBox" in refused(tmp_path, OPEN.replace("0 0 64 44", box) + DRAWN + "</svg>")


def test_groups_move_what_is_in_them(tmp_path: Path) -> None:
    """The outline is what its paths draw, wherever on its page it stands."""
    text = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- Kelp -->\n{OPEN}'
        '<g id="one" transform="translate(100,100)"><g transform="scale(2)">'
        '<path transform="translate(1)" d="M0 0H10V5z"/></g></g></svg>'
    )
    outline = read_outline(written(tmp_path, text), "kelp.svg")
    assert outline.size == (20, 10)
    assert [one.points for one in outline.paths][:3] == [((0, 0),), ((20, 0),), ((20, 10),)]


def test_the_outlines_of_the_demo_are_small_and_of_their_motifs_shape() -> None:
    files = sorted((PROJECT / "content" / FOLDER).glob("*.svg"))
    assert len(files) == 5
    for file in files:
        assert file.stat().st_size < 3072, file.name
        outline = read_outline(PROJECT / "content", file.name)
        assert isinstance(outline, Outline)
        assert 1.2 < outline.size[0] / outline.size[1] < 1.8, file.name
