// Other settings: the handle, the boxes and the page's address, which lead to one setting, and what it does.

/** What is recommended, or what catches enough, or the first option. @returns {Setting} */
function recommendedSetting() {
  const option = plan.recommended || plan.alternatives.at(-1) || plan.options[0];
  const curve = curves[curveAt(option.gain_db, option.mode)];
  const at = option.mode === "threshold" ? option.level_db : option.change_db;
  return { gain: option.gain_db, mode: option.mode, row: nearest(curve.settings_db, at), limit: plan.false_triggers_per_day_limit };
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
