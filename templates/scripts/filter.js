"use strict";

/* A text filter for the list of comparisons; without scripts the whole list stands. */
(() => {
  for (const place of document.querySelectorAll("[data-filter]")) {
    const list = document.getElementById(place.dataset.filter);
    if (!list) continue;
    const entries = [...list.children];
    const input = Object.assign(document.createElement("input"), { type: "search", id: `${list.id}-filter`, autocomplete: "off" });
    const label = Object.assign(document.createElement("label"), { htmlFor: input.id, textContent: "Filter by words" });
    const count = Object.assign(document.createElement("p"), { className: "small" });
    count.setAttribute("role", "status");
    input.addEventListener("input", () => {
      const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
      let shown = 0;
      for (const entry of entries) {
        const text = entry.textContent.toLowerCase();
        entry.hidden = !words.every((word) => text.includes(word));
        if (!entry.hidden) shown += 1;
      }
      count.textContent = words.length ? `${shown} of ${entries.length} shown` : "";
    });
    place.append(label, input, count);
    place.hidden = false;
  }
})();
