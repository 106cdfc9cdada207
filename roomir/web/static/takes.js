"use strict";
// Recordings on this phone: kept piece by piece as they are made, and let go of only when the
// computer's logbook has them, told by their hash.

const Takes = (() => {
  // Where the browser keeps nothing, in a private window or on a full phone, a take lives in this page alone.
  const here = { takes: new Map(), pieces: new Map() };

  const opened = new Promise((resolve, reject) => {
    const request = indexedDB.open("roomir", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("takes", { keyPath: "id" });
      request.result.createObjectStore("pieces", { keyPath: ["take", "n"] });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  opened.catch(() => null);

  const done = (transaction) => new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(true);
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });

  async function write(store, values) {
    const transaction = (await opened).transaction(store, "readwrite", { durability: "strict" });
    for (const value of values) transaction.objectStore(store).put(value);
    return done(transaction);
  }

  async function all(store, range) {
    const request = (await opened).transaction(store).objectStore(store).getAll(range);
    return new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
  }

  const piecesOf = (id) => IDBKeyRange.bound([id, 0], [id, Infinity]);

  // Both say whether it is safe: whether it would outlive this page.
  async function put(take) {
    const safe = await write("takes", [take]).catch(() => false);
    if (safe) here.takes.delete(take.id); else here.takes.set(take.id, take);
    return safe;
  }

  async function addPieces(id, pieces) {
    const safe = await write("pieces", pieces).catch(() => false);
    if (!safe) here.pieces.set(id, [...here.pieces.get(id) ?? [], ...pieces]);
    return safe;
  }

  async function forget(id) {
    here.takes.delete(id); here.pieces.delete(id);
    const database = await opened.catch(() => null);
    if (!database) return;
    const transaction = database.transaction(["takes", "pieces"], "readwrite");
    transaction.objectStore("takes").delete(id);
    transaction.objectStore("pieces").delete(piecesOf(id));
    await done(transaction);
  }

  // WAV with 32-bit floats: what the microphone gave, bit for bit.
  async function asWav(take) {
    const kept = await opened.then(() => all("pieces", piecesOf(take.id)), () => []);
    const pieces = [...kept, ...here.pieces.get(take.id) ?? []].sort((a, b) => a.n - b.n).map((one) => one.sound);
    const n = pieces.reduce((sum, one) => sum + one.length, 0);
    const head = new DataView(new ArrayBuffer(58));
    const text = (at, letters) => [...letters].forEach((c, i) => head.setUint8(at + i, c.charCodeAt(0)));
    text(0, "RIFF"); head.setUint32(4, 50 + 4 * n, true); text(8, "WAVEfmt ");
    head.setUint32(16, 18, true); head.setUint16(20, 3, true); head.setUint16(22, 1, true);
    head.setUint32(24, take.rate, true); head.setUint32(28, 4 * take.rate, true);
    head.setUint16(32, 4, true); head.setUint16(34, 32, true); head.setUint16(36, 0, true);
    text(38, "fact"); head.setUint32(42, 4, true); head.setUint32(46, n, true);
    text(50, "data"); head.setUint32(54, 4 * n, true);
    return n ? new Blob([head, ...pieces], { type: "audio/wav" }) : null;
  }

  async function hash(blob) {
    const digest = await crypto.subtle.digest("SHA-256", await blob.arrayBuffer());
    return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  async function list() {
    const kept = await opened.then(() => all("takes"), () => []);
    return [...kept.filter((take) => !here.takes.has(take.id)), ...here.takes.values()];
  }

  async function get(id) {
    return (await list()).find((take) => take.id === id);
  }

  // One tab at a time has a take in hand: the one that records it, or the one that sends it.
  function alone(id, work) {
    return navigator.locks ? navigator.locks.request(`roomir take ${id}`, work) : work();
  }

  return { alone, get, all: list, put, addPieces, forget, asWav, hash, fragile: () => here.takes.size + here.pieces.size > 0 };
})();
