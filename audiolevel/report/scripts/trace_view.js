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

class TraceView {
  /**
   * @param {Recorded} recorded
   * @param {string} unit
   * @param {(firing: Firing) => void} pick
   */
  constructor(recorded, unit, pick) {
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
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute("role", "img");
    this.box = made("div", this.heading(), this.canvas);
    this.box.className = "trace";
    this.listen(pick);
    new ResizeObserver(() => this.draw()).observe(this.canvas);
  }

  heading() {
    const button = (/** @type {string} */ text, /** @type {string} */ name, /** @type {() => void} */ act) => {
      const element = made("button", text);
      element.setAttribute("type", "button");
      // the visible sign stays part of the name, so that whoever says it is understood
      element.setAttribute("aria-label", `${text} ${name}: ${this.recorded.name}`);
      element.addEventListener("click", act);
      return element;
    };
    const row = made(
      "div",
      made("b", made("bdi", this.recorded.name)),
      button("+", "closer", () => this.zoom(0.5)),
      button("−", "wider", () => this.zoom(2)),
      button("◀", "earlier", () => this.move(-0.5)),
      button("▶", "later", () => this.move(0.5)),
      button("all", "the whole recording", () => this.look(0, this.recorded.duration_s)),
    );
    row.className = "buttons";
    return row;
  }

  /** @param {number} from @param {number} to */
  look(from, to) {
    const length = Math.min(this.recorded.duration_s, Math.max(to - from, 5 * this.recorded.step_s, 0.2));
    this.from = Math.max(0, Math.min(from, this.recorded.duration_s - length));
    this.to = this.from + length;
    this.draw();
  }

  /** @param {number} by @param {number} around share of the width that stays where it is */
  zoom(by, around = 0.5) {
    const length = this.to - this.from;
    const at = this.from + around * length;
    this.look(at - around * length * by, at + (1 - around) * length * by);
  }

  /** @param {number} share of the width */
  move(share) {
    const by = share * (this.to - this.from);
    this.look(this.from + by, this.to + by);
  }

  /** @param {(firing: Firing) => void} pick */
  listen(pick) {
    const { canvas } = this;
    let dragged = /** @type {{x: number, from: number, moved: boolean} | null} */ (null);
    const share = (/** @type {MouseEvent} */ event) => this.shareAt(event.offsetX);
    canvas.addEventListener("pointerdown", (event) => {
      dragged = { x: event.offsetX, from: this.from, moved: false };
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!dragged || !event.buttons) return;
      if (Math.abs(event.offsetX - dragged.x) > 4) dragged.moved = true;
      const by = ((dragged.x - event.offsetX) / this.plotWidth()) * (this.to - this.from);
      if (dragged.moved) this.look(dragged.from + by, dragged.from + by + this.to - this.from);
    });
    canvas.addEventListener("pointerup", (event) => {
      const still = dragged && !dragged.moved;
      dragged = null;
      const near = still ? this.firingNear(share(event)) : null;
      if (near) pick(near);
    });
    canvas.addEventListener("dblclick", (event) => this.zoom(0.25, share(event)));
    canvas.addEventListener(
      "wheel",
      (event) => {
        // without a key the wheel scrolls the page, as everywhere
        if (!event.ctrlKey && !event.shiftKey) return;
        event.preventDefault();
        this.zoom((event.deltaY || event.deltaX) > 0 ? 1.25 : 0.8, share(event));
      },
      { passive: false },
    );
    const keys = /** @type {Record<string, () => void>} */ ({
      "+": () => this.zoom(0.5), "=": () => this.zoom(0.5), "-": () => this.zoom(2),
      ArrowLeft: () => this.move(-0.25), ArrowRight: () => this.move(0.25),
      Home: () => this.look(0, this.recorded.duration_s),
    });
    canvas.addEventListener("keydown", (event) => {
      if (!keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });
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

  /** @param {number} offset */
  shareAt(offset) {
    return Math.min(1, Math.max(0, (offset - 44) / this.plotWidth()));
  }

  /** The firing within a finger's width. @param {number} share */
  firingNear(share) {
    const at = this.from + share * (this.to - this.from);
    const reach = (14 / this.plotWidth()) * (this.to - this.from);
    /** @type {Firing | null} */
    let near = null;
    for (const one of this.firings)
      if (Math.abs(one.at - at) <= reach && (!near || Math.abs(one.at - at) < Math.abs(near.at - at))) near = one;
    return near;
  }

  /** @param {Firing | null} firing */
  show(firing) {
    this.current = firing;
    if (firing && (firing.at < this.from || firing.at > this.to)) {
      const half = (this.to - this.from) / 2;
      this.look(firing.at - half, firing.at + half);
    } else this.draw();
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
