// Marks on one face of a board: suggestions to keep, dismiss or rename; faults drawn by hand.
// doc: { marks: [{ id, kind, points, state, score, other, through, wish, depth }], outline: points }, in mm as
// the face is seen; the outline is empty where it is the picture's own rim.

const STATE_WORDS = { pending: "suggested", confirmed: "kept", dismissed: "dismissed" };

class MarksView {
  constructor(root, post) {
    this.post = post;
    this.picked = null;
    this.tool = "pick";
    this.doubt = null;
    this.bar = html("div", { class: "bar" }, root);
    this.stage = new Stage(root, this);
    this.foot = html("div", { class: "bar foot" }, root);
    this.card = html("div", { class: "card", role: "group", "aria-label": "the mark picked" }, root);
    this.note = html("div", { class: "note", role: "status" }, root);
    this.rim = svg("path", { class: "rim passive" }, this.stage.world);
    this.shapes = svg("g", {}, this.stage.world);
    this.draft = svg("path", { class: "draft" }, this.stage.world);
  }

  update(data) {
    if (this.stage.busy()) { this.late = data; return; }
    const other = this.data && this.data.memory !== data.memory;
    if (other) { this.picked = null; this.points = null; }
    this.data = data;
    if (this.doubt === null) this.doubt = data.doubt;
    this.stage.show(data.picture, data.memory);
    this.rim.setAttribute("d", data.doc.outline?.length ? pathOf(data.doc.outline) : "");
    this.marks = data.doc.marks.map((mark) => ({ ...mark }));
    for (const op of this.post.pending) this.apply(op);
    this.picked = (this.find(this.picked) || this.find(pickKept(data.memory)))?.id || null;
    this.note.textContent = data.note || "";
    this.redraw();
  }

  find(id) { return this.marks.find((mark) => mark.id === id); }

  apply(op) {
    if (op.op === "state") for (const id of op.ids) { const mark = this.find(id); if (mark) mark.state = op.state; }
    if (op.op === "change") { const mark = this.find(op.id); if (mark) Object.assign(mark, op.to); }
    if (op.op === "draw") this.marks.push({ ...op.mark, state: "confirmed", score: 1 });
    if (op.op === "erase") this.marks = this.marks.filter((mark) => mark.id !== op.id);
  }

  do(op) { this.post.put(op); this.apply(op); this.redraw(); }

  // Suggestions shown: the surest ones, as long as no more of them than the slider says
  // are to be expected wrong in a metre, and none likelier wrong than right unless more
  // than one is asked for. A score is the chance of being right (vision/suggest/every.py).
  shown() {
    const allowed = (this.doubt * Math.max(this.stage.width, 500)) / 1000 + 1e-9;
    const floor = 0.5 / Math.max(this.doubt, 1);
    const waiting = this.marks.filter((mark) => mark.state === "pending" && !mark.other);
    const best = new Set();
    let doubt = 0;
    for (const mark of [...waiting].sort((a, b) => b.score - a.score)) {
      doubt += 1 - mark.score;
      if (doubt > allowed || mark.score < floor) break;
      best.add(mark.id);
    }
    return this.marks.filter((mark) => mark.state !== "pending" || mark.other || best.has(mark.id) || mark.id === this.picked);
  }

  waiting() { return this.shown().filter((mark) => mark.state === "pending" && !mark.other); }

