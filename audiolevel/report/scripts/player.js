// The reader's own sound file: played from before a firing to after it; it goes nowhere.

// before and after a firing, seconds
const [HEARD_BEFORE_S, HEARD_AFTER_S] = [2, 3];

/** How long a file plays, in seconds; not a number where the browser cannot play it. @param {string} url @returns {Promise<number>} */
const lengthOf = (url) =>
  new Promise((told) => {
    const heard = new Audio(url);
    heard.onloadedmetadata = heard.onerror = () => told(heard.duration);
  });

/** @param {Recorded[]} recordings */
function player(recordings) {
  const audio = /** @type {HTMLAudioElement} */ (byId("listen-audio"));
  /** @type {Map<string, string>} addresses by the place of the recording and of the file in it */
  const opened = new Map();
  let stopAt = Infinity;

  /** The opened file that a moment lies in, and where in it. @param {Firing} firing @returns {[string | undefined, number]} */
  function soundAt(firing) {
    const { files, begin_s: begin } = recordings[firing.recording];
    let at = firing.at + begin;
    let i = 0;
    for (; i < files.length - 1 && at >= files[i].duration_s; i += 1) at -= files[i].duration_s;
    return [opened.get(`${firing.recording} ${i}`), at];
  }

  /** The browser seeks in the file where it stands: an hour is never read as a whole. @param {Firing} firing */
  function play(firing) {
    const [url, at] = soundAt(firing);
    if (!url) return;
    audio.pause();
    // the same file again is sought in, not opened anew
    if (audio.src !== url) audio.src = url;
    stopAt = at + HEARD_AFTER_S;
    audio.currentTime = Math.max(0, at - HEARD_BEFORE_S);
    // a firing passed over before it was heard breaks the playing off
    audio.play().catch((error) => {
      if (error.name !== "AbortError") byId("listen-opened").textContent = `This browser cannot play the file (${error.message}).`;
    });
  }

  audio.addEventListener("timeupdate", () => {
    if (audio.currentTime >= stopAt) audio.pause();
  });

  /** Every place a file may belong to: by its name, or the one there is. @param {File} file */
  function placesOf(file) {
    const named = recordings.flatMap((one, i) => one.files.map((part, k) => ({ key: `${i} ${k}`, name: part.name, length: part.duration_s })));
    const same = named.filter((one) => one.name === file.name);
    return same.length ? same : named.length === 1 ? named : [];
  }

  /** @param {FileList} files */
  async function openAll(files) {
    const said = [];
    for (const file of files) {
      const places = placesOf(file);
      const url = URL.createObjectURL(file);
      const lasts = await lengthOf(url);
      places.forEach(({ key, length }) => {
        opened.set(key, url);
        // of a compressed file the browser may know its length only nearly
        if (Math.abs(lasts - length) > 1 + length / 100) said.push(`${file.name} lasts ${minutes(lasts)}, the recording ${minutes(length)}: is it the right file?`);
      });
      if (Number.isNaN(lasts)) said.push(`This browser cannot play ${file.name}.`);
      else said.push(places.length ? `${file.name} is open.` : `${file.name} is none of the recordings of this plan.`);
    }
    byId("listen-opened").textContent = said.join(" ");
  }

  return { play, openAll };
}
