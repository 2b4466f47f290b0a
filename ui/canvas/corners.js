// Corners of a board in a photograph: four corner handles, four edge handles, a magnifier; ticks read with the tape.
// doc: { corners: [[x, y] x 4], ticks: [{ at: [x, y], text }], unit, piece }, in photo pixels, in board order;
// piece: a further photo of a long board, whose near end is where the photo cuts it off.

const CORNER_NAMES = [
  "datum end, datum edge", "far end, datum edge", "far end, far edge", "datum end, far edge",
];
const EDGE_NAMES = ["datum edge", "far end", "far edge", "datum end"];

class CornersView {
  constructor(root, post) {
    this.post = post;
    this.room = 70;
    this.bar = html("div", { class: "bar" }, root);
    this.stage = new Stage(root, this);
    this.glass = html("div", { class: "glass", "aria-hidden": "true" }, this.stage.box);
    html("i", {}, this.glass);
    this.note = html("div", { class: "note", role: "status" }, root);
    const { world, over } = this.stage;
    this.outline = svg("path", { class: "outline" }, world);
    this.datum = svg("path", { class: "datum" }, world);
    this.ticks = svg("g", { class: "ticks" }, over);
    this.readings = [];
    this.ticking = false;
    this.reading = null; // where a tick was tapped whose reading is being typed
    this.handles = [];
    for (let i = 0; i < 4; i += 1) this.handles.push(this.handle(over, "edge", i));
    for (let i = 0; i < 4; i += 1) this.handles.push(this.handle(over, "corner", i));
    this.flag = svg("text", { class: "flag" }, over);
    this.flag.textContent = "datum";
  }

  handle(parent, kind, index) {
    const node = svg("g", { class: `handle ${kind}`, tabindex: "0", role: "button" }, parent);
    svg("circle", { class: "reach", r: 22 }, node);
    svg(kind === "corner" ? "circle" : "rect",
      kind === "corner" ? { class: "dot", r: 9 } : { class: "dot", x: -7, y: -7, width: 14, height: 14, rx: 3 }, node);
    node.dataset.kind = kind;
    node.dataset.index = index;
    node.addEventListener("keydown", (event) => this.nudge(event, kind, index));
    return node;
  }

  // What a handle is called; a further photo's near end is where it cuts the board off.
  named(node) {
    const { kind, index } = node.dataset;
    const name = (kind === "corner" ? CORNER_NAMES : EDGE_NAMES)[Number(index)];
    const here = this.data.doc.piece ? name.replace("datum end", "near end") : name;
    node.setAttribute("aria-label", `${kind} handle: ${here}; arrow keys move it`);
  }

  update(data) {
    this.data = data;
    this.stage.show(data.picture, data.memory);
    if (this.stage.busy()) { this.late = data; return; }
    this.corners = (data.doc.corners || this.guess()).map((point) => [...point]);
    for (const op of this.post.pending) if (op.op === "corners") this.corners = op.corners.map((p) => [...p]);
    const waiting = this.post.pending.filter((op) => op.op === "tick" || op.op === "place");
    this.readings = [...(data.doc.ticks || []), ...waiting].map(({ at, text }) => ({ at, text }));
    this.flag.textContent = data.doc.piece ? "nearer the datum end" : "datum";
    for (const node of this.handles) this.named(node);
    this.tools();
    this.note.textContent = data.note || "";
    this.placed();
  }

  guess() {
    const { width, height } = this.data.picture;
    return [[0.1, 0.3], [0.9, 0.3], [0.9, 0.7], [0.1, 0.7]].map(([x, y]) => [x * width, y * height]);
  }

