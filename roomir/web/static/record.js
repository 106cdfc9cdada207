"use strict";
// The recorder: asks for the bare microphone, shows what comes in, and keeps it.

const at = (id) => document.getElementById(id);
const form = at("takes");
const ASKED_OFF = { echoCancellation: "echo cancellation", noiseSuppression: "noise suppression", autoGainControl: "automatic gain" };

const ENOUGH_DB = 45; // T30 is read from -5 to -35 dB and wants ten more down to the background.
const LONGEST_S = 15 * 60;
const longest = (rate) => Math.min(LONGEST_S, 0.95 * Way.MOST_BYTES / (4 * rate)); // of 32-bit samples

function step(says) { at("step").textContent = says; }

// ---------------------------------------------------------------- what comes in

// A rough count of claps: a tenth of a second that rises far out of the background, and how far it falls after.
class Listener {
  constructor() {
    this.quiet = []; this.claps = []; this.clipped = false; this.silent = true; this.seconds = 0; this.since = 9;
  }

  hear(piece, rate) {
    let peak = 0;
    let energy = 0;
    for (const value of piece) { const size = Math.abs(value); if (size > peak) peak = size; energy += value * value; }
    const level = 10 * Math.log10(energy / piece.length + 1e-12);
    this.seconds += piece.length / rate; this.since += piece.length / rate;
    if (peak >= 0.999) this.clipped = true;
    if (peak > 0) this.silent = false;
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

// Writes down what was recorded: whatever has come since the last write goes into the next one, so a slow
// phone falls behind by one write and no more.
class Keeper {
  constructor(id) { this.id = id; this.waiting = []; this.n = 0; this.kept = 0; this.safe = true; this.done = null; }

  add(sound) {
    this.waiting.push({ take: this.id, n: this.n++, sound });
    this.done ??= this.write();
  }

  async write() {
    while (this.waiting.length) {
      const some = this.waiting.splice(0);
      this.safe = await Takes.addPieces(this.id, some) && this.safe;
      for (const one of some) this.kept += one.sound.length;
    }
    this.done = null;
  }
}

async function start() {
  if (running || starting || !form.reportValidity()) return;
  starting = true;
  try {
    step("The browser asks for the microphone.");
    const stream = await microphone();
    if (stream) await begin(stream).catch((error) => { stream.getTracks().forEach((track) => track.stop()); throw error; });
  } catch (error) {
    step(`This can't be recorded: ${error.message || error.name}. Choose a recording below.`);
  } finally { starting = false; }
}

const NO_MICROPHONE = {
  NotAllowedError: "The browser may not use the microphone. Allow it for this page, in the browser and in the phone's settings, and start again; or choose a recording below.",
  NotFoundError: "There is no microphone here. Choose a recording below.",
  NotReadableError: "Something else holds the microphone. End calls and other recorders, and start again; or choose a recording below.",
};

async function microphone() {
  try {
    return await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
    });
  } catch (error) {
    step(NO_MICROPHONE[error.name] ?? `No microphone: ${error.message || error.name}. Choose a recording below.`);
    return null;
  }
}

// At the microphone's own rate nothing is converted; not every browser tells it, or can have it.
function contextAt(rate) {
  try { return new AudioContext(rate ? { sampleRate: rate } : {}); } catch { return new AudioContext(); }
}

// While it records, only what matters then is on the screen, so that all of it is seen on a phone.
function onAir(is) {
  for (const id of ["start", "names", "files", "before"]) at(id).hidden = is;
  for (const id of ["stop", "live"]) at(id).hidden = !is;
  at(is ? "stop" : "start").focus();
}

