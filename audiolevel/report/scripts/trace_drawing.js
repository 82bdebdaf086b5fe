// The level over time as an envelope line, and the firings on a rail above it.

/**
 * @typedef {{name: string, start: string | null, begin_s: number, duration_s: number, sound: boolean,
 *   files: {name: string, duration_s: number}[], step_s: number, pairs: string}} Recorded
 * @typedef {{recording: number, at: number, loudest: number}} Firing
 */

/** Lowest and highest level of each step, in turn, hundredths of a dB FS. @param {string} pairs */
function levelsOf(pairs) {
  const bytes = Uint8Array.from(atob(pairs), (letter) => letter.charCodeAt(0));
  return new Int16Array(bytes.buffer);
}

/** The highest level between two moments. @param {Int16Array} levels @param {number} step @param {number} from @param {number} to */
function highestBetween(levels, step, from, to) {
  let highest = -32768;
  const last = Math.min(levels.length / 2, Math.ceil(to / step));
  for (let i = Math.max(0, Math.floor(from / step)); i < last; i += 1) highest = Math.max(highest, levels[2 * i + 1]);
  return highest;
}

/**
 * The stretch of a sound around a firing: as long as it is within 10 dB of its highest level, which is
 * how the length of an event is commonly told (as ISO 20906 does for aircraft; from memory).
 * @param {Int16Array} levels @param {number} step @param {number} at @param {number} length
 * @returns {[number, number]}
 */
function stretchAround(levels, step, at, length) {
  const enough = highestBetween(levels, step, at - 0.5, at + 2) - 1000;
  const loud = (/** @type {number} */ t) => highestBetween(levels, step, t, t + step) >= enough;
  let from = at;
  while (from > Math.max(0, at - 1) && loud(from - step)) from -= step;
  let to = at;
  while (to < Math.min(length, at + 5) && loud(to)) to += step;
  // the firing itself lies within, and a stretch of no length is none
  const [begin, end] = [Math.max(0, Math.min(from, at - 0.1)), Math.min(length, Math.max(to, at + 0.1))];
  return [rounded(begin, 2), rounded(end, 2)];
}

const SIGNS = /** @type {Record<string, [string, string]>} */ ({
  wanted: ["●", "#00694d"],
  false: ["✕", "#a63f00"],
  unsure: ["?", "#5c5c5c"],
  "": ["▽", "#005a8f"],
});

class TraceDrawing {
  /** @param {Recorded} recorded @param {string} unit */
  constructor(recorded, unit) {
    this.recorded = recorded;
    // what turns a recorded level in dB FS into the one at the chosen gain
    this.shift = 0;
    /** @type {number | null} the trigger's, as shown; a change has none */
    this.level = null;
    this.unit = unit;
    this.levels = levelsOf(recorded.pairs);
    /** @type {Firing[]} */
    this.firings = [];
    /** @type {(firing: Firing) => string} */
    this.labelOf = () => "";
    /** @type {Firing | null} */
    this.current = null;
    this.from = 0;
    this.to = recorded.duration_s;
    this.canvas = /** @type {HTMLCanvasElement} */ (made("canvas"));
  }

  /** By the clock where the start is known, else into the recording. @param {number} at @param {number} gap */
  timeAt(at, gap) {
    const { start } = this.recorded;
    if (gap < 1 || !start) return gap < 1 ? minutes(at) : minutes(at).slice(0, -2);
    return clock(start, at).slice(11, gap < 60 ? 19 : 16);
  }

  plotWidth() {
    return Math.max(1, this.canvas.clientWidth - 50);
  }

  draw() {
    const { canvas, levels } = this;
    const [width, height, sharp] = [canvas.clientWidth, canvas.clientHeight, window.devicePixelRatio || 1];
    if (!width || !levels.length) return;
    [canvas.width, canvas.height] = [width * sharp, height * sharp];
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    pen.scale(sharp, sharp);
    pen.font = "12px system-ui, sans-serif";
    const [left, top, bottom] = [44, 30, 22];
    const first = Math.max(0, Math.floor(this.from / this.recorded.step_s));
    const last = Math.min(levels.length / 2, Math.ceil(this.to / this.recorded.step_s) + 1);
    let [low, high] = [32767, -32768];
    for (let i = first; i < last; i += 1) {
      low = Math.min(low, levels[2 * i]);
      high = Math.max(high, levels[2 * i + 1]);
    }
    const shown = [low / 100 + this.shift, high / 100 + this.shift + 0.1, ...(this.level === null ? [] : [this.level])];
    const [floor, ceiling] = [Math.floor(Math.min(...shown) / 10) * 10, Math.ceil(Math.max(...shown) / 10) * 10];
    const y = (/** @type {number} */ shown) => top + ((ceiling - shown) / (ceiling - floor)) * (height - top - bottom);
    const x = (/** @type {number} */ at) => left + ((at - this.from) / (this.to - this.from)) * this.plotWidth();
    this.drawAxes(pen, x, y, floor, ceiling, width, height - bottom);
    pen.save();
    pen.beginPath();
    pen.rect(left, top - 2, this.plotWidth(), height - top - bottom + 4);
    pen.clip();
    this.drawEnvelope(pen, x, y, first, last);
    pen.restore();
    if (this.level !== null) this.drawLevel(pen, y(this.level));
    this.drawRail(pen, x, height - bottom);
    const many = this.firings.length;
    canvas.setAttribute(
      "aria-label",
      `Level of ${this.recorded.name} from ${minutes(this.from)} to ${minutes(this.to)}: ${fixed(low / 100 + this.shift, 0)} to ` +
        `${fixed(high / 100 + this.shift, 0)} ${this.unit}${this.level === null ? "" : `, the trigger at ${fixed(this.level, 1)}`}; ${numberOf(many, "firing")} in the whole recording, listed below`,
    );
  }

