"use strict";

/* The predicted corridor in closed form, for a machine of the reader's own. SI inside; the fields hold people's units.
   The model is the one that made the page: pull-out torque from the overlap of the current and the voltage disc, the
   load of each motor from kinematics, mass and friction, and the static, start and any-timing lines. */
const yourMachine = (() => {
  const SMALL_VOLTAGE = 1e-12;
  const AT_REST = 1e-12;
  const FASTEST = 2 ** 20;
  const SAME = 1e-13;

  /* Where a rising function passes zero, by halving down to neighbouring numbers. */
  const findRoot = (rising, low, high) => {
    for (let middle = (low + high) / 2; low < middle && middle < high; middle = (low + high) / 2) {
      if (rising(middle) < 0) low = middle; else high = middle;
    }
    return (low + high) / 2;
  };

  /* Shares of the pull-out torque that survive a sudden start, and a start and stop at the worst moment. */
  const START = Math.sin(findRoot((lag) => (Math.PI - lag) * Math.sin(lag) - 1 - Math.cos(lag), 0.1, Math.PI / 2));
  const share = (extreme) => (1 - Math.cos(extreme)) / extreme;
  const ANY_TIMING = share(findRoot((extreme) => {
    const p = share(extreme);
    return 2 * (1 - Math.cos(extreme)) - 1 - p * (Math.asin(p) - Math.PI) - Math.sqrt(1 - p * p);
  }, 0.1, 2));

  const fluxLinkage = (motor) => motor.holding_torque / (Math.SQRT2 * motor.rotor_teeth * motor.rated_current);

  const hotResistance = (motor, copper) =>
    motor.resistance * (1 + copper.coefficient * (motor.winding_temperature - copper.room_temperature));

  const availableVoltage = (machine) => {
    const left = machine.supply.voltage - machine.drive.current_peak * machine.supply.source_resistance;
    return machine.drive.sine_factor * Math.max(left - machine.drive.voltage_drop, 0);
  };

  /* Largest torque [N·m] within the current limit [A] and the voltage limit [V] at an electrical speed [rad/s]. */
  const pullOutTorque = (motor, copper, current, voltage, speed) => {
    const resistance = hotResistance(motor, copper);
    const flux = fluxLinkage(motor);
    const reactance = speed * motor.inductance;
    const emf = speed * flux;
    const impedance = Math.sqrt(reactance * reactance + resistance * resistance);
    const whole = motor.rotor_teeth * flux;
    if ((emf + resistance * current) ** 2 + (reactance * current) ** 2 <= voltage * voltage) return whole * current;
    const pull = emf / impedance;
    const top = (voltage - pull * resistance) / impedance;
    if ((pull * reactance / impedance) ** 2 + top * top <= current * current) return whole * Math.max(top, 0);
    const radius = voltage / impedance;
    if (pull > current + radius) return 0;
    const reach = (pull * pull + current * current - radius * radius) / (2 * Math.max(pull, SMALL_VOLTAGE / impedance));
    const along = Math.min(Math.max(reach, -current), current);
    const across = Math.sqrt(current * current - along * along);
    return whole * Math.max((across * reactance - along * resistance) / impedance, 0);
  };

  const invert = (matrix) => {
    const size = matrix.length;
    const rows = matrix.map((row, i) => [...row, ...row.map((_, j) => (i === j ? 1 : 0))]);
    for (let i = 0; i < size; i += 1) {
      let pivot = i;
      for (let k = i + 1; k < size; k += 1) if (Math.abs(rows[k][i]) > Math.abs(rows[pivot][i])) pivot = k;
      [rows[i], rows[pivot]] = [rows[pivot], rows[i]];
      const lead = rows[i][i];
      rows[i] = rows[i].map((value) => value / lead);
      for (let k = 0; k < size; k += 1) {
        const factor = rows[k][i];
        if (k !== i) rows[k] = rows[k].map((value, j) => value - factor * rows[i][j]);
      }
    }
    return rows.map((row) => row.slice(size));
  };

  const dot = (first, second) => first.reduce((sum, value, i) => sum + (value && value * second[i]), 0);

  /* What a move along a unit vector at a speed [m/s] asks of each motor. */
  const motorLoads = (machine, direction, speed) => {
    const inverse = invert(machine.motor_map);
    const inertial = machine.moving_mass.map((mass, axis) => mass * direction[axis]);
    const friction = machine.friction.map((dry, axis) =>
      (dry + machine.viscous[axis] * Math.abs(direction[axis]) * speed) * Math.sign(direction[axis]));
    const steady = machine.steady_force.map((force) => -force);
    return machine.motors.map((motor, i) => {
      const belt = machine.transmissions[i];
      const shares = inverse.map((row) => row[i] / machine.counts[i]);
      const turned = dot(machine.motor_map[i], direction);
      const ratio = Math.abs(turned) < AT_REST ? 0 : turned;
      const radius = belt.travel_per_turn / (2 * Math.PI);
      return {
        ratio, radius, turns: Math.sign(ratio), efficiency: belt.efficiency, back: belt.back_efficiency,
        inertial: dot(shares, inertial), steady: dot(shares, steady), force: dot(shares, friction) + dot(shares, steady),
        inertia: motor.rotor_inertia + belt.shaft_inertia,
        drag: belt.drag_torque + motor.iron_drag * Math.abs(ratio) * speed / radius,
      };
    });
  };

  const factor = (load, driving) => (load.turns === 0 ? 1 : driving ? 1 / load.efficiency : load.back);

  const branch = (load, driving) => {
    const lever = load.radius * factor(load, driving);
    return [lever * load.inertial + load.inertia * (load.ratio / load.radius), lever * load.force + load.turns * load.drag];
  };

  const onBranch = (load, driving, torque) => {
    const [slope, constant] = branch(load, driving);
    if (Math.abs(constant) > torque) return 0;
    return slope === 0 ? Infinity : (torque - Math.sign(slope) * constant) / Math.abs(slope);
  };

  /* Largest acceleration at one end of the move; the torque has at most one kink, where the belt's force turns. */
  const atOneEnd = (load, torque) => {
    const first = onBranch(load, (load.force === 0 ? load.inertial : load.force) * load.ratio > 0, torque);
    if (!(load.force * load.inertial < 0)) return first;
    const second = onBranch(load, load.inertial * load.ratio > 0, torque);
    return first > -load.force / load.inertial ? second : first;
  };

  const largestAcceleration = (load, torque) => {
    const helped = load.inertial * load.turns < 0 || load.force * load.turns < 0;
    const limit = atOneEnd(load, torque);
    if (!helped && !(load.turns === 0 && load.inertial * load.force < 0)) return limit;
    return Math.min(limit, atOneEnd({ ...load, inertial: -load.inertial, inertia: -load.inertia }, torque));
  };

  const largestUndamped = (load, torque) => {
    const size = Math.max(Math.abs(branch(load, true)[0]), Math.abs(branch(load, false)[0]));
    const held = load.steady === 0 ? 0 : Math.abs(load.radius * factor(load, true) * load.steady);
    return size > 0 ? Math.max(torque - held, 0) / size : Infinity;
  };

  /* The three lines [m/s²] at a speed [m/s] along a unit vector. */
  const limitLines = (machine, direction, speed) => {
    const voltage = availableVoltage(machine);
    const lines = { static: Infinity, start: Infinity, any_timing: Infinity };
    motorLoads(machine, direction, speed).forEach((load, i) => {
      const electrical = machine.motors[i].rotor_teeth * Math.abs(load.ratio * speed / load.radius);
      const torque = pullOutTorque(machine.motors[i], machine.copper, machine.drive.current_peak, voltage, electrical);
      lines.static = Math.min(lines.static, largestAcceleration(load, torque));
      lines.start = Math.min(lines.start, largestAcceleration(load, START * torque));
      lines.any_timing = Math.min(lines.any_timing, largestUndamped(load, ANY_TIMING * torque));
    });
    lines.any_timing = Math.min(lines.any_timing, lines.start);
    return lines;
  };

  /* Largest speed [m/s] up to which a condition holds: doubling, then halving. */
  const largestSpeed = (holds) => {
    if (!holds(0)) return 0;
    let [low, high] = [0, 1];
    while (high < FASTEST && holds(high)) [low, high] = [high, 2 * high];
    if (high >= FASTEST) return Infinity;
    while (high - low > SAME * high && high > 1 / FASTEST) {
      const middle = (low + high) / 2;
      if (holds(middle)) low = middle; else high = middle;
    }
    return low;
  };

  /* Largest speed [m/s] of one line that a trapezoid reaches and stops from on a stroke [m], with all it has. */
  const topSpeed = (machine, direction, stroke, line) => {
    const limit = (speed) => limitLines(machine, direction, speed)[line];
    const torque = largestSpeed((speed) => limit(speed) > 0);
    return Math.min(torque, largestSpeed((speed) => limit(speed) * stroke >= speed * speed));
  };

  /* A candidate with the reader's choices put in; a choice left out stays as stated. */
  const applyChoices = (candidate, choices) => {
    const own = (value, stated) => (value === undefined ? stated : value);
    const rescale = (belt) => {
      const travel = choices.teeth === undefined ? belt.travel_per_turn
        : belt.travel_per_turn / belt.teeth_per_turn * choices.teeth;
      return { ...belt, travel_per_turn: own(choices.travel, travel) };
    };
    return {
      ...candidate,
      supply: { ...candidate.supply, voltage: own(choices.voltage, candidate.supply.voltage) },
      drive: { ...candidate.drive, current_peak: own(choices.current, candidate.drive.current_peak) },
      moving_mass: candidate.moving_mass.map((mass, axis) => own((choices.mass || [])[axis], mass)),
      transmissions: candidate.transmissions.map(rescale),
    };
  };

  return { START, ANY_TIMING, availableVoltage, pullOutTorque, limitLines, topSpeed, applyChoices };
})();

