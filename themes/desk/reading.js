/* What a thermometer reads is typed in, and the page says when to pour. The page has a table of
   temperatures and minutes (data-table): what lies between two rows is interpolated. */
(() => {
  "use strict";
  function answer(reads, table, high, low, again, degree) {
    const minute = (level) => {
      const n = Math.max(1, table.findIndex(([at]) => at <= level));
      const [[before, from], [after, to]] = [table[n - 1], table[n]];
      return from + (to - from) * (before - level) / (before - after);
    };
    const time = (minutes) => minutes < 1 ? "less than a minute" : `${Math.round(minutes)}\u00a0min`;
    const end = minute(low);
    if (reads > table[0][0]) return `Hotter than was ever read here: wait until it reads ${table[0][0]}\u00a0${degree}.`;
    if (reads < low) return `Too cold: reheat to ${again}.`;
    if (reads <= high) return `In the window now, for ${time(end - minute(reads))}.`;
    return `Pour in about ${time(minute(high) - minute(reads))}, and for ${time(end - minute(high))} after that.`;
  }
  for (const line of document.querySelectorAll(".reading")) {
    const { table, high, low, again } = line.dataset, rows = JSON.parse(table);
    const input = line.querySelector("input"), degree = input.nextSibling.data.trim();
    line.hidden = false;
    input.addEventListener("input", () => {
      const typed = input.value.trim();
      line.querySelector("output").textContent =
        /^\d+(\.\d*)?$/.test(typed) ? answer(+typed, rows, +high, +low, again, degree) : "";
    });
  }
})();
