/* Loads the page anew when the notebook has changed, and keeps the reader's place on it.
   Served by "journal preview" alone; no notebook that is built holds it. */
"use strict";
(() => {
  const script = document.currentScript;
  const KEPT = "journal-preview-place";

  /* The last part of the page that begins above the window's upper edge, and by how much. */
  function place() {
    const marks = [...document.querySelectorAll("main [id]")];
    const above = marks.filter((mark) => mark.getBoundingClientRect().top <= 1).pop();
    return {
      page: location.pathname,
      top: window.scrollY,
      part: above ? above.id : "",
      over: above ? above.getBoundingClientRect().top : 0,
      open: [...document.querySelectorAll("details")].map((one) => one.open),
    };
  }

  function putBack(kept) {
    document.querySelectorAll("details").forEach((one, n) => {
      if (n in kept.open) one.open = kept.open[n];
    });
    const part = kept.part && document.getElementById(kept.part);
    const top = part ? window.scrollY + part.getBoundingClientRect().top - kept.over : kept.top;
    window.scrollTo({ top, behavior: "instant" });
  }

  const kept = JSON.parse(sessionStorage.getItem(KEPT) || "null");
  sessionStorage.removeItem(KEPT);
  if (kept && kept.page === location.pathname) {
    history.scrollRestoration = "manual";
    putBack(kept);
    window.addEventListener("load", () => {
      putBack(kept);
      history.scrollRestoration = "auto";
    });
  }

  const asked = new URLSearchParams({ page: location.pathname, since: script.dataset.version });
  const changes = new EventSource(`/preview/changes?${asked}`);
  changes.addEventListener("changed", () => {
    changes.close();
    sessionStorage.setItem(KEPT, JSON.stringify(place()));
    location.reload();
  });
  window.addEventListener("pagehide", () => changes.close());
})();
