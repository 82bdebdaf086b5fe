// Listening to firings and labelling them.

function listening() {
  const data = dataOf("listening");
  /** @type {Recorded[]} */
  const recordings = data.recordings;
  const labels = new Labels(data.id, data.labels);
  const sound = player(recordings);
  const soundName = inputById("listen-sound");
  const distance = inputById("listen-distance");
  const table = /** @type {HTMLTableElement} */ (byId("listen-list"));
  /** @type {Map<Firing, HTMLTableRowElement>} */
  const rows = new Map();
  /** @type {Firing[]} */
  let firings = [];
  /** @type {Firing | null} */
  let current = null;
  // the name that the reader chose; that of another firing's label is not
  let chosen = "";

  const views = recordings.map((one) => new TraceView(one, data.unit, (firing) => choose(firing, true)));
  byId("listen-traces").append(...views.map((view) => view.box));
  const labelOf = (/** @type {Firing} */ firing) => labels.at(firing.recording, firing.at)?.label || "";
  byId("listen-names").append(...data.sounds.map((/** @type {string} */ name) => Object.assign(made("option"), { value: name })));

  // --- the list ------------------------------------------------------------------------------

  /** @param {Firing} firing @param {number} i */
  function rowOf(firing, i) {
    const recorded = recordings[firing.recording];
    const play = made("button", `${i + 1}`);
    play.setAttribute("type", "button");
    play.setAttribute("aria-label", `listen to firing ${i + 1}`);
    play.addEventListener("click", () => choose(firing, true));
    const row = /** @type {HTMLTableRowElement} */ (made("tr"));
    const head = made("th", play);
    head.setAttribute("scope", "row");
    const place = recordings.length > 1 ? `${recorded.name} ` : "";
    const cells = [
      made("td", made("bdi", place), minutes(firing.at + recorded.begin_s)),
      made("td", clock(recorded.start, firing.at)),
      made("td", `${fixed(firing.loudest, 1)} ${data.unit}`),
      made("td"),
      made("td"),
    ];
    head.dataset.value = `${i + 1}`;
    cells[0].dataset.value = `${firing.recording * 1e6 + firing.at}`;
    cells[2].dataset.value = `${firing.loudest}`;
    const heads = [...table.tHead?.rows[0].cells || []].slice(1);
    cells.forEach((cell, k) => (cell.dataset.label = heads[k].textContent || ""));
    row.append(head, ...cells);
    rows.set(firing, row);
    tell(firing);
    return row;
  }

  /** The label in a row. @param {Firing} firing */
  function tell(firing) {
    const row = rows.get(firing);
    const label = labels.at(firing.recording, firing.at);
    if (!row) return;
    row.cells[4].textContent = label ? `${SIGNS[label.label][0]} ${label.label}` : "";
    row.cells[5].replaceChildren(made("bdi", label ? label.sound : ""));
  }

  /** Firings in the order of the list, which the reader may have sorted. */
  function inListOrder() {
    const order = [...table.tBodies[0].rows];
    return [...firings].sort((a, b) => order.indexOf(/** @type {any} */ (rows.get(a))) - order.indexOf(/** @type {any} */ (rows.get(b))));
  }

  function progress() {
    const said = firings.map(labelOf);
    const of = (/** @type {string} */ label) => said.filter((one) => one === label).length;
    const done = said.length - of("");
    byId("listen-progress").textContent = firings.length
      ? `${done} of ${numberOf(firings.length, "firing")} labelled: ${of("wanted")} wanted, ${of("false")} false, ${of("unsure")} unsure.`
      : "";
  }

  /** @param {number} curve @param {number} row */
  function setFirings(curve, row) {
    const list = data.firings.lists[data.firings.of_curve[curve]][row];
    const { shift_db: shift, level_db: triggerLevels } = data.firings.at_gain[curve];
    firings = (list || []).flatMap((/** @type {number[]} */ times, /** @type {number} */ recording) =>
      times.map((at) => {
        const { levels, recorded } = views[recording];
        const loudest = highestBetween(levels, recorded.step_s, at - 0.2, at + HEARD_AFTER_S) / 100 + shift;
        return { recording, at, loudest };
      }),
    );
    rows.clear();
    table.tBodies[0].replaceChildren(...firings.map(rowOf));
    table.querySelectorAll("th[aria-sort]").forEach((head) => head.removeAttribute("aria-sort"));
    views.forEach((view, i) => {
      view.firings = firings.filter((one) => one.recording === i);
      view.labelOf = labelOf;
      view.current = null;
      view.shift = shift;
      view.level = triggerLevels && triggerLevels[row];
      view.draw();
    });
    current = null;
    byId("listen-current").textContent = list
      ? firings.length ? `${numberOf(firings.length, "firing")} at this setting. Press “Next” to begin.` : "Nothing fires at this setting in what was recorded."
      : "More firings than anybody listens to: choose a higher setting above.";
    progress();
  }

  // --- one firing ----------------------------------------------------------------------------

  /** @param {Firing} firing @param {boolean} heard */
  function choose(firing, heard) {
    if (current) rows.get(current)?.removeAttribute("aria-current");
    current = firing;
    const recorded = recordings[firing.recording];
    const row = rows.get(firing);
    row?.setAttribute("aria-current", "true");
    row?.scrollIntoView({ block: "nearest" });
    views.forEach((view, i) => view.show(i === firing.recording ? firing : null));
    const label = labels.at(firing.recording, firing.at);
    soundName.value = label?.sound || chosen;
    distance.value = label?.distance_m ? `${label.distance_m}` : "";
    const at = [minutes(firing.at + recorded.begin_s), clock(recorded.start, firing.at)].filter(Boolean).join(", ");
    byId("listen-current").textContent =
      `Firing ${firings.indexOf(firing) + 1} of ${firings.length} in ${recorded.name}, at ${at}; loudest ${fixed(firing.loudest, 1)} ` +
      `${data.unit}${label ? `; labelled ${label.label}` : ""}`;
    if (heard) sound.play(firing);
  }

  /** @param {number} by */
  function step(by) {
    const order = inListOrder();
    if (!order.length) return;
    const place = current ? order.indexOf(current) + by : by > 0 ? 0 : order.length - 1;
    if (order[place]) choose(order[place], true);
  }

  /** @param {string} label @param {string} sound */
  function mark(label, sound) {
    if (!current) return;
    const { levels, recorded } = views[current.recording];
    const [start_s, end_s] = stretchAround(levels, recorded.step_s, current.at, recorded.duration_s);
    const far = label === "wanted" && Number(distance.value) > 0 ? Number(distance.value) : null;
    const kept = labels.set({ recording: current.recording, start_s, end_s, sound, distance_m: far, label }, current.at);
    if (!kept) byId("listen-opened").textContent = "This browser keeps nothing: save before you close the page.";
    after();
    // the next that nobody has labelled, in the list's order
    const order = inListOrder();
    const from = order.indexOf(current);
    const next = [...order.slice(from + 1), ...order.slice(0, from)].find((one) => !labelOf(one));
    if (next) choose(next, true);
    else choose(current, false);
  }

  function after() {
    // a sound may have fired more than once, and its label is one
    firings.forEach(tell);
    views.forEach((view) => view.draw());
    progress();
  }

  // --- buttons and keys ----------------------------------------------------------------------

  const acts = /** @type {Record<string, () => void>} */ ({
    previous: () => step(-1),
    next: () => step(1),
    play: () => (current ? sound.play(current) : step(1)),
    wanted: () => (soundName.value.trim() ? mark("wanted", soundName.value.trim()) : soundName.focus()),
    false: () => mark("false", ""),
    unsure: () => mark("unsure", ""),
    clear: () => {
      if (!current) return;
      labels.clear(current.recording, current.at);
      after();
      choose(current, false);
    },
    save: () => {
      recordings.forEach((one, i) => {
        if (labels.all.some((label) => label.recording === i)) saved(`${one.name}.marks.csv`, labels.marksFile(i, one.begin_s));
      });
    },
    export: () => {
      const list = inListOrder().map((one) => {
        const label = labels.at(one.recording, one.at);
        const recorded = recordings[one.recording];
        return [recorded.name, rounded(one.at + recorded.begin_s, 2), clock(recorded.start, one.at), rounded(one.loudest, 1), label?.label || "", label?.sound || ""];
      });
      saved("firings.csv", commaText([["recording", "time_s", "clock", "loudest_db", "label", "sound"], ...list]));
    },
    forget: () => {
      if (!confirm("Forget all labels made in this browser?")) return;
      labels.forget();
      after();
    },
  });
  const keys = /** @type {Record<string, string>} */ ({ p: "previous", n: "next", " ": "play", w: "wanted", f: "false", u: "unsure", x: "clear" });
  Object.keys(acts).forEach((name) => byId(`listen-${name}`).addEventListener("click", acts[name]));
  document.addEventListener("keydown", (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    const act = acts[keys[event.key.toLowerCase()] || ""];
    if (!inputById("listen-keys").checked) return;
    if (!act || event.ctrlKey || event.metaKey || event.altKey || target.closest("input:not([type=radio], [type=range], [type=file], [type=checkbox]), select, textarea")) return;
    // the space bar presses a button that has the focus
    if (event.key === " " && target.closest("button, a, input, summary")) return;
    event.preventDefault();
    act();
  });
  [soundName, distance].forEach((field) =>
    field.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      field.blur();
      acts.wanted();
    }),
  );
  soundName.addEventListener("input", () => (chosen = soundName.value));
  inputById("listen-file").addEventListener("change", (event) => {
    const { files } = /** @type {HTMLInputElement} */ (event.target);
    if (files) sound.openAll(files);
  });
  sortable(table);
  onSetting.push(setFirings);
  progress();
}

if (found("listen-list")) listening();
