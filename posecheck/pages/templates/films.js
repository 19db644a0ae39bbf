"use strict";
// Setting where reps of a long film begin and end, and what is a rep. posecheck serve keeps it; a
// page opened as a file shows what was set when it was written.
(() => {
  const api = document.querySelector('meta[name="posecheck-api"]')?.content ?? null;
  if (!api) return;
  const dialog = document.querySelector("dialog.adjust");
  const part = (selector) => dialog.querySelector(selector);
  const AROUND_S = 6; // of film shown on both sides of a stretch
  const NEW_S = 8; // a rep that is added begins as long as this
  const LEAST_S = 1;
  const PICTURES = 10;
  let open = null; // what is being set: film, duration, from, to, instead, window

  const show = () => {
    document.querySelectorAll(".served").forEach((one) => { one.hidden = false; });
    document.querySelectorAll(".to-save").forEach((one) => { one.hidden = true; });
  };
  const clock = (time_s) => {
    const tenths = Math.round(time_s * 10);
    return `${Math.floor(tenths / 600)}:${((tenths % 600) / 10).toFixed(1).padStart(4, "0")}`;
  };
  // "14:32.5", "1:02:03" or seconds alone; NaN for anything else.
  const seconds = (text) => {
    const said = text.trim().replace(",", ".");
    if (!/^(\d+:){0,2}\d+(\.\d+)?$/.test(said)) return NaN;
    return said.split(":").reduce((all, one) => all * 60 + Number(one), 0);
  };
  const picture = (film, time_s) =>
    `${api}films/picture?${new URLSearchParams({ film, t_s: time_s.toFixed(2) })}`;

  const send = async (what, given) => {
    const answer = await fetch(`${api}films/${what}`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(given),
    });
    const got = await answer.json();
    if (!answer.ok) throw new Error(got.error);
  };
  // The page was written again: show it as it is now, where it stands.
  const refresh = async () => {
    const text = await (await fetch(location.pathname)).text();
    const now = new DOMParser().parseFromString(text, "text/html");
    document.querySelector("main").replaceWith(document.adoptNode(now.querySelector("main")));
    show();
  };
  const stretchOf = ({ dataset }) => ({ from_s: Number(dataset.from), to_s: Number(dataset.to) });
  const filmOf = (element) => element.closest("section.long").dataset;

  // -- the dialog ---------------------------------------------------------------------------------

  const begin = (film, duration, stretch, element) => {
    const { from_s, to_s } = stretch;
    open = { film, duration, from: from_s, to: to_s, instead: element ? [from_s, to_s] : null };
    const { words, why, page, video } = element?.dataset ?? {};
    part("h2").textContent = words ? words[0].toUpperCase() + words.slice(1) : "A stretch more";
    part(".why").textContent = why ?? "";
    part(".own-page").hidden = !page;
    if (page) part(".own-page a").href = page;
    const look = part(".look");
    look.hidden = !video;
    if (video) look.src = video; else look.removeAttribute("src");
    part('[data-do="take-back"]').hidden = !element || !("byHand" in element.dataset);
    part(".problem").textContent = "";
    part(".near").hidden = false;
    around();
    place();
    dialog.showModal();
  };
  // Which part of the film lies below the handles.
  const around = () => {
    const first = Math.max(0, open.from - AROUND_S);
    const last = Math.min(open.duration, open.to + AROUND_S);
    open.window = [first, last];
    const step = (last - first) / PICTURES;
    part(".near-pictures").replaceChildren(...Array.from({ length: PICTURES }, (_, each) => {
      const made = new Image();
      made.alt = "";
      made.draggable = false;
      made.src = picture(open.film, first + (each + 0.5) * step);
      return made;
    }));
  };
  let asked = null;
  const place = () => {
    const [first, last] = open.window;
    const share = (time_s) => `${Math.min(Math.max((time_s - first) / (last - first), 0), 1) * 100}%`;
    for (const edge of ["from", "to"]) {
      const handle = part(`.handle[data-edge="${edge}"]`);
      handle.style.left = share(open[edge]);
      const said = { valuemin: 0, valuemax: open.duration, valuenow: open[edge].toFixed(1), valuetext: clock(open[edge]) };
      Object.entries(said).forEach(([name, value]) => handle.setAttribute(`aria-${name}`, value));
      part(`fieldset[data-edge="${edge}"] input`).value = clock(open[edge]);
    }
    const between = part(".between");
    between.style.left = share(open.from);
    between.style.width = `calc(${share(open.to)} - ${share(open.from)})`;
    // A handle that is on its way asks for no pictures.
    clearTimeout(asked);
    asked = setTimeout(() => {
      for (const edge of ["from", "to"]) {
        const shown = part(`fieldset[data-edge="${edge}"] img`);
        const wanted = picture(open.film, open[edge]);
        if (shown.getAttribute("src") !== wanted) shown.src = wanted;
      }
    }, 120);
  };
  const move = (edge, time_s) => {
    const low = edge === "from" ? 0 : open.from + LEAST_S;
    const high = edge === "from" ? open.to - LEAST_S : open.duration;
    open[edge] = Math.round(Math.min(Math.max(time_s, low), high) * 100) / 100;
    part(".problem").textContent = "";
    const [first, last] = open.window;
    if (open.from < first || open.to > last) around();
    place();
  };

  const complain = (words) => { part(".problem").textContent = words; };
  const keep = async (what, given) => {
    await send(what, given);
    if (dialog.open) dialog.close();
    await refresh();
  };
  const keepFromDialog = (what, given) => keep(what, given).catch(({ message }) => complain(message));
  const keepOpen = (kind) => keepFromDialog("set", {
    film: open.film, from_s: open.from, to_s: open.to, kind, instead: open.instead,
  });

  part(".look").addEventListener("error", ({ target }) => { target.hidden = true; });
  dialog.addEventListener("close", () => part(".look").pause());
  dialog.addEventListener("change", ({ target }) => {
    if (target.tagName !== "INPUT") return;
    const { edge } = target.closest("fieldset").dataset;
    const time_s = seconds(target.value);
    if (Number.isNaN(time_s)) {
      complain("That is no time of the film; write it as 14:32.5.");
      return;
    }
    // What is typed is taken as it is: the server says what cannot be.
    open[edge] = time_s;
    part(".problem").textContent = "";
    if (open.from < open.to && open.to <= open.duration) { around(); place(); }
  });
  dialog.addEventListener("click", ({ target }) => {
    const button = target.closest("button");
    if (!button) return;
    if (button.dataset.step) {
      const { edge } = button.closest("fieldset").dataset;
      move(edge, open[edge] + Number(button.dataset.step));
    }
    const ways = {
      "keep-rep": () => keepOpen("rep"),
      "keep-none": () => keepOpen("none"),
      "take-back": () => keepFromDialog("take-back", { film: open.film, from_s: open.instead[0], to_s: open.instead[1] }),
      close: () => dialog.close(),
    };
    ways[button.dataset.do]?.();
  });
  dialog.querySelectorAll(".handle").forEach((handle) => {
    const { edge } = handle.dataset;
    const at = ({ clientX }) => {
      const { left, width } = part(".near-marks").getBoundingClientRect();
      const [first, last] = open.window;
      return first + ((clientX - left) / width) * (last - first);
    };
    handle.addEventListener("pointerdown", (event) => {
      handle.setPointerCapture(event.pointerId);
      handle.focus();
      event.preventDefault();
    });
    handle.addEventListener("pointermove", (event) => {
      if (!handle.hasPointerCapture(event.pointerId)) return;
      const [first, last] = open.window;
      move(edge, Math.min(Math.max(at(event), first), last));
    });
    handle.addEventListener("keydown", (event) => {
      const steps = { ArrowLeft: -0.1, ArrowDown: -0.1, ArrowRight: 0.1, ArrowUp: 0.1, PageDown: -1, PageUp: 1 };
      if (!(event.key in steps)) return;
      event.preventDefault();
      move(edge, open[edge] + steps[event.key]);
    });
  });

  // -- the page -----------------------------------------------------------------------------------

  document.addEventListener("click", (event) => {
    const { target } = event;
    const main = target.closest("main");
    if (!main) return;
    const button = target.closest("button[data-do]");
    const mark = target.closest("a.stretch");
    const row = target.closest(".film-row");
    if (mark) {
      event.preventDefault();
      const { film, duration } = filmOf(mark);
      begin(film, Number(duration), stretchOf(mark), mark);
    } else if (row) {
      const { left, width } = row.getBoundingClientRect();
      const { film, duration } = filmOf(row);
      const share = (event.clientX - left) / width;
      const from_s = Number(row.dataset.from) + share * ROW_S;
      if (from_s < Number(duration) - LEAST_S) begin(film, Number(duration), added(from_s, Number(duration)), null);
    } else if (button) {
      const { film, duration } = filmOf(button);
      const item = button.closest("li");
      const { from_s, to_s } = item ? stretchOf(item) : {};
      const adjust = () => begin(film, Number(duration), { from_s, to_s }, item);
      const rule = () => {
        // The keyboard goes on with the next of the list.
        const next = item.nextElementSibling?.id;
        keep("set", { film, from_s, to_s, kind: button.dataset.do, instead: [from_s, to_s] })
          .then(() => next && document.getElementById(next)?.querySelector("button")?.focus())
          .catch(({ message }) => { adjust(); complain(message); });
      };
      const add = () => begin(film, Number(duration), added(0, Number(duration)), null);
      ({ add, adjust, rep: rule, none: rule })[button.dataset.do]();
    }
  });
  const ROW_S = Number(document.querySelector("main").dataset.row);
  const added = (from_s, duration) => ({ from_s, to_s: Math.min(from_s + NEW_S, duration) });
  show();
})();
