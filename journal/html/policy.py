"""The security policy of pages set by a notebook's own theme: what a browser may do there.

Only the program's own scripts run: the page's policy names the digest of one
script, which loads them ("hash-source" and "strict-dynamic" of Content Security Policy
Level 3). A browser checks no digest of a script that lies beside the page in a folder, so
that each cannot be named by its own.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from collections.abc import Sequence
from hashlib import sha256
from typing import Final

# The tag with a page's policy, and the directive in it for scripts.
_POLICY: Final = re.compile(
    r'<meta http-equiv="Content-Security-Policy" content="([^"<>]*)">\n?', re.IGNORECASE
)
_SCRIPTS: Final = re.compile(r"script-src [^;]*")
# If no script is named behind this, none runs.
_STRICT: Final = "script-src 'strict-dynamic'"
_STATED: Final = re.compile(
    rf'(<meta http-equiv="Content-Security-Policy" content="[^"<>]*)({_STRICT}[^"<>]*">\n?)'
)
# The beginning of a page on which nothing can happen before its policy is read.
_BEGINNING: Final = re.compile(
    r'[ \t\n\f\r]*<!doctype html>[ \t\n\f\r]*<html(?: (?:lang|class|dir|id)="[^"<>&]*")*>'
    r"[ \t\n\f\r]*<head>\n?",
    re.IGNORECASE,
)
# Loads scripts in their order once the page has been read, as "defer" does.
_LOADER: Final = (
    'addEventListener("DOMContentLoaded",()=>{{for(const name of {names})'
    '{{const script=document.createElement("script");script.async=false;script.src=name;'
    "document.head.append(script)}}}})"
)
# Tags that a policy does not cover: a page that redirects by itself, a name that is looked up.
_TAG: Final = re.compile(r"<(?:meta|link)(?![a-z0-9])", re.IGNORECASE)
_ATTRIBUTE: Final = r' (?:{names})="[^"<>]*"'
_META: Final = re.compile(
    f"<meta(?:{_ATTRIBUTE.format(names='charset|name|content|property')})+ ?/?>", re.IGNORECASE
)
_LINK: Final = re.compile(
    r'<link rel="(?:stylesheet|alternate|icon|next|prev|author|license)"'
    f"(?:{_ATTRIBUTE.format(names='href|type|title|media|hreflang|sizes')})+ ?/?>",
    re.IGNORECASE,
)


class PolicyViolation(ValueError):
    """A page has a tag that could load or redirect past every policy; carries the tag."""


def policy_of(base: str) -> str:
    """The policy stated in the program's base template."""
    policy = _POLICY.search(base)
    assert policy is not None, "the program's pages state no policy"
    return policy[1]


def apply_policy(html: str, policy: str, root: str, scripts: Sequence[str]) -> str:
    """The page with its policy as the first thing in it, and a script that loads the program's own.

    ``policy`` is that of the program's own pages; ``root`` leads from the page to the first
    page, and ``scripts`` are paths from there.

    Fails:  PolicyViolation for a tag that no policy covers
    """
    for script in scripts:
        tag = f'<script src="{root}{script}" defer></script>'
        html = html.replace(f"{tag}\n", "").replace(tag, "")
    html = _POLICY.sub("", html)
    _refuse_uncovered_tags(html)
    head, allowed = "", _STRICT
    if scripts:
        loader = _LOADER.format(names=json.dumps([root + script for script in scripts]))
        head, allowed = f"<script>{loader}</script>\n", f"{_STRICT} {_hashed(loader)}"
    stated = _SCRIPTS.sub(lambda _: allowed, policy)
    head = f'<meta http-equiv="Content-Security-Policy" content="{stated}">\n{head}'
    begins = _BEGINNING.match(html)
    if begins is None:
        # A browser makes the head of a page where this stands, whatever follows.
        return f"<!doctype html>\n{head}{html}"
    return html[: begins.end()] + head + html[begins.end() :]


def policy_alone(style: str, script: str) -> str:
    """The policy of a page that is one file: its own stylesheet and script run, and no other.

    It may send requests to the server that it comes from, to which it hands over.
    """
    return (
        f"default-src 'none'; img-src 'self'; style-src {_hashed(style)}; "
        f"script-src {_hashed(script)}; connect-src 'self'; base-uri 'none'; form-action 'none'"
    )


def _hashed(code: str) -> str:
    """A source by the digest of what stands in its element."""
    return f"'sha256-{b64encode(sha256(code.encode()).digest()).decode()}'"


def with_extra_head(html: str, nonce: str, head: str) -> str | None:
    """A page from ``apply_policy`` with ``head`` put before the theme's; None for other pages.

    Scripts in ``head`` bear the nonce, which is drawn for this page alone, and may send
    requests to the server that the page comes from.
    """
    if _STATED.search(html) is None:
        return None
    more = f"connect-src 'self'; {_STRICT} 'nonce-{nonce}'"
    return _STATED.sub(lambda at: at[1] + at[2].replace(_STRICT, more) + head, html, count=1)


def _refuse_uncovered_tags(html: str) -> None:
    """Raise PolicyViolation for a meta or link tag that is not of a harmless form."""
    for tag in _TAG.finditer(html):
        if not _META.match(html, tag.start()) and not _LINK.match(html, tag.start()):
            shown = html[tag.start() : tag.start() + 80].partition(">")[0]
            raise PolicyViolation(
                "".join(letter if letter.isprintable() else " " for letter in shown)
            )
