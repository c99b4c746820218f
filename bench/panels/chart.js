// A picture on the screen.  Its description comes as data; the page's one plotly draws it.  It answers the
// hand: hovering reads a value off, a click or a drag sets the control that it belongs to, the names beneath
// put a curve aside, and the numbers can be read as a table.  Nothing is asked of any other address.

/** Load plotly once for the whole page: from the workbook's server, else from the kernel. */
function load(model) {
  const fromServer = () =>
    new Promise((done, failed) => {
      const config = document.getElementById("jupyter-config-data");
      if (!config) return failed(); // not a page of this server: ask the kernel
      const script = document.createElement("script");
      script.src = JSON.parse(config.textContent).baseUrl + "static/plotly.min.js";
      script.onload = () => (globalThis.Plotly ? done(globalThis.Plotly) : failed());
      script.onerror = failed;
      document.head.append(script);
    });
  const fromKernel = () =>
    new Promise(done => {
      model.on("msg:custom", (_, [code]) => {
        const script = document.createElement("script");
        script.src = URL.createObjectURL(new Blob([code], { type: "text/javascript" }));
        script.onload = () => done(globalThis.Plotly);
        document.head.append(script);
      });
      model.send({ wants: "plotly" });
    });
  return (globalThis.benchPlotly ??= globalThis.Plotly
    ? Promise.resolve(globalThis.Plotly)
    : fromServer().catch(fromKernel));
}

const CONFIG = {
  displaylogo: false,
  showSendToCloud: false,
  responsive: false, // the observer below does that, also where the place has no width yet
  scrollZoom: false,
  doubleClick: "reset",
  modeBarButtons: [["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d", "resetScale2d"]],
};
const DASHES = { solid: "", dash: "7 4", dot: "2 3", dashdot: "7 3 2 3" };
const MARKS = {
  circle: '<circle cx="12" cy="7" r="5"/>',
  "circle-open": '<circle cx="12" cy="7" r="4.5" fill="none" stroke-width="2"/>',
  square: '<rect x="7" y="2" width="10" height="10"/>',
  "square-open": '<rect x="8" y="3" width="8" height="8" fill="none" stroke-width="2"/>',
  diamond: '<path d="M12 1l6 6-6 6-6-6z"/>',
  "triangle-up": '<path d="M12 1l6 11H6z"/>',
};

/** Draw what stands before a name: its line with its dashes, or its mark. */
function swatch({ color, dash, symbol }) {
  const mark =
    dash === undefined
      ? MARKS[symbol]
      : `<path d="M0 7h24" fill="none" stroke-width="2.5" stroke-dasharray="${DASHES[dash] ?? ""}"/>`;
  return `<svg width="24" height="14" viewBox="0 0 24 14" fill="${color}" stroke="${color}" stroke-width="0" aria-hidden="true">${mark}</svg>`;
}

/** Draw a shape of the key: its mark, or a box with its colours and hatching. */
function shapeOf({ symbol, color, face, edge, is_hatched }) {
  if (symbol) return swatch({ symbol, color });
  const lines = is_hatched ? `<path d="M3 12l7-10M9 12l7-10M15 12l6-9" stroke="${edge}"/>` : "";
  return `<svg width="24" height="14" aria-hidden="true"><rect x="1" y="2" width="22" height="10" fill="${face}" stroke="${edge}"/>${lines}</svg>`;
}

const LEAST_HIT = matchMedia("(pointer: coarse)").matches ? 44 : 24; // pixels that a hand or a finger hits

/** Give, for every region that is too small to hit, an unseen one around it that answers in its place.
 *  What is drawn keeps its size: a block of five minutes stays as short as five minutes. */
