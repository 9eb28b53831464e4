"""What a page of a notebook's own theme may do in a browser stands before all that was set."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256

import pytest

from journal.html.policy import PolicyViolation, apply_policy, policy_of, with_extra_head
from journal.html.theme import themes_folder

BASE = (themes_folder() / "desk" / "templates" / "base.html").read_text("utf-8")
POLICY = policy_of(BASE)
PLAIN = '<!doctype html>\n<html lang="en-GB" class="paper-a4">\n<head>\n<title>A</title></head>'


def test_a_page_states_its_own_script_by_its_digest() -> None:
    html = apply_policy(PLAIN, POLICY, "../", ("one.js", "two.js"))
    script = re.search(r"<script>(.*?)</script>", html)
    assert script is not None
    assert '["../one.js", "../two.js"]' in script[1]
    # Content Security Policy Level 3, "hash-source": the digest of the element's text, in base64.
    digest = b64encode(sha256(script[1].encode()).digest()).decode()
    assert f"script-src 'strict-dynamic' 'sha256-{digest}';" in html
    assert html.index("Content-Security-Policy") < html.index("<script>") < html.index("<title>")
    assert html.startswith('<!doctype html>\n<html lang="en-GB" class="paper-a4">\n<head>\n<meta')


def test_a_page_without_scripts_lets_none_run() -> None:
    html = apply_policy(PLAIN, POLICY, "", ())
    assert "<script" not in html
    assert "script-src 'strict-dynamic';" in html
    assert "default-src 'none';" in html


def test_what_the_programs_frame_of_a_page_states_is_stated_once() -> None:
    policy = f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
    script = '<script src="one.js" defer></script>\n'
    html = PLAIN.replace("<title>", f"{policy}{script}<title>")
    assert apply_policy(html, POLICY, "", ("one.js",)) == apply_policy(
        PLAIN, POLICY, "", ("one.js",)
    )


@pytest.mark.parametrize(
    "before",
    [
        "<script></script>", "<body>", "words", "\u00a0", "\x0b", "\ufeff", "<!-- -->", "</p>",
        "<html onclick='a'>",
    ],
)  # fmt: skip
def test_whatever_stands_first_stands_behind_the_policy(before: str) -> None:
    html = apply_policy(before + PLAIN, POLICY, "", ())
    assert html.startswith('<!doctype html>\n<meta http-equiv="Content-Security-Policy"')


@pytest.mark.parametrize(
    "root",
    [
        '<html onclick="a">',
        '<html lang="a" onload="b">',
        "<html lang='a'>",
        '<html class="a&#34;">',
    ],
)
def test_of_the_root_only_names_are_set_before_the_policy(root: str) -> None:
    html = apply_policy(f"<!doctype html>{root}<head></head>", POLICY, "", ())
    assert html.startswith('<!doctype html>\n<meta http-equiv="Content-Security-Policy"')


@pytest.mark.parametrize(
    "tag",
    [
        '<meta http-equiv="refresh" content="0;url=http://notebook.invalid">',
        "<META HTTP-EQUIV=refresh content='0;url=//notebook.invalid'>",
        '<meta name="a" content="b" http-equiv="refresh">',
        '<meta\thttp-equiv="refresh">',
        "<meta/http-equiv=refresh>",
        '<link rel="preconnect" href="https://notebook.invalid">',
        '<link rel="dns-prefetch" href="//notebook.invalid">',
        '<link rel="prefetch" href="https://notebook.invalid">',
        '<link rel="stylesheet prefetch" href="https://notebook.invalid">',
        '<link href="//notebook.invalid" rel=prerender>',
        # Taken apart, and whole again when what was in its middle is taken out.
        '<me<meta http-equiv="Content-Security-Policy" content="">ta http-equiv=refresh>',
        '<li<script src="one.js" defer></script>nk rel="preconnect" href="//notebook.invalid">',
    ],
)
def test_what_no_policy_reaches_is_refused(tag: str) -> None:
    with pytest.raises(PolicyViolation):
        apply_policy(PLAIN + tag, POLICY, "", ("one.js",))


def test_what_the_program_sets_is_not_refused() -> None:
    for tag in re.findall(r"<(?:meta|link)[^>]*>", re.sub(r"\{\{.*?\}\}", "a", BASE)):
        apply_policy(PLAIN + tag, POLICY, "", ())


def test_a_preview_adds_its_own_before_all_that_the_theme_set() -> None:
    html = apply_policy(f'{PLAIN}<a title="</head>">', POLICY, "", ("one.js",))
    shown = with_extra_head(
        html, "drawn", '<script src="/preview/reload.js" nonce="drawn"></script>'
    )
    assert shown is not None
    assert "connect-src 'self'; script-src 'strict-dynamic' 'nonce-drawn' 'sha256-" in shown
    assert shown.count("nonce-drawn") == 1
    assert (
        shown.index("Content-Security") < shown.index("/preview/reload.js") < shown.index("<title>")
    )
    assert with_extra_head(BASE, "drawn", "") is None
