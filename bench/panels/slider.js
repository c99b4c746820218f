// A whole number: a rail to slide along, and the number itself to type.  What is typed goes to the kernel as it
// is, also where the rail does not reach: there it is refused in words, and never taken for another number.
function render({ model, el }) {
  el.classList.add("bench-slider");
  const id = `bench-slider-${Math.random().toString(36).slice(2)}`; // every view loads this file anew
  const make = (tag, attributes) => {
    const node = document.createElement(tag);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    el.append(node);
    return node;
  };
  const label = make("label", { for: id, class: "widget-label" });
  const rail = make("input", { type: "range", step: 1 });
  const number = make("input", { type: "text", id, inputmode: "numeric", autocomplete: "off" });

  const tell = value => {
    if (value === model.get("value")) return;
    model.set("value", value);
    model.save_changes();
  };
  rail.addEventListener("input", () => {
    number.value = rail.value;
    tell(Number(rail.value));
  });
  const take = () => {
    const typed = number.value.trim();
    tell(/^-?\d{1,6}$/.test(typed) ? Number(typed) : typed);
  };
  number.addEventListener("change", take);
  number.addEventListener("keydown", event => {
    event.stopPropagation(); // nothing that is typed is a command of the page
    if (event.key === "Enter") take();
    const step = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!step || typeof model.get("value") !== "number") return;
    event.preventDefault();
    const next = model.get("value") + step;
    if (next >= model.get("min") && next <= model.get("max")) tell(next);
  });

  const show = () => {
    const [value, min, max] = ["value", "min", "max"].map(name => model.get(name));
    label.textContent = model.get("description");
    rail.setAttribute("aria-label", `${model.get("description")}, slider`);
    [rail.min, rail.max] = [min, max];
    const isStep = typeof value === "number" && value >= min && value <= max;
    if (isStep) rail.value = value;
    number.value = value;
    number.setAttribute("aria-invalid", String(!isStep));
  };
  model.on("change", show);
  show();
  return () => model.off("change", show);
}

export default { render };
