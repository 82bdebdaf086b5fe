// What a setting does: every number is looked up in the plan's JSON, none is worked out.

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
