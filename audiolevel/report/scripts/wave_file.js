// Parts of WAV files, read from the disk where they stand: an hour is never decoded as a whole.

/** @typedef {{file: File, format: Uint8Array, block: number, rate: number, from: number, bytes: number, duration: number}} WaveFile */

/** @param {DataView} view @param {number} at */
const fourLetters = (view, at) => String.fromCharCode(...new Uint8Array(view.buffer, view.byteOffset + at, 4));

/** Where the sound stands in a WAV or RF64 file; null for any other. @param {File} file @returns {Promise<WaveFile | null>} */
async function openedWave(file) {
  const start = new DataView(await file.slice(0, 12).arrayBuffer());
  if (start.byteLength < 12 || !["RIFF", "RF64"].includes(fourLetters(start, 0)) || fourLetters(start, 8) !== "WAVE") return null;
  /** @type {Uint8Array | null} */
  let format = null;
  for (let at = 12; at + 8 <= file.size; ) {
    const head = new DataView(await file.slice(at, at + 8).arrayBuffer());
    const name = fourLetters(head, 0);
    const size = head.getUint32(4, true);
    if (name === "fmt ") format = new Uint8Array(await file.slice(at + 8, at + 8 + size).arrayBuffer());
    if (name === "data" && format && format.length >= 16) {
      const words = new DataView(format.buffer);
      const block = words.getUint16(12, true);
      const rate = words.getUint32(4, true);
      if (!block || !rate) return null;
      // a length of all ones stands for "in another chunk" or "not known": up to the end of the file
      const bytes = Math.min(size, file.size - at - 8);
      return { file, format, block, rate, from: at + 8, bytes, duration: bytes / block / rate };
    }
    // chunks begin at even bytes
    at += 8 + size + (size % 2);
  }
  return null;
}

/** A WAV file of its own that holds a part of another. @param {WaveFile} wave @param {number} fromS @param {number} toS */
function waveSlice(wave, fromS, toS) {
  const whole = Math.floor(wave.bytes / wave.block);
  const first = Math.min(whole, Math.max(0, Math.floor(fromS * wave.rate)));
  const last = Math.min(whole, Math.max(first, Math.ceil(toS * wave.rate)));
  const sound = wave.file.slice(wave.from + first * wave.block, wave.from + last * wave.block);
  const head = new DataView(new ArrayBuffer(12));
  const letters = (/** @type {DataView} */ view, /** @type {number} */ at, /** @type {string} */ text) =>
    [...text].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
  letters(head, 0, "RIFF");
  head.setUint32(4, 4 + 8 + wave.format.length + 8 + sound.size, true);
  letters(head, 8, "WAVE");
  const chunk = (/** @type {string} */ name, /** @type {number} */ size) => {
    const view = new DataView(new ArrayBuffer(8));
    letters(view, 0, name);
    view.setUint32(4, size, true);
    return view.buffer;
  };
  const format = /** @type {BlobPart} */ (wave.format);
  return new Blob([head.buffer, chunk("fmt ", wave.format.length), format, chunk("data", sound.size), sound], { type: "audio/wav" });
}
