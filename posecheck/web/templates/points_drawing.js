"use strict";

// Everything that is seen: drawn again from `page` (points.js) after each change.

function make(tag, attributes = {}, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...inside);
  return element;
}

function draw(tag, attributes, parent) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  parent.append(element);
  return element;
}

function drawAll() {
  drawViews();
  drawPoints();
  drawMap();
  drawMarks();
  drawClips();
  $("save").disabled = !page.unsaved;
  if (page.unsaved) $("kept").textContent = "Not saved yet";
}

function drawViews() {
  const free = page.clips.filter((clip) => clip.view === null).length;
  const buttons = page.views.map((view) => {
    const points = Object.keys(view.marks).length, clips = clipsOf(view).length;
    const about = `${clips} clip${clips === 1 ? "" : "s"}, ${points ? `${points} points` : "no points"}`;
    const button = make("button", {}, view.name, make("small", {}, about));
    if (view === page.view) button.setAttribute("aria-current", "true");
    button.onclick = () => showView(view);
    return button;
  });
  const more = make("button", {}, "New position", make("small", {}, free ? `${free} clips have none` : "for some clips"));
  more.onclick = () => showView(addView());
  $("views").replaceChildren(...buttons, more);
  if ($("name") !== document.activeElement) $("name").value = page.view.name;
}

function drawPoints() {
  const rows = page.points.map((point) => {
    const placed = point.name in page.view.marks;
    const off = page.fit && page.fit.fits ? page.fit.errors_cm[point.name] : undefined;
    const state = !placed ? "not placed" : off === undefined ? "placed" : off === null ? "far off" : `${off < 10 ? off.toFixed(1) : off.toFixed(0)} cm off`;
    const pick = make("button", { class: "pick" }, point.name, make("span", {}, state));
    pick.onclick = () => { page.chosen = point.name; drawAll(); };
    const row = make("li", { class: point.name === page.chosen ? "chosen" : "" }, pick);
    if (placed) {
      const off = make("button", { class: "off", "aria-label": `Remove ${point.name}`, title: "Remove" }, "×");
      off.onclick = () => remove(point.name);
      row.append(off);
    }
    return row;
  });
  $("points").replaceChildren(...rows);
  $("hint").textContent = page.chosen
    ? `Click ${inWords(page.chosen)}. Left and right are the defender's, looking out from the goal.`
    : "Choose a point to move it; drag it, or use the arrow keys.";
}

function drawMap() {
  const xs = page.points.map((p) => p.at[0]), ys = page.points.map((p) => p.at[1]);
  const left = Math.min(...xs) - 1.5, right = Math.max(...xs) + 1.5;
  const low = Math.min(...ys, -(page.crease_m || 0)) - 1, high = Math.max(...ys) + 1;
  const map = $("map");
  map.replaceChildren();
  map.setAttribute("viewBox", `${left} ${-high} ${right - left} ${high - low}`);
  if (page.crease_m) draw("circle", { class: "outline", cx: 0, cy: 0, r: page.crease_m }, map);
  for (const point of page.points) {
    const [x, y] = point.at;
    const classes = ["place", point.name in page.view.marks ? "placed" : "", point.name === page.chosen ? "chosen" : ""];
    draw("circle", { class: classes.join(" "), cx: x, cy: -y, r: point.cone ? 0.4 : 0.25 }, map);
    const touch = draw("circle", { class: "touch", cx: x, cy: -y, r: 0.8 }, map);
    draw("title", {}, touch).textContent = point.name;
    touch.onclick = () => { page.chosen = point.name; drawAll(); };
  }
}

const IN_WORDS = {
  "goal-left": "the foot of the left goal post",
  "goal-right": "the foot of the right goal post",
  "crease-left": "the left end of the crease, on the goal line",
  "crease-right": "the right end of the crease, on the goal line",
  "crease-top": "the crease where it is furthest from the goal line, straight out",
};
const inWords = (name) => IN_WORDS[name] || `the middle of the ${name} cone's foot`;

const percent = (value, whole) => `${(100 * (value + 0.5)) / whole}%`;

function drawMarks() {
  const lines = $("lines"), layer = $("marks"), focused = document.activeElement?.dataset?.mark;
  lines.replaceChildren();
  if (dragged === null) layer.replaceChildren();
  if (page.about === null) return;
  const [width, height] = page.about.size;
  const seen = page.fit && page.fit.fits ? page.fit.drawing : null;
  for (const kind of seen ? ["grid", "crease", "goal"] : []) {
    for (const line of seen[kind]) {
      draw("polyline", { class: kind, points: line.map((at) => at.join(",")).join(" ") }, lines);
    }
  }
  for (const old of layer.querySelectorAll(".ghost")) old.remove();
  for (const [name, [x, y]] of Object.entries(seen ? seen.points : {})) {
    if (name in page.view.marks || x < 0 || y < 0 || x >= width || y >= height) continue;
    const ghost = make("div", { class: "ghost" }, make("span", {}, name));
    ghost.style.left = percent(x, width);
    ghost.style.top = percent(y, height);
    layer.prepend(ghost);
  }
  if (dragged !== null) return;
  for (const [name, [x, y]] of Object.entries(page.view.marks)) {
    const mark = make("button", { class: `mark${name === page.chosen ? " chosen" : ""}`, "data-mark": name, "aria-label": `${name}: drag or use the arrow keys` }, make("span", {}, name));
    mark.style.left = percent(x, width);
    mark.style.top = percent(y, height);
    layer.append(mark);
    if (name === focused) mark.focus({ preventScroll: true });
  }
}

function drawClips() {
  const select = $("clip"), own = clipsOf(page.view), offered = [...(own.length ? own : page.clips)];
  if (!offered.some((clip) => clip.key === page.clip)) offered.push(page.clips.find((clip) => clip.key === page.clip));
  select.replaceChildren(...offered.map((clip) => make("option", { value: clip.key }, clip.key)));
  select.value = page.clip;
  $("count").textContent = own.length;
  const free = page.clips.filter((clip) => clip.view === null).length;
  $("rest").hidden = !free;
  $("rest").textContent = `All ${free} that have no position yet`;
  const scrolled = $("clips").scrollTop;
  $("clips").replaceChildren(...page.clips.map((clip) => {
    const box = make("input", { type: "checkbox" });
    box.checked = clip.view === page.view.name;
    // A clip is moved by ticking it elsewhere; only one never given away can be let go.
    box.disabled = box.checked && clip.given;
    box.onchange = () => {
      const first = box.checked && !clipsOf(page.view).length;
      clip.view = box.checked ? page.view.name : null;
      page.unsaved = true;
      if (first) showView(page.view, clip.key);
      else drawAll();
    };
    const elsewhere = clip.view !== null && !box.checked ? ` (now ${clip.view})` : "";
    return make("li", {}, make("label", {}, box, make("span", {}, clip.key, make("small", {}, elsewhere))));
  }));
  $("clips").scrollTop = scrolled;
}
