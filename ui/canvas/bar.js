// Buttons and fields round the stage.

function button(parent, text, run, { key = "", title = "", kind = "", pressed = null } = {}) {
  const node = html("button", { type: "button" }, parent, text);
  if (kind) node.className = kind;
  if (title || key) node.title = title + (key ? ` (${key})` : "");
  if (key) node.setAttribute("aria-keyshortcuts", key);
  if (pressed !== null) node.setAttribute("aria-pressed", String(pressed));
  node.addEventListener("click", (event) => { event.preventDefault(); run(); });
  return node;
}

// A sign, and beside it a word that a narrow screen leaves to the screen reader.
function worded(node, sign, word) {
  html("span", { "aria-hidden": "true" }, node, sign);
  html("span", { class: "word" }, node, ` ${word}`);
  node.setAttribute("aria-label", word);
}

function choice(parent, label, options, value, run) {
  const wrap = html("label", { class: "field" }, parent);
  html("span", {}, wrap, label);
  const select = html("select", { "aria-label": label }, wrap);
  for (const option of options) {
    const item = html("option", { value: option }, select, option);
    if (option === value) item.selected = true;
  }
  select.addEventListener("change", () => run(select.value));
  return select;
}

function field(parent, label, value, run, attributes = {}) {
  const wrap = html("label", { class: "field" }, parent);
  html("span", {}, wrap, label);
  const input = html("input", { "aria-label": label, ...attributes }, wrap);
  input.value = value;
  input.addEventListener("change", () => run(input.value));
  return input;
}

function undoButtons(parent, view, history) {
  const undo = button(parent, "", () => view.post.put({ op: "undo" }), {
    key: "Control+Z", title: history.undo ? `take back: ${history.undo}` : "nothing to undo",
  });
  worded(undo, "↶", "Undo");
  undo.disabled = !history.undo;
  const redo = button(parent, "", () => view.post.put({ op: "redo" }), {
    key: "Control+Y", title: history.redo ? `do again: ${history.redo}` : "nothing to redo",
  });
  worded(redo, "↷", "Redo");
  redo.disabled = !history.redo;
}

function undoKey(event, view) {
  if (!(event.ctrlKey || event.metaKey)) return false;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) { view.post.put({ op: "undo" }); return true; }
  if (key === "y" || (key === "z" && event.shiftKey)) { view.post.put({ op: "redo" }); return true; }
  return false;
}
