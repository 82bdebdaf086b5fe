// What the scripts of all pages share: elements, and numbers and times as the program itself writes
// them (report/words/quantities.py).

document.documentElement.classList.add("js");

/** Called with the place of a list of firings and the setting in it, when another is chosen. @type {((list: number, row: number) => void)[]} */
const onSetting = [];

/** @param {string} id @returns {HTMLElement | null} */
const found = (id) => document.getElementById(id);

/** An element that the page must have. @param {string} id @returns {HTMLElement} */
function byId(id) {
  const element = found(id);
  if (!element) throw new Error(`the page lacks ${id}`);
  return element;
}

/** @param {string} id @returns {HTMLInputElement} */
const inputById = (id) => /** @type {HTMLInputElement} */ (byId(id));

/** What a script element holds. @param {string} id @returns {any} */
const dataOf = (id) => JSON.parse(byId(id).textContent || "null");

/**
 * An element with text in it, never HTML: names are whatever somebody wrote.
 * @param {string} name
 * @param {(string | Node)[]} content
 * @returns {HTMLElement}
 */
function made(name, ...content) {
  const element = document.createElement(name);
  element.append(...content);
  return element;
}

/** To the even one of two equally near, as Python rounds. @param {number} value @param {number} digits */
function rounded(value, digits) {
  const scale = 10 ** digits;
  const scaled = value * scale;
  const below = Math.floor(scaled);
  const whole = scaled - below === 0.5 ? below + (below % 2) : Math.round(scaled);
  return whole / scale;
}

/** With so many decimals, and no minus before a nought. @param {number} value @param {number} digits */
const fixed = (value, digits) => rounded(value, digits).toFixed(digits);

/** Open what is folded up within an element, or around it. @param {ParentNode} part */
const unfold = (part) => part.querySelectorAll("details").forEach((one) => (one.open = true));

// open for whoever has no scripts
document.querySelectorAll("section > details").forEach((one) => (/** @type {HTMLDetailsElement} */ (one).open = false));
// a printed page has nothing to touch
window.addEventListener("beforeprint", () => unfold(document));
// a link of the page goes to its part and leaves the choice in the address
document.querySelectorAll("nav a").forEach((link) =>
  link.addEventListener("click", (event) => {
    event.preventDefault();
    const part = byId((link.getAttribute("href") || "").slice(1));
    unfold(part);
    part.tabIndex = -1;
    part.focus({ preventScroll: true });
    part.scrollIntoView();
  }),
);

/** A count to two figures. @param {number | null} value @returns {string} */
function count(value) {
  if (value === null || !Number.isFinite(value)) return "?";
  if (value < 0.95) return value < 0.05 ? "0" : fixed(value, 1);
  const near = rounded(value, Math.min(1, 1 - Math.floor(Math.log10(value))));
  return near < 10 ? fixed(near, 1).replace(/\.0$/, "") : near.toLocaleString("en-US", { maximumFractionDigits: 0 });
}

/** How often something comes. @param {number} perDay */
function often(perDay) {
  if (perDay * 365.25 < 1) return "less than one a year";
  if (perDay < 1 / 14) return `${count(perDay * 365.25)} a year`;
  return perDay < 0.67 ? `one in ${rounded(1 / perDay, 0)} days` : `${count(perDay)} a day`;
}

/** A share as a whole per cent. @param {number} share */
const percent = (share) => `${rounded(100 * share, 0)} %`;

/** A share to two figures. @param {number} share */
function finePercent(share) {
  if (share >= 0.995) return "100 %";
  if (share < 1e-4) return share < 5e-7 ? "0 %" : "under 0.01 %";
  return `${Number((100 * share).toPrecision(2))} %`;
}

/** A length of time in days; null is for ever. @param {number | null} value */
function days(value) {
  if (value === null || value > 3650) return "10 years or more";
  if (value < 2) return `${count(24 * value)} h`;
  if (value < 99.5) return `${count(value)} days`;
  return value < 730 ? `${count(value / (365.25 / 12))} months` : `${count(value / 365.25)} years`;
}

/** So many of something. @param {number} many @param {string} one */
const numberOf = (many, one) => (many === 1 ? `1 ${one}` : `${many} ${one}s`);

/** Minutes and seconds into a recording. @param {number} seconds */
function minutes(seconds) {
  const tenths = Math.round(seconds * 10);
  const hours = Math.floor(tenths / 36000);
  const rest = tenths - hours * 36000;
  const whole = `${Math.floor(rest / 600)}`.padStart(hours ? 2 : 1, "0");
  const second = ((rest % 600) / 10).toFixed(1).padStart(4, "0");
  return `${hours ? `${hours}:` : ""}${whole}:${second}`;
}

/** The local time so many seconds after a start as the recorder wrote it. @param {string | null} start @param {number} seconds */
function clock(start, seconds) {
  if (!start) return "";
  // taken as if it were UTC, so that the reader's own time zone moves nothing
  const at = new Date(Date.parse(`${start.slice(0, 19)}Z`) + 1000 * seconds);
  return at.toISOString().slice(0, 19).replace("T", " ");
}
