// Other settings: every number is looked up in the plan's JSON, none is worked out.

/**
 * @typedef {{sound: string, distance_m: number | null, in_recording: boolean, probability: number[], low: number[], high: number[],
 *   caught_within_m?: (number | null)[]}} Detection
 * @typedef {{days_kept: (number | null)[], low_days: (number | null)[], high_days: (number | null)[], recorded_share: (number | null)[]}} CardAt
 * @typedef {{best: (number | null)[], low: number[], high: number[]}} Minutes
 * @typedef {{gain_db: number, mode: string, settings_db: number[], seen: number[], per_day: (number | null)[],
 *   rate_low_per_day: number[], rate_high_per_day: number[], low_per_day: number[], high_per_day: number[],
 *   method: string[], day_rate_90_per_day: number[], display_levels?: number[], display_uncertainties?: number[], detection: Detection[], storage?: CardAt, recorded?: Minutes, speech?: Minutes}} Curve
 * @typedef {{gain_db: number, headroom_db: number | null, headroom_l10_db: number, footroom_db: number, clipped_share: number | null, wanted_clipped: string[]}} Gain
 * @typedef {{gain: number, mode: string, row: number, limit: number}} Setting
 */

const plan = dataOf("plan");
/** @type {Curve[]} */
const curves = plan.curves;

const HOW = /** @type {Record<string, string>} */ ({
  counted: "counted",
  extrapolated: "worked out from the loudest sounds heard",
  log: "from the plan and what the camera counted since",
  "upper limit": "none was heard, so only an upper limit is known",
});

/** The curve of a gain and mode. @param {number} gain @param {string} mode */
const curveAt = (gain, mode) => curves.findIndex((one) => one.gain_db === gain && one.mode === mode);

/** The row whose value is nearest. @param {number[]} values @param {number} wanted */
function nearest(values, wanted) {
  let best = 0;
  values.forEach((value, i) => {
    if (Math.abs(value - wanted) < Math.abs(values[best] - wanted)) best = i;
  });
  return best;
}

/** What is recommended, or what catches enough, or the first option. @returns {Setting} */
function recommendedSetting() {
  const option = plan.recommended || plan.alternatives.at(-1) || plan.options[0];
  const curve = curves[curveAt(option.gain_db, option.mode)];
  const at = option.mode === "threshold" ? option.level_db : option.change_db;
  return { gain: option.gain_db, mode: option.mode, row: nearest(curve.settings_db, at), limit: plan.false_triggers_per_day_limit };
}

/** Whether every setting from a row on keeps a limit. @param {number[]} rates @param {number} row @param {number} limit */
const keptFrom = (rates, row, limit) => rates.slice(row).every((rate) => rate <= limit);

/** Firings a day where there is a best estimate, else their upper limit. @param {Curve} curve */
const bestRates = (curve) => curve.per_day.map((rate, i) => (rate === null ? curve.rate_high_per_day[i] : rate));

/** The lowest setting that keeps a limit, or null. @param {Curve} curve @param {number[]} rates @param {number} limit */
function lowestKeeping(curve, rates, limit) {
  const row = rates.findIndex((_, i) => keptFrom(rates, i, limit));
  return row < 0 ? null : curve.settings_db[row];
}

/** @param {Curve} curve @param {number} row @param {number} limit */
function limitAnswer(curve, row, limit) {
  // where no best estimate is honest the rate has long been falling: only what lies below counts
  const best = curve.per_day.map((rate) => rate ?? 0);
  const sure = best.map((rate, i) => Math.max(rate, curve.day_rate_90_per_day[i]));
  const unit = curve.mode === "threshold" ? plan.reference : "dB";
  const from = lowestKeeping(curve, sure, limit);
  const least = from === null ? "no setting keeps it with 90 % certainty" : `with 90 % certainty from ${from} ${unit}`;
  if (keptFrom(sure, row, limit)) return `kept with 90 % certainty (${least})`;
  if (curve.per_day[row] === null) return `not known: there is no best estimate here (${least})`;
  if (keptFrom(best, row, limit)) return `kept by the best estimate, not with 90 % certainty (${least})`;
  return `not kept (${least})`;
}

