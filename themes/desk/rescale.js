/* The sentence "For 24 bars" on a card can be written over. The card has its words for every number
   of bars of a round (data-numbers); here they are put in their places, and the leaves of the rounds
   are shown where there are several. Nothing is worked out but which round is the first. */
(() => {
  "use strict";
  const made = (name, words, named = "") => {
    const found = document.createElement(name);
    if (named) found.className = named;
    found.append(...words);
    return found;
  };
  const put = (place, text) => place.replaceChildren(...text.split("**").map((part, n) => n % 2 ? made("b", [part]) : part));
  function rescaled(first) {
    const { full, most, texts, single, sentences, tails, tail, ...table } = JSON.parse(first.dataset.numbers);
    const leaves = [...document.querySelectorAll(`[data-card="${first.dataset.card}"]`)];
    const all = (what) => leaves.flatMap((leaf) => [...leaf.querySelectorAll(what)]);
    const numbers = all("header b"), heads = all(".rounds thead tr"), rows = all(".rounds tbody tr");
    let shown = numbers[0].textContent.match(/\d+/)[0];
    const input = made("input", []), noun = made("span", [numbers[0].textContent.slice(-4).trim()]), spoken = made("span", [], "spoken");
    Object.assign(input, { type: "text", required: true, autocomplete: "off", inputMode: "numeric", pattern: "[1-9][0-9]*", value: shown });
    const label = made("label", ["For ", input, " ", noun], "ask"), head = first.getAttribute("aria-labelledby");
    // Each by the name of its card: a page has several.
    label.id = `${first.querySelector("h2").id}-for`;
    input.setAttribute("aria-labelledby", `${label.id} ${head}`);
    spoken.setAttribute("role", "status");
    numbers[0].className = "printed";
    first.querySelector("header p").prepend(label, spoken);
    function sentence(bars) {
      const last = bars % full, whole = Math.floor(bars / full);
      const filled = sentences[last ? (whole === 1 ? 1 : 2) : 0].replace("{n}", whole).replace("{bars}", full).replace("{last}", last);
      return filled + tails[tail[bars - full - 1]];
    }
    function show(bars) {
      const several = bars > full, round = Math.min(bars, full), last = bars % full, text = `${bars}\u00a0bar${bars === 1 ? "" : "s"}`;
      for (const one of all("[data-text]")) put(one, texts[one.dataset.text][round - 1]);
      for (const step of all("li")) step.hidden = !step.querySelector("span").textContent;
      for (const number of numbers) number.textContent = `For\u00a0${text}`;
      for (const one of all(".rounds-of")) put(one, several ? sentence(bars) : single[round - 1]);
      rows.forEach((row, at) => {
        row.closest("[data-several]").hidden = !several;
        if (several) [table.first[at], bars >= 2 * full ? table.further[at] : "", last ? table.last[last - 1][at] : "", table.whole[bars - full - 1][at]].forEach((cell, n) => {
          row.cells[n + 1].textContent = cell;
          for (const one of [row, ...heads]) one.cells[n + 1].hidden = !cell;
        });
      });
      noun.textContent = bars === 1 ? "bar" : "bars";
      spoken.textContent = text;
    }
    input.addEventListener("input", () => {
      const bars = +input.value, fits = input.checkValidity() && bars <= most;
      input.setCustomValidity(bars > most ? `The page says it for up to ${most} bars. For more: journal cards --bars ${bars}` : "");
      if (!fits || bars === +shown) return;
      shown = input.value;
      show(bars);
    });
    input.addEventListener("change", () => { if (input.validity.valueMissing || input.validity.patternMismatch) input.value = shown; });
  }
  document.querySelectorAll("[data-numbers]").forEach(rescaled);
  addEventListener("beforeprint", () => {
    const now = new Date(), two = (number) => `${number}`.padStart(2, 0);
    for (const day of document.querySelectorAll(".today")) day.textContent = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  });
})();
