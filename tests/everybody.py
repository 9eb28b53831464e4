"""What keeps somebody from reading a page, beyond what axe looks for: measured in the page."""

from __future__ import annotations

from playwright.sync_api import Page

#: Texts that lie over one another, each with the two that do. A text is a line or more of
#: letters; in a drawing a box is higher than its letters, by a third.
OVERLAPS = """() => {
  const shown = (e) => e.getClientRects().length && getComputedStyle(e).visibility !== "hidden";
  const own = (e) => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
  const said = (e) => `${e.tagName.toLowerCase()} "${e.textContent.trim().slice(0, 40)}"`;
  const within = (a, b) => a.contains(b) || b.contains(a);
  const cut = (a, b, room) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > room &&
    Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > room;
  const over = (a, b) => cut(a, b, Math.max(3, 0.2 * Math.min(a.height, b.height)));
  const found = [];
  const texts = "h1, h2, h3, p, li, dt, dd, figure, caption, th, td, summary, a, img";
  const apart = "svg, .scroll, .spoken, .skip, .cut, details:not([open]) > :not(summary)";
  const blocks = [...document.querySelectorAll(texts)]
    .filter(e => shown(e) && !e.closest(apart) && (own(e) || e.matches("img, figure")));
  const boxes = blocks.map(e => {
    const range = document.createRange();
    range.selectNodeContents(e);
    return e.matches("img, figure") ? [e.getBoundingClientRect()] : [...range.getClientRects()];
  });
  const rows = blocks.map((e, n) => [e, boxes[n], e.getBoundingClientRect()])
    .filter(([e, , box]) => box.width > 2).sort((a, b) => a[2].top - b[2].top);
  rows.forEach(([e, mine], n) => {
    const low = Math.max(...mine.map(box => box.bottom));
    for (let m = n + 1; m < rows.length && rows[m][2].top < low; m++) {
      const [other, theirs] = rows[m];
      if (!within(e, other) && mine.some(a => theirs.some(b => over(a, b))))
        found.push(`${said(e)} and ${said(other)}`);
    }
  });
  for (const svg of document.querySelectorAll("svg.chart, svg.section")) {
    const letters = [...svg.querySelectorAll("text")].map(e => [e, e.getBoundingClientRect()]);
    letters.forEach(([e, a], n) => {
      for (const [other, b] of letters.slice(n + 1))
        if (cut(a, b, 0.3 * Math.min(a.height, b.height)))
          found.push(`${said(e)} and ${said(other)} in a drawing`);
    });
  }
  return found;
}"""

#: What takes a finger and is too small for it: links that stand alone, and what is typed into.
#: A link within a sentence is as high as its line.
SMALL = """(least) => [...document.querySelectorAll(
    ".running a, .foot a, .onpage a, .entries .name a, .entries .end a, .points .way > a," +
    "summary, button, input:not([hidden])")]
  .filter(e => e.getClientRects().length)
  .map(e => [e, e.getBoundingClientRect()])
  .filter(([, box]) => Math.round(box.height) < least
    || Math.round(box.width) < Math.min(least, 44))
  .map(([e, box]) => `${e.textContent.trim() || e.id || e.type}: ${box.width} x ${box.height}`)"""

#: The smallest letters of a page, in CSS px, and what they say.
SMALLEST = """(least) => {
  const found = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    const text = walk.currentNode.data.trim();
    if (!text || !e.getClientRects().length || e.closest(".spoken, .skip")) continue;
    let size = parseFloat(getComputedStyle(e).fontSize);
    const svg = e.closest("svg[viewBox]");
    if (svg) size *= svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    if (size < least - .01) found.add(`${size.toFixed(1)} px: ${text.slice(0, 40)}`);
  }
  return [...found];
}"""

#: What is cut off at its side, or can be moved sideways, when all that is folded is open; the page
#: too. What was folded is so again.
SIDEWAYS = """() => {
  const folded = [...document.querySelectorAll("details:not([open])")];
  for (const fold of folded) fold.open = true;
  const wide = [...document.querySelectorAll("body *")]
    .filter(e => e.clientWidth > 2 && e.scrollWidth > e.clientWidth + 1
      && getComputedStyle(e).overflowX !== "visible" && !e.closest("svg, .spoken"))
    .map(e => `${e.outerHTML.slice(0, 80)}: ${e.scrollWidth} of ${e.clientWidth} px`);
  const over = document.documentElement.scrollWidth - window.innerWidth;
  if (over > 0) wide.push(`all unfolded, ${over} px wider than the window`);
  for (const fold of folded) fold.open = false;
  return wide;
}"""


def sideways(page: Page) -> list[str]:
    """What is cut off at its side or moves sideways, all folds open."""
    found: list[str] = page.evaluate(SIDEWAYS)
    return found


def overlaps(page: Page) -> list[str]:
    """Texts that lie over one another."""
    found: list[str] = page.evaluate(OVERLAPS)
    return found


def small_targets(page: Page, least_px: float) -> list[str]:
    """What is to be pressed and is less than ``least_px`` high."""
    found: list[str] = page.evaluate(SMALL, least_px)
    return found


def small_letters(page: Page, least_px: float) -> list[str]:
    """Texts whose letters are set in less than ``least_px``."""
    found: list[str] = page.evaluate(SMALLEST, least_px)
    return found
