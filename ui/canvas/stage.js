// The stage: a picture with an SVG over it, panned and zoomed by mouse, touch and keys.
// World units are whatever the picture's width and height are given in (photo px, or mm).
// On a narrow screen a long board stands upright: the world is turned a quarter clockwise.

const SVG = "http://www.w3.org/2000/svg";

function svg(tag, attributes = {}, parent = null) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  if (parent) parent.appendChild(node);
  return node;
}

function html(tag, attributes = {}, parent = null, text = null) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  if (text !== null) node.textContent = text;
  if (parent) parent.appendChild(node);
  return node;
}

const pathOf = (points, closed = true) =>
  points.length ? "M" + points.map(([x, y]) => `${x.toFixed(2)} ${y.toFixed(2)}`).join("L") + (closed ? "Z" : "") : "";

// What is picked on a picture outlives its view: the page may build that anew at any time.
const pickKept = (memory) => sessionStorage.getItem(`${memory}-picked`);
const keepPick = (memory, id) => (id ? sessionStorage.setItem(`${memory}-picked`, id) : sessionStorage.removeItem(`${memory}-picked`));

class Stage {
  // view: { down(point, event) -> gesture or null, redraw(), key(event) -> handled }
  // gesture: { move(point, event), up(point, event), cancel() }
  constructor(root, view) {
    this.view = view;
    this.box = html("div", { class: "stage" }, root);
    this.image = html("img", { alt: "", draggable: "false" }, this.box);
    this.svg = svg("svg", { tabindex: "0", role: "application" }, null);
    this.box.appendChild(this.svg);
    this.world = svg("g", {}, this.svg);
    this.over = svg("g", {}, this.svg);
    this.k = 1; this.tx = 0; this.ty = 0; this.upright = false;
    this.width = 1; this.height = 1;
    this.pointers = new Map();
    this.gesture = null;
    this.pinch = null;
    this.memory = null;
    this.listen();
    this.watcher = new ResizeObserver(() => this.resized());
    this.watcher.observe(this.box);
  }