async function begin(stream) {
  const track = stream.getAudioTracks()[0];
  const context = contextAt(track.getSettings?.().sampleRate);
  await context.audioWorklet.addModule("/static/meter.js");
  const source = context.createMediaStreamSource(stream);
  const pieces = new AudioWorkletNode(context, "pieces", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
  const take = {
    id: `${Date.now()}-${Math.random().toString(36).slice(2)}`, rate: context.sampleRate, whole: false,
    room: at("room").value, stage: at("stage").value, spot: at("spot").value, dimensions: at("dimensions").value,
  };
  const mine = await inHand(take.id);
  const listener = new Listener();
  const keeper = new Keeper(take.id);
  keeper.safe = await Takes.put(take);
  const now = { take, stream, context, pieces, mine, listener, keeper, doubtful: null, began: 0, lock: await keepAwake() };
  const hear = (sound) => {
    keeper.add(sound);
    show(now, listener.hear(sound, take.rate));
    if (listener.seconds > longest(take.rate)) stop("That was the longest that one recording may be. It is sent.");
  };
  now.hear = hear;
  now.ended = new Promise((resolve) => {
    pieces.port.onmessage = ({ data }) => {
      now.began ||= Date.now() - 100;
      if (data === null) resolve(); else if (now.doubtful) now.doubtful.push(data); else hear(data);
    };
  });
  treated(track);
  running = now;
  track.onended = () => running === now && stop("The microphone was taken away. What there is of it is sent.");
  source.connect(pieces);
  context.resume();
  at("where").textContent = [take.room, take.stage, take.spot].filter(Boolean).join(", ");
  onAir(true);
  step("Hold still. Five seconds of silence first.");
  setTimeout(() => {
    if (running !== now) return;
    if (!now.began) stop("Nothing comes from the microphone. End calls and other recorders, and start again; or choose a recording below.");
    else if (listener.silent) step("The microphone gives nothing but silence. Is it muted, in the phone or in the browser?");
    else if (!listener.claps.length) step("Clap here, once, and stand still until it is quiet.");
  }, 5000);
}

// Keep other tabs from sending a take that is still being made; ends when what it returns is called.
function inHand(id) {
  return new Promise((got) => {
    Takes.alone(id, () => new Promise((done) => { Way.sending.add(id); got(done); }));
  });
}

async function stop(says) {
  if (!running) return;
  const { take, stream, context, pieces, ended, mine, lock, keeper } = running;
  running = null;
  at("stop").hidden = true;
  pieces.port.postMessage("pass");
  await Promise.race([ended, new Promise((resolve) => setTimeout(resolve, 2000))]);
  await keeper.done;
  stream.getTracks().forEach((track) => track.stop());
  await context.close();
  await lock?.release().catch(() => null);
  await Takes.put({ ...take, whole: true });
  at("where").textContent = "";
  onAir(false);
  const where = keeper.safe ? "Kept on this phone. Sending." : "Sending. Stay on this page until it is there.";
  step(says ?? `${where} For the next spot, change its name and start again.`);
  try { await Way.sendNow(take.id); } finally { Way.sending.delete(take.id); mine(); }
}

function show({ take, listener, keeper }, { peak, background }) {
  at("level").value = peak;
  at("level").textContent = `${Math.round(peak)} dB`;
  at("time").textContent = `${Math.floor(listener.seconds)} s`;
  at("background").textContent = `${Math.round(background)} dB below full scale`.replace("-", "");
  at("clipped").textContent = listener.clipped ? "yes: step away from the phone, or clap less hard" : "no";
  const kept = `${Math.floor(keeper.kept / take.rate)} s on this phone`;
  at("kept").textContent = keeper.safe ? kept : "in this page alone, for the browser can't keep more: stay here until it is sent";
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

// A phone that was locked lets go of screen and sound. Sound from before and after is not put together as if nothing
// had been between: a decay cut off there would read as a short one.
document.addEventListener("visibilitychange", async () => {
  const now = running;
  if (!now || document.visibilityState !== "visible") return;
  now.doubtful ??= [];
  now.lock = await keepAwake();
  await new Promise((resolve) => setTimeout(resolve, 1000));
  if (running !== now || !now.doubtful) return;
  const waiting = now.doubtful.reduce((sum, sound) => sum + sound.length, 0) / now.take.rate;
  const missing = (Date.now() - now.began) / 1000 - now.listener.seconds - waiting;
  if (now.context.state !== "running" || (now.began && missing > 1)) {
    stop("The phone was away, and the recording ended there. It is sent; start again for more claps.");
  } else {
    const later = now.doubtful;
    now.doubtful = null;
    later.forEach(now.hear);
  }
});

// ---------------------------------------------------------------- files

const chosen = form.elements.take;
chosen.onchange = () => {
  const size = [...chosen.files].reduce((sum, file) => sum + file.size, 0);
  const most = Way.MOST_BYTES - 1e6;
  chosen.setCustomValidity(
    size > most ? `That is ${Math.round(size / 1048576)} MB, and at most 200 MB go together: choose a shorter recording, or fewer.`
      : chosen.files.length > 20 ? "At most 20 recordings go together: choose fewer." : "");
  at("too-much").textContent = chosen.validationMessage;
  chosen.setAttribute("aria-invalid", String(!chosen.validity.valid));
};

function cannot() {
  if (!Way.works) return "the page has to be opened by its https link, in a browser of these days";
  if (!navigator.mediaDevices?.getUserMedia) return "this browser hands over no microphone";
  if (!window.AudioWorkletNode) return "this browser hands over no bare sound (AudioWorklet); a newer one does";
  return null;
}

const why = cannot();
if (why) {
  at("cannot").textContent = `Recording on this page does not work here: ${why}. Choosing a recording does.`;
} else {
  at("cannot").hidden = true;
  at("recorder").hidden = false;
  at("start").onclick = start;
  at("stop").onclick = () => stop();
  window.addEventListener("beforeunload", (event) => { if (running || Takes.fragile()) event.preventDefault(); });
}
