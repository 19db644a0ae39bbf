"use strict";
// The film room: one rep after the other in full screen, driven by keys or by touch.
document.addEventListener("DOMContentLoaded", () => {
  const { Film, api, controls, make, pressed, reps, shape } = posecheck;
  const opener = document.getElementById("open-film-room");
  if (!opener) return;
  const drawn = reps.filter(({ clip }) => clip);
  opener.hidden = !drawn.length;
  if (!drawn.length) return;

  const CLEAN = "clear", FLAGGED = "flagged", OPEN = "can't tell", STARRED = "Starred";
  const of = (call) => drawn.filter((rep) => rep.call === call);
  const bySeriousness = (a, b) => a.seriousness - b.seriousness;
  const item = (rep, why = "") => ({ rep, why });

  // Good, bad, good: every flagged rep has a clean one before it and the clean one most like it
  // after it, which is also the one before the next. Where that does not do, the one before is
  // another clean one than the one after: his own if he has one, then of the same spot.
  const goodBadGood = () => {
    const clean = of(CLEAN);
    const queue = [];
    for (const bad of of(FLAGGED).sort(bySeriousness)) {
      const like = clean.find(({ number }) => number === bad.like);
      if (clean.length && queue.at(-1)?.rep.call !== CLEAN) {
        const unlike = (rep) => 4 * (rep === like) + 2 * (!bad.player || rep.player !== bad.player) + (rep.spot !== bad.spot);
        const [before] = [...clean].sort((a, b) => unlike(a) - unlike(b) || a.number - b.number);
        queue.push(item(before, "A clean one first"));
      }
      queue.push(item(bad, "Now the flagged one"));
      if (like) queue.push(item(like, "And a clean one like it"));
    }
    return queue;
  };

  const QUEUES = {
    "Good, bad, good": goodBadGood,
    [STARRED]: () => posecheckStars.starred().filter(({ clip }) => clip).map((rep) => item(rep)),
    "Can't tell": () => of(OPEN).map((rep) => item(rep, "Watch it and decide")),
    "All reps": () => drawn.map((rep) => item(rep)),
  };

  const KEYS = [
    ["Space", "play, pause"], ["N", "next"], ["P", "previous"], ["0", "repeat"],
    ["\u2190 \u2192", "step"], ["1 2 4", "full, half, quarter speed"], ["A", "arrival"],
    ["H", "hold at arrival"], ["S", "star"],
    ...(api ? [["R", "call is right"], ["W", "wrong"], ["U", "undecided"]] : []),
    ["Esc", "close"],
  ];

  let room = null;
  const build = () => {
    const video = make("video", { playsInline: true, muted: true, preload: "auto", tabIndex: -1 });
    const ahead = make("video", { muted: true, preload: "auto" });
    const film = new Film(video);
    const parts = controls(film);
    const button = (words, key, act, picture) => {
      const made = make("button", { type: "button", className: "do", title: `${words} (${key})`, aria: { label: words, keyshortcuts: key } });
      made.append(picture ? shape(picture) : words);
      made.addEventListener("click", act);
      return made;
    };
    const choice = make("select", { aria: { label: "What to show" } },
      ...Object.keys(QUEUES).map((name) => make("option", { value: name, textContent: name })));
    const count = make("span", { className: "count" });
    const save = make("button", { type: "button", className: "do", textContent: "Save the list" });
    save.addEventListener("click", () => posecheckStars.download());
    const close = button("Close the film room", "Escape", () => dialog.close(), "close");
    const name = make("b", { className: "name" });
    const about = make("span", { className: "about" });
    const sentence = make("p", { className: "sentence" });
    const why = make("p", { className: "why" });
    const star = posecheckStars.button(null);
    const empty = make("p", { className: "empty", hidden: true });
    const next = button("Next rep", "N", () => go(place + 1), "next");
    const previous = button("Previous rep", "P", () => go(place - 1), "previous");
    const repeat = button("Repeat", "0", () => film.repeat());
    const rulings = make("span", { className: "together", role: "group", aria: { label: "Is the call right?" } },
      ...[["right", "R"], ["wrong", "W"], ["undecided", "U"]].map(([ruling, key]) =>
        button(ruling[0].toUpperCase() + ruling.slice(1), key, () => rule(ruling))));
    rulings.hidden = !api;
    const help = make("p", { className: "keys", aria: { label: "Keys" } },
      ...KEYS.map(([key, words]) => make("span", {}, make("kbd", { textContent: key }), ` ${words}`)));
    parts.row.prepend(make("span", { className: "together" }, previous, next, repeat));
    parts.row.append(rulings);
    const dialog = make("dialog", { className: "film-room", tabIndex: -1, aria: { label: "Film room" } },
      make("div", { className: "bar" }, choice, count, save, close),
      make("div", { className: "stage" }, video, empty),
      make("div", { className: "edge" },
        make("div", { className: "said-of" }, why, make("p", { className: "who" }, name, about), sentence), star),
      parts.place,
      make("div", { className: "line" }, parts.now, parts.said),
      parts.row, help);
    document.body.append(dialog);

    let queue = [], place = 0;
    // A player's own file counts his reps alone, so that it tells nothing of the others.
    const inHisFile = ({ number, player }) => {
      if (!/\(\d+\)$/.test(player)) return null; // nobody of the roster
      return `his rep ${reps.filter((rep) => rep.player === player && rep.number <= number).length}`;
    };
    const label = (rep) => [`Rep ${rep.number}`, inHisFile(rep), rep.spot, rep.fault ?? rep.call].filter(Boolean).join(", ");
    const go = (to) => {
      place = Math.min(Math.max(to, 0), Math.max(queue.length - 1, 0));
      const now = queue[place];
      dialog.classList.toggle("without", !now);
      empty.hidden = Boolean(now);
      next.disabled = place >= queue.length - 1;
      previous.disabled = place === 0;
      count.textContent = now ? `${place + 1} of ${queue.length}` : "";
      save.hidden = choice.value !== STARRED || !now;
      star.rep = now?.rep;
      star.show();
      if (!now) {
        video.pause();
        film.rep = null;
        empty.textContent = choice.value === STARRED ? "No rep is starred yet: press Star, or the key S, while one is shown." : "There is none.";
        return;
      }
      const { rep } = now;
      name.textContent = rep.player ?? "Defender not named";
      sentence.textContent = rep.sentence;
      why.textContent = now.why;
      video.setAttribute("aria-label", `Rep ${rep.number}${rep.player ? `, ${rep.player}` : ""}`);
      parts.said.textContent = "";
      saysRuling();
      film.load(rep);
      film.play();
      const after = queue[place + 1]?.rep.clip;
      if (after) ahead.src = after;
    };
    const fill = () => { queue = QUEUES[choice.value](); go(0); };
    choice.addEventListener("change", () => { fill(); dialog.focus(); });

    const saysRuling = () => {
      const rep = queue[place]?.rep;
      if (!rep) return;
      const { ruling, words } = posecheckRulings.of(rep.key);
      about.textContent = [label(rep), words && `coach: ${words}`].filter(Boolean).join("; ");
      [...rulings.children].forEach((each) => each.setAttribute("aria-pressed", String(each.textContent.toLowerCase() === ruling)));
    };
    document.addEventListener("posecheck-ruled", saysRuling);
    const rule = (ruling) => {
      const now = queue[place];
      if (!now || !api) return;
      document.dispatchEvent(new CustomEvent("posecheck-rule", { detail: { key: now.rep.key, number: now.rep.number, ruling } }));
    };
    document.addEventListener("posecheck-unsaved", ({ detail }) => { parts.said.textContent = detail; });
    const starIt = () => { if (queue[place]) star.click(); };
    const more = {
      n: () => go(place + 1), pagedown: () => go(place + 1),
      p: () => go(place - 1), pageup: () => go(place - 1),
      s: starIt,
      r: () => rule("right"), w: () => rule("wrong"), u: () => rule("undecided"),
    };
    dialog.addEventListener("keydown", (event) => {
      if (film.rep || ["n", "p"].includes(event.key)) pressed(event, film, more);
    });
    video.addEventListener("click", () => film.toggle());
    dialog.addEventListener("close", () => {
      video.pause();
      if (document.fullscreenElement) document.exitFullscreen();
      document.documentElement.classList.remove("in-film-room");
      opener.focus();
    });
    document.addEventListener("fullscreenchange", () => {
      if (!document.fullscreenElement && dialog.open) dialog.close();
    });
    return {
      enter() {
        document.documentElement.classList.add("in-film-room");
        dialog.showModal();
        // A dialog fills the window by itself where a phone knows no full screen.
        document.documentElement.requestFullscreen?.().catch(() => {});
        if (!QUEUES[choice.value]().length) {
          choice.value = Object.keys(QUEUES).find((each) => QUEUES[each]().length);
        }
        fill();
        dialog.focus();
      },
    };
  };

  opener.addEventListener("click", () => (room ??= build()).enter());
});