  /**
   * One outline along the highest levels and back along the lowest; of many pairs in a pixel the extremes.
   * @param {CanvasRenderingContext2D} pen @param {(at: number) => number} x @param {(shown: number) => number} y
   * @param {number} first @param {number} last
   */
  drawEnvelope(pen, x, y, first, last) {
    const { levels, shift } = this;
    const step = this.recorded.step_s;
    const together = Math.max(1, Math.floor((last - first) / (2 * this.plotWidth())));
    /** @type {[number, number, number][]} */
    const points = [];
    for (let i = first; i < last; i += together) {
      let [low, high] = [32767, -32768];
      for (let k = i; k < Math.min(i + together, last); k += 1) {
        low = Math.min(low, levels[2 * k]);
        high = Math.max(high, levels[2 * k + 1]);
      }
      points.push([x((i + together / 2) * step), y(high / 100 + shift), y(low / 100 + shift)]);
    }
    pen.beginPath();
    points.forEach(([at, high]) => pen.lineTo(at, high));
    for (let i = points.length - 1; i >= 0; i -= 1) pen.lineTo(points[i][0], points[i][2]);
    pen.closePath();
    pen.fillStyle = "rgba(0, 90, 143, 0.35)";
    pen.fill();
    pen.strokeStyle = "#005a8f";
    pen.lineWidth = 1;
    pen.stroke();
  }

  /**
   * @param {CanvasRenderingContext2D} pen @param {(at: number) => number} x @param {(shown: number) => number} y
   * @param {number} floor @param {number} ceiling @param {number} width @param {number} base
   */
  drawAxes(pen, x, y, floor, ceiling, width, base) {
    pen.fillStyle = "#333";
    pen.strokeStyle = "#e4e1da";
    const every = ceiling - floor > 60 ? 20 : 10;
    for (let level = floor; level <= ceiling; level += every) {
      pen.beginPath();
      pen.moveTo(44, y(level));
      pen.lineTo(width - 6, y(level));
      pen.stroke();
      pen.fillText(`${level}`, 8, y(level) + 4);
    }
    const length = this.to - this.from;
    const ticks = [0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400, 28800];
    const gap = ticks.find((one) => (one / length) * this.plotWidth() > 70) || 86400;
    // round by the clock, where there is one
    const { start } = this.recorded;
    const past = start ? (Date.parse(`${start.slice(0, 19)}Z`) / 1000) % gap : 0;
    for (let at = Math.ceil((this.from + past) / gap) * gap - past; at <= this.to; at += gap) {
      const said = this.timeAt(at, gap);
      // the last one would be cut off by the border
      pen.fillText(said, Math.min(x(at) - 14, width - 4 - pen.measureText(said).width), base + 16);
    }
  }

  /** An arrow at the margin, so that nothing lies across the trace. @param {CanvasRenderingContext2D} pen @param {number} at */
  drawLevel(pen, at) {
    pen.fillStyle = "#a63f00";
    pen.beginPath();
    for (const [right, down] of [[0, -6], [11, 0], [0, 6]]) pen.lineTo(44 + right, at + down);
    pen.fill();
  }

  /** @param {CanvasRenderingContext2D} pen @param {(at: number) => number} x @param {number} base */
  drawRail(pen, x, base) {
    pen.strokeStyle = "#8c8c8c";
    pen.beginPath();
    pen.moveTo(44, 24);
    pen.lineTo(44 + this.plotWidth(), 24);
    pen.stroke();
    pen.textAlign = "center";
    for (const one of this.firings) {
      if (one.at < this.from || one.at > this.to) continue;
      const [sign, colour] = SIGNS[this.labelOf(one)] || SIGNS[""];
      const here = one === this.current;
      pen.fillStyle = colour;
      pen.font = here ? "bold 20px system-ui, sans-serif" : "14px system-ui, sans-serif";
      pen.fillText(sign, x(one.at), 18);
      if (!here) continue;
      pen.setLineDash([2, 3]);
      pen.beginPath();
      pen.moveTo(x(one.at), 24);
      pen.lineTo(x(one.at), base);
      pen.stroke();
      pen.setLineDash([]);
    }
    pen.textAlign = "start";
  }
}