  tools() {
    if (this.reading) return; // a reading is being typed: an answer to something else shall not take it away
    this.bar.textContent = "";
    if (this.ticking) {
      const place = this.ticking === "place";
      html("span", {}, this.bar, place ? "Tap the hole or nail in the photo." : "Tap the tick in the photo.");
      button(this.bar, place ? "Add no place" : "Add no tick", () => { this.ticking = false; this.tools(); });
      return;
    }
    undoButtons(this.bar, this, this.data.history);
    button(this.bar, "Snap to the edges", () => this.post.put({ op: "snap", corners: this.corners }), {
      title: "move the corners onto the edges found near them",
    });
    button(this.bar, "Other end is the datum", () => this.turn(), {
      title: "measure from the other end: the board is read the other way round",
    });
    button(this.bar, "Add a tick", () => { this.ticking = "tick"; this.tools(); }, {
      title: "a pencil tick across the board whose distance from the datum end you have read with the tape",
    });
    if (this.data.doc.waney) {
      button(this.bar, "Add a place of both faces", () => { this.ticking = "place"; this.tools(); }, {
        title: "a hole bored straight through or a nail: marked on both faces by one name, it tells how they lie over one another",
      });
    }
    button(this.bar, "Whole photo", () => this.stage.fit(false), { key: "0" });
  }

  // A tap while a tick is wanted: where it is, then what the tape says there.
  tapped(point) {
    if (!this.ticking) return;
    const op = this.ticking, place = op === "place";
    this.ticking = false;
    this.reading = point;
    this.placed();
    this.bar.textContent = "";
    const asked = place ? "Its name, the same on the other face: " : `The tape reads, ${this.data.doc.unit || "mm"}: `;
    const label = html("label", {}, this.bar, asked);
    const field = html("input", {
      type: "text", inputmode: place ? "text" : "decimal", size: "9",
      "aria-label": place ? "name of the place" : "tape reading at the tick",
    }, label);
    const done = (text) => {
      this.reading = null;
      if (text) { this.readings.push({ at: point, text }); this.post.put({ op, at: point, text }); }
      this.tools();
      this.placed();
    };
    field.addEventListener("keydown", (event) => {
      event.stopPropagation();
      if (event.key === "Enter") { event.preventDefault(); done(field.value.trim()); }
      if (event.key === "Escape") done("");
    });
    button(this.bar, place ? "Keep the place" : "Keep the tick", () => done(field.value.trim()));
    button(this.bar, "Leave it", () => done(""));
    field.focus({ preventScroll: true });
  }

  drawTicks() {
    this.ticks.textContent = "";
    const all = this.reading ? [...this.readings, { at: this.reading, text: "?" }] : this.readings;
    for (const { at, text } of all) {
      const [x, y] = this.stage.screen(at);
      svg("path", { class: "tick", d: `M${x - 8} ${y}H${x + 8}M${x} ${y - 8}V${y + 8}` }, this.ticks);
      svg("text", { class: "flag", x: x + 10, y: y - 8 }, this.ticks).textContent = text;
    }
  }

  turn() { this.set([2, 3, 0, 1].map((i) => this.corners[i])); }

  set(corners) {
    this.corners = corners.map((point) => [...point]);
    this.placed();
    this.post.put({ op: "corners", corners: this.corners });
  }

  placed() {
    if (!this.corners) return;
    this.drawTicks();
    const c = this.corners;
    this.outline.setAttribute("d", pathOf(c));
    const piece = this.data.doc.piece;
    this.datum.setAttribute("d", pathOf(piece ? [c[1], c[0]] : [c[1], c[0], c[3]], false));
    for (const node of this.handles) {
      const i = Number(node.dataset.index);
      const at = node.dataset.kind === "corner" ? c[i] : this.middle(i);
      const [x, y] = this.stage.screen(at);
      node.setAttribute("transform", `translate(${x.toFixed(1)},${y.toFixed(1)})`);
    }
    const [x, y] = this.stage.screen(c[0]);
    const width = this.stage.seen ? this.stage.seen.width : 999;
    this.flag.setAttribute("x", Math.min(x + 14, width - (piece ? 170 : 60)));
    this.flag.setAttribute("y", y - 14 < 14 ? y + 34 : y - 14);
  }

  middle(i) {
    const a = this.corners[i], b = this.corners[(i + 1) % 4];
    return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  }

