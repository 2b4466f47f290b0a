// The layout of one board: parts to drag, lock, turn over, mark as cut; a fault the saw uncovered.
// doc: { pieces: [{ id, mark, name, sawn, finished, locked, cut, face, endForEnd }],
//        faults: [{ id, kind, points, fate }], offcuts: [points], outline: points }, in mm as the face is seen.

class LayoutView {
  constructor(root, post) {
    this.post = post;
    this.picked = null;
    this.tool = "pick";
    this.bar = html("div", { class: "bar" }, root);
    this.stage = new Stage(root, this);
    this.card = html("div", { class: "card", role: "group", "aria-label": "the part picked" }, root);
    this.note = html("div", { class: "note", role: "status" }, root);
    const { world } = this.stage;
    this.ground = svg("g", {}, world);
    this.pieces = svg("g", {}, world);
    this.draft = svg("path", { class: "draft" }, world);
    this.labels = svg("g", { "aria-hidden": "true" }, this.stage.over);
  }

  update(data) {
    if (this.stage.busy()) { this.late = data; return; }
    this.data = data;
    this.stage.show(data.picture, data.memory);
    this.list = data.doc.pieces.map((piece) => ({ ...piece }));
    for (const op of this.post.pending) this.apply(op);
    this.picked = (this.find(this.picked) || this.find(pickKept(data.memory)))?.id || null;
    this.note.textContent = data.note || "";
    this.note.classList.toggle("alarm", Boolean(data.refused));
    this.redraw();
  }

  find(id) { return this.list.find((piece) => piece.id === id); }

  apply(op) {
    const piece = this.find(op.id);
    if (!piece) return;
    if (op.op === "move") { piece.sawn = shift(piece.sawn, op); piece.finished = shift(piece.finished, op); }
    if (op.op === "lock") piece.locked = op.on;
    if (op.op === "cut") { piece.cut = op.on; piece.locked = piece.locked || op.on; }
    if (op.op === "take_off") this.list = this.list.filter((other) => other.id !== op.id);
  }

  do(op) { this.post.put(op); this.apply(op); this.redraw(); }

