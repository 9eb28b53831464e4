"""Links of the prose: each is found once, with its place, and nothing that is code is one."""

from __future__ import annotations

import pytest

from journal.errors import Position
from journal.records.models.links import LinkTarget, links_in, target_of


def found(body: str) -> list[tuple[int, int, str, bool]]:
    return [(at.line, at.column, link, pic) for at, link, pic in links_in(body, "x", 5)]


@pytest.mark.parametrize(
    ("body", "links"),
    [
        ("See [a](b.md).", [(5, 5, "b.md", False)]),
        ("é🧼 [a](b.md)", [(5, 4, "b.md", False)]),
        ("![a](b.jpg) and [c](d.md)", [(5, 1, "b.jpg", True), (5, 17, "d.md", False)]),
        ("[![a](b.jpg)](c.md)", [(5, 1, "c.md", False), (5, 2, "b.jpg", True)]),
        ("[a [b] c](d.md)", [(5, 1, "d.md", False)]),
        ("[a\nb](c.md)", [(5, 1, "c.md", False)]),
        ("[a\n\nb](c.md)", []),
        ('[a](b.md "A title")', [(5, 1, "b.md", False)]),
        ("[a](b.md 'A title')", [(5, 1, "b.md", False)]),
        ("[a](<b c.md>)", [(5, 1, "b c.md", False)]),
        ("[a](b_(c).md)", [(5, 1, "b_(c).md", False)]),
        ("[a]( b.md )", [(5, 1, "b.md", False)]),
        ("[a] (b.md)", []),
        ("[a](b c.md)", []),
        ("\\[a](b.md)", []),
        ("[a\\](b.md)](c.md)", [(5, 1, "c.md", False)]),
        ("`[a](b.md)`", []),
        ("`` ` [a](b.md) ``", []),
        ("` [a](b.md)", [(5, 3, "b.md", False)]),
        ("`a` [b](c.md) `d`", [(5, 5, "c.md", False)]),
        ("`a\n\n[b](c.md) `", [(7, 1, "c.md", False)]),
        ("```\n[a](b.md)\n```\n[c](d.md)", [(8, 1, "d.md", False)]),
        ("~~~~\n[a](b.md)\n~~~\n[c](d.md)\n~~~~\n[e](f.md)", [(10, 1, "f.md", False)]),
        ("\n    [a](b.md)\n", []),
        ("text\n    [a](b.md)\n", [(6, 5, "b.md", False)]),
        ("- text\n\n    [a](b.md)\n", [(7, 5, "b.md", False)]),
        ("[a]: b.md\n[c]: <d.md>", [(5, 6, "b.md", False), (6, 7, "d.md", False)]),
        ("[^note]: see b.md", []),
        ("text[^note]\n\n[^note]: [a](b.md)", [(7, 10, "b.md", False)]),
        ("| [a](b.md) | [c](d.md) |", [(5, 3, "b.md", False), (5, 15, "d.md", False)]),
        ("](b.md) [](c.md)", [(5, 9, "c.md", False)]),
    ],
)  # fmt: skip
def test_links_are_found_where_they_stand(
    body: str, links: list[tuple[int, int, str, bool]]
) -> None:
    assert found(body) == links


def test_a_place_is_in_the_file_that_the_prose_is_of() -> None:
    ((at, _, _),) = links_in("\n\n [a](b)", "designs/x/design.md", 40)
    assert at == Position("designs/x/design.md", 42, 2)


@pytest.mark.parametrize(
    ("link", "target"),
    [
        ("../kelp/design.md", LinkTarget("design", "kelp")),
        ("../kelp/design.md#what", LinkTarget("design", "kelp", "what")),
        ("../../shelf/bases.yaml#white", LinkTarget("shelf", "bases/white")),
        ("../../shelf/bases.yaml", LinkTarget("shelf", "bases")),
        ("../../comparisons/trim.md", LinkTarget("comparison", "trim")),
        ("photos/a%20b.jpg", LinkTarget("file", "designs/x/photos/a b.jpg")),
        ("#heading", LinkTarget("here", "", "heading")),
        ("https://example.org/a", LinkTarget("outside", "https://example.org/a")),
        ("mailto:a@example.org", LinkTarget("outside", "mailto:a@example.org")),
        ("javascript:alert(1)", LinkTarget("none", "javascript:alert(1)")),
        ("data:text/html,x", LinkTarget("none", "data:text/html,x")),
        ("../../../outside.md", LinkTarget("none", "../../../outside.md")),
        ("/etc/passwd", LinkTarget("none", "/etc/passwd")),
        ("%2e%2e/%2e%2e/%2e%2e/x", LinkTarget("none", "%2e%2e/%2e%2e/%2e%2e/x")),
    ],
)
def test_what_a_link_points_to(link: str, target: LinkTarget) -> None:
    assert target_of(link, "designs/x") == target
