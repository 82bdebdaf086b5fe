// Firings a day against the setting, and below it, on the same axis, how often each sound is caught.

/**
 * @typedef {{svg: Element, rowAt: (event: PointerEvent) => number}} Chart
 */

const SIZE = { left: 46, right: 10, top: 14, between: 236, low: 262, bottom: 350, height: 386 };
// Okabe and Ito's colours, which most eyes tell apart; each with a dash of its own
const SOUND_COLOURS = ["#009E73", "#CC79A7", "#D55E00", "#56B4E9", "#E69F00", "#555555"];
const DASHES = ["", "6 3", "2 3", "8 3 2 3", "1 2", "12 4"];

/** An element of a drawing. @param {string} name @param {Record<string, string | number>} attributes @param {string} text */
function drawn(name, attributes, text = "") {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, `${value}`);
  element.textContent = text;
  return element;
}

/** Round numbers within two ends, eight at most. @param {number} low @param {number} high */
function roundTicks(low, high) {
  const step = [1, 2, 5, 10, 20, 50].find((one) => (high - low) / one <= 8) || 100;
  const first = Math.ceil(low / step) * step;
  return Array.from({ length: Math.floor((high - first) / step) + 1 }, (_, i) => first + i * step);
}

/** The rows of one method as runs, each with the row before it so that the line goes on. @param {string[]} methods @param {string} wanted @returns {number[][]} */
function runsOf(methods, wanted) {
  /** @type {number[][]} */
  const runs = [];
  methods.forEach((method, row) => {
    if (method !== wanted) return;
    const last = runs[runs.length - 1];
    if (last && last[last.length - 1] === row - 1) last.push(row);
    // an upper limit is no estimate, and no line leads from one to the other
    else runs.push(row > 0 && wanted !== "upper limit" ? [row - 1, row] : [row]);
  });
  return runs;
}

/** What is placed, or else what was marked, as the choice looks at it. @param {Curve} curve */
function soundsOf(curve) {
  const placed = curve.detection.filter((one) => !one.in_recording);
  return (placed.length ? placed : curve.detection).slice(0, SOUND_COLOURS.length);
}

/**
 * The chart of a curve with a handle at one of its settings.
 * @param {Curve} curve
 * @param {Setting} setting
 * @param {string} unit
 * @param {number} width of what it stands in: its words are as large on a phone
 * @returns {Chart}
 */
