"use strict";

const $ = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";

const page = {
  points: [], clips: [], views: [], need: 4, crease_m: null,
  view: null, about: null, clip: null, chosen: null, fit: null, zoom: 1, unsaved: false,
};

// -- talking to posecheck -----------------------------------------------------------------------

async function ask(path, given) {
  const how = given === undefined ? {} : {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(given),
  };
  let answer;
  try {
    answer = await fetch(path, how);
  } catch {
    throw new Error("posecheck points is not running any more; start it again and reload.");
  }
  const reply = await answer.json().catch(() => ({ error: "posecheck points was started again; open its new address." }));
  if (!answer.ok) throw new Error(reply.error);
  return reply;
}

function frameAddress() {
  const query = new URLSearchParams({ clip: page.clip, time_s: page.view.time_s });
  return `frame?${query}`;
}

// -- which camera position ------------------------------------------------------------------------

const clipsOf = (view) => page.clips.filter((clip) => clip.view === view.name);

function addView() {
  let number = page.views.length + 1;
  while (page.views.some((view) => view.name === `position ${number}`)) number += 1;
  const view = { name: `position ${number}`, size: null, time_s: 0, marks: {} };
  page.views.push(view);
  // One clip only: marks given to film from another place would measure it wrongly.
  const free = page.clips.find((clip) => clip.view === null);
  if (free) free.view = view.name;
  page.unsaved = true;
  return view;
}

async function showView(view, key) {
  page.view = view;
  page.fit = null;
  const own = clipsOf(view);
  const free = page.clips.find((clip) => clip.view === null) || page.clips[0];
  page.clip = key || (own[0] || free).key;
  page.about = null;
  page.chosen = nextToPlace();
  drawAll();
  await showClip();
}

async function showClip() {
  const clip = page.clip, view = page.view;
  $("sheet").classList.add("busy");
  try {
    const about = await ask(`about?${new URLSearchParams({ clip })}`);
    if (clip !== page.clip || view !== page.view) return;
    page.about = about;
  } catch (error) {
    say(error.message, "not");
    return;
  }
  fitMarksToClip();
  $("lines").setAttribute("viewBox", `-0.5 -0.5 ${page.about.size[0]} ${page.about.size[1]}`);
  $("moment").max = page.about.t_s.length - 1;
  $("moment").value = frameAt(page.view.time_s);
  showFrame();
  drawAll();
  await refit();
}

// Marks read from a smaller or larger picture of the same shape are brought to this clip's pixels.
function fitMarksToClip() {
  const { size, marks } = page.view, [width, height] = page.about.size;
  if (size === null || (size[0] === width && size[1] === height)) {
    page.view.size = [width, height];
    return;
  }
  if (Math.abs(Math.log((size[0] / size[1]) / (width / height))) > 0.01) return;
  for (const at of Object.values(marks)) {
    at[0] = (at[0] + 0.5) * (width / size[0]) - 0.5;
    at[1] = (at[1] + 0.5) * (height / size[1]) - 0.5;
  }
  page.view.size = [width, height];
}

function frameAt(time) {
  const away = page.about.t_s.map((t) => Math.abs(t - time));
  return away.indexOf(Math.min(...away));
}

function showFrame() {
  $("frame").src = frameAddress();
  $("time").textContent = `${page.about.t_s[$("moment").value].toFixed(2)} s`;
}

// -- placing points ---------------------------------------------------------------------------------

// Once the marks fit, only what the picture shows is asked for.
function nextToPlace() {
  const seen = page.fit && page.fit.fits ? page.fit.drawing.points : null;
  const shown = (name) => {
    if (seen === null) return true;
    const [x, y] = seen[name] || [-1, -1], [width, height] = page.about.size;
    return x >= 0 && y >= 0 && x < width && y < height;
  };
  const next = page.points.find((p) => !(p.name in page.view.marks) && shown(p.name));
  return next ? next.name : null;
}

function place(name, x, y) {
  const [width, height] = page.about.size;
  const within = (value, most) => Math.round(Math.min(Math.max(value, 0), most - 1) * 10) / 10;
  page.view.size = page.about.size.slice();
  page.view.marks[name] = [within(x, width), within(y, height)];
  changed();
}