/** @param {Curve} curve @param {number} row @param {string} sure */
function dayAnswer(curve, row, sure) {
  const best = curve.per_day[row];
  if (best === null) return `fewer than ${count(curve.rate_high_per_day[row])}, ${sure}`;
  const mean = `${count(curve.rate_low_per_day[row])} to ${count(curve.rate_high_per_day[row])} on average`;
  const single = `${count(curve.low_per_day[row])} to ${count(curve.high_per_day[row])} on a single day`;
  return `${often(best)}; ${sure}: ${mean}, ${single}`;
}

/** @param {CardAt} storage @param {number} row */
function cardAnswer(storage, row) {
  const between = `${days(storage.low_days[row])} to ${days(storage.high_days[row])}`;
  const share = storage.recorded_share[row];
  const best = storage.days_kept[row];
  // without a share there is no best estimate, and null does not mean for ever
  if (share === null) return `at least ${days(storage.low_days[row])}`;
  return `${days(best)} (${between}), with ${finePercent(share)} of the time recorded`;
}

/** @param {Gain} gain */
function roomAnswer(gain) {
  const above = gain.headroom_db === null ? "not known" : `${rounded(gain.headroom_db, 0)} dB`;
  const clipped = gain.clipped_share === null ? "not known" : finePercent(gain.clipped_share);
  const cut = gain.wanted_clipped.length ? `; cuts ${gain.wanted_clipped.join(", ")}` : "";
  return `${above} above the highest sample, ${rounded(gain.footroom_db, 0)} dB from L90 to the noise; clipped ${clipped}${cut}`;
}

/** @param {Curve} curve @param {number} row */
function settingWords(curve, row) {
  const at = curve.settings_db[row];
  return curve.mode === "threshold" ? `threshold at ${at} ${plan.reference}` : `${curve.mode} of ${at} dB`;
}

/** How far off a setting catches a sound as often as asked; it was worked out at one gain. @param {Curve} curve @param {number} row @param {number} sound */
function reachAnswer(curve, row, sound) {
  const of = curves.find((one) => one.mode === curve.mode && one.detection[sound].caught_within_m);
  const within = of?.detection[sound].caught_within_m;
  if (!of || !within) return "";
  const metres = within[nearest(of.settings_db, curve.settings_db[row])];
  return `; ${percent(plan.detection_asked)} ${metres === null ? "not even at 1 m" : `up to ${rounded(metres, metres < 10 ? 1 : 0)} m`}`;
}

/** Minutes a day, as report/words/quantities.py says them. @param {Minutes} minutes @param {number} row */
function minutesAnswer({ best, low, high }, row) {
  if (high[row] === 0) return "none";
  if (best[row] === null) return `fewer than ${count(high[row])} min a day`;
  return `${count(best[row])} min a day (${count(low[row])} to ${count(high[row])})`;
}

/** Names and answers of a setting. @param {Setting} setting @returns {[string, string][]} */
function answersOf(setting) {
  const curve = curves[curveAt(setting.gain, setting.mode)];
  const { row } = setting;
  const sure = `${Number((100 * plan.options[0].expected.confidence).toPrecision(3))} % sure`;
  /** @type {[string, string][]} */
  const answers = [];
  if (curve.recorded) answers.push(["Recorded", minutesAnswer(curve.recorded, row)]);
  if (curve.speech?.high.length) answers.push(["With speech", minutesAnswer(curve.speech, row)]);
  if (curve.display_levels) answers.push(["On the camera", `${fixed(curve.display_levels[row], 1)} ± ${(curve.display_uncertainties || [])[row].toFixed(1)}`]);
  answers.push(["expect", dayAnswer(curve, row, sure)]);
  answers.push(["Known how", `${HOW[curve.method[row]]}; ${curve.seen[row]} fired in the recordings`]);
  answers.push([`Limit of ${setting.limit} a day`, limitAnswer(curve, row, setting.limit)]);
  const chance = (/** @type {Detection} */ one) =>
    `${percent(one.probability[row])} (${rounded(100 * one.low[row], 0)} to ${percent(one.high[row])})`;
  const marked = curve.detection.filter((one) => one.in_recording);
  curve.detection.forEach((one, i) => {
    if (!one.in_recording) answers.push([`${one.sound}, at ${one.distance_m} m`, `caught ${chance(one)}${reachAnswer(curve, row, i)}`]);
  });
  if (marked.length) answers.push(["caught of the marked", marked.map((one) => `${one.sound} ${chance(one)}`).join("; ")]);
  if (curve.storage) answers.push(["Card", cardAnswer(curve.storage, row)]);
  const gain = plan.gains.find((/** @type {Gain} */ one) => one.gain_db === setting.gain);
  if (gain) answers.push(["Room at this gain", roomAnswer(gain)]);
  return answers;
}

