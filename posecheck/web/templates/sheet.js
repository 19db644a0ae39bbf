"use strict";

const $ = (id) => document.getElementById(id);
const page = { players: [], spots: [], clips: [], at: 0, undo: null };

// -- talking to posecheck -----------------------------------------------------------------------

async function ask(path, given) {
  const how = given === undefined ? {} : {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(given),
  };
  let answer;
  try {
    answer = await fetch(path, how);
  } catch {
    throw new Error("posecheck is not running any more; start it again and open its new address.");
  }
  const reply = await answer.json();
  if (!answer.ok) throw new Error(reply.error);
  return reply;
}

// One after the other: what is typed last is kept last.
let waiting = Promise.resolve();
function say(clips, players = []) {
  const sent = waiting.then(async () => {
    tell("Saving …");
    const reply = await ask("say", { clips, players });
    page.players = reply.players;
    for (const clip of reply.clips) Object.assign(byKey(clip.key), clip);
    tell("Saved");
    publishSoon();
    draw();
  });
  waiting = sent.catch(() => {});
  return sent;
}

// Pages are written when the coach pauses, not after every number.
let timer = 0;
function publishSoon() {
  clearTimeout(timer);
  timer = setTimeout(() => {
    ask("publish", {}).then(() => tell("Saved, pages written"), (error) => tell(error.message, true));
  }, 1500);
}

function tell(words, wrong = false) {
  $("kept").textContent = words;
  $("kept").classList.toggle("not", wrong);
}

// -- who is who -----------------------------------------------------------------------------------

const byKey = (key) => page.clips.find((clip) => clip.key === key);
const current = () => page.clips[page.at];
const onRoster = (number) => page.players.find((player) => player.number === number);
const called = (number) => { const who = onRoster(number); return who ? `${who.name} (${number})` : `${number}`; };

function typed(id) {
  const text = $(id).value.trim();
  return text === "" ? null : Number(text);
}

function echo(id, at, other) {
  const number = typed(id), known = number === null || onRoster(number) !== undefined;
  $(at).classList.toggle("not", !known);
  if (number === null) $(at).textContent = other;
  else if (Number.isNaN(number)) $(at).textContent = "Type a jersey number.";
  else $(at).textContent = known ? onRoster(number).name : `${number} is not on the roster.`;
  return known && !Number.isNaN(number);
}

function echoDefender() {
  const clip = current(), known = echo("defender", "echo", clip.defender === null ? clip.name : "");
  const number = typed("defender");
  $("add").hidden = known || Number.isNaN(number);
  return known;
}

function echoAttacker() {
  return echo("attacker", "attacker-echo", "");
}

async function keep(role, other) {
  const clip = current(), number = typed(role);
  if (number === clip[role]) return true;
  if (!other()) return false;
  try {
    await say({ [clip.key]: { [role]: number } });
    return true;
  } catch (error) {
    refuse(error);
    return false;
  }
}

function refuse(error) {
  tell(error.message, true);
}

// What is typed and not kept yet; something that is no number differs from any.
const isTyping = (role) => typed(role) !== current()[role];

// True once what is typed is kept; otherwise the reason stands there, and the field is chosen.
async function keepTyped() {
  if (await keep("defender", echoDefender) && await keep("attacker", echoAttacker)) return true;
  const role = echoDefender() ? "attacker" : "defender", number = typed(role);
  if (Number.isNaN(number)) tell("Type a jersey number, or nothing.", true);
  else if (number !== null && !onRoster(number)) tell(`${number} is not on the roster: ${role === "defender" ? "add him, or " : ""}put the number right.`, true);
  $(role).focus();
  $(role).select();
  return false;
}

// Nothing leads away from a clip before what is typed is kept.
async function leave(to) {
  const from = page.at;
  if (await keepTyped() && page.at === from) go(to);
}

function go(to) {
  if ($("kept").classList.contains("not")) tell("");
  if (to >= page.clips.length) {
    const left = page.clips.filter((clip) => clip.defender === null).length;
    tell(left ? `That was the last clip; ${left} without a name.` : "That was the last clip; everybody is named.");
  }
  page.at = Math.min(Math.max(to, 0), page.clips.length - 1);
  film.close();
  show();
  $("defender").focus({ preventScroll: true });
  $("defender").select();
}

