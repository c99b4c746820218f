// One face of the item, to scale, on which a defect is boxed by hand: drag for a new box, drag the box to move
// it and its corner to reshape it.  By keyboard the arrows move it, with Shift they reshape it.
const SVG = "http://www.w3.org/2000/svg";
const LONGEST = 300; // pixels of the longer side
const NARROWEST = 56; // of the other: an edge is drawn deeper than it is
const FINEST = 0.5; // mm: a box is drawn to half a millimetre, and a touch alone makes a fine one
const CORNER = 16; // pixels about the corner that reshape
const LEAST = 6; // pixels that a drag goes at least

function render({ model, el }) {
  el.classList.add("bench-face");
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("tabindex", "0");
  svg.setAttribute("role", "group");
  const said = document.createElement("p");
  said.className = "bench-face-says";
  const back = document.createElement("button");
  back.type = "button";
  back.className = "bench-face-back";
  back.textContent = "Take the last box back";
  back.hidden = true;
  el.append(svg, said, back);

  let scale = [1, 1];
  let box = null; // x, y, width, height in mm, as it is shown
  let grip = null; // what the pointer holds: how, from where, the box before
  let told = 0; // boxes told so far; what comes back for an earlier one is overtaken
  const earlier = []; // boxes before the last changes

  const add = (parent, name, attributes, words) => {
    const node = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    if (words) node.textContent = words;
    parent.append(node);
    return node;
  };
  const size = () => {
    const { width, height } = model.get("face");
    return [width, height];
  };
  const rounded = value => FINEST * Math.round(value / FINEST);
  const within = (value, most) => Math.min(Math.max(value, 0), most);

  function show() {
    const { name, spine } = model.get("face");
    const [width, height] = size();
    el.hidden = !width; // no face of this item
    if (!width) return;
    const most = LONGEST / Math.max(width, height);
    scale = [Math.max(width * most, NARROWEST) / width, Math.max(height * most, NARROWEST) / height];
    const [wide, high] = [width * scale[0], height * scale[1]];
    svg.replaceChildren();
    svg.setAttribute("viewBox", `-1 -1 ${wide + 2} ${high + 2}`);
    svg.setAttribute("width", wide + 2);
    svg.setAttribute("height", high + 2);
    add(svg, "rect", { width: wide, height: high, class: "sheet" });
    const photograph = model.get("photograph");
    if (photograph) add(svg, "image", { href: photograph, width: wide, height: high, preserveAspectRatio: "none", opacity: 0.8 });
    if (spine) add(svg, "path", { d: `M${spine === "left" ? 1.5 : wide - 1.5} 0v${high}`, class: "spine" });
    for (const other of model.get("others")) draw(other.box, "other", other.id);
    if (box) {
      draw(box, "mine", "");
      const [right, foot] = [(box[0] + box[2]) * scale[0], (box[1] + box[3]) * scale[1]];
      add(svg, "circle", { cx: right, cy: foot, r: 6, class: "corner" });
    }
    const [x, y, across, down] = (box ?? []).map(side => Math.round(10 * side) / 10);
    const where = box ? `, box at ${x}, ${y} mm, ${across} by ${down} mm` : ", no box yet";
    svg.setAttribute("aria-label", `${name}${where}. Arrows move the box, Shift and arrows reshape it.`);
    said.textContent = `${name}. Drag a box around the defect; drag it to move it, its corner to reshape it. Keys: arrows, Shift and arrows.`;
  }

  function draw([x, y, wide, high], name, words) {
    const group = add(svg, "g", { class: name });
    const [left, top] = [x * scale[0], y * scale[1]];
    add(group, "rect", { x: left, y: top, width: Math.max(wide * scale[0], 2), height: Math.max(high * scale[1], 2) });
    if (words) add(group, "text", { x: left + 2, y: Math.max(top - 3, 10) }, words);
  }

  /** Give the place of a pointer in mm, within the face. */
  function placeOf(event) {
    const frame = svg.getBoundingClientRect();
    const [width, height] = size();
    return [
      within((event.clientX - frame.left - 1) / scale[0], width),
      within((event.clientY - frame.top - 1) / scale[1], height),
    ];
  }

  function take([x, y, wide, high]) {
    const [width, height] = size();
    wide = Math.min(Math.max(rounded(wide), FINEST), width);
    high = Math.min(Math.max(rounded(high), FINEST), height);
    box = [within(rounded(x), width - wide), within(rounded(y), height - high), wide, high];
    show();
  }

  /** Tell the panel of a box; the one before can be taken back. */
  function tell(before) {
    if (!box) return;
    if (before) earlier.push(before);
    back.hidden = !earlier.length;
    told = (model.get("drawn")[4] ?? 0) + 1;
    model.set("drawn", [...box, told]);
    model.save_changes();
  }
  back.addEventListener("click", () => {
    const last = earlier.pop();
    if (!last) return;
    take(last);
    tell(null);
  });

  svg.addEventListener("pointerdown", event => {
    if (event.button !== 0) return;
    event.preventDefault();
    svg.focus();
    svg.setPointerCapture(event.pointerId);
    const [x, y] = placeOf(event);
    const before = box;
    let how = "draw";
    if (box) {
      const away = [(x - box[0] - box[2]) * scale[0], (y - box[1] - box[3]) * scale[1]];
      const isInside = x >= box[0] && x <= box[0] + box[2] && y >= box[1] && y <= box[1] + box[3];
      // Of a small box the corner leaves room to take hold of the box itself.
      const least = Math.min(box[2] * scale[0], box[3] * scale[1]);
      if (Math.hypot(...away) < (isInside ? Math.min(CORNER, least / 2) : CORNER)) how = "reshape";
      else if (isInside) how = "move";
    }
    grip = { how, x, y, before, isMoved: false };
    if (how === "draw" && !before) take([x, y, 0, 0]);
  });
  svg.addEventListener("pointermove", event => {
    if (!grip) return;
    const [x, y] = placeOf(event);
    const { how, before } = grip;
    const [right, down] = [x - grip.x, y - grip.y];
    // A touch on empty paper draws nothing in place of the box that is there: a drag does.
    if (!grip.isMoved && Math.hypot(right * scale[0], down * scale[1]) < LEAST) return;
    grip.isMoved = true;
    if (how === "draw") take([Math.min(x, grip.x), Math.min(y, grip.y), Math.abs(right), Math.abs(down)]);
    else if (how === "move") take([before[0] + right, before[1] + down, before[2], before[3]]);
    else take([before[0], before[1], before[2] + right, before[3] + down]);
  });
  const drop = () => {
    if (!grip) return;
    const { before, isMoved } = grip;
    grip = null;
    if (isMoved || !before) tell(before);
  };
  svg.addEventListener("pointerup", drop);
  svg.addEventListener("pointercancel", drop);
  svg.addEventListener("keydown", event => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const [width, height] = size();
    const [x, y, wide, high] = box ?? [width / 2 - 5, height / 2 - 5, Math.min(10, width), Math.min(10, height)];
    take(event.shiftKey ? [x, y, wide + step[0], high + step[1]] : [x + step[0], y + step[1], wide, high]);
    tell(null);
  });

  const follow = () => {
    const given = model.get("box");
    if (given[4] && given[4] < told) return; // of a box that was moved on meanwhile
    box = given.length ? given.slice(0, 4) : null;
    if (!grip) show();
  };
  model.on("change:box", follow);
  model.on("change:face", show);
  model.on("change:photograph", show);
  model.on("change:others", show);
  follow();
  return () => {
    model.off("change:box", follow);
    model.off("change:face", show);
    model.off("change:photograph", show);
    model.off("change:others", show);
  };
}

export default { render };
