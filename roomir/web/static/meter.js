"use strict";
// Runs beside the page, where the sound comes in: passes it on as it is, a tenth of a second at a time.
class Pieces extends AudioWorkletProcessor {
  constructor() {
    super();
    this.piece = new Float32Array(Math.round(sampleRate / 10));
    this.filled = 0;
    this.port.onmessage = () => {
      this.pass();
      this.port.postMessage(null);
    };
  }

  pass() {
    if (!this.filled) return;
    const piece = this.piece.slice(0, this.filled);
    this.port.postMessage(piece, [piece.buffer]);
    this.filled = 0;
  }

  process(inputs) {
    const heard = inputs[0][0];
    if (!heard) return true;
    for (let from = 0; from < heard.length;) {
      const n = Math.min(heard.length - from, this.piece.length - this.filled);
      this.piece.set(heard.subarray(from, from + n), this.filled);
      this.filled += n;
      from += n;
      if (this.filled === this.piece.length) this.pass();
    }
    return true;
  }
}
registerProcessor("pieces", Pieces);