  down(point, event) {
    const node = event.composedPath()[0].closest?.(".handle");
    if (!node || this.ticking) return null;
    node.focus({ preventScroll: true });
    const kind = node.dataset.kind, i = Number(node.dataset.index);
    const before = this.corners.map((corner) => [...corner]);
    const held = kind === "corner" ? before[i] : this.middle(i);
    const grip = [held[0] - point[0], held[1] - point[1]];
    this.loadCrop(held);
    this.magnify(held);
    const drag = (to) => {
      const at = [to[0] + grip[0], to[1] + grip[1]];
      this.corners = this.moved(before, kind, i, at);
      this.placed();
      this.magnify(kind === "corner" ? this.corners[i] : this.middle(i));
    };
    const done = () => { this.glass.style.display = "none"; };
    return {
      move: (to) => drag(to),
      up: (to) => { drag(to); done(); this.set(this.corners); },
      cancel: () => { this.corners = before; this.placed(); done(); },
    };
  }

  moved(before, kind, i, at) {
    const { width, height } = this.data.picture;
    const kept = ([x, y]) => [Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y))];
    const corners = before.map((corner) => [...corner]);
    if (kind === "corner") { corners[i] = kept(at); return corners; }
    const j = (i + 1) % 4;
    const a = before[i], b = before[j];
    const dx = at[0] - (a[0] + b[0]) / 2, dy = at[1] - (a[1] + b[1]) / 2;
    const nx = -(b[1] - a[1]), ny = b[0] - a[0], n = Math.hypot(nx, ny) || 1;
    const across = (dx * nx + dy * ny) / n;
    corners[i] = kept([a[0] + (across * nx) / n, a[1] + (across * ny) / n]);
    corners[j] = kept([b[0] + (across * nx) / n, b[1] + (across * ny) / n]);
    return corners;
  }

  nudge(event, kind, i) {
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const step = steps[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const far = event.shiftKey ? 10 : 1;
    const [dx, dy] = this.stage.upright ? [step[1], -step[0]] : step;
    const at = kind === "corner" ? this.corners[i] : this.middle(i);
    this.set(this.moved(this.corners, kind, i, [at[0] + dx * far, at[1] + dy * far]));
  }

  // --- the magnifier: first the picture on screen, then the same place at full resolution ---
  loadCrop([x, y]) {
    this.crop = null;
    if (!this.data.picture.crop) return;
    const half = 300;
    const box = [Math.max(0, Math.round(x) - half), Math.max(0, Math.round(y) - half)];
    box.push(box[0] + 2 * half, box[1] + 2 * half);
    const image = new Image();
    image.onload = () => { this.crop = { x: box[0], y: box[1], w: image.naturalWidth, h: image.naturalHeight, url: image.src }; };
    image.src = `${this.data.picture.crop}?crop=${box.join(",")}`;
  }

  magnify([x, y]) {
    const { glass, stage } = this;
    const size = 132, scale = Math.max(2, 3 * stage.k);
    const [sx, sy] = stage.screen([x, y]);
    const above = sy > size + 40;
    glass.style.display = "block";
    glass.style.left = Math.min(stage.seen.width - size, Math.max(0, sx - size / 2)) + "px";
    glass.style.top = (above ? sy - size - 34 : sy + 34) + "px";
    const crop = this.crop;
    const inside = crop && x > crop.x && y > crop.y && x < crop.x + crop.w && y < crop.y + crop.h;
    const source = inside ? crop : { x: 0, y: 0, w: this.data.picture.width, h: this.data.picture.height, url: this.data.picture.url };
    glass.style.backgroundImage = `url("${source.url}")`;
    glass.style.backgroundSize = `${source.w * scale}px ${source.h * scale}px`;
    glass.style.backgroundPosition = `${size / 2 - (x - source.x) * scale}px ${size / 2 - (y - source.y) * scale}px`;
  }

  settled() { if (this.late) { const data = this.late; this.late = null; this.update(data); } }

  key(event) { return undoKey(event, this); }
}