  listen() {
    const on = (name, run, options) => this.svg.addEventListener(name, run, options);
    on("pointerdown", (event) => this.pressed(event));
    on("pointermove", (event) => this.moved(event));
    on("pointerup", (event) => this.released(event, false));
    on("pointercancel", (event) => this.released(event, true));
    on("wheel", (event) => {
      // A page being scrolled past the board shall not zoom it: first a click, or Ctrl.
      if (!event.ctrlKey && !this.svg.matches(":focus-within, :focus")) return;
      event.preventDefault();
      const [x, y] = this.at(event);
      this.zoom(Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016)), x, y);
    }, { passive: false });
    on("keydown", (event) => this.keyed(event));
    on("contextmenu", (event) => event.preventDefault());
  }

  close() { this.watcher.disconnect(); }

  show(picture, memory) {
    const changed = picture.url !== this.url || picture.width !== this.width || picture.height !== this.height;
    this.memory = memory;
    if (!changed) return;
    this.url = picture.url; this.width = picture.width; this.height = picture.height;
    if (picture.url) this.image.src = picture.url; else this.image.removeAttribute("src");
    this.image.style.visibility = picture.url ? "visible" : "hidden";
    this.image.style.width = picture.width + "px";
    this.image.style.height = picture.height + "px";
    this.svg.setAttribute("aria-label", picture.label || "picture");
    this.fit(true);
  }

  // --- the view -------------------------------------------------------------------------
  resized() {
    const seen = { width: this.box.clientWidth, height: this.box.clientHeight };
    if (!seen.width || !seen.height) return;
    const before = this.seen;
    this.seen = seen;
    if (!before) this.fit(true);
    else if (Math.abs(before.width - seen.width) > 1 || Math.abs(before.height - seen.height) > 1) this.fit(false);
  }

  fit(recall) {
    if (!this.seen) { this.resized(); if (!this.seen) return; }
    const long = this.width > 1.6 * this.height;
    const width = this.seen.width;
    this.upright = long && width < 620;
    // A long board lying down needs no more height than this; the rest of the page moves up.
    const wanted = Math.round((width * this.height) / this.width + (this.view.room || 26) + 60);
    this.box.style.height = long && !this.upright ? Math.min(wanted, 0.62 * innerHeight) + "px" : "";
    const height = this.box.clientHeight;
    this.seen.height = height;
    const w = this.upright ? this.height : this.width;
    const h = this.upright ? this.width : this.height;
    const room = this.view.room || 26;
    const k = Math.min((width - room) / w, (height - room) / h);
    this.least = 0.5 * k;
    this.k = k;
    this.tx = (width - k * w) / 2 + (this.upright ? k * w : 0);
    this.ty = (height - k * h) / 2;
    const kept = recall && this.memory ? sessionStorage.getItem(this.memory) : null;
    if (kept) {
      const [k0, tx, ty, up, w0] = JSON.parse(kept);
      if (up === this.upright && Math.abs(w0 - width) < 2) { this.k = k0; this.tx = tx; this.ty = ty; }
    }
    this.place();
  }

  matrix() {
    const { k, tx, ty } = this;
    return this.upright ? [0, k, -k, 0, tx, ty] : [k, 0, 0, k, tx, ty];
  }

  place() {
    const m = this.matrix().map((value) => +value.toFixed(5)).join(",");
    this.image.style.transform = `matrix(${m})`;
    this.world.setAttribute("transform", `matrix(${m})`);
    this.svg.style.setProperty("--k", this.k);
    if (this.memory) {
      const kept = JSON.stringify([this.k, this.tx, this.ty, this.upright, this.seen ? this.seen.width : 0]);
      sessionStorage.setItem(this.memory, kept);
    }
    this.view.placed?.();
  }

  zoom(factor, x, y) {
    const k = Math.min(60, Math.max(this.least || 0.001, this.k * factor));
    const real = k / this.k;
    this.tx = x - (x - this.tx) * real;
    this.ty = y - (y - this.ty) * real;
    this.k = k;
    this.place();
  }

  pan(dx, dy) { this.tx += dx; this.ty += dy; this.place(); }

  centre(x, y, k = null) {
    if (!this.seen) return;
    if (k) this.k = k;
    const [sx, sy] = this.screen([x, y]);
    this.pan(this.seen.width / 2 - sx, this.seen.height / 2 - sy);
  }

  screen([x, y]) {
    const [a, b, c, d, e, f] = this.matrix();
    return [a * x + c * y + e, b * x + d * y + f];
  }

  inWorld([sx, sy]) {
    const { k, tx, ty } = this;
    return this.upright ? [(sy - ty) / k, -(sx - tx) / k] : [(sx - tx) / k, (sy - ty) / k];
  }

  turned(dx, dy) { return this.upright ? [dy / this.k, -dx / this.k] : [dx / this.k, dy / this.k]; }

  at(event) {
    const box = this.svg.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  // --- fingers and mouse -------------------------------------------------------------------
  pressed(event) {
    if (event.pointerType === "mouse" && event.button > 1) return;
    event.preventDefault();
    if (!this.svg.matches(":focus-within, :focus")) this.svg.focus({ preventScroll: true });
    this.svg.setPointerCapture?.(event.pointerId);
    const at = this.at(event);
    this.pointers.set(event.pointerId, at);
    if (this.pointers.size === 2) {
      this.gesture?.cancel?.();
      this.gesture = null;
      this.pinch = [...this.pointers.values()].map((point) => [...point]);
      return;
    }
    if (this.pointers.size > 2) return;
    const panning = event.button === 1;
    this.gesture = (panning ? null : this.view.down(this.inWorld(at), event)) || this.panning(at, event);
  }

  panning(start) {
    let last = start, far = 0;
    return {
      move: (_, event) => {
        const now = this.at(event);
        far += Math.abs(now[0] - last[0]) + Math.abs(now[1] - last[1]);
        this.pan(now[0] - last[0], now[1] - last[1]);
        last = now;
      },
      up: () => { if (far < 6) this.view.tapped?.(this.inWorld(start)); },
      cancel: () => {},
    };
  }

  moved(event) {
    if (!this.pointers.has(event.pointerId)) { this.view.hover?.(this.inWorld(this.at(event))); return; }
    this.pointers.set(event.pointerId, this.at(event));
    if (this.pinch && this.pointers.size === 2) { this.pinched(); return; }
    this.gesture?.move?.(this.inWorld(this.at(event)), event);
  }

  pinched() {
    const [a, b] = this.pinch;
    const [c, d] = [...this.pointers.values()];
    const span = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1]) || 1;
    const middle = (p, q) => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
    const [from, to] = [middle(a, b), middle(c, d)];
    this.pan(to[0] - from[0], to[1] - from[1]);
    this.zoom(span(c, d) / span(a, b), to[0], to[1]);
    this.pinch = [[...c], [...d]];
  }

  released(event, cancelled) {
    if (!this.pointers.delete(event.pointerId)) return;
    if (this.pinch) {
      if (this.pointers.size === 0) { this.pinch = null; this.view.settled?.(); }
      return;
    }
    const gesture = this.gesture;
    this.gesture = null;
    if (gesture) {
      if (cancelled) gesture.cancel?.(); else gesture.up?.(this.inWorld(this.at(event)), event);
    }
    this.view.settled?.();
  }

  busy() { return Boolean(this.gesture) || Boolean(this.pinch); }

  keyed(event) {
    if (this.view.key?.(event)) { event.preventDefault(); event.stopPropagation(); return; }
    const steps = { ArrowLeft: [40, 0], ArrowRight: [-40, 0], ArrowUp: [0, 40], ArrowDown: [0, -40] };
    const { width, height } = this.seen || { width: 0, height: 0 };
    if (steps[event.key]) this.pan(...steps[event.key]);
    else if (event.key === "+" || event.key === "=") this.zoom(1.25, width / 2, height / 2);
    else if (event.key === "-") this.zoom(0.8, width / 2, height / 2);
    else if (event.key === "0") this.fit(false);
    else return;
    event.preventDefault();
  }
}
