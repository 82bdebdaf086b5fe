// The trace under the reader's hand: moved, zoomed, and its firings picked.

class TraceView extends TraceDrawing {
  /**
   * @param {Recorded} recorded
   * @param {string} unit
   * @param {(firing: Firing) => void} pick
   */
  constructor(recorded, unit, pick) {
    super(recorded, unit);
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

  /** About the middle. @param {number} by */
  zoom(by) {
    const [middle, half] = [(this.from + this.to) / 2, (by * (this.to - this.from)) / 2];
    this.look(middle - half, middle + half);
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

  /** @param {number} offset */
  shareAt(offset) {
    return Math.min(1, Math.max(0, (offset - 44) / this.plotWidth()));
  }

  /** The firing within a finger's width. @param {number} share */
  firingNear(share) {
    const at = this.from + share * (this.to - this.from);
    const reach = (14 / this.plotWidth()) * (this.to - this.from);
    const off = (/** @type {Firing} */ one) => Math.abs(one.at - at);
    return this.firings.filter((one) => off(one) <= reach).sort((a, b) => off(a) - off(b))[0];
  }

  /** @param {Firing | null} firing */
  show(firing) {
    this.current = firing;
    if (firing && (firing.at < this.from || firing.at > this.to)) {
      const half = (this.to - this.from) / 2;
      this.look(firing.at - half, firing.at + half);
    } else this.draw();
  }
}