function reachable(data, layout) {
  const [wide, high] = [
    [0.75 * layout.width, layout.xaxis.range],
    [0.85 * layout.height, layout.yaxis.range],
  ].map(([pixels, ends]) => (ends ? pixels / Math.abs(ends[1] - ends[0]) : Infinity));
  const across = layout.yaxis.scaleanchor ? Math.min(wide, high) : wide;
  const down = layout.yaxis.scaleanchor ? Math.min(wide, high) : high;
  const found = [];
  for (const trace of data) {
    if (trace.hoveron !== "fills" || !trace.customdata) continue;
    const spans = [trace.x, trace.y].map(values => [Math.min(...values), Math.max(...values)]);
    const [x, y] = spans.map(([low, top], n) => {
      const least = LEAST_HIT / (n ? down : across);
      const more = Math.max(0, least - (top - low)) / 2;
      return [low - more, top + more];
    });
    if (x[0] === spans[0][0] && y[0] === spans[1][0]) continue;
    const look = { fillcolor: "rgba(0,0,0,0)", line: { width: 0 }, fillpattern: undefined };
    found.push({ ...trace, ...look, x: [x[0], x[1], x[1], x[0], x[0]], y: [y[0], y[0], y[1], y[1], y[0]] });
  }
  return found;
}

/** Give words as they are read, out of the markup in which plotly takes them. */
const plain = words => String(words).replaceAll("<br>", " ").replaceAll("&lt;", "<").replaceAll("&amp;", "&");

