"use strict";

/* The reader's own weights: sliders with numbers, shares recomputed, a link that carries them, back to the author's. */
(() => {
  const island = document.getElementById("verdict-data");
  const place = document.querySelector("[data-weights]");
  if (!island || !place) return;
  const data = JSON.parse(island.textContent);
  const WIDTH = 320;
  const PREFIX = "#weights=";
  const stated = new Map(data.items.map((item) => [item.id, item.weight]));
  const most = Math.max(10, ...data.items.map((item) => 2 * item.weight));
  const controls = new Map();

  const make = (tag, properties = {}, ...children) => {
    const element = Object.assign(document.createElement(tag), properties);
    element.append(...children);
    return element;
  };

  const percent = (share) => `${Math.round(1000 * share) / 10} %`;

  const readLink = () => {
    if (!location.hash.startsWith(PREFIX)) return new Map();
    const pairs = location.hash.slice(PREFIX.length).split(",").map((pair) => pair.split(":"));
    return new Map(pairs.map(([id, text]) => [id, Number(text)])
      .filter(([id, weight]) => stated.has(id) && Number.isFinite(weight) && weight >= 0));
  };

  const weightOf = (id) => {
    const value = Number(controls.get(id).number.value);
    return Number.isFinite(value) && value > 0 ? value : 0;
  };

  const shares = () => {
    const sums = new Map(data.candidates.map((candidate) => [candidate.id, 0]));
    for (const key of ["ties", "undecided", "not_measured"]) sums.set(key, 0);
    const keys = { tie: "ties", undecided: "undecided", "not measured": "not_measured" };
    let total = 0;
    for (const item of data.items) {
      const key = item.outcome === "won" ? item.winner : keys[item.outcome];
      sums.set(key, sums.get(key) + weightOf(item.id));
      total += weightOf(item.id);
    }
    for (const [key, sum] of sums) sums.set(key, Math.round(sum * 1e9) / 1e9); // 0.1 and 0.2 weigh as much as 0.3
    return { sums, total };
  };

  const sentence = (sums, total) => {
    if (total === 0) return "All weights are zero: nothing is weighed.";
    const won = data.candidates.map((candidate) => ({ name: candidate.name, weight: sums.get(candidate.id) }));
    const best = Math.max(...won.map((entry) => entry.weight));
    const leaders = won.filter((entry) => entry.weight === best && best > 0);
    if (leaders.length === 0) return "With these weights nobody wins anything outright.";
    const open = sums.get("undecided") + sums.get("not_measured");
    const second = Math.max(0, ...won.filter((entry) => entry !== leaders[0]).map((entry) => entry.weight));
    const doubt = open > 0 && open >= Math.round((best - second) * 1e9) / 1e9 ? "; what is open could turn that" : "";
    const share = `${percent(best / total)} of the weight`;
    const names = leaders.map((entry) => entry.name).join(" and ");
    return leaders.length > 1 ? `With these weights ${names} are level, each with ${share}.`
      : `With these weights ${names} leads, winning ${share} outright${doubt}.`;
  };

  const draw = () => {
    const { sums, total } = shares();
    let x = 0;
    for (const bar of document.querySelectorAll("[data-shares] [data-share]")) {
      const width = total > 0 ? (WIDTH * sums.get(bar.dataset.share)) / total : 0;
      bar.setAttribute("x", x.toFixed(1));
      bar.setAttribute("width", width.toFixed(1));
      x += width;
    }
    for (const text of document.querySelectorAll("[data-share-text]")) {
      text.textContent = total > 0 ? percent(sums.get(text.dataset.shareText) / total) : "–";
    }
    result.textContent = sentence(sums, total);
    link.href = PREFIX + data.items.map((item) => `${item.id}:${weightOf(item.id)}`).join(",");
  };

  const setWeight = (id, weight) => {
    const { slider, number } = controls.get(id);
    slider.value = String(weight);
    number.value = String(weight);
  };

  const useLink = () => {
    const carried = readLink();
    if (carried.size === 0) return;
    for (const [id, weight] of carried) setWeight(id, weight);
    draw();
  };

  const row = (item) => {
    const id = `weight-${item.id}`;
    const slider = make("input", { type: "range", min: "0", max: String(most), step: "0.5", id });
    const number = make("input", { type: "number", min: "0", step: "any", inputMode: "decimal" });
    number.setAttribute("aria-label", `Weight of ${item.title}, as a number`);
    controls.set(item.id, { slider, number });
    setWeight(item.id, item.weight);
    slider.addEventListener("input", () => { number.value = slider.value; draw(); });
    number.addEventListener("input", () => { slider.value = number.value; draw(); });
    return make("div", { className: "weight" }, make("label", { htmlFor: id, textContent: item.title }), slider, number);
  };

  const result = make("p", { className: "weights-result" });
  result.setAttribute("role", "status");
  const link = make("a", { textContent: "Link that carries these weights" });
  const reset = make("button", { type: "button", textContent: "Back to the author’s weights" });
  reset.addEventListener("click", () => {
    for (const [id, weight] of stated) setWeight(id, weight);
    draw();
  });
  place.append(
    make("fieldset", {}, make("legend", { textContent: "Your own weights" }), ...data.items.map(row)),
    result,
    make("p", { className: "weights-tools" }, reset, link),
  );
  place.hidden = false;
  draw();
  useLink();
  addEventListener("hashchange", useLink);
})();