/** The setting that a button takes. @param {DOMStringMap} data */
function settingOf({ gain, mode = "", at }) {
  const curve = curves[curveAt(Number(gain), mode)];
  return { gain: Number(gain), mode, row: nearest(curve.settings_db, Number(at)) };
}

/** @param {Setting} setting @param {DOMStringMap} data */
function isAt(setting, data) {
  const { gain, mode, row } = settingOf(data);
  return gain === setting.gain && mode === setting.mode && row === setting.row;
}

/** The choice as it stands in the page's address. @param {Setting} setting */
function addressOf(setting) {
  const at = curves[curveAt(setting.gain, setting.mode)].settings_db[setting.row];
  return `explore:${new URLSearchParams({ gain: `${setting.gain}`, mode: setting.mode, at: `${at}`, limit: `${setting.limit}` })}`;
}

/** The choice in the address, or what is recommended. @returns {Setting} */
function settingInAddress() {
  const usual = recommendedSetting();
  const hash = decodeURIComponent(location.hash.slice(1));
  if (!hash.startsWith("explore:")) return usual;
  const asked = new URLSearchParams(hash.slice("explore:".length));
  const place = curveAt(Number(asked.get("gain")), asked.get("mode") || "");
  const limit = Number(asked.get("limit"));
  if (place < 0) return usual;
  const { gain_db: gain, mode, settings_db: settings } = curves[place];
  return { gain, mode, row: nearest(settings, Number(asked.get("at"))), limit: limit > 0 ? limit : usual.limit };
}

// as in the site file (limits.false_triggers_per_day)
const [LIMIT_LEAST, LIMIT_MOST] = [0.01, 8640];

/** Whether a number that was typed cannot be, which is said beside its box. @param {HTMLInputElement} field @param {number} low @param {number} high */
function refused(field, low, high) {
  const typed = Number(field.value);
  const wrong = field.value === "" || !(typed >= low && typed <= high);
  byId(`${field.id}-said`).textContent = wrong ? `from ${rounded(low, 2)} to ${rounded(high, 2)}` : "";
  field.setAttribute("aria-invalid", `${wrong}`);
  return wrong;
}

