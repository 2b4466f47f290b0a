// One view for each place in the page; built once, then told what is new.

const VIEWS = { corners: CornersView, marks: MarksView, layout: LayoutView, part: PartView, list: ListView };
const living = new WeakMap();

export default function ({ parentElement, data: told, setStateValue }) {
  const data = { ...told, memory: `${told.job}-${told.memory}` };
  let known = living.get(parentElement);
  if (!known || known.mode !== data.mode) {
    const root = parentElement.querySelector(".clearface") || parentElement;
    root.textContent = "";
    living.get(parentElement)?.post.close();
    // Not the page's own key for the place: that is another one with every start of the server.
    const post = new Post(`${data.job}-${data.place}`);
    known = { mode: data.mode, post, view: new VIEWS[data.mode](root, post) };
    living.set(parentElement, known);
  }
  known.post.send = setStateValue;
  known.view.send = setStateValue;
  known.post.answered(data.ack);
  known.view.update(data);
  const frame = parentElement.querySelector(".clearface");
  known.post.changed = () => {
    frame.dataset.ready = data.mode;
    frame.dataset.pending = String(known.post.pending.length);
    if (known.post.lastTrip) frame.dataset.trip = known.post.lastTrip.toFixed(0);
  };
  known.post.changed();
  return () => { known.view.stage?.close(); known.post.close(); living.delete(parentElement); };
}
