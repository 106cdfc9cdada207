"use strict";
// The recorder: asks for the bare microphone, shows what comes in, keeps it, sends it.

const at = (id) => document.getElementById(id);
const form = at("takes");
const ASKED_OFF = { echoCancellation: "echo cancellation", noiseSuppression: "noise suppression", autoGainControl: "automatic gain" };

function step(says) { at("step").textContent = says; }

// ---------------------------------------------------------------- what comes in

// A rough count of claps: a tenth of a second that rises far out of the background, and how far it falls after.
class Listener {
  constructor() {
    this.quiet = []; this.claps = []; this.clipped = false; this.seconds = 0; this.since = 9;
  }

  hear(piece, rate) {
    let peak = 0;
    let energy = 0;
    for (const value of piece) { const size = Math.abs(value); if (size > peak) peak = size; energy += value * value; }
    const level = 10 * Math.log10(energy / piece.length + 1e-12);
    this.seconds += piece.length / rate; this.since += piece.length / rate;
    if (peak >= 0.999) this.clipped = true;
    this.quiet.push(level);
    if (this.quiet.length > 100) this.quiet.shift();
    const background = [...this.quiet].sort((a, b) => a - b)[Math.floor(this.quiet.length / 4)];
    if (level > background + 20 && this.since > 1 && this.quiet.length > 5) { this.claps.push({ level, lowest: level }); this.since = 0; }
    const last = this.claps.at(-1);
    if (last && this.since < 4) { last.level = Math.max(last.level, level); last.lowest = Math.min(last.lowest, level); }
    return { peak: 20 * Math.log10(peak + 1e-6), background };
  }

  says() {
    if (!this.claps.length) return "none yet";
    const ranges = this.claps.map((one) => Math.round(one.level - one.lowest));
    return `${this.claps.length}, falling ${ranges.slice(-6).join(", ")} dB into the background`;
  }
}

let running = null;

async function start() {
  if (!form.reportValidity()) return;
  step("The browser asks for the microphone.");
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
    });
  } catch (error) {
    step(`No microphone: ${error.message || error.name}. Allow it for this page, or choose a recording below.`);
    return;
  }
  const context = new AudioContext();
  await context.audioWorklet.addModule("/static/meter.js");
  const pieces = new AudioWorkletNode(context, "pieces", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
  const take = {
    id: `${Date.now()}-${Math.random().toString(36).slice(2)}`, rate: context.sampleRate, whole: false,
    room: at("room").value, stage: at("stage").value, spot: at("spot").value, dimensions: at("dimensions").value,
  };
  await Takes.put(take);
  const listener = new Listener();
  let n = 0;
  let kept = Promise.resolve();
  const ended = new Promise((resolve) => {
    pieces.port.onmessage = ({ data }) => {
      if (data === null) { resolve(); return; }
      const place = n++;
      kept = kept.then(() => Takes.addPiece(take.id, place, data));
      show(listener, listener.hear(data, take.rate));
    };
  });
  const lock = await navigator.wakeLock?.request("screen").catch(() => null);
  treated(stream.getAudioTracks()[0]);
  context.createMediaStreamSource(stream).connect(pieces);
  await context.resume();
  running = { take, stream, context, pieces, ended, lock, kept: () => kept };
  stream.getAudioTracks()[0].onended = stop;
  at("start").hidden = true; at("stop").hidden = false; at("live").hidden = false;
  step("Hold still. Five seconds of silence first.");
  setTimeout(() => running?.take === take && step("Clap here, once, and stand still until it is quiet."), 5000);
}

async function stop() {
  if (!running) return;
  const { take, stream, context, pieces, ended, lock, kept } = running;
  running = null;
  at("stop").hidden = true;
  pieces.port.postMessage("pass");
  await ended;
  await kept();
  stream.getTracks().forEach((track) => track.stop());
  await context.close();
  await lock?.release().catch(() => null);
  await Takes.put({ ...take, whole: true });
  at("live").hidden = true; at("start").hidden = false;
  step("Kept on this phone. Sending.");
  await send({ ...take, whole: true });
}

function show(listener, { peak, background }) {
  at("level").value = peak;
  at("level").textContent = `${Math.round(peak)} dB`;
  at("time").textContent = `${Math.floor(listener.seconds)} s`;
  at("background").textContent = `${Math.round(background)} dB below full scale`.replace("-", "");
  at("clipped").textContent = listener.clipped ? "yes: step away from the phone, or clap less hard" : "no";
  const says = listener.says();
  if (at("claps").textContent !== says) {
    at("claps").textContent = says;
    if (listener.claps.length && listener.since < 0.5) step("Heard. Stand still until it is quiet, then clap again or stop.");
  }
}

