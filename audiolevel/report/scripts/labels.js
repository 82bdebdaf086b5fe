// Labels of what was listened to: kept in this browser, written as the file that plan --marks reads.

/** @typedef {{recording: number, start_s: number, end_s: number, sound: string, distance_m: number | null, label: string}} Label */

// a firing moves a little with the setting, and is the same sound still
const SAME_SOUND_S = 0.5;

class Labels {
  /** @param {string} id of the recordings @param {Label[]} given those the plan was made with */
  constructor(id, given) {
    this.place = `audiolevel labels ${id}`;
    this.given = given;
    /** @type {Label[]} */
    this.all = this.kept() || [...given];
  }

  /** @returns {Label[] | null} */
  kept() {
    try {
      return JSON.parse(localStorage.getItem(this.place) || "null");
    } catch {
      // a browser that keeps nothing for a file: labels last as long as the page is open
      return null;
    }
  }

  keep() {
    try {
      localStorage.setItem(this.place, JSON.stringify(this.all));
      return true;
    } catch {
      return false;
    }
  }

  /** @param {number} recording @param {number} at @returns {Label | undefined} */
  at(recording, at) {
    const here = (/** @type {Label} */ one) =>
      one.recording === recording && at >= one.start_s - SAME_SOUND_S && at <= one.end_s + SAME_SOUND_S;
    // of two in reach the one that holds the moment itself
    return this.all.find((one) => here(one) && at >= one.start_s && at <= one.end_s) || this.all.find(here);
  }

  /** @param {Label} label @param {number} at */
  set(label, at) {
    this.clear(label.recording, at);
    this.all.push(label);
    this.all.sort((a, b) => a.recording - b.recording || a.start_s - b.start_s);
    return this.keep();
  }

  /** @param {number} recording @param {number} at */
  clear(recording, at) {
    const before = this.at(recording, at);
    this.all = this.all.filter((one) => one !== before);
    return this.keep();
  }

  forget() {
    this.all = [...this.given];
    try {
      localStorage.removeItem(this.place);
    } catch {
      // nothing was kept
    }
  }

  /** The marks file of a recording; its times are those of the whole. @param {number} recording @param {number} begin */
  marksFile(recording, begin) {
    const rows = this.all
      .filter((one) => one.recording === recording)
      .map((one) => [
        rounded(one.start_s + begin, 2), rounded(one.end_s + begin, 2), one.sound,
        one.distance_m === null ? "" : one.distance_m, one.label,
      ]);
    return commaText([["start_s", "end_s", "sound", "distance_m", "label"], ...rows]);
  }
}

/** Rows as CSV (RFC 4180). @param {(string | number)[][]} rows */
function commaText(rows) {
  const cell = (/** @type {string | number} */ value) => {
    const text = `${value}`;
    return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  };
  return rows.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
}

/** Hand a text to the reader as a file. @param {string} name @param {string} text */
function saved(name, text) {
  const link = /** @type {HTMLAnchorElement} */ (made("a"));
  link.href = URL.createObjectURL(new Blob([text], { type: "text/csv" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