function exploring() {
  const form = /** @type {HTMLFormElement} */ (byId("explore-form"));
  const slider = inputById("explore-at");
  const limit = inputById("explore-limit");
  const display = /** @type {HTMLInputElement | null} */ (found("explore-display"));
  const picture = byId("explore-curve");
  const choices = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll("button.choice")]);
  let setting = settingInAddress();
  /** @type {(event: PointerEvent) => number} */
  let rowAt = () => setting.row;
  let frame = 0;
  byId("explore-facts").setAttribute("aria-live", "polite");

  /** @param {boolean} keep whether the address shall hold it */
  function show(keep) {
    const place = curveAt(setting.gain, setting.mode);
    const curve = curves[place];
    for (const radio of form.querySelectorAll("input[type=radio]")) {
      const one = /** @type {HTMLInputElement} */ (radio);
      one.checked = one.value === (one.name === "gain" ? `${setting.gain}` : setting.mode);
      if (one.name === "mode") one.disabled = curveAt(setting.gain, one.value) < 0;
    }
    for (const one of choices) one.setAttribute("aria-pressed", `${isAt(setting, one.dataset)}`);
    slider.max = `${curve.settings_db.length - 1}`;
    slider.value = `${setting.row}`;
    slider.setAttribute("aria-valuetext", settingWords(curve, setting.row));
    byId("explore-at-shown").textContent = settingWords(curve, setting.row);
    if (display) {
      display.disabled = !curve.display_levels;
      if (document.activeElement !== display) display.value = curve.display_levels ? fixed(curve.display_levels[setting.row], 1) : "";
    }
    if (document.activeElement !== limit) limit.value = `${setting.limit}`;
    const rows = answersOf(setting).map(([name, answer]) => made("div", made("dt", name), made("dd", answer)));
    const list = made("dl", ...rows);
    list.className = "facts";
    byId("explore-facts").replaceChildren(list);
    const unit = curve.mode === "threshold" ? plan.reference : "dB of change";
    const chart = chartOf(curve, setting, unit, Math.min(700, Math.max(280, picture.clientWidth)));
    rowAt = chart.rowAt;
    picture.replaceChildren(chart.svg, soundKey(curve));
    const byHour = plan.options[place].expected.by_hour;
    const perDay = curve.per_day[setting.row];
    byId("explore-hours").replaceChildren(...(byHour && perDay !== null ? [hourBars(byHour, perDay)] : []));
    // replaced, not added: the way back leads to where the reader came from
    if (keep) location.replace(`#${addressOf(setting)}`);
    // the numbers at once; a list of firings is longer than a frame, and comes with the next
    cancelAnimationFrame(frame);
    frame = requestAnimationFrame(() => onSetting.forEach((listener) => listener(place, setting.row)));
  }

  /** @param {PointerEvent} event */
  function follow(event) {
    if (event.buttons !== 1) return;
    event.preventDefault();
    setting = { ...setting, row: rowAt(event) };
    show(true);
  }
  picture.addEventListener("pointerdown", follow);
  picture.addEventListener("pointermove", follow);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", (event) => {
    const field = /** @type {HTMLInputElement} */ (event.target);
    const before = curves[curveAt(setting.gain, setting.mode)];
    if (field === slider) setting = { ...setting, row: Number(slider.value) };
    else if (field === limit) {
      if (refused(limit, LIMIT_LEAST, LIMIT_MOST)) return;
      setting = { ...setting, limit: Number(limit.value) };
    } else if (field === display && before.display_levels) {
      if (refused(display, Math.min(...before.display_levels), Math.max(...before.display_levels))) return;
      setting = { ...setting, row: nearest(before.display_levels, Number(display.value)) };
    } else if (field.name === "gain" && curveAt(Number(field.value), setting.mode) >= 0) {
      const curve = curves[curveAt(Number(field.value), setting.mode)];
      setting = { ...setting, gain: Number(field.value), row: nearest(curve.settings_db, before.settings_db[setting.row]) };
    } else if (field.name === "mode") {
      const option = plan.options[curveAt(setting.gain, field.value)];
      const at = field.value === "threshold" ? option.level_db : option.change_db;
      const curve = curves[curveAt(setting.gain, field.value)];
      setting = { ...setting, mode: field.value, row: nearest(curve.settings_db, at) };
    } else return;
    show(true);
  });
  choices.forEach((one) =>
    one.addEventListener("click", () => {
      setting = { ...setting, ...settingOf(one.dataset) };
      show(true);
    }),
  );
  byId("explore-back").addEventListener("click", () => {
    setting = recommendedSetting();
    show(true);
  });
  // a link of the page goes to its part and leaves the choice in the address
  document.querySelectorAll("nav a").forEach((link) =>
    link.addEventListener("click", (event) => {
      event.preventDefault();
      const part = byId((link.getAttribute("href") || "").slice(1));
      part.tabIndex = -1;
      part.focus({ preventScroll: true });
      part.scrollIntoView();
    }),
  );
  window.addEventListener("resize", () => show(false));
  window.addEventListener("hashchange", () => {
    const asked = settingInAddress();
    if (!location.hash.startsWith("#explore:") || addressOf(asked) === addressOf(setting)) return;
    setting = asked;
    show(false);
  });
  show(false);
}

// after whatever shows the firings of a setting
if (found("explore-form")) exploring();