function chartOf(curve, setting, unit, width) {
  const { left, right, top, low, bottom, height } = SIZE;
  const sounds = soundsOf(curve);
  // with no sound to catch the firings have all the room
  const between = sounds.length ? SIZE.between : bottom;
  const levels = curve.settings_db;
  const [first, last] = [levels[0], levels[levels.length - 1]];
  const most = Math.max(10, ...curve.rate_high_per_day, setting.limit);
  const least = 0.1;
  const x = (/** @type {number} */ at) => left + ((at - first) / (last - first || 1)) * (width - left - right);
  const y = (/** @type {number} */ rate) => between - (Math.log10(Math.max(rate, least) / least) / Math.log10(most / least)) * (between - top);
  const share = (/** @type {number} */ chance) => bottom - chance * (bottom - low);
  const points = (/** @type {number[]} */ rows, /** @type {(row: number) => number} */ up) =>
    rows.map((row) => `${x(levels[row]).toFixed(1)},${up(row).toFixed(1)}`).join(" ");
  const rows = levels.map((_, row) => row);
  const svg = drawn("svg", { viewBox: `0 0 ${width} ${height}`, width: "100%", "aria-hidden": "true", "font-size": 12 });
  const text = (/** @type {number} */ at, /** @type {number} */ up, /** @type {string} */ said, anchor = "end", fill = "#333") =>
    svg.append(drawn("text", { x: at, y: up, "text-anchor": anchor, fill }, said));
  const across = (/** @type {number} */ up, /** @type {string} */ stroke, dash = "") =>
    svg.append(drawn("line", { x1: left, x2: width - right, y1: up, y2: up, stroke, "stroke-dasharray": dash }));
  const band = `${points(rows, (row) => y(curve.rate_low_per_day[row]))} ${points([...rows].reverse(), (row) => y(curve.rate_high_per_day[row]))}`;
  svg.append(drawn("polygon", { points: band, fill: "#0072B2", "fill-opacity": 0.18 }));
  for (let rate = least; rate <= most; rate *= 10) {
    across(y(rate), "#ddd");
    text(left - 6, y(rate) + 4, count(rate));
  }
  for (const chance of sounds.length ? [0, 0.5, 1] : []) {
    across(share(chance), "#ddd");
    text(left - 6, share(chance) + 4, `${100 * chance} %`);
  }
  for (const tick of roundTicks(first, last)) {
    svg.append(drawn("line", { x1: x(tick), x2: x(tick), y1: bottom, y2: bottom + 4, stroke: "#333" }));
    text(x(tick), bottom + 17, `${tick}`, "middle");
  }
  const rateAt = (/** @type {number} */ row) => curve.per_day[row] ?? curve.rate_high_per_day[row];
  for (const [method, stroke, dash] of [["counted", "#0072B2", ""], ["log", "#0072B2", ""], ["extrapolated", "#0072B2", "7 4"], ["upper limit", "#a63f00", "2 3"]])
    for (const run of runsOf(curve.method, method))
      svg.append(drawn("polyline", { points: points(run, (row) => y(rateAt(row))), fill: "none", stroke, "stroke-width": 2, "stroke-dasharray": dash }));
  across(y(setting.limit), "#1a1a1a", "2 3");
  text(width - right - 2, y(setting.limit) - 5, "limit");
  sounds.forEach((one, i) => {
    const style = { fill: "none", stroke: SOUND_COLOURS[i], "stroke-width": 2, "stroke-dasharray": DASHES[i] };
    svg.append(drawn("polyline", { points: points(rows, (row) => share(one.probability[row])), ...style }));
    svg.append(drawn("circle", { cx: x(levels[setting.row]), cy: share(one.probability[setting.row]), r: 4, fill: SOUND_COLOURS[i] }));
  });
  // where a log was followed up
  if (plan.observed) svg.append(drawn("circle", { cx: x(plan.observed.at), cy: y(plan.observed.per_day), r: 5, fill: "#1a1a1a" }));
  const at = x(levels[setting.row]);
  svg.append(drawn("line", { x1: at, x2: at, y1: top, y2: bottom, stroke: "#a63f00", "stroke-width": 1.5 }));
  svg.append(drawn("circle", { cx: at, cy: y(rateAt(setting.row)), r: 7, fill: "#fff", stroke: "#a63f00", "stroke-width": 3 }));
  text(left, top - 3, "firings a day", "start");
  if (sounds.length) text(left, low - 6, "caught", "start");
  text((left + width) / 2, height - 4, unit, "middle");
  const rowAt = (/** @type {PointerEvent} */ event) => {
    const box = svg.getBoundingClientRect();
    const inside = ((event.clientX - box.left) / box.width) * width;
    return nearest(levels, first + ((inside - left) / (width - left - right)) * (last - first));
  };
  return { svg, rowAt };
}

/** Which line is which sound. @param {Curve} curve */
function soundKey(curve) {
  const key = made("p");
  key.className = "key";
  soundsOf(curve).forEach((one, i) => {
    const line = drawn("svg", { width: 34, height: 10, "aria-hidden": "true" });
    line.append(drawn("line", { x1: 0, x2: 34, y1: 5, y2: 5, stroke: SOUND_COLOURS[i], "stroke-width": 3, "stroke-dasharray": DASHES[i] }));
    key.append(made("span", line, ` ${one.sound}${one.in_recording ? ", marked" : ` at ${one.distance_m} m`}`));
  });
  return key;
}

/**
 * A day's firings by the hour, which fall alike at every setting.
 * @param {number[]} byHour of one setting
 * @param {number} perDay of the setting that is shown
 */
function hourBars(byHour, perDay) {
  const whole = byHour.reduce((sum, one) => sum + one, 0) || 1;
  const most = Math.max(...byHour);
  const [width, base] = [288, 52];
  const busiest = byHour.indexOf(most);
  const said = `most from ${busiest} to ${busiest + 1} h, ${count((most / whole) * perDay)} an hour`;
  const svg = drawn("svg", { viewBox: `0 0 ${width} 70`, width, role: "img", "aria-label": said, "font-size": 11 });
  byHour.forEach((one, hour) => {
    const tall = (one / most) * (base - 4);
    svg.append(drawn("rect", { x: hour * 12 + 1, y: base - tall, width: 10, height: tall, fill: "#0072B2" }));
    if (hour % 6 === 0) svg.append(drawn("text", { x: hour * 12, y: 66, fill: "#333" }, `${hour}`));
  });
  return made("figure", svg, made("figcaption", `By the hour: ${said}`));
}