function render({ model, el }) {
  el.classList.add("bench-chart");
  const make = (tag, name, parent) => {
    const node = document.createElement(tag);
    node.className = name;
    parent.append(node);
    return node;
  };
  const box = make("div", "bench-chart-drawing", el);
  const key = make("p", "bench-chart-key", el);
  const names = make("div", "bench-chart-names", el);
  const hint = make("p", "bench-chart-hint", el);
  const said = make("p", "bench-chart-reads", el);
  const numbers = make("details", "bench-chart-numbers", el);
  make("summary", "", numbers).textContent = "Numbers of this picture";
  const table = make("div", "scroll", numbers);
  const aside = new Set();
  let plotly = null;
  let drawing = Promise.resolve();
  let hears = false;
  let isNear = false; // in sight, or nearly
  let asked = 0; // drawings so far
  let isBehind = true; // whether the drawing is that of an earlier answer

  const isAside = trace => aside.has(trace.meta);

  function nameCurves(spec) {
    const looks = spec.names;
    const shown = JSON.stringify([looks, [...aside]]);
    if (names.dataset.shown === shown) return;
    names.dataset.shown = shown;
    const focused = names.contains(document.activeElement) ? document.activeElement.dataset.name : null;
    names.replaceChildren(
      ...(looks.length < 2 ? [] : looks).map(look => {
        const button = document.createElement("button");
        button.type = "button";
        button.dataset.name = look.name;
        button.setAttribute("aria-pressed", String(!aside.has(look.name)));
        button.title = "Click: put aside or back. Double-click: alone, or all again.";
        button.innerHTML = swatch(look);
        button.append(document.createTextNode(look.label));
        button.addEventListener("click", event => {
          if (event.detail > 1) return;
          aside.has(look.name) ? aside.delete(look.name) : aside.add(look.name);
          show();
        });
        button.addEventListener("dblclick", () => {
          const others = looks.map(other => other.name).filter(name => name !== look.name);
          const isAlone = others.every(name => aside.has(name));
          aside.clear();
          if (!isAlone) others.forEach(name => aside.add(name));
          show();
        });
        return button;
      }),
    );
    if (focused !== null) names.querySelector(`[data-name="${CSS.escape(focused)}"]`)?.focus();
  }

  function writeKey({ key: shapes = [] }) {
    const shown = JSON.stringify(shapes);
    if (key.dataset.shown === shown) return;
    key.dataset.shown = shown;
    key.replaceChildren(
      ...shapes.map(shape => {
        const entry = document.createElement("span");
        entry.innerHTML = shapeOf(shape);
        entry.append(shape.words);
        return entry;
      }),
    );
  }

  /** Give what hovering says at a point of a trace. */
  const say = (trace, i) =>
    plain(
      trace.hovertemplate
        .replace("<extra></extra>", "")
        .replace(/%\{customdata(?:\[(\d)\])?\}/g, (_, n) => (n ? trace.customdata[i][n] : trace.customdata[i])),
    );

  /** Write what can be read off as a table, a column a curve; only while somebody looks at it. */
  function writeTable() {
    if (!numbers.open) return;
    const { data, layout } = model.get("spec");
    const read = data.filter(trace => trace.hovertemplate && !isAside(trace));
    const places = [...new Set(read.flatMap(trace => trace.x))].sort((a, b) => a - b);
    const { tickvals = [], ticktext = [], title } = layout.xaxis;
    const made = document.createElement("table");
    for (const words of new Set(data.filter(trace => trace.hoveron).map(trace => trace.text))) {
      made.insertRow().insertCell().textContent = plain(words);
    }
    if (!read.length) return table.replaceChildren(made);
    const head = made.insertRow();
    for (const words of [title.text, ...read.map(trace => trace.name)]) {
      head.append(Object.assign(document.createElement("th"), { textContent: plain(words) }));
    }
    for (const x of places) {
      const row = made.insertRow();
      row.insertCell().textContent = ticktext[tickvals.indexOf(x)] ?? x;
      for (const trace of read) {
        const said = trace.x.flatMap((at, i) => (at === x ? [say(trace, i)] : []));
        row.insertCell().textContent = said.map(words => words.replace(`${trace.name}: `, "")).join("; ");
      }
    }
    table.replaceChildren(made);
  }

  /** Make plotly's tools, which are bare links, buttons with a name that a key can reach. */
  function nameTools() {
    for (const tool of box.querySelectorAll(".modebar-btn:not([role])")) {
      tool.setAttribute("role", "button");
      tool.setAttribute("aria-label", tool.dataset.title);
      tool.setAttribute("tabindex", "0");
      tool.firstElementChild?.setAttribute("aria-hidden", "true");
      tool.addEventListener("keydown", event => {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        tool.click();
      });
    }
  }

  function show() {
    const spec = model.get("spec");
    said.textContent = model.get("reads");
    box.setAttribute("role", "figure");
    box.setAttribute("aria-label", model.get("reads"));
    hint.textContent = spec.pick?.says ?? "";
    if (!spec.data) return;
    writeKey(spec);
    nameCurves(spec);
    writeTable();
    isBehind = !plotly || !isNear;
    box.style.overflow = isBehind ? "hidden" : ""; // out of sight it may be as wide as the window was before
    if (!isBehind) draw(spec);
  }

  /** Draw what is in sight, or nearly; what is not waits until somebody scrolls to it. */
  function draw(spec) {
    const data = spec.data.map(trace => (isAside(trace) ? { ...trace, visible: false } : trace));
    const layout = { ...spec.layout, width: box.clientWidth || 640 };
    if (spec.pick?.chooses) data.push(...reachable(data, layout));
    // While the hand drags, the axis stays as it was: what is under the finger stays under the finger.
    if (held) layout.xaxis = { ...layout.xaxis, range: held };
    const mine = ++asked;
    drawing = drawing
      .then(() => mine === asked && plotly.react(box, data, layout, CONFIG)) // what is overtaken is left out
      .then(() => {
        if (mine !== asked) return;
        nameTools();
        box.classList.toggle("can-pick", Boolean(spec.pick) && !spec.pick.chooses);
        if (!hears) box.on("plotly_click", event => choose(event.points[0]?.data));
        hears = true;
        el.dataset.drawn = String(Number(el.dataset.drawn || 0) + 1);
      });
  }

  // One number is under way at a time: what is picked meanwhile waits, and only the last of it is sent.
  let held = null; // ends of the axis below while a drag is under way
  let underWay = null;
  let waiting = null;
  function pick(value) {
    const { low, high, step } = model.get("spec").pick;
    const at = Math.min(Math.max(step * Math.round(value / step), low), high);
    if (underWay !== null) {
      waiting = at;
      return;
    }
    const [last, count] = model.get("picked");
    if (last === at && model.get("spec").pick.at === at) return;
    underWay = setTimeout(arrived, 2000); // an answer that never comes holds nothing up
    model.set("picked", [at, count + 1]);
    model.save_changes();
  }
  function arrived() {
    clearTimeout(underWay);
    underWay = null;
    if (waiting === null) return;
    const next = waiting;
    waiting = null;
    pick(next);
  }

  /** Take what a clicked region stands for. */
  function choose(trace) {
    const isRegion = model.get("spec").pick?.chooses && trace?.hoveron === "fills";
    const value = isRegion ? trace.customdata?.[0] : undefined;
    if (value === undefined) return;
    model.set("picked", [value, model.get("picked")[1] + 1]);
    model.save_changes();
  }

  /** Give the value of the axis below under a place of the window; null outside the frame. */
  function valueAt(event) {
    const layout = box._fullLayout;
    const frame = box.querySelector(".nsewdrag")?.getBoundingClientRect();
    if (!layout || !frame || !frame.width) return null;
    const [x, y] = [event.clientX - frame.left, event.clientY - frame.top];
    if (y < 0 || y > frame.height || x < -8 || x > frame.width + 8) return null;
    return layout.xaxis.p2d(x);
  }
  // A finger that goes up or down scrolls the page and sets nothing: it sets by a tap, or along the axis.
  let finger = null; // where it went down, until it is known what it wants
  box.addEventListener(
    "pointerdown",
    event => {
      const sets = model.get("spec").pick;
      if (!sets || sets.chooses || box._fullLayout?.dragmode || event.button !== 0) return;
      if (event.target.closest(".modebar")) return;
      const value = valueAt(event);
      if (value === null) return;
      if (event.pointerType === "touch") {
        finger = { x: event.clientX, y: event.clientY };
        return;
      }
      held = [...box._fullLayout.xaxis.range];
      pick(value);
    },
    true,
  );
  const drag = event => {
    if (finger) {
      const [across, down] = [Math.abs(event.clientX - finger.x), Math.abs(event.clientY - finger.y)];
      if (across < 8 || across < down) return;
      finger = null;
      held = [...box._fullLayout.xaxis.range];
    }
    if (!held) return;
    const value = valueAt(event);
    if (value !== null) pick(value);
  };
  const lift = event => {
    if (finger) {
      const isTap = Math.hypot(event.clientX - finger.x, event.clientY - finger.y) < 8;
      finger = null;
      const value = isTap ? valueAt(event) : null;
      if (value !== null) pick(value);
    }
    drop();
  };
  const drop = () => {
    finger = null;
    if (!held) return;
    held = null;
    show();
  };
  window.addEventListener("pointermove", drag);
  window.addEventListener("pointerup", lift);
  window.addEventListener("pointercancel", drop);

  const changed = () => {
    show();
    setTimeout(arrived); // not from within the message that is being taken in: a number set there is lost
  };
  model.on("change:spec", changed);
  model.on("change:reads", show);
  numbers.addEventListener("toggle", writeTable);
  const watch = new ResizeObserver(() => {
    const width = box.clientWidth;
    if (plotly && width && box._fullLayout && Math.abs(box._fullLayout.width - width) > 1) show();
  });
  watch.observe(box);
  show();
  const catchUp = async () => {
    if (!isBehind) return;
    plotly ??= await load(model);
    if (isBehind && isNear) show();
  };
  const near = new IntersectionObserver(
    entries => {
      isNear = entries.at(-1).isIntersecting;
      if (isNear) catchUp();
    },
    { rootMargin: "150px" },
  );
  near.observe(el);
  const print = () => {
    if (!plotly || !isBehind) return;
    isBehind = false;
    box.style.overflow = "";
    draw(model.get("spec"));
  };
  window.addEventListener("beforeprint", print);
  return () => {
    near.disconnect();
    watch.disconnect();
    model.off("change:spec", changed);
    window.removeEventListener("pointermove", drag);
    window.removeEventListener("pointerup", lift);
    window.removeEventListener("pointercancel", drop);
    window.removeEventListener("beforeprint", print);
    plotly?.purge(box);
  };
}

export default { render };
