// Edits on their way to disk: numbered, kept until answered, sent again with each newer one
// and every while until somebody answers; kept over a refresh of the window too.

const RETRY_MS = 1500;
// A server started anew knows nothing of this window's page; if it still has not answered
// this long after it came back, the page is fetched again: what waits here survives that.
const PATIENCE_MS = 5000;

class Post {
  constructor(place) {
    this.shelf = `clearface-unsent-${place}`;
    this.renew();
    this.send = () => {};
    this.changed = () => {};
    this.restore();
    this.lost = false;
    this.back = 0;
    this.timer = setInterval(() => {
      if (!this.pending.length || performance.now() - this.sent <= RETRY_MS) return;
      this.out();
      this.look();
    }, 500);
  }

  look() {
    fetch("/_stcore/health", { cache: "no-store" }).then(
      (told) => { if (told.ok && this.lost) this.found(); },
      () => { this.lost = true; this.back = 0; },
    );
  }

  found() {
    this.back ||= performance.now();
    if (!this.pending.length || performance.now() - this.back < PATIENCE_MS) return;
    try {
      if (sessionStorage.getItem(this.shelf)) location.reload();
    } catch { /* no storage: a reload would lose what waits */ }
  }

  close() { clearInterval(this.timer); }

  renew() {
    const bytes = new Uint8Array(9);
    crypto.getRandomValues(bytes);
    this.client = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    this.seq = 0;
    this.pending = [];
    this.sentAt = new Map();
    this.sent = 0;
    this.old = false;
  }

  // What a window could not get rid of before it was refreshed goes on under its old name.
  restore() {
    try {
      const kept = JSON.parse(sessionStorage.getItem(this.shelf) || "null");
      if (kept && kept.pending.length) Object.assign(this, kept, { old: true });
    } catch { /* no storage, or nothing of ours in it */ }
  }

  keep() {
    try {
      if (this.pending.length) {
        sessionStorage.setItem(this.shelf, JSON.stringify({ client: this.client, seq: this.seq, pending: this.pending }));
      } else sessionStorage.removeItem(this.shelf);
    } catch { /* no storage: the window keeps them as long as it lives */ }
    this.changed();
  }

  put(op) {
    this.seq += 1;
    this.pending.push({ seq: this.seq, ...op });
    this.sentAt.set(this.seq, performance.now());
    this.keep();
    this.out();
  }

  out() {
    this.sent = performance.now();
    this.send("ops", { client: this.client, ops: this.pending, at: Date.now() });
  }

  answered(ack) {
    if (!ack || ack.client !== this.client) return;
    for (const { seq } of this.pending) {
      if (seq <= ack.seq && this.sentAt.has(seq)) {
        this.lastTrip = performance.now() - this.sentAt.get(seq);
        this.sentAt.delete(seq);
      }
    }
    this.pending = this.pending.filter(({ seq }) => seq > ack.seq);
    if (!this.pending.length) this.lost = false;
    if (this.old && !this.pending.length) this.renew();
    this.keep();
  }
}