// -- drawing ----------------------------------------------------------------------------------------

function show() {
  const clip = current();
  $("count").textContent = `Clip ${page.at + 1} of ${page.clips.length}`;
  $("key").textContent = clip.shown + (clip.reps > 1 ? `, ${clip.reps} reps` : "");
  $("defender").value = clip.defender ?? "";
  $("attacker").value = clip.attacker ?? "";
  $("spot").value = clip.spot ?? "";
  echoDefender();
  echoAttacker();
  showPicture();
  draw();
}

function showPicture() {
  const clip = current();
  if (!film.isOpen) {
    $("picture").src = `picture?${new URLSearchParams({ clip: clip.key })}`;
    $("picture").alt = `${clip.name} at arrival`;
    $("box").hidden = clip.box === null;
    if (clip.box) {
      const [left, top, width, height] = clip.box.map((share) => `${100 * share}%`);
      Object.assign($("box").style, { left, top, width, height });
    }
  }
  frameUp();
}

// Near enough to read a jersey, unless the whole picture is asked for.
function frameUp() {
  const box = current().box, near = box !== null && !film.isOpen && $("whole").getAttribute("aria-pressed") === "false";
  const times = near ? Math.min(Math.max(0.55 / box[3], 1), 5) : 1;
  const middle = near ? [box[0] + box[2] / 2, box[1] + box[3] / 2] : [0.5, 0.5];
  const [left, top] = middle.map((at) => Math.min(0, Math.max(1 - times, 0.5 - times * at)));
  const { naturalWidth: width, naturalHeight: height } = $("picture");
  if (width) $("stage").style.aspectRatio = `${width} / ${height}`;
  Object.assign($("sheet").style, { width: `${100 * times}%`, left: `${100 * left}%`, top: `${100 * top}%` });
  $("sheet").style.marginBottom = `${-100 * (times - 1)}%`;
  $("whole").hidden = box === null || film.isOpen;
}

function stated(clip) {
  const words = [];
  if (clip.arrival_s !== null) words.push(`arrival at ${clip.arrival_s.toFixed(2)} s, as you stated`);
  if (clip.defender_at !== null) words.push("the defender is the one you clicked");
  if (clip.again) words.push("the next posecheck check measures this clip again");
  const text = words.join("; ");
  return text ? `${text[0].toUpperCase()}${text.slice(1)}.` : "";
}

function draw() {
  const clip = current();
  $("verdict").textContent = clip.verdict ?? clip.fault ?? "";
  $("stated").textContent = stated(clip);
  $("previous").disabled = page.at === 0;
  const again = page.clips.filter((each) => each.again).length;
  $("again").hidden = again === 0;
  const which = again === 1 ? "One clip is" : again === page.clips.length ? "All clips are" : `${again} clips are`;
  $("again").textContent = `${which} measured again by the next posecheck check; until then the pages show what was measured before.`;
  page.clips.forEach((each, number) => {
    const item = $("clips").children[number], button = item.firstChild;
    item.className = each.defender === null ? "unknown" : "";
    button.toggleAttribute("aria-current", number === page.at);
    button.querySelector("b").textContent = each.name;
    const one = each.again && again < page.clips.length;
    const rest = [each.spot, one ? "to be measured again" : null].filter(Boolean).join(" · ");
    button.querySelector("small").textContent = rest;
  });
}

function build() {
  $("spot").append(new Option("not stated", ""), ...page.spots.map((spot) => new Option(spot, spot)));
  $("clips").append(...page.clips.map((clip, number) => {
    const item = document.createElement("li"), button = document.createElement("button");
    const image = document.createElement("img"), words = document.createElement("span");
    button.type = "button";
    image.loading = "lazy";
    image.alt = "";
    image.src = `picture?${new URLSearchParams({ clip: clip.key, small: "" })}`;
    words.append(document.createElement("b"), document.createElement("small"));
    button.append(image, words);
    button.onclick = () => { leave(number); $("current").scrollIntoView({ block: "start" }); };
    item.append(button);
    return item;
  }));
}

// -- a rotation ---------------------------------------------------------------------------------------

