// Edits on their way to disk: numbered, kept until answered, sent again with each newer one.

class Post {
  constructor() {
    const bytes = new Uint8Array(9);
    crypto.getRandomValues(bytes);
    this.client = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    this.seq = 0;
    this.pending = [];
    this.sentAt = new Map();
    this.send = () => {};
  }

  put(op) {
    this.seq += 1;
    this.pending.push({ seq: this.seq, ...op });
    this.sentAt.set(this.seq, performance.now());
    this.send("ops", { client: this.client, ops: this.pending });
  }

  answered(ack) {
    if (!ack || ack.client !== this.client) return;
    for (const { seq } of this.pending) {
      if (seq <= ack.seq) {
        this.lastTrip = performance.now() - (this.sentAt.get(seq) || performance.now());
        this.sentAt.delete(seq);
      }
    }
    this.pending = this.pending.filter(({ seq }) => seq > ack.seq);
  }
}
