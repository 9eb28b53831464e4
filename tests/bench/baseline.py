"""The baseline: a page a design by the bare libraries, with no product logic, in one process.

PyYAML's C loader, Markdown with tables and footnotes, one compiled Jinja2 template that
lists what the front matter holds, one file a design.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

TEMPLATE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{ title }}</title>
<link rel="stylesheet" href="../look.css"></head><body><main><h1>{{ title }}</h1>
{%- macro shown(value) -%}
{%- if value is mapping -%}
<dl>{% for key, inner in value.items() %}<dt>{{ key }}</dt><dd>{{ shown(inner) }}</dd>
{% endfor %}</dl>
{%- elif value is iterable and value is not string -%}
<ul>{% for inner in value %}<li>{{ shown(inner) }}</li>{% endfor %}</ul>
{%- else -%}{{ value }}{%- endif -%}
{%- endmacro -%}
{{ shown(front) }}
<article>{{ prose }}</article></main></body></html>
"""


def page_setter() -> Callable[[Path], str]:
    """What sets the page of one write-up."""
    import jinja2
    import markdown
    import yaml
    from markupsafe import Markup

    template = jinja2.Environment(autoescape=True).from_string(TEMPLATE)
    converter = markdown.Markdown(extensions=["tables", "footnotes"], output_format="html")

    def set_page(path: Path) -> str:
        _, front, body = path.read_text("utf-8").split("---\n", 2)
        read = yaml.load(front, Loader=yaml.CSafeLoader)
        converter.reset()
        prose = Markup(converter.convert(body))
        return template.render(title=read["title"], front=read, prose=prose)

    return set_page


def set_pages(content: Path, out: Path) -> int:
    """A page for every write-up of ``content``; gives how many."""
    out.mkdir(parents=True, exist_ok=True)
    set_page = page_setter()
    paths = sorted(content.glob("designs/*/design.md"))
    for path in paths:
        (out / f"{path.parent.name}.html").write_text(set_page(path), "utf-8")
    return len(paths)


if __name__ == "__main__":
    set_pages(Path(sys.argv[1]), Path(sys.argv[2]))