function treated(track) {
  const has = track.getSettings?.() ?? {};
  at("treated").textContent = Object.entries(ASKED_OFF)
    .map(([key, name]) => `${name} ${has[key] === undefined ? "unknown" : has[key] ? "on" : "off"}`).join(", ");
}

// ---------------------------------------------------------------- on its way

const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const sending = new Set();

function row(take, says) {
  let line = at(`way-${take.id}`);
  if (!line) { line = document.createElement("li"); line.id = `way-${take.id}`; at("waiting").append(line); }
  line.textContent = [take.room, take.stage, take.spot].filter(Boolean).join(", ") + `: ${says}`;
  return line;
}

async function ask(path, options = {}) {
  const answer = await fetch(path, { ...options, headers: { Accept: "application/json" } });
  const said = await answer.json().catch(() => ({}));
  return { status: answer.status, ok: answer.ok, said };
}

// Send until the logbook has it: whatever happens meanwhile, the phone keeps its copy.
async function send(take) {
  if (sending.has(take.id)) return;
  sending.add(take.id);
  try {
    const wav = await Takes.asWav(take);
    if (!wav) { await Takes.forget(take.id); return; }
    const sha256 = await Takes.hash(wav);
    for (let wait = 1000; ; wait = Math.min(2 * wait, 20000)) {
      const outcome = await tryToSend(take, wav, sha256).catch(() => "later");
      if (outcome === "kept") return;
      if (outcome === "refused") return;
      row(take, "kept on this phone; the computer can't be reached, trying again.");
      await pause(wait);
    }
  } finally { sending.delete(take.id); }
}

async function tryToSend(take, wav, sha256) {
  row(take, "sending.");
  const body = new FormData();
  body.append("csrf", form.elements.csrf.value);
  for (const key of ["room", "stage", "spot", "dimensions"]) body.append(key, take[key]);
  body.append("take", wav, `${take.spot || "take"}.wav`);
  let { status, ok, said } = await ask("/takes", { method: "POST", body });
  if (status === 403) { row(take, "kept on this phone; this browser has to be paired again, then load this page."); return "refused"; }
  if (status === 400 || status === 413) { row(take, said.says || "it was refused."); return "refused"; }
  if (!ok || said.sha256?.[0] !== sha256) return "later";
  for (const job = said.job; ;) {
    if (said.state === "asks") said = await question(take, said);
    else if (said.state === "failed") { row(take, said.says); return "refused"; }
    else if (said.state === "done") break;
    else {
      row(take, said.state === "reading" ? "the computer has it and reads it." : "the computer has it; waiting for its turn.");
      await pause(500);
      ({ ok, said } = await ask(`/takes/${job}`));
      if (!ok) return "later";
    }
  }
  const has = said.result.takes[0];
  if (has.take?.sha256 !== sha256 && has.take?.original_sha256 !== sha256) return "later";
  await Takes.forget(take.id);
  row(take, has.outcome + ".");
  if (!running) location.assign(`/room?${new URLSearchParams({ room: said.result.room, lot: said.job })}`);
  return "kept";
}

async function question(take, said) {
  const line = row(take, said.says + " ");
  return new Promise((resolve) => {
    for (const [value, words] of [["there", "Take the one that is there"], ["new", "Make a new one"]]) {
      const button = document.createElement("button");
      button.type = "button"; button.textContent = words;
      button.onclick = async () => {
        const body = new FormData();
        body.append("csrf", form.elements.csrf.value); body.append("name", value);
        resolve((await ask(`/takes/${said.job}/answer`, { method: "POST", body })).said);
      };
      line.append(button);
    }
    line.querySelector("button").focus();
  });
}

// ---------------------------------------------------------------- beginning

if (window.isSecureContext && navigator.mediaDevices && window.AudioWorkletNode && window.indexedDB) {
  at("recorder").hidden = false;
  at("start").onclick = start;
  at("stop").onclick = stop;
  window.addEventListener("beforeunload", (event) => { if (running) event.preventDefault(); });
  Takes.all().then((left) => left.forEach((take) => {
    if (!take.whole) row(take, "was cut off; what there is of it is sent.");
    send({ ...take, whole: true });
  }));
}
