"use strict";
// The recorder: asks for the bare microphone, shows what comes in, and keeps it.

const at = (id) => document.getElementById(id);
const form = at("takes");
const ASKED_OFF = { echoCancellation: "echo cancellation", noiseSuppression: "noise suppression", autoGainControl: "automatic gain" };

const ENOUGH_DB = 45; // T30 is read from -5 to -35 dB and wants ten more down to the background.
const LONGEST_S = 15 * 60;

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
    const deep = ranges.filter((range) => range >= ENOUGH_DB).length;
    const worth = deep >= 2 ? "enough for this spot" : `two that fall ${ENOUGH_DB} dB are enough`;
    return `${this.claps.length}, falling ${ranges.slice(-6).join(", ")} dB into the background; ${worth}`;
  }
}

let running = null;
let starting = false;
Way.whileBusy(() => running || starting);

async function keepAwake() {
  return navigator.wakeLock?.request("screen").catch(() => null);
}

async function start() {
  if (running || starting || !form.reportValidity()) return;
  starting = true;
  try { await begin(); } catch (error) {
    step(`This can't be recorded: ${error.message || error.name}. Choose a recording below.`);
  } finally { starting = false; }
}

async function begin() {
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
  const mine = await inHand(take.id);
  await Takes.put(take);
  const listener = new Listener();
  let n = 0;
  let kept = Promise.resolve();
  const ended = new Promise((resolve) => {
    pieces.port.onmessage = ({ data }) => {
      if (data === null) { resolve(); return; }
      const place = n++;
      kept = kept.then(() => Takes.addPiece(take.id, place, data)).catch(full);
      show(listener, listener.hear(data, take.rate));
      if (listener.seconds > LONGEST_S) stop();
    };
  });
  treated(stream.getAudioTracks()[0]);
  running = { take, stream, context, pieces, ended, mine, lock: await keepAwake(), kept: () => kept };
  stream.getAudioTracks()[0].onended = stop;
  context.createMediaStreamSource(stream).connect(pieces);
  await context.resume();
  at("start").hidden = true; at("stop").hidden = false; at("live").hidden = false;
  at("stop").focus();
  step("Hold still. Five seconds of silence first.");
  setTimeout(() => running?.take === take && step("Clap here, once, and stand still until it is quiet."), 5000);
}

// Keep other tabs from sending a take that is still being made; ends when what it returns is called.
function inHand(id) {
  return new Promise((got) => {
    Takes.alone(id, () => new Promise((done) => { Way.sending.add(id); got(done); }));
  });
}

function full(error) {
  stop(`The browser can't keep more on this phone (${error?.name}). What there is of it is sent.`);
}

async function stop(says) {
  if (!running) return;
  const { take, stream, context, pieces, ended, mine, lock, kept } = running;
  running = null;
  at("stop").hidden = true;
  pieces.port.postMessage("pass");
  await Promise.race([ended, new Promise((resolve) => setTimeout(resolve, 2000))]);
  await kept();
  stream.getTracks().forEach((track) => track.stop());
  await context.close();
  await lock?.release().catch(() => null);
  await Takes.put({ ...take, whole: true }).catch(() => null);
  at("live").hidden = true; at("start").hidden = false;
  at("start").focus();
  step(typeof says === "string" ? says : "Kept on this phone. Sending. For the next spot, change its name and start again.");
  try { await Way.sendNow(take.id); } finally { Way.sending.delete(take.id); mine(); }
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

// ---------------------------------------------------------------- beginning

// A phone that was locked lets go of screen and sound; both are asked for again.
document.addEventListener("visibilitychange", async () => {
  if (!running || document.visibilityState !== "visible") return;
  running.lock = await keepAwake();
  if (running?.context.state !== "running") {
    await running?.context.resume();
    step("The phone was away for a while: that part is missing. Go on, or stop.");
  }
});

if (Way.works && navigator.mediaDevices && window.AudioWorkletNode) {
  at("recorder").hidden = false;
  at("start").onclick = start;
  at("stop").onclick = () => stop();
  window.addEventListener("beforeunload", (event) => { if (running) event.preventDefault(); });
}
