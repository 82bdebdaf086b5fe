// The reader's own sound file: played from before a firing to after it; it goes nowhere.

// before and after a firing, seconds
const [HEARD_BEFORE_S, HEARD_AFTER_S] = [2, 3];

/** @typedef {{file: File, wave: WaveFile | null, url: string}} Opened */

/** @param {Recorded[]} recordings */
function player(recordings) {
  const audio = /** @type {HTMLAudioElement} */ (byId("listen-audio"));
  /** @type {Map<string, Opened>} by the place of the recording and of the file in it */
  const opened = new Map();
  let stopAt = Infinity;
  let sliceUrl = "";

  /** The opened file that a moment lies in, and where in it. @param {Firing} firing @returns {[Opened, number] | null} */
  function soundAt(firing) {
    const recorded = recordings[firing.recording];
    let at = firing.at + recorded.begin_s;
    for (let i = 0; i < recorded.files.length; i += 1) {
      const last = i === recorded.files.length - 1;
      if (at < recorded.files[i].duration_s || last) {
        const file = opened.get(`${firing.recording} ${i}`);
        return file ? [file, at] : null;
      }
      at -= recorded.files[i].duration_s;
    }
    return null;
  }

  /** @param {Firing} firing */
  function play(firing) {
    const sound = soundAt(firing);
    if (!sound) return;
    const [{ wave, url }, at] = sound;
    const from = Math.max(0, at - HEARD_BEFORE_S);
    audio.pause();
    if (wave) {
      URL.revokeObjectURL(sliceUrl);
      sliceUrl = URL.createObjectURL(waveSlice(wave, from, at + HEARD_AFTER_S));
      stopAt = Infinity;
      audio.src = sliceUrl;
    } else {
      // the same file again is sought in, not opened anew
      if (audio.src !== url) audio.src = url;
      stopAt = at + HEARD_AFTER_S;
      audio.currentTime = from;
    }
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
      const wave = await openedWave(file);
      places.forEach(({ key, length }) => {
        opened.set(key, { file, wave, url: URL.createObjectURL(file) });
        if (wave && Math.abs(wave.duration - length) > 1) said.push(`${file.name} lasts ${minutes(wave.duration)}, the recording ${minutes(length)}: is it the right file?`);
      });
      said.push(places.length ? `${file.name} is open.` : `${file.name} is none of the recordings of this plan.`);
    }
    byId("listen-opened").textContent = said.join(" ");
  }

  return { play, openAll };
}