async function fill() {
  if (!await keepTyped()) return;
  const order = $("order").value.split(/[\s,;]+/).filter(Boolean).map(Number);
  const wrong = order.filter((number) => onRoster(number) === undefined);
  const said = (words, not = false) => {
    $("turns-said").textContent = words;
    $("turns-said").classList.toggle("not", not);
  };
  if (!order.length) return said("Type the numbers in the order in which the players go.", true);
  if (wrong.length) {
    const words = wrong.some(Number.isNaN) ? "Type jersey numbers with spaces between them." : `${wrong.join(", ")} ${wrong.length > 1 ? "are" : "is"} not on the roster.`;
    return said(words, true);
  }
  const role = $("role").value, clips = {}, before = {};
  page.clips.slice(page.at).forEach((clip, turn) => {
    const number = order[turn % order.length];
    if (clip[role] === number || (clip[role] !== null && !$("over").checked)) return;
    clips[clip.key] = { [role]: number };
    before[clip.key] = { [role]: clip[role] };
  });
  const many = Object.keys(clips).length;
  if (!many) return said("Nothing to fill: a number stands in each of these clips already.");
  try {
    await say(clips);
  } catch (error) {
    return said(error.message, true);
  }
  page.undo = before;
  $("unfill").hidden = false;
  said(`Filled ${many} clip${many === 1 ? "" : "s"}, ${called(order[0])} first. Go through them with the arrows and change what is wrong.`);
  show();
}

async function unfill() {
  if (!await keepTyped()) return;
  try {
    await say(page.undo);
  } catch (error) {
    return refuse(error);
  }
  page.undo = null;
  $("unfill").hidden = true;
  $("turns-said").textContent = "Taken back.";
  show();
}

// -- keys and buttons ---------------------------------------------------------------------------------

$("who").onsubmit = (event) => { event.preventDefault(); leave(page.at + 1); };
$("turns").onsubmit = (event) => { event.preventDefault(); fill(); };
$("unfill").onclick = unfill;
$("whole").onclick = () => {
  $("whole").setAttribute("aria-pressed", String($("whole").getAttribute("aria-pressed") === "false"));
  frameUp();
};
$("defender").oninput = echoDefender;
$("attacker").oninput = echoAttacker;
$("attacker").onchange = () => keep("attacker", echoAttacker);
$("previous").onclick = () => leave(page.at - 1);
$("next").onclick = () => leave(page.at + 1);
document.querySelectorAll(".links a").forEach((link) => {
  link.onclick = async (event) => {
    if (!page.clips.length || !["defender", "attacker"].some(isTyping)) return;
    event.preventDefault();
    if (await keepTyped()) location.assign(link.href);
  };
});
$("spot").onchange = async () => {
  try {
    await say({ [current().key]: { spot: $("spot").value || null } });
    $("spot").value = current().spot ?? "";
  } catch (error) {
    refuse(error);
  }
};
$("add-him").onclick = async () => {
  try {
    await say({}, [{ number: typed("defender"), name: $("new-name").value }]);
    $("new-name").value = "";
    echoDefender();
    $("defender").focus();
  } catch (error) {
    refuse(error);
  }
};
$("new-name").onkeydown = (event) => {
  if (event.key !== "Enter") return;
  event.preventDefault();
  $("add-him").click();
};
document.addEventListener("keydown", (event) => {
  const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[event.key];
  const on = document.activeElement;
  if (!step || event.ctrlKey || event.altKey || event.metaKey) return;
  if (on !== document.body && on !== $("defender") && !on.matches("#who button, #clips button")) return;
  // In a number that is being typed, left and right move from digit to digit.
  if (on === $("defender") && isTyping("defender") && /Left|Right/.test(event.key)) return;
  event.preventDefault();
  leave(page.at + step);
});
// A page that is left must not lose the last number's pages.
window.addEventListener("pagehide", () => {
  fetch("publish", { method: "POST", keepalive: true, headers: { "Content-Type": "application/json" }, body: "{}" });
});

async function start() {
  film.wire();
  try {
    Object.assign(page, await ask("state"));
  } catch (error) {
    tell(error.message, true);
    return;
  }
  $("practice").textContent = page.name;
  $("to-points").hidden = !page.points;
  build();
  const nameless = page.clips.findIndex((clip) => clip.defender === null);
  go(Math.max(nameless, 0));
}
start();
