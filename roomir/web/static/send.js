"use strict";
// Takes on their way from this phone to the computer. Whatever happens, the phone keeps its copy until
// the logbook is known to have the sound, by its hash.

const Way = (() => {
  const list = document.getElementById("waiting");
  const csrf = () => document.querySelector("input[name=csrf]").value;
  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
  const sending = new Set();
  const MOST_BYTES = 200 * 1024 * 1024;
  let busy = () => false;

  function row(take, says) {
    let line = document.getElementById(`way-${take.id}`);
    if (!line) { line = document.createElement("li"); line.id = `way-${take.id}`; list.append(line); }
    line.textContent = [take.room, take.stage, take.spot].filter(Boolean).join(", ") + `: ${says} `;
    list.hidden = false;
    return line;
  }

  function button(line, words, then) {
    const one = document.createElement("button");
    one.type = "button"; one.textContent = words; one.onclick = then;
    line.append(one);
    return one;
  }

  async function ask(path, options = {}) {
    const answer = await fetch(path, { ...options, headers: { Accept: "application/json" } });
    const text = await answer.text();
    let said;
    // What is refused before it has arrived is refused in plain words.
    try { said = JSON.parse(text); } catch { said = { says: text.trim() }; }
    return { status: answer.status, ok: answer.ok, said };
  }

  // Another tab may record or send this one: wait for it, and look again what is left to do.
  async function send(id) {
    if (sending.has(id)) return;
    sending.add(id);
    try { await Takes.alone(id, () => sendNow(id)); } finally { sending.delete(id); }
  }

  async function sendNow(id) {
    const take = await Takes.get(id);
    if (!take) { document.getElementById(`way-${id}`)?.remove(); return; }
    const wav = await Takes.asWav(take);
    if (!wav) { await Takes.forget(id); return; }
    const sha256 = await Takes.hash(wav);
    for (let wait = 1000; ; wait = Math.min(2 * wait, 20000)) {
      const outcome = await tryToSend(take, wav, sha256).catch(() => "later");
      if (outcome !== "later") return;
      row(take, "kept on this phone; the computer can't be reached or is busy, trying again.");
      await pause(wait);
    }
  }

  async function tryToSend(take, wav, sha256) {
    if (wav.size > MOST_BYTES - 1e6) return refused(take, wav, "It is longer than the computer takes in at once: save the sound and cut it.");
    row(take, "sending.");
    const body = new FormData();
    body.append("csrf", csrf());
    for (const key of ["room", "stage", "spot", "dimensions"]) body.append(key, take[key]);
    body.append("take", wav, "take.wav");
    let { status, ok, said } = await ask("/takes", { method: "POST", body });
    if (status === 403) return refused(take, wav, "this browser has to be paired again; then load this page.");
    if (status === 400 || status === 413) return refused(take, wav, said.says || "it was refused.");
    if (!ok || said.sha256?.[0] !== sha256) return "later";
    let patience = 400;
    for (const job = said.job; ;) {
      if (said.state === "asks") said = await question(take, said);
      else if (said.state === "failed") return refused(take, wav, said.says);
      else if (said.state === "done") break;
      else if (said.state !== "waiting" && said.state !== "reading") return "later";
      else {
        row(take, said.state === "reading" ? "the computer has it and reads it." : "the computer has it; waiting for its turn.");
        // It is asked less often the longer it takes, and not at all for a while when that is too often.
        await pause(patience = Math.min(1.3 * patience, 3000));
        ({ status, ok, said } = await ask(`/takes/${job}`));
        if (status === 429 || status === 503) { said = { state: "waiting" }; patience = 3000; } else if (!ok) return "later";
      }
    }
    const has = said.result.takes[0];
    if (has.take?.sha256 !== sha256 && has.take?.original_sha256 !== sha256) {
      return refused(take, wav, `${has.outcome}. ${(has.failure?.says ?? "").replace(`${has.name}: `, "")}.`);
    }
    await Takes.forget(take.id);
    row(take, `${has.outcome}.`);
    if (!busy() && sending.size < 2) location.assign(said.leads_to);
    return "kept";
  }

  // It stays on the phone until somebody decides.
  function refused(take, wav, says) {
    const line = row(take, `kept on this phone. ${says}`);
    button(line, "Send again", async () => {
      const form = document.getElementById("takes");
      const now = form ? Object.fromEntries(["room", "stage", "spot", "dimensions"].map((key) => [key, form.elements[key].value])) : {};
      if (!form || form.reportValidity()) { await Takes.put({ ...take, ...now }); await send(take.id); }
    });
    button(line, "Save the sound", () => {
      const link = document.createElement("a");
      link.href = URL.createObjectURL(wav); link.download = "take.wav"; link.click();
    });
    button(line, "Delete it", async () => {
      if (confirm("Delete this recording? The computer does not have it.")) { await Takes.forget(take.id); line.remove(); }
    });
    return "refused";
  }

  function question(take, said) {
    const line = row(take, said.says);
    return new Promise((resolve, reject) => {
      for (const [value, words] of [["there", "Take the one that is there"], ["new", "Make a new one"]]) {
        button(line, words, () => {
          const body = new FormData();
          body.append("csrf", csrf()); body.append("name", value);
          ask(`/takes/${said.job}/answer`, { method: "POST", body }).then(({ said: then }) => resolve(then), reject);
        });
      }
      line.querySelector("button").focus();
    });
  }

  const works = window.isSecureContext && crypto.subtle;
  if (works) {
    Takes.all().then((left) => left.forEach((take) => {
      row(take, take.whole ? "still to be sent." : "in another tab, or cut off; what there is of it will be sent.");
      send(take.id);
    }));
  }
  return { row, sendNow, sending, works, MOST_BYTES, whileBusy: (asked) => { busy = asked; } };
})();