/* The fields, the drawing, the table and the sentence. */
(() => {
  const island = document.getElementById("your-machine-data");
  const place = document.querySelector("[data-your-machine]");
  const data = island && JSON.parse(island.textContent);
  if (!data || !place) return;
  const PREFIX = "#machine=";
  const NAMES = { any_timing: "any-timing", start: "start", static: "static" };
  const looks = [...document.querySelectorAll("template[data-look]")];
  const fields = new Map();

  const make = (tag, properties = {}, ...children) => {
    const element = Object.assign(document.createElement(tag), properties);
    element.append(...children);
    return element;
  };

  const shape = (tag, attributes, text) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };

  const round = (value, digits = 3) => (Number.isFinite(value) ? String(Number(value.toPrecision(digits))) : "no limit");
  const dashOf = (i) => looks[i]?.content.querySelector("[stroke-dasharray]")?.getAttribute("stroke-dasharray") || "none";
  const colourOf = (i) => `var(--${looks[i]?.dataset.look || "neutral"})`;

  /* The value that all candidates share, else undefined. */
  const shared = (get) => {
    const values = data.candidates.map(get);
    return values.every((value) => value === values[0]) ? values[0] : undefined;
  };
  const teeth = (candidate) => candidate.transmissions[0].teeth_per_turn;
  const evenly = (get) => data.candidates.every((c) => c.transmissions.every((t) => get(t) === get(c.transmissions[0])));
  const allBelts = data.candidates.every((c) => c.transmissions.every((t) => t.teeth_per_turn));

  const WANTED = [
    { key: "voltage", label: "Supply voltage", unit: "V", scale: 1, get: (c) => c.supply.voltage },
    { key: "current", label: "Drive current, peak of the sine", unit: "A", scale: 1, get: (c) => c.drive.current_peak },
    ...data.axes.map((axis, i) => (
      { key: `mass-${axis}`, label: `Moving mass, ${axis}`, unit: "g", scale: 1e-3, get: (c) => c.moving_mass[i] })),
  ];
  if (allBelts && evenly((t) => t.teeth_per_turn)) {
    WANTED.push({ key: "teeth", label: "Pulley, teeth per motor turn", unit: "", scale: 1, get: teeth });
  } else if (evenly((t) => t.travel_per_turn)) {
    const get = (c) => c.transmissions[0].travel_per_turn;
    WANTED.push({ key: "travel", label: "Travel per motor turn", unit: "mm", scale: 1e-3, get });
  }
  const PATH = [
    ...data.axes.map((axis, i) => (
      { key: `direction-${axis}`, label: `Direction, ${axis} part`, unit: "", scale: 1, any: true, get: () => data.direction[i] })),
    { key: "stroke", label: "Stroke", unit: "mm", scale: 1e-3, get: () => data.stroke },
  ];

  const statedText = (field) => {
    const texts = data.candidates.map((c) => `${c.name} ${round(field.get(c) / field.scale, 4)}`);
    return `As stated where left empty: ${texts.join("; ")}${field.unit && ` ${field.unit}`}.`;
  };

  const row = (field) => {
    const id = `machine-${field.key}`;
    const input = make("input", { type: "number", id, step: "any", inputMode: "decimal" });
    if (!field.any) input.min = "0";
    const value = shared(field.get);
    field.initial = value === undefined || value === null ? "" : String(Number((value / field.scale).toPrecision(9)));
    input.value = field.initial;
    input.addEventListener("input", draw);
    fields.set(field.key, { field, input });
    const parts = [make("label", { htmlFor: id, textContent: field.unit ? `${field.label} [${field.unit}]` : field.label }), input];
    if (value === undefined) {
      const hint = make("small", { id: `${id}-hint`, textContent: statedText(field) });
      input.setAttribute("aria-describedby", hint.id);
      parts.push(hint);
    }
    return make("div", { className: "machine-field" }, ...parts);
  };

  /* A field's value in SI, undefined where empty; a text where it cannot be used. */
  const read = (key) => {
    const entry = fields.get(key);
    if (!entry) return undefined;
    const { field, input } = entry;
    const text = input.value.trim();
    const value = Number(text) * field.scale;
    const wrong = input.validity.badInput || (text !== "" && !(Number.isFinite(value) && (field.any || value > 0)));
    input.setAttribute("aria-invalid", String(wrong));
    if (wrong) return `${field.label} must be ${field.any ? "a number" : "above zero"}.`;
    return text === "" ? undefined : value;
  };

  const collect = () => {
    const values = Object.fromEntries([...fields.keys()].map((key) => [key, read(key)]));
    const wrong = Object.values(values).find((value) => typeof value === "string");
    if (wrong) return wrong;
    const parts = data.axes.map((axis) => values[`direction-${axis}`] || 0);
    const length = Math.hypot(...parts);
    if (!(length > 0)) return "The direction needs at least one part other than zero.";
    const choices = { ...values, mass: data.axes.map((axis) => values[`mass-${axis}`]) };
    const machines = data.candidates.map((candidate) => yourMachine.applyChoices(
      { ...candidate, motor_map: data.motor_map, copper: data.copper }, choices));
    const dead = machines.find((machine) => !(yourMachine.availableVoltage(machine) > 0));
    if (dead) return `The supply leaves no voltage for ${dead.name}.`;
    return { machines, direction: parts.map((part) => part / length), stroke: values.stroke };
  };

  const niceStep = (span, count) => {
    const size = 10 ** Math.floor(Math.log10(span / count));
    return size * [1, 2, 5, 10].find((step) => span / (step * size) <= count);
  };

  /* Where the drawing ends: a little beyond the speed at which the last candidate has a tenth of its acceleration. */
  const lastSpeed = ({ machines, direction }) => {
    const ends = machines.map((machine) => {
      const still = yourMachine.limitLines(machine, direction, 0).static;
      let speed = 0.05;
      while (speed < 20 && still > 0 && yourMachine.limitLines(machine, direction, speed).static > 0.1 * still) speed *= 1.05;
      return speed;
    });
    const top = 1.05 * Math.max(...ends);
    const step = niceStep(top, 6);
    return { top: step * Math.ceil(top / step - 1e-9), step };
  };

  const sample = ({ machines, direction }, top) => {
    const speeds = Array.from({ length: 121 }, (_, k) => (top * k) / 120);
    return machines.map((machine) => speeds.map((speed) => ({ speed, ...yourMachine.limitLines(machine, direction, speed) })));
  };

  const picture = make("div", { className: "machine-drawing" });
  const drawing = (settings, extent, curves) => {
    const width = Math.min(Math.max(picture.clientWidth || 680, 280), 760);
    const narrow = width < 480;
    const strokeText = settings.stroke ? "stroke too short below" : "";
    const above = narrow ? 19 * (data.candidates.length + (strokeText ? 1 : 0)) : 0;
    const height = above + Math.round((narrow ? 0.85 : 0.55) * width);
    const [left, right, upper, lower] = [44, width - 22, 28 + above, height - 44];
    const finite = curves.flat().map((point) => point.static).filter(Number.isFinite);
    const highest = Math.max(...finite, 1e-3) * 1.05;
    const rise = niceStep(highest, 5);
    const x = (speed) => left + ((right - left) * speed) / extent.top;
    const y = (limit) => lower - ((lower - upper) * Math.min(limit, highest)) / highest;
    const svg = shape("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-labelledby": "machine-alt" });
    svg.append(shape("title", { id: "machine-alt" }, "Predicted corridor of every candidate for the machine in the fields; the table below holds the figures."));
    const ink = { fill: "currentColor", "font-size": 13 };
    for (let value = 0; value <= highest; value += rise) {
      svg.append(shape("line", { x1: left, x2: right, y1: y(value), y2: y(value), stroke: "currentColor", "stroke-opacity": 0.18 }));
      svg.append(shape("text", { x: left - 6, y: y(value) + 4, "text-anchor": "end", ...ink }, round(value)));
    }
    for (let value = 0; value <= extent.top * (1 + 1e-9); value += (narrow ? 2 : 1) * extent.step) {
      svg.append(shape("text", { x: x(value), y: lower + 17, "text-anchor": "middle", ...ink }, round(1000 * value)));
    }
    svg.append(shape("text", { x: right, y: lower + 36, "text-anchor": "end", ...ink }, "speed [mm/s]"));
    svg.append(shape("text", { x: 2, y: upper - 15, ...ink }, "acceleration [m/s²]"));
    const points = (curve, line) => curve.map((point) => `${x(point.speed).toFixed(1)},${y(point[line]).toFixed(1)}`);
    curves.forEach((curve, i) => {
      const band = shape("polygon", { points: [...points(curve, "static"), ...points(curve, "any_timing").reverse()].join(" "), "fill-opacity": 0.13 });
      band.style.fill = colourOf(i);
      svg.append(band);
      for (const [line, weight] of [["static", 2.4], ["start", 1.2], ["any_timing", 1.2]]) {
        const path = shape("polyline", { points: points(curve, line).join(" "), fill: "none", "stroke-width": weight, "stroke-dasharray": dashOf(i) });
        path.style.stroke = colourOf(i);
        path.dataset.line = `${data.candidates[i].id} ${line}`;
        svg.append(path);
      }
    });
    if (settings.stroke) svg.append(strokeLine(settings.stroke, extent.top, highest, x, y));
    svg.append(...legend(right, narrow ? 13 : upper + 16, strokeText, ink));
    return svg;
  };

  /* Names with their line, in the corner that falling curves leave free; above the drawing where it is narrow. */
  const legend = (right, top, strokeText, ink) => [...data.candidates.map((c) => c.name), strokeText].flatMap((name, i) => {
    if (!name) return [];
    const y = top + 19 * i;
    const own = i < data.candidates.length;
    const line = shape("line", { x1: right - 30, x2: right, y1: y - 4, y2: y - 4, "stroke-width": own ? 2.4 : 1,
      stroke: "currentColor", "stroke-dasharray": own ? dashOf(i) : "1 3" });
    if (own) line.style.stroke = colourOf(i);
    return [line, shape("text", { x: right - 36, y, "text-anchor": "end", ...ink }, name)];
  });

  /* Below this curve the stroke is too short to reach the speed and stop: a = v²/S. */
  const strokeLine = (stroke, top, highest, x, y) => {
    const last = Math.min(top, Math.sqrt(highest * stroke));
    const points = Array.from({ length: 61 }, (_, k) => (last * k) / 60);
    return shape("polyline", {
      points: points.map((speed) => `${x(speed).toFixed(1)},${y((speed * speed) / stroke).toFixed(1)}`).join(" "),
      fill: "none", stroke: "currentColor", "stroke-width": 1, "stroke-dasharray": "1 3", "data-line": "stroke",
    });
  };

  const nameCell = (i) => {
    const cell = make("th", { scope: "row" });
    cell.append(looks[i] ? looks[i].content.cloneNode(true) : data.candidates[i].name);
    return cell;
  };

  const tableOf = (settings, extent) => {
    const count = Math.round(extent.top / extent.step);
    const speeds = [1, 2, 3, 4].map((k) => extent.step * Math.max(1, Math.round((k * count) / 5)))
      .filter((speed, k, all) => all.indexOf(speed) === k);
    const columns = speeds.map((speed) => `At ${round(1000 * speed)}\u00a0mm/s [m/s²]`);
    if (settings.stroke) columns.push(`Top speed on ${round(1000 * settings.stroke)}\u00a0mm [mm/s]`);
    const span = (low, high) => (round(low) === round(high) ? round(high) : `${round(low)} to ${round(high)}`);
    const rows = settings.machines.map((machine, i) => {
      const cells = speeds.map((speed) => {
        const lines = yourMachine.limitLines(machine, settings.direction, speed);
        return span(lines.any_timing, lines.static);
      });
      if (settings.stroke) {
        const ends = ["any_timing", "static"].map((line) => yourMachine.topSpeed(machine, settings.direction, settings.stroke, line));
        cells.push(span(1000 * ends[0], 1000 * ends[1]));
      }
      const figures = cells.map((text, k) => {
        const cell = make("td", {}, make("span", { textContent: text }));
        cell.dataset.label = columns[k];
        return cell;
      });
      return { cells, element: make("tr", {}, nameCell(i), ...figures) };
    });
    const head = make("tr", {}, ...["Candidate", ...columns].map((text) => make("th", { scope: "col", textContent: text })));
    const caption = make("caption", { textContent: "From the any-timing line to the static limit; the thin line between them is the start line. Expect steps to be lost in between." });
    const table = make("table", { className: "stack" }, caption, make("thead", {}, head), make("tbody", {}, ...rows.map((entry) => entry.element)));
    return { table, columns, rows };
  };

  const sentence = ({ columns, rows }) => {
    const texts = rows.map((entry, i) => `${data.candidates[i].name} ${entry.cells[0]}`);
    return `${columns[0].replace(" [m/s²]", "")}: ${texts.join("; ")}\u00a0m/s².`;
  };

  const result = make("p", { className: "machine-result" });
  result.setAttribute("role", "status");
  result.setAttribute("aria-live", "polite");
  const figures = make("div", { className: "scroll", tabIndex: 0 });
  figures.setAttribute("role", "region");
  figures.setAttribute("aria-label", "Figures for your machine");
  const link = make("a", { textContent: "Link that carries this machine" });
  const reset = make("button", { type: "button", textContent: "Back to the tested machine" });

  function draw() {
    const settings = collect();
    if (typeof settings === "string") {
      result.textContent = settings;
      return;
    }
    const extent = lastSpeed(settings);
    const found = tableOf(settings, extent);
    picture.replaceChildren(drawing(settings, extent, sample(settings, extent.top)));
    figures.replaceChildren(found.table);
    result.textContent = sentence(found);
    const carried = [...fields].filter(([, { input }]) => input.value !== "").map(([key, { input }]) => `${key}:${input.value}`);
    link.href = PREFIX + carried.join(",");
  }

  const useLink = () => {
    if (!location.hash.startsWith(PREFIX)) return;
    const pairs = decodeURIComponent(location.hash.slice(PREFIX.length)).split(",").map((pair) => pair.split(":"));
    const carried = new Map(pairs.filter(([key, text]) => fields.has(key) && Number.isFinite(Number(text))));
    for (const [key, { input }] of fields) input.value = carried.get(key) ?? "";
    draw();
    place.closest("section")?.scrollIntoView();
  };

  reset.addEventListener("click", () => {
    for (const { field, input } of fields.values()) input.value = field.initial;
    draw();
  });
  const group = (legend, rows) => make("fieldset", {}, make("legend", { textContent: legend }), ...rows.map(row));
  place.append(
    group("Your machine", WANTED), group("Your move", PATH), result, picture, figures,
    make("p", { className: "machine-tools" }, reset, link),
  );
  place.hidden = false;
  draw();
  useLink();
  addEventListener("hashchange", useLink);
  let drawnWidth = picture.clientWidth;
  new ResizeObserver(() => {
    if (picture.clientWidth === drawnWidth) return;
    drawnWidth = picture.clientWidth;
    draw();
  }).observe(picture);
})();