function remove(name) {
  delete page.view.marks[name];
  page.chosen = name;
  changed();
}

function changed() {
  page.unsaved = true;
  drawAll();
  refit();
}

let asked = 0;
async function refit() {
  const number = ++asked, view = page.view;
  const placed = Object.keys(view.marks).length;
  if (placed < page.need) {
    page.fit = null;
    const more = page.need - placed;
    say(`${placed || "No"} point${placed === 1 ? "" : "s"} placed; ${more} more ${more === 1 ? "is" : "are"} needed.`, "");
    drawAll();
    return;
  }
  try {
    const fit = await ask("fit", { clip: page.clip, view });
    if (number !== asked || view !== page.view) return;
    page.fit = fit;
    if (page.chosen !== null && !(page.chosen in view.marks)) page.chosen = nextToPlace();
    say(fit.sentence, fit.fits ? "fits" : "not");
    drawAll();
  } catch (error) {
    say(error.message, "not");
  }
}

async function find() {
  const view = page.view;
  $("find").disabled = true;
  say("Looking for cones and goal posts in this clip …", "");
  try {
    const reply = await ask("find", { clip: page.clip });
    if (view !== page.view) return;
    if (reply.found === null) {
      say(reply.sentence, "not");
      return;
    }
    view.marks = reply.marks;
    view.time_s = reply.time_s;
    view.size = page.about.size.slice();
    $("moment").value = frameAt(view.time_s);
    showFrame();
    page.chosen = null;
    page.unsaved = true;
    await refit();
    say(`${reply.found}: compare the lines with the picture, then save. ${page.fit ? page.fit.sentence : ""}`, "fits");
  } catch (error) {
    say(error.message, "not");
  } finally {
    $("find").disabled = false;
  }
}

async function save() {
  const clips = {};
  for (const clip of page.clips) if (clip.view !== null) clips[clip.key] = clip.view;
  const used = page.views.filter((v) => Object.keys(v.marks).length || clipsOf(v).length);
  const views = used.map((v) => (Object.keys(v.marks).length ? v : { ...v, size: null }));
  try {
    const reply = await ask("save", { views, clips });
    page.unsaved = false;
    drawAll();
    $("kept").textContent = `Saved in ${reply.file}; run posecheck check again to use it.`;
  } catch (error) {
    say(error.message, "not");
  }
}

function say(sentence, kind) {
  $("verdict").textContent = sentence;
  $("verdict").className = kind;
}

// -- pointer and keys -----------------------------------------------------------------------------------

let dragged = null;

// A click comes in whole pixels of the screen, cut off: its middle is half of one further on.
function pixelAt(event, more = 0) {
  const box = $("sheet").getBoundingClientRect(), [width, height] = page.about.size;
  return [
    ((event.clientX + more - box.left) / box.width) * width - 0.5,
    ((event.clientY + more - box.top) / box.height) * height - 0.5,
  ];
}

function showLoupe(event, x, y) {
  const loupe = $("loupe"), [width, height] = page.about.size, stage = $("stage").getBoundingClientRect();
  const magnify = Math.max(3, (2.5 * $("sheet").clientWidth) / width);
  loupe.hidden = false;
  const half = loupe.clientWidth / 2;
  loupe.style.backgroundImage = `url("${$("frame").src}")`;
  loupe.style.backgroundSize = `${width * magnify}px ${height * magnify}px`;
  loupe.style.backgroundPosition = `${half - (x + 0.5) * magnify}px ${half - (y + 0.5) * magnify}px`;
  const toRight = event.clientX < stage.left + stage.width / 2;
  loupe.style.left = `${toRight ? stage.right - 2 * half - 16 : stage.left + 10}px`;
  loupe.style.top = `${Math.max(stage.top, 70) + 10}px`;
}

$("marks").addEventListener("pointerdown", (event) => {
  const mark = event.target.closest(".mark");
  if (mark === null || !event.isPrimary) return;
  event.preventDefault();
  mark.focus({ preventScroll: true });
  mark.setPointerCapture(event.pointerId);
  const name = mark.dataset.mark, [x, y] = pixelAt(event), at = page.view.marks[name];
  dragged = { mark, name, gap: [at[0] - x, at[1] - y], moved: false };
  page.chosen = name;
  for (const other of $("marks").querySelectorAll(".mark")) other.classList.toggle("chosen", other === mark);
  drawPoints();
  drawMap();
  showLoupe(event, ...at);
});