  redraw() {
    const focused = this.pieces.getRootNode().activeElement?.dataset?.id;
    this.ground.textContent = "";
    this.pieces.textContent = "";
    svg("path", { class: "rim", d: pathOf(this.data.doc.outline) }, this.ground);
    for (const points of this.data.doc.offcuts) svg("path", { class: "offcut", d: pathOf(points) }, this.ground);
    for (const piece of this.list) this.piece(piece);
    for (const fault of this.data.doc.faults) {
      const node = svg("g", { class: `fault ${fault.harm ? "harm" : ""}` }, this.pieces);
      svg("path", { class: "casing", d: pathOf(fault.points) }, node);
      svg("path", { class: "line", d: pathOf(fault.points) }, node);
      svg("title", {}, node).textContent = `${fault.kind}: ${fault.fate}`;
    }
    if (focused) this.pieces.querySelector(`[data-id="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
    this.placed();
    this.tools();
    this.details();
  }

  piece(piece) {
    const words = [piece.cut ? "cut" : piece.locked ? "locked" : "free", piece.show ? "its show face is here" : "its back is here"];
    const node = svg("g", {
      class: `piece ${piece.show ? "show" : "back"}${piece.locked ? " locked" : ""}${piece.cut ? " cut" : ""}${piece.id === this.picked ? " picked" : ""}`,
      tabindex: "0", role: "button", "data-id": piece.id,
      "aria-label": `${piece.mark}, ${piece.name}, ${words.join(", ")}, from ${Math.round(Math.min(...piece.sawn.map(([x]) => x)))} mm; arrow keys move it`,
    }, this.pieces);
    svg("path", { class: "sawn", d: pathOf(piece.sawn) }, node);
    svg("path", { class: "finished casing", d: pathOf(piece.finished) }, node);
    svg("path", { class: "finished line", d: pathOf(piece.finished) }, node);
    for (const repair of piece.repairs || []) {
      const mend = svg("path", { class: "repair", d: pathOf(repair.points) }, node);
      svg("title", {}, mend).textContent = repair.kind;
    }
    node.addEventListener("focus", () => { if (this.picked !== piece.id && !this.stage.busy()) this.pick(piece.id); });
  }

  placed() {
    this.labels.textContent = "";
    for (const piece of this.list || []) {
      const corners = piece.sawn.map((point) => this.stage.screen(point));
      const xs = corners.map(([x]) => x), ys = corners.map(([, y]) => y);
      const [w, h] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
      if (w < 12 || h < 10) continue;
      const sign = piece.cut ? " ✂" : piece.locked ? " ▣" : "";
      const long = `${piece.mark} ${piece.name}${sign}`;
      const node = svg("text", { class: "label", x: (Math.max(...xs) + Math.min(...xs)) / 2, y: (Math.max(...ys) + Math.min(...ys)) / 2 }, this.labels);
      node.textContent = long.length * 7.2 < w - 8 ? long : `${piece.mark}${sign}`;
    }
  }

  pick(id) {
    this.picked = id;
    keepPick(this.data.memory, id);
    for (const node of this.pieces.children) node.classList.toggle("picked", Boolean(id) && node.dataset.id === id);
    this.details();
  }

  tools() {
    const { bar, data } = this;
    bar.textContent = "";
    undoButtons(bar, this, data.history);
    button(bar, "Fault found", () => this.use(this.tool === "fault" ? "pick" : "fault"), {
      key: "f", pressed: this.tool === "fault", title: "the saw uncovered a fault: drag across it",
    });
    button(bar, "Whole board", () => this.stage.fit(false), { key: "0" });
  }

  use(tool) {
    this.tool = tool;
    this.stage.box.classList.toggle("drawing", tool !== "pick");
    this.note.textContent = tool === "fault" ? "Drag across the fault. It is kept at once and the plan must be made again." : "";
    this.tools();
  }

  details() {
    const { card } = this;
    const piece = this.find(this.picked);
    card.textContent = "";
    card.hidden = !piece;
    if (!piece) return;
    const xs = piece.sawn.map(([x]) => x), ys = piece.sawn.map(([, y]) => y);
    html("strong", {}, card, `${piece.mark}  ${piece.name}`);
    html("span", {}, card, `${piece.size}; sawn from ${Math.min(...xs).toFixed(0)} to ${Math.max(...xs).toFixed(0)} mm along, ${Math.min(...ys).toFixed(0)} to ${Math.max(...ys).toFixed(0)} across; ${piece.show ? "show face up here" : "back up here"}`);
    if (!piece.cut) button(card, piece.locked ? "Unlock" : "Lock", () => this.do({ op: "lock", id: piece.id, on: !piece.locked }), { key: "l", pressed: piece.locked });
    if (!piece.cut) {
      button(card, "Turn over", () => this.do({ op: "turn_over", id: piece.id }), { key: "t", title: "the other board face becomes its face" });
      button(card, "End for end", () => this.do({ op: "end_for_end", id: piece.id }), { key: "e" });
      button(card, "Take off", () => this.do({ op: "take_off", id: piece.id }), { key: "Delete", title: "leave it unplaced" });
    }
    button(card, piece.cut ? "Not cut yet" : "Mark as cut", () => this.do({ op: "cut", id: piece.id, on: !piece.cut }), { key: "c", pressed: piece.cut });
  }

  key(event) {
    if (undoKey(event, this)) return true;
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const piece = this.find(this.picked);
    if (event.key === "f") { this.use(this.tool === "fault" ? "pick" : "fault"); return true; }
    if (event.key === "Escape") { this.use("pick"); this.pick(null); return true; }
    if (!piece) return false;
    const free = !piece.cut;
    const keys = {
      l: () => free && this.do({ op: "lock", id: piece.id, on: !piece.locked }),
      t: () => free && this.do({ op: "turn_over", id: piece.id }),
      e: () => free && this.do({ op: "end_for_end", id: piece.id }),
      c: () => this.do({ op: "cut", id: piece.id, on: !piece.cut }),
      Delete: () => free && this.do({ op: "take_off", id: piece.id }),
    };
    if (keys[event.key]) { keys[event.key](); return true; }
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const step = steps[event.key];
    if (!step || !free || piece.locked) return false;
    const far = event.shiftKey ? 10 : 1;
    const [dx, dy] = this.stage.upright ? [step[1], -step[0]] : step;
    this.do({ op: "move", id: piece.id, dx: dx * far, dy: dy * far });
    return true;
  }

  down(point, event) {
    if (this.tool === "fault") return this.drawFault(point);
    const node = event.composedPath()[0].closest?.(".piece");
    if (!node) return null;
    const piece = this.find(node.dataset.id);
    this.pick(piece.id);
    node.focus({ preventScroll: true });
    if (piece.locked || piece.cut) {
      const pan = this.stage.panning(this.stage.at(event));
      return { move: pan.move, up: () => {}, cancel: pan.cancel };
    }
    let delta = null;
    const place = ([dx, dy]) => node.setAttribute("transform", `translate(${dx},${dy})`);
    return {
      move: (to) => {
        const moved = [to[0] - point[0], to[1] - point[1]];
        if (!delta && Math.hypot(...moved) * this.stage.k < 5) return;
        delta = moved;
        place(delta);
        const x = Math.min(...piece.sawn.map(([px]) => px)) + delta[0];
        this.note.textContent = `${piece.mark}: sawn from ${x.toFixed(0)} mm`;
      },
      up: () => {
        if (!delta) return;
        node.removeAttribute("transform");
        this.do({ op: "move", id: piece.id, dx: +delta[0].toFixed(1), dy: +delta[1].toFixed(1) });
      },
      cancel: () => node.removeAttribute("transform"),
    };
  }

  drawFault(start) {
    const ring = (to) => Array.from({ length: 24 }, (_, i) => [
      (start[0] + to[0]) / 2 + (Math.abs(to[0] - start[0]) / 2) * Math.cos((i * Math.PI) / 12),
      (start[1] + to[1]) / 2 + (Math.abs(to[1] - start[1]) / 2) * Math.sin((i * Math.PI) / 12),
    ]);
    const stop = () => this.draft.setAttribute("d", "");
    return {
      move: (to) => this.draft.setAttribute("d", pathOf(ring(to))),
      up: (to) => {
        stop();
        if (Math.min(Math.abs(to[0] - start[0]), Math.abs(to[1] - start[1])) < 1) return;
        const id = `found-${this.post.client.slice(0, 6)}-${this.post.seq + 1}`;
        this.post.put({ op: "fault", mark: { id, kind: "dead knot", points: ring(to) } });
        this.use("pick");
      },
      cancel: stop,
    };
  }

  tapped() { this.pick(null); }

  settled() { if (this.late && !this.stage.busy()) { const data = this.late; this.late = null; this.update(data); } }
}

const shift = (points, { dx, dy }) => points.map(([x, y]) => [x + dx, y + dy]);
