"use strict";

/* Photos or recordings of one item compared blind: pairs in random order, names hidden until the reader chooses.
   The tally stays in the page and is sent nowhere. */
(() => {
  const make = (tag, properties = {}, ...children) => {
    const element = Object.assign(document.createElement(tag), properties);
    element.append(...children);
    return element;
  };

  const shuffle = (things) => {
    const mixed = [...things];
    for (let last = mixed.length - 1; last > 0; last -= 1) {
      const other = Math.floor(Math.random() * (last + 1));
      [mixed[last], mixed[other]] = [mixed[other], mixed[last]];
    }
    return mixed;
  };

  /* Only samples made alike are set against one another: groups that hold two candidates or more. */
  const groupsOf = (samples) => {
    const groups = new Map();
    for (const sample of samples) {
      const key = sample.dataset.group ?? "";
      groups.set(key, [...(groups.get(key) ?? []), sample]);
    }
    return [...groups.values()].filter((group) => new Set(group.map((sample) => sample.dataset.candidate)).size > 1);
  };

  const view = (place) => {
    const all = [...place.querySelectorAll(".sample")];
    const groups = groupsOf(all);
    if (groups.length === 0) return;
    const what = place.dataset.what;
    const tally = new Map([...new Set(all.map((sample) => sample.dataset.name))].map((name) => [name, 0]));
    tally.set("No preference", 0);
    const words = new Map(all.map((sample) => {
      const image = sample.querySelector("img");
      return [sample, image ? image.alt : null];
    }));
    let pair = [];

    const status = make("p", { className: "blind-status" });
    status.setAttribute("role", "status");
    const begin = make("button", { type: "button", textContent: `Compare blind` });
    const first = make("button", { type: "button", textContent: `${what} A`, hidden: true });
    const second = make("button", { type: "button", textContent: `${what} B`, hidden: true });
    const neither = make("button", { type: "button", textContent: "No preference", hidden: true });
    const leave = make("button", { type: "button", textContent: "Show names again", hidden: true });
    const counts = make("ul", { className: "blind-tally", hidden: true });
    const choices = [first, second, neither];
    const bar = make("div", { className: "blind-bar" }, begin, ...choices, leave);
    bar.setAttribute("role", "group");
    bar.setAttribute("aria-label", "Blind comparison");

    const label = (sample, letter) => {
      sample.classList.toggle("is-blind", letter !== "");
      sample.querySelector(".blind-letter")?.remove();
      const image = sample.querySelector("img");
      if (image) image.alt = letter ? `${what} ${letter}; its candidate is hidden until you choose.` : words.get(sample);
      if (letter) sample.querySelector("figcaption").append(make("span", { className: "blind-letter", textContent: `${what} ${letter}` }));
    };

    const next = () => {
      const group = shuffle(groups)[0];
      const byCandidate = new Map();
      for (const sample of shuffle(group)) byCandidate.set(sample.dataset.candidate, sample);
      pair = shuffle([...byCandidate.values()]).slice(0, 2);
      const how = group[0].dataset.group;
      for (const sample of all) {
        sample.querySelector("audio")?.pause();
        sample.hidden = !pair.includes(sample);
        label(sample, "");
      }
      pair.forEach((sample, index) => { label(sample, "AB"[index]); place.insertBefore(sample, bar); });
      status.textContent = `Which do you prefer? Names are hidden; the order is random.${how ? ` Both are ${how}.` : ""}`;
      begin.hidden = true;
      leave.hidden = false;
      for (const button of choices) button.hidden = false;
      first.focus();
    };

    const choose = (chosen) => {
      const name = chosen ? chosen.dataset.name : "No preference";
      tally.set(name, tally.get(name) + 1);
      for (const sample of pair) label(sample, "");
      for (const button of choices) button.hidden = true;
      const order = pair.map((sample, index) => `${what} ${"AB"[index]} was ${sample.dataset.name}`).join(", ");
      status.textContent = `You chose ${chosen ? name : "neither"}. ${order}.`;
      counts.replaceChildren(...[...tally].map(([key, count]) => make("li", { textContent: `${key}: ${count}` })));
      counts.hidden = false;
      begin.textContent = "Next pair";
      begin.hidden = false;
      begin.focus();
    };

    const end = () => {
      for (const sample of all) { sample.hidden = false; label(sample, ""); place.insertBefore(sample, bar); }
      for (const button of [...choices, leave]) button.hidden = true;
      begin.textContent = "Compare blind";
      begin.hidden = false;
      status.textContent = "Names are shown.";
      begin.focus();
    };

    begin.addEventListener("click", next);
    first.addEventListener("click", () => choose(pair[0]));
    second.addEventListener("click", () => choose(pair[1]));
    neither.addEventListener("click", () => choose(null));
    leave.addEventListener("click", end);
    place.append(bar, status, counts);
  };

  for (const place of document.querySelectorAll("[data-blind-viewer]")) view(place);
})();