  redraw() {
    const focused = this.shapes.getRootNode().activeElement?.dataset?.id;
    this.shapes.textContent = "";
    for (const mark of this.shown()) this.shape(mark);
    if (focused) this.shapes.querySelector(`[data-id="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
    this.tools();
    this.details();
  }

  shape(mark) {
    const d = pathOf(mark.points);
    const xs = mark.points.map(([x]) => x);
    const at = Math.round((Math.min(...xs) + Math.max(...xs)) / 2);
    const where = mark.through ? ", through" : mark.other ? ", on the other face" : "";
    const node = svg("g", {
      class: `mark ${mark.state}${mark.other ? " other" : ""}${mark.id === this.picked ? " picked" : ""}`,
      tabindex: "0", role: "button", "data-id": mark.id,
      "aria-label": `${mark.kind}, ${STATE_WORDS[mark.state]}${where}, at ${at} mm`,
    }, this.shapes);
    svg("path", { d, class: "reach" }, node);
    svg("path", { d, class: "casing" }, node);
    svg("path", { d, class: "line" }, node);
    if (mark.through) svg("path", { d, class: "inner" }, node);
    node.addEventListener("focus", () => { if (this.picked !== mark.id && !this.stage.busy()) this.pick(mark.id); });
  }

  pick(id) {
    if (this.picked === id) return;
    this.picked = id;
    keepPick(this.data.memory, id);
    for (const node of this.shapes.children) node.classList.toggle("picked", node.dataset.id === id);
    this.details();
  }

  // --- tools -----------------------------------------------------------------------------
  tools() {
    const { bar, data } = this;
    bar.textContent = "";
    undoButtons(bar, this, data.history);
    const tools = [["pick", "Pick", "v"], ["ellipse", "Ellipse", "e"], ["outline", "Outline", "o"], ["crack", "Crack", "c"], ["band", "Sapwood band", "b"]];
    const group = html("span", { class: "tools", role: "group", "aria-label": "drawing tools" }, bar);
    for (const [name, text, key] of tools) {
      button(group, text, () => this.use(name), { key, pressed: this.tool === name, title: TOOL_HELP[name] });
    }
    if (this.tool === "outline" && this.points?.length > 2) button(bar, "Close the outline", () => this.finish(), { key: "Enter", kind: "main" });
    this.sieve();
  }

  // Under the stage, where the thumb is: keep what is shown, and how much is shown.
  sieve() {
    const { foot, data } = this;
    foot.textContent = "";
    const waiting = this.waiting();
    if (waiting.length) {
      button(foot, `Keep all ${waiting.length} shown`, () => this.do({ op: "state", ids: waiting.map((mark) => mark.id), state: "confirmed" }), { kind: "main", key: "Shift+K" });
    }
    const hidden = this.marks.filter((mark) => mark.state === "pending" && !mark.other).length - waiting.length;
    const wrap = html("label", { class: "slider" }, foot);
    const words = () => `Doubtful marks shown: ${this.doubt} a metre`;
    html("span", {}, wrap, words());
    const slider = html("input", { type: "range", min: "0", max: String(data.mostDoubt), step: "0.25", "aria-label": "doubtful marks shown in each metre" }, wrap);
    slider.value = this.doubt;
    slider.addEventListener("input", () => {
      this.doubt = Number(slider.value);
      wrap.firstChild.textContent = words();
      this.shapes.textContent = "";
      for (const mark of this.shown()) this.shape(mark);
    });
    slider.addEventListener("change", () => this.redraw());
    if (hidden > 0) html("span", { class: "aside" }, foot, `${hidden} more not shown`);
  }

  use(tool) {
    this.tool = tool;
    this.points = null;
    this.draft.setAttribute("d", "");
    this.stage.box.classList.toggle("drawing", tool !== "pick");
    this.note.textContent = TOOL_HELP[tool];
    this.tools();
  }

  details() {
    const { card } = this;
    const mark = this.find(this.picked);
    card.textContent = "";
    card.hidden = !mark;
    if (!mark) return;
    const score = mark.state === "pending" ? `, trust ${Math.round(mark.score * 100)} %` : "";
    html("strong", {}, card, `${mark.kind}, ${STATE_WORDS[mark.state]}${score}`);
    if (mark.state !== "confirmed") button(card, "Keep", () => this.judge("confirmed"), { key: "k", kind: "main" });
    if (mark.state !== "dismissed") button(card, "Dismiss", () => this.judge("dismissed"), { key: "d" });
    button(card, "Next suggestion", () => this.next(1), { key: "n" });
    const rest = this.rest(card);
    this.kindBox = choice(rest, "Kind", this.data.kinds, mark.kind, (kind) => this.change({ kind }));
    choice(rest, "My wish", this.data.wishes, mark.wish, (wish) => this.change({ wish }));
    if (this.data.twoFaces || mark.through) {
      button(rest, mark.through ? "Through both faces" : "Goes through", () => this.change({ through: !mark.through }), { pressed: mark.through, key: "t" });
    }
    if (!mark.through) {
      field(rest, "Depth, mm", mark.depth ?? "", (text) => this.change({ depth: text.trim() === "" ? null : Number(text.replace(",", ".")) }),
        { inputmode: "decimal", size: "5", placeholder: "unknown" });
    }
    button(rest, "Erase", () => { this.do({ op: "erase", id: mark.id }); this.pick(null); this.redraw(); }, { key: "Delete" });
  }

  // What is not needed at every mark folds away on a narrow screen.
  rest(card) {
    const more = button(card, "More", () => { this.more = !this.more; this.details(); }, { kind: "narrow", pressed: Boolean(this.more) });
    more.setAttribute("aria-expanded", String(Boolean(this.more)));
    return html("div", { class: `rest${this.more ? " open" : ""}` }, card);
  }

  change(to) {
    if (this.picked && !(("depth" in to) && to.depth !== null && !(to.depth > 0))) this.do({ op: "change", id: this.picked, to });
    else if (this.picked) { this.note.textContent = "The depth must be a number above 0, in mm; leave it empty if you don't know."; this.details(); }
  }

  judge(state) {
    if (!this.picked) return;
    const was = this.find(this.picked);
    const suggested = was && was.state === "pending";
    this.do({ op: "state", ids: [this.picked], state });
    if (suggested) this.next(1);
  }

  next(step) {
    const waiting = this.waiting().sort((a, b) => a.points[0][0] - b.points[0][0]);
    if (!waiting.length) { this.note.textContent = "No suggestion is waiting on this face."; return; }
    const at = waiting.findIndex((mark) => mark.id === this.picked);
    const here = this.find(this.picked);
    let index = (at + step + waiting.length) % waiting.length;
    if (at < 0 && here) index = Math.max(0, waiting.findIndex((mark) => mark.points[0][0] >= here.points[0][0]));
    this.pick(waiting[index].id);
    const xs = waiting[index].points;
    const [sx, sy] = this.stage.screen(xs[0]);
    const { width, height } = this.stage.seen;
    if (sx < 20 || sy < 20 || sx > width - 20 || sy > height - 20) this.stage.centre(...xs[0]);
    this.shapes.querySelector(".picked")?.focus({ preventScroll: true });
  }

  key(event) {
    if (undoKey(event, this)) return true;
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const waiting = this.waiting().map((mark) => mark.id);
    const keys = {
      k: () => this.judge("confirmed"), d: () => this.judge("dismissed"), r: () => this.kindBox?.focus(),
      n: () => this.next(1), p: () => this.next(-1), v: () => this.use("pick"), e: () => this.use("ellipse"),
      o: () => this.use("outline"), c: () => this.use("crack"), b: () => this.use("band"),
      K: () => waiting.length && this.do({ op: "state", ids: waiting, state: "confirmed" }),
      t: () => this.find(this.picked) && this.change({ through: !this.find(this.picked).through }),
      Delete: () => this.picked && this.do({ op: "erase", id: this.picked }),
      Escape: () => this.use("pick"), Enter: () => (this.points ? this.finish() : this.judge("confirmed")),
    };
    const run = keys[event.key];
    if (run) run();
    return Boolean(run);
  }

  // --- pointer -----------------------------------------------------------------------------
  down(point, event) {
    if (this.tool === "pick") {
      const node = event.composedPath()[0].closest?.(".mark");
      if (!node) return null;
      const pan = this.stage.panning(this.stage.at(event));
      return { move: pan.move, cancel: pan.cancel, up: () => { this.pick(node.dataset.id); node.focus({ preventScroll: true }); } };
    }
    return this[`draw_${this.tool}`](point);
  }

  tapped() { if (this.tool === "pick") this.pick(null); }

  inside([x, y]) { return [Math.min(this.stage.width, Math.max(0, x)), Math.min(this.stage.height, Math.max(0, y))]; }

  draw_ellipse(start) {
    const points = (to) => {
      const cx = (start[0] + to[0]) / 2, cy = (start[1] + to[1]) / 2;
      const rx = Math.abs(to[0] - start[0]) / 2, ry = Math.abs(to[1] - start[1]) / 2;
      return Array.from({ length: 28 }, (_, i) => this.inside([cx + rx * Math.cos((i * Math.PI) / 14), cy + ry * Math.sin((i * Math.PI) / 14)]));
    };
    return this.dragging(points, (to) => Math.min(Math.abs(to[0] - start[0]), Math.abs(to[1] - start[1])) > 0.5, "sound knot");
  }

  draw_band(start) {
    const { width, height } = this.stage;
    const edge = (y) => (y < height / 2 ? 0 : height);
    const points = (to) => {
      const near = edge((start[1] + to[1]) / 2);
      const x0 = Math.max(0, Math.min(start[0], to[0])), x1 = Math.min(width, Math.max(start[0], to[0]));
      const [a, b] = start[0] < to[0] ? [start, to] : [to, start];
      return [[x0, near], [x1, near], [x1, this.inside(b)[1]], [x0, this.inside(a)[1]]];
    };
    return this.dragging(points, (to) => Math.abs(to[0] - start[0]) > 5, "sapwood");
  }

  dragging(points, enough, kind) {
    const stop = () => this.draft.setAttribute("d", "");
    return {
      move: (to) => this.draft.setAttribute("d", pathOf(points(to))),
      up: (to) => { stop(); if (enough(to)) this.drawn(points(to), kind); },
      cancel: stop,
    };
  }

  draw_outline(start) {
    const trail = [this.inside(start)];
    const freehand = () => trail.length > 6;
    const show = (more = []) => this.draft.setAttribute("d", pathOf([...(this.points || []), ...more], false));
    return {
      move: (to) => {
        const last = trail[trail.length - 1];
        if (Math.hypot(to[0] - last[0], to[1] - last[1]) * this.stage.k > 5) trail.push(this.inside(to));
        if (freehand()) show(trail);
      },
      up: () => {
        if (freehand() && !this.points) { this.draft.setAttribute("d", ""); this.drawn(trail, "sound knot"); return; }
        const first = this.points?.[0];
        if (first && this.points.length > 2 && Math.hypot(first[0] - start[0], first[1] - start[1]) * this.stage.k < 14) { this.finish(); return; }
        this.points = [...(this.points || []), this.inside(start)];
        show();
        this.tools();
      },
      cancel: () => show(),
    };
  }

  draw_crack(start) {
    return {
      move: (to) => { if (this.points) this.draft.setAttribute("d", pathOf([this.points[0], this.inside(to)], false)); },
      up: (to) => {
        const at = this.inside(to);
        const from = this.points ? this.points[0] : null;
        if (!from && Math.hypot(at[0] - start[0], at[1] - start[1]) * this.stage.k < 8) {
          this.points = [this.inside(start)];
          this.draft.setAttribute("d", `M${start[0]} ${start[1]}h.01`);
          this.note.textContent = "Now the other end of the crack.";
          return;
        }
        this.points = null;
        this.draft.setAttribute("d", "");
        const a = from || this.inside(start);
        const n = Math.hypot(at[0] - a[0], at[1] - a[1]);
        if (n < 2) return;
        const ox = (-(at[1] - a[1]) / n) * 0.75, oy = ((at[0] - a[0]) / n) * 0.75;
        this.drawn([[a[0] + ox, a[1] + oy], [at[0] + ox, at[1] + oy], [at[0] - ox, at[1] - oy], [a[0] - ox, a[1] - oy]], "check");
      },
      cancel: () => { this.points = null; this.draft.setAttribute("d", ""); },
    };
  }

  finish() {
    const points = this.points;
    this.points = null;
    this.draft.setAttribute("d", "");
    if (points && points.length > 2) this.drawn(points, "sound knot");
    else this.tools();
  }

  drawn(points, kind) {
    const id = `drawn-${this.post.client.slice(0, 6)}-${this.post.seq + 1}`;
    const last = this.lastKind && kind === "sound knot" ? this.lastKind : kind;
    const mark = { id, kind: last, points, wish: this.data.wishes[1] || this.data.wishes[0], depth: null, through: false, other: false };
    this.do({ op: "draw", mark });
    this.pick(id);
    this.use("pick");
    this.redraw();
  }

  settled() { if (this.late && !this.stage.busy()) { const data = this.late; this.late = null; this.update(data); } }
}

const TOOL_HELP = {
  pick: "Tap a mark to keep, dismiss or rename it.",
  ellipse: "Drag across the fault.",
  outline: "Draw round the fault in one go, or tap corner after corner and close it.",
  crack: "Tap one end of the crack, then the other.",
  band: "Drag along the border of the sapwood: the strip to the near edge is marked.",
};
