// One part of the cutting list: tap a side to say how it is seen, drag on the face to draw a zone.
// doc: { length, width, thickness, outline, sides: {side: seen}, zones: [{ name, rule, points }] }, in mm.

const SEEN_ORDER = ["show", "seen in use", "concealed"];

class PartView {
  constructor(root, post) {
    this.post = post;
    this.tool = "pick";
    this.bar = html("div", { class: "bar" }, root);
    this.stage = new Stage(root, this);
    this.stage.box.classList.add("low");
    this.note = html("div", { class: "note", role: "status" }, root);
    this.group = svg("g", {}, this.stage.world);
    this.draft = svg("path", { class: "draft" }, this.stage.world);
  }

  update(data) {
    if (this.stage.busy()) { this.late = data; return; }
    this.data = data;
    this.doc = { ...data.doc, sides: { ...data.doc.sides }, zones: [...data.doc.zones] };
    for (const op of this.post.pending) this.apply(op);
    const rim = this.rim();
    this.stage.show({ url: "", width: this.doc.length + 2 * rim, height: 2 * this.doc.width + 5 * rim, label: `part ${data.doc.name}` }, null);
    this.note.textContent = data.note || "Tap the face, the back, an edge or an end to change how it is seen.";
    this.redraw();
  }

  rim() { return Math.max(24, 0.05 * this.doc.length, 0.12 * this.doc.width); }

  apply(op) {
    if (op.op === "side") this.doc.sides[op.side] = op.seen;
    if (op.op === "zone") this.doc.zones.push(op.zone);
    if (op.op === "zone_rule") this.doc.zones = this.doc.zones.map((zone) => (zone.name === op.name ? { ...zone, rule: op.rule } : zone));
    if (op.op === "zone_off") this.doc.zones = this.doc.zones.filter(({ name }) => name !== op.name);
  }

  do(op) { this.post.put(op); this.apply(op); this.redraw(); }

  redraw() {
    const { length, width, sides, zones } = this.doc;
    const rim = this.rim();
    const focused = this.group.getRootNode().activeElement?.dataset?.side;
    this.group.textContent = "";
    const box = (x0, y0, x1, y1) => [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
    const at = (points) => points.map(([x, y]) => [x + rim, y + rim]);
    this.side("face", at(this.doc.outline), "face");
    const low = 2 * rim + width + rim;
    this.side("back", this.doc.outline.map(([x, y]) => [x + rim, low + width - y]), "back");
    this.side("near edge", box(rim, 0.15 * rim, rim + length, 0.85 * rim), "near edge");
    this.side("far edge", box(rim, rim + width + 0.15 * rim, rim + length, rim + width + 0.85 * rim), "far edge");
    this.side("near end", box(0.15 * rim, rim, 0.85 * rim, rim + width), "near end");
    this.side("far end", box(rim + length + 0.15 * rim, rim, rim + length + 0.85 * rim, rim + width), "far end");
    for (const zone of zones) {
      const node = svg("g", { class: `zone ${zone.rule}` }, this.group);
      svg("path", { d: pathOf(at(zone.points)) }, node);
      svg("title", {}, node).textContent = `${zone.name}: ${zone.rule}`;
    }
    if (focused) this.group.querySelector(`[data-side="${focused}"]`)?.focus({ preventScroll: true });
    this.tools();
  }

  side(name, points, title) {
    const seen = this.doc.sides[name];
    const node = svg("g", { class: `side ${seen.split(" ")[0]}`, tabindex: "0", role: "button", "data-side": name, "aria-label": `${title}: ${seen}; press to change` }, this.group);
    svg("path", { d: pathOf(points) }, node);
    svg("title", {}, node).textContent = `${title}: ${seen}`;
    if (name !== "face" && name !== "back") return;
    const xs = points.map(([x]) => x), ys = points.map(([, y]) => y);
    const text = svg("text", { class: "inside", x: (Math.min(...xs) + Math.max(...xs)) / 2, y: (Math.min(...ys) + Math.max(...ys)) / 2 }, node);
    text.style.fontSize = "calc(14px / var(--k))";
    text.textContent = `${title}: ${seen}`;
  }

  tools() {
    const { bar, data } = this;
    bar.textContent = "";
    undoButtons(bar, this, data.history);
    button(bar, "Draw a zone", () => { this.tool = this.tool === "zone" ? "pick" : "zone"; this.tools(); this.stage.box.classList.toggle("drawing", this.tool === "zone"); this.note.textContent = this.tool === "zone" ? "Drag across the place on the face: a joint, a fixing, a moulding." : ""; }, { pressed: this.tool === "zone", key: "z" });
    for (const { name, rule } of this.doc.zones) {
      const other = rule === "sound" ? "covered" : "sound";
      const words = rule === "sound" ? "must be sound" : "is covered by another part";
      button(bar, `${name} ${words}`, () => this.do({ op: "zone_rule", name, rule: other }), { title: `make it ${other}` });
      button(bar, `Remove ${name}`, () => this.do({ op: "zone_off", name }));
    }
  }

  turn(name) {
    const seen = this.doc.sides[name];
    this.do({ op: "side", side: name, seen: SEEN_ORDER[(SEEN_ORDER.indexOf(seen) + 1) % 3] });
    this.note.textContent = `${name}: ${this.doc.sides[name]}`;
  }

  down(point, event) {
    if (this.tool === "zone") return this.zone(point);
    const node = event.composedPath()[0].closest?.(".side");
    if (!node) return null;
    const pan = this.stage.panning(this.stage.at(event));
    let moved = 0;
    return { move: (to, e) => { moved += 1; if (moved > 3) pan.move(to, e); }, cancel: pan.cancel, up: () => { if (moved <= 3) { node.focus({ preventScroll: true }); this.turn(node.dataset.side); } } };
  }

  zone(start) {
    const rim = this.rim();
    const { length, width } = this.doc;
    const box = (to) => {
      const x0 = Math.max(0, Math.min(start[0], to[0]) - rim), x1 = Math.min(length, Math.max(start[0], to[0]) - rim);
      const y0 = Math.max(0, Math.min(start[1], to[1]) - rim), y1 = Math.min(width, Math.max(start[1], to[1]) - rim);
      return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
    };
    const stop = () => this.draft.setAttribute("d", "");
    return {
      move: (to) => this.draft.setAttribute("d", pathOf(box(to).map(([x, y]) => [x + rim, y + rim]))),
      up: (to) => {
        stop();
        const points = box(to);
        if (points[1][0] - points[0][0] < 1 || points[2][1] - points[1][1] < 1) return;
        const taken = new Set(this.doc.zones.map(({ name }) => name));
        let number = this.doc.zones.length + 1;
        while (taken.has(`zone ${number}`)) number += 1;
        this.tool = "pick";
        this.stage.box.classList.remove("drawing");
        this.do({ op: "zone", zone: { name: `zone ${number}`, rule: "sound", points: points.map(([x, y]) => [+x.toFixed(1), +y.toFixed(1)]) } });
      },
      cancel: stop,
    };
  }

  key(event) {
    if (undoKey(event, this)) return true;
    const side = event.composedPath()[0].closest?.(".side")?.dataset.side;
    if (side && (event.key === "Enter" || event.key === " ")) { this.turn(side); return true; }
    return false;
  }

  settled() { if (this.late && !this.stage.busy()) { const data = this.late; this.late = null; this.update(data); } }
}
