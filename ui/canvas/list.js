// The cutting list: a grid on a wide screen, a card for each part on a narrow one.
// doc: { rows: [{ id, cells: {column: text}, mistakes: {column: sentence}, seen }] }; the last, empty row adds a part.

const LIST_COLUMNS = [
  ["name", "Part", "text"], ["quantity", "How many", "numeric"], ["length", "Length", "text"],
  ["width", "Width", "text"], ["thickness", "Thickness", "text"],
];

class ListView {
  constructor(root, post) {
    this.post = post;
    this.bar = html("div", { class: "bar" }, root);
    this.grid = html("div", { class: "list", role: "table", "aria-label": "cutting list" }, root);
    this.note = html("div", { class: "note", role: "status" }, root);
    this.typed = new Map();
    this.wrong = new Map();
    this.picked = null;
    this.grid.addEventListener("paste", (event) => this.pasted(event));
  }

  update(data) {
    this.data = data;
    this.rows = data.doc.rows.map((row) => ({ ...row, cells: { ...row.cells } }));
    for (const op of this.post.pending) this.apply(op);
    this.wrong = new Map(Object.entries(data.wrong || {}));
    for (const [cell] of this.typed) if (!this.wrong.has(cell)) this.typed.delete(cell);
    this.note.textContent = data.note || "";
    this.note.classList.toggle("alarm", Boolean(data.refused));
    this.redraw();
  }

  apply(op) {
    const row = this.rows.find(({ id }) => id === op.row);
    if (op.op === "cell" && row) { row.cells[op.column] = op.text; }
    if (op.op === "cell" && !row) this.rows.push({ id: op.row, cells: { [op.column]: op.text }, mistakes: {}, seen: "" });
    if (op.op === "remove") this.rows = this.rows.filter(({ id }) => id !== op.row);
  }

  do(op) { this.post.put(op); this.apply(op); }

  redraw() {
    const at = this.grid.getRootNode().activeElement;
    const held = at?.dataset?.cell ? { cell: at.dataset.cell, start: at.selectionStart, value: at.value } : null;
    this.bar.textContent = "";
    undoButtons(this.bar, this, this.data.history);
    this.grid.textContent = "";
    const head = html("div", { class: "row head", role: "row" }, this.grid);
    for (const [, title] of LIST_COLUMNS) html("span", { role: "columnheader" }, head, title);
    html("span", { role: "columnheader" }, head, "Sides");
    html("span", { role: "columnheader" }, head, "");
    for (const row of this.rows) this.row(row);
    if (!this.spare || this.rows.some(({ id }) => id === this.spare)) this.spare = `new-${this.post.client.slice(0, 6)}-${this.post.seq + 1}`;
    this.row({ id: this.spare, cells: {}, mistakes: {}, seen: "" }, true);
    if (held) {
      const again = this.grid.querySelector(`[data-cell="${CSS.escape(held.cell)}"]`);
      if (again) {
        if (again.value !== held.value && !this.sameCell(held)) again.value = held.value;
        again.focus({ preventScroll: true });
        try { again.setSelectionRange(held.start, held.start); } catch { /* number fields have no caret */ }
      }
    }
  }

  sameCell() { return false; }

  row(row, spare = false) {
    const node = html("div", { class: `row${row.id === this.picked ? " picked" : ""}`, role: "row" }, this.grid);
    for (const [column, title, mode] of LIST_COLUMNS) {
      const cell = `${row.id}\n${column}`;
      const wrap = html("label", { class: `cell ${column}`, role: "cell" }, node);
      html("span", { class: "title" }, wrap, title);
      const name = row.cells.name || (spare ? "new part" : "part");
      const input = html("input", { "data-cell": cell, "aria-label": `${title} of ${name}`, inputmode: mode === "numeric" ? "numeric" : "text", autocomplete: "off" }, wrap);
      if (spare && column === "name") input.placeholder = "new part";
      input.value = this.typed.get(cell) ?? row.cells[column] ?? "";
      const mistake = this.wrong.get(cell) || row.mistakes?.[column];
      if (mistake) {
        input.setAttribute("aria-invalid", "true");
        const id = `m-${row.id}-${column}`.replace(/[^\w-]/g, "_");
        input.setAttribute("aria-describedby", id);
        html("span", { class: "mistake", id }, wrap, mistake);
      }
      input.addEventListener("change", () => this.typedIn(row, column, input.value));
      input.addEventListener("keydown", (event) => this.keyed(event, column));
    }
    const sides = html("span", { class: "cell sides", role: "cell" }, node);
    const remove = html("span", { class: "cell off", role: "cell" }, node);
    if (spare) return;
    const label = row.seen || "not complete";
    const open = button(sides, label, () => this.pick(row.id), { pressed: row.id === this.picked });
    open.disabled = !row.seen;
    open.setAttribute("aria-label", `sides of ${row.cells.name || "part"}: ${label}`);
    const off = button(remove, "Remove", () => { this.do({ op: "remove", row: row.id }); this.redraw(); });
    off.setAttribute("aria-label", `remove ${row.cells.name || "part"}`);
  }

  pick(id) { this.picked = id; this.send("picked", id); this.redraw(); }

  typedIn(row, column, text) {
    const before = row.cells[column] ?? "";
    if (text.trim() === before.trim()) { this.typed.delete(`${row.id}\n${column}`); return; }
    this.typed.set(`${row.id}\n${column}`, text);
    this.do({ op: "cell", row: row.id, column, text });
  }

  keyed(event, column) {
    if (undoKey(event, this)) { event.preventDefault(); return; }
    if (!["Enter", "ArrowDown", "ArrowUp"].includes(event.key)) return;
    const all = [...this.grid.querySelectorAll(`.cell.${column} input`)];
    const next = all[all.indexOf(event.target) + (event.key === "ArrowUp" ? -1 : 1)];
    event.preventDefault();
    const cell = next?.dataset.cell;
    event.target.blur();
    if (cell) this.grid.querySelector(`[data-cell="${CSS.escape(cell)}"]`)?.focus();
  }

  // Rows from a spreadsheet: several cells at once are added as parts of their own.
  pasted(event) {
    const text = event.clipboardData?.getData("text/plain") || "";
    if (!/[\t\n]/.test(text.trim())) return;
    event.preventDefault();
    this.post.put({ op: "paste", text });
    this.note.textContent = "Reading the pasted rows…";
  }
}