$("marks").addEventListener("pointermove", (event) => {
  if (dragged === null) return;
  const [x, y] = pixelAt(event);
  dragged.moved = true;
  place(dragged.name, x + dragged.gap[0], y + dragged.gap[1]);
  const at = page.view.marks[dragged.name];
  dragged.mark.style.left = percent(at[0], page.about.size[0]);
  dragged.mark.style.top = percent(at[1], page.about.size[1]);
  showLoupe(event, ...at);
});

for (const end of ["pointerup", "pointercancel"]) {
  $("marks").addEventListener(end, () => {
    if (dragged === null) return;
    dragged = null;
    $("loupe").hidden = true;
    drawAll();
  });
}

$("sheet").addEventListener("click", (event) => {
  if (event.target.closest(".mark") || page.about === null || page.chosen === null) return;
  const name = page.chosen, isNew = !(name in page.view.marks);
  place(name, ...pixelAt(event, 0.5));
  if (isNew) page.chosen = nextToPlace();
  drawAll();
});

document.addEventListener("keydown", (event) => {
  const direction = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  const name = document.activeElement?.dataset?.mark;
  if (!name) return;
  if (event.key === "Delete" || event.key === "Backspace") remove(name);
  if (!direction) return;
  event.preventDefault();
  const step = event.shiftKey ? 10 : 1, [x, y] = page.view.marks[name];
  page.chosen = name;
  place(name, x + step * direction[0], y + step * direction[1]);
});

$("moment").oninput = () => {
  page.view.time_s = page.about.t_s[$("moment").value];
  page.unsaved = true;
  showFrame();
  drawAll();
};
$("frame").onload = () => $("sheet").classList.remove("busy");
$("clip").onchange = () => showView(page.view, $("clip").value);
$("find").onclick = find;
$("save").onclick = save;
$("clear").onclick = () => { page.view.marks = {}; page.chosen = nextToPlace(); changed(); };
$("rest").onclick = () => {
  for (const clip of page.clips) if (clip.view === null) clip.view = page.view.name;
  page.unsaved = true;
  drawAll();
};
$("name").onchange = () => {
  const name = $("name").value.trim();
  if (!name || page.views.some((view) => view !== page.view && view.name === name)) {
    say(name ? `There is a camera position called ${name} already.` : "Give the camera position a name.", "not");
    $("name").value = page.view.name;
    return;
  }
  for (const clip of clipsOf(page.view)) clip.view = name;
  page.view.name = name;
  page.unsaved = true;
  drawAll();
};
for (const button of document.querySelectorAll("button[data-zoom]")) {
  button.onclick = () => {
    const stage = $("stage"), before = page.zoom;
    page.zoom = Number(button.dataset.zoom);
    const middle = [stage.scrollLeft + stage.clientWidth / 2, stage.scrollTop + stage.clientHeight / 2];
    $("sheet").style.width = `${100 * page.zoom}%`;
    $("sheet").dataset.zoom = page.zoom;
    stage.scrollLeft = (middle[0] * page.zoom) / before - stage.clientWidth / 2;
    stage.scrollTop = (middle[1] * page.zoom) / before - stage.clientHeight / 2;
    for (const each of document.querySelectorAll("button[data-zoom]")) each.setAttribute("aria-pressed", String(each === button));
  };
}
window.addEventListener("beforeunload", (event) => { if (page.unsaved) event.preventDefault(); });

async function start() {
  try {
    Object.assign(page, await ask("state"));
  } catch (error) {
    say(error.message, "not");
    return;
  }
  $("practice").textContent = page.name;
  $("to-names").hidden = !page.checked;
  for (const clip of page.clips) clip.given = clip.view !== null;
  if (!page.views.length) {
    addView();
  }
  $("whose").open = page.clips.some((clip) => clip.view === null);
  await showView(page.views.find((view) => clipsOf(view).length) || page.views[0]);
}
start();
