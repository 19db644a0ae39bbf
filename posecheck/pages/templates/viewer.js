"use strict";
// Plays a rep in place of its picture: hold at arrival, step by frame, slow, and plots that move
// along with the film and lead to any place in it. The film room plays with the same parts.
const posecheck = (() => {
  // A page opened as a file may be refused a store of its own; then choices last as long as it.
  const kept = {
    read(name, otherwise) {
      try { return JSON.parse(localStorage.getItem(name)) ?? otherwise; } catch { return otherwise; }
    },
    write(name, value) {
      try { localStorage.setItem(name, JSON.stringify(value)); return true; } catch { return false; }
    },
  };

  const list = document.getElementById("reps");
  const reps = list ? JSON.parse(list.textContent) : [];
  const api = document.querySelector('meta[name="posecheck-api"]')?.content ?? null;

  // How the coach wants films played, the same for all of them.
  const wish = { hold: true, rate: 1, ...kept.read("posecheck-play", {}) };
  const RATES = [[1, "1", "Full speed"], [0.5, "\u00bd", "Half speed"], [0.25, "\u00bc", "Quarter speed"]];

  const make = (tag, properties = {}, ...inside) => {
    const { aria, role, ...plain } = properties;
    const element = Object.assign(document.createElement(tag), plain);
    if (role) element.setAttribute("role", role);
    Object.entries(aria ?? {}).forEach(([name, value]) => element.setAttribute(`aria-${name}`, value));
    element.append(...inside);
    return element;
  };

  const SHAPES = {
    play: "M4 2l10 6-10 6z",
    pause: "M3 2h4v12H3zM9 2h4v12H9z",
    back: "M11 2v12L3 8zM12 2h2v12h-2z",
    on: "M5 2v12l8-6zM2 2h2v12H2z",
    star: "M8 1.2l2.1 4.4 4.8.6-3.5 3.3.9 4.8L8 11.9l-4.3 2.4.9-4.8L1.1 6.2l4.8-.6z",
    next: "M5 2l7 6-7 6",
    previous: "M11 2L4 8l7 6",
    close: "M3 3l10 10M13 3L3 13",
  };
  const shape = (name) => {
    const holder = document.createElement("template");
    holder.innerHTML = `<svg class="shape shape-${name}" viewBox="0 0 16 16" aria-hidden="true"><path d="${SHAPES[name]}"/></svg>`;
    return holder.content.firstChild;
  };

  // A video that knows its frames and where the defender arrives. Says "frame" whenever another
  // frame is shown, "held" when it has stopped at arrival by itself, "change" for the rest.
  class Film extends EventTarget {
    constructor(video) {
      super();
      this.video = video;
      this.rep = null;
      this.index = 0;
      this.starts_s = [0];
      this.armed = true;
      const seen = (t_s) => this.#seen(t_s);
      if (video.requestVideoFrameCallback) {
        const each = (_, { mediaTime }) => { seen(mediaTime); video.requestVideoFrameCallback(each); };
        video.requestVideoFrameCallback(each);
      }
      for (const name of ["timeupdate", "seeked"]) {
        video.addEventListener(name, () => { if (!video.seeking) seen(video.currentTime); });
      }
      for (const name of ["play", "pause", "ended", "ratechange"]) {
        video.addEventListener(name, () => this.#say("change"));
      }
      video.addEventListener("loadedmetadata", () => {
        video.playbackRate = wish.rate;
        // A clip whose frames nobody wrote down is stepped through thirtieths of a second.
        if (!this.rep.frames_ms) {
          const count = Math.max(1, Math.floor(30 * video.duration));
          this.starts_s = Array.from({ length: count }, (_, each) => each / 30);
        }
        if (this.wanted !== null) this.seek(this.wanted);
        this.#say("change");
      });
      video.addEventListener("error", () => { if (this.rep) this.#say("broken"); });
    }

    // Shows a rep from its first frame, or from arrival.
    load(rep, { atArrival = false } = {}) {
      this.rep = rep;
      let t_ms = 0;
      this.starts_s = (rep.frames_ms ?? [0]).map((step_ms) => (t_ms += step_ms) / 1000);
      this.index = 0;
      this.armed = true;
      this.wanted = null;
      this.video.src = rep.clip;
      if (atArrival) this.wanted = this.arrival;
    }

    get last() { return this.starts_s.length - 1; }

    // The frame nearest to arrival, which may lie between two.
    get arrival() {
      const arrival_s = this.rep?.arrival_s;
      if (arrival_s == null) return null;
      const before = this.at(arrival_s);
      const after = Math.min(before + 1, this.last);
      return this.starts_s[after] - arrival_s < arrival_s - this.starts_s[before] ? after : before;
    }

    get playing() { return !this.video.paused && !this.video.ended; }

    // The frame shown at a moment. Times are kept to the millisecond, hence the small allowance.
    at(t_s) {
      let low = 0, high = this.last;
      while (low < high) {
        const middle = (low + high + 1) >> 1;
        if (this.starts_s[middle] <= t_s + 0.002) low = middle; else high = middle - 1;
      }
      return low;
    }

    seek(index) {
      index = Math.min(Math.max(index, 0), this.last);
      this.wanted = index;
      this.armed = this.arrival !== null && index < this.arrival;
      if (!this.video.readyState) return;
      // The middle of a frame is that frame in every browser, its edge may be the one before.
      const from = this.starts_s[index];
      const to = this.starts_s[index + 1] ?? Math.max(from, this.video.duration || from);
      this.video.currentTime = (from + Math.min(to, from + 0.1)) / 2;
      this.#shown(index);
    }

    play() {
      if (this.video.ended || this.index >= this.last) this.seek(0);
      this.video.playbackRate = wish.rate;
      // Refused, or overtaken by another rep: then it stands still, and the button says so. A clip
      // that cannot be read is an "error" of the video.
      return this.video.play().catch(() => this.#say("change"));
    }

    toggle() { if (this.playing) this.video.pause(); else this.play(); }

    step(frames) {
      this.video.pause();
      this.seek((this.video.seeking ? this.wanted : this.index) + frames);
    }

    toArrival() {
      if (this.arrival === null) return;
      this.video.pause();
      this.seek(this.arrival);
    }

    repeat() { this.seek(0); this.play(); }

    #seen(t_s) {
      if (!this.rep || this.video.seeking) return;
      const index = this.at(t_s);
      const arrival = this.arrival;
      if (arrival !== null && this.playing && wish.hold && this.armed && index >= arrival) {
        this.video.pause();
        this.seek(arrival);
        this.#say("held");
        return;
      }
      if (arrival !== null && index < arrival) this.armed = true;
      this.#shown(index);
    }

    #shown(index) {
      this.index = index;
      this.#say("frame");
    }

    #say(what) { this.dispatchEvent(new Event(what)); }
  }

  const choose = (changes) => {
    Object.assign(wish, changes);
    kept.write("posecheck-play", wish);
    document.dispatchEvent(new Event("posecheck-wish"));
  };

  // Where in the rep the frame on show lies, as a person says it.
  const clock = (film) => {
    const { rep, index } = film;
    const slow = rep.slow_from_s != null && film.starts_s[index] >= rep.slow_from_s - 0.002;
    if (rep.arrival_s == null) return `${film.starts_s[index].toFixed(2)} s`;
    if (index === film.arrival) return "arrival";
    if (slow) return "arrival again, slowly";
    const about_s = film.starts_s[index] - rep.arrival_s;
    return `${Math.abs(about_s).toFixed(2)} s ${about_s < 0 ? "before" : "after"} arrival`;
  };

  const HELD = "Stopped at arrival. Press play to go on.";

  // Buttons and the slider of one film. Labels are words; a key stands beside each in its title.
  const controls = (film) => {
    const button = (name, words, key, act, picture) => {
      const made = make("button", { type: "button", className: `do do-${name}`, title: `${words} (${key})`,
        aria: { label: words, keyshortcuts: key } });
      made.append(picture ? shape(picture) : words);
      made.addEventListener("click", act);
      return made;
    };
    const play = button("play", "Play", "Space", () => film.toggle(), "play");
    const back = button("back", "One frame back", "ArrowLeft", () => film.step(-1), "back");
    const on = button("on", "One frame on", "ArrowRight", () => film.step(1), "on");
    const arrival = button("arrival", "Arrival", "A", () => film.toArrival());
    const rates = RATES.map(([rate, sign, words]) => {
      const made = button("rate", words, String(1 / rate), () => {
        film.video.playbackRate = rate;
        choose({ rate });
      });
      made.textContent = sign;
      made.dataset.rate = rate;
      return made;
    });
    const hold = button("hold", "Hold at arrival", "H", () => choose({ hold: !wish.hold }));
    const place = make("input", { type: "range", className: "place", min: 0, step: 1, value: 0,
      aria: { label: "Place in the clip" } });
    const now = make("span", { className: "now-words" });
    const said = make("p", { className: "said", role: "status" });
    place.addEventListener("input", () => { film.video.pause(); film.seek(Number(place.value)); });

    const show = () => {
      if (!film.rep) return;
      place.max = film.last;
      place.value = film.index;
      const words = clock(film);
      place.setAttribute("aria-valuetext", words);
      now.textContent = words;
      const doing = film.playing ? "pause" : "play";
      if (play.dataset.doing !== doing) {
        play.dataset.doing = doing;
        play.replaceChildren(shape(doing));
        play.setAttribute("aria-label", film.playing ? "Pause" : "Play");
      }
      arrival.disabled = hold.disabled = film.arrival === null;
      hold.setAttribute("aria-pressed", String(wish.hold));
      rates.forEach((each) => each.setAttribute("aria-pressed", String(Number(each.dataset.rate) === wish.rate)));
      const gone = said.textContent === HELD && film.index !== film.arrival;
      if (film.playing || gone) said.textContent = "";
    };
    film.addEventListener("frame", show);
    film.addEventListener("change", show);
    film.addEventListener("held", () => { said.textContent = HELD; });
    film.addEventListener("broken", () => { said.textContent = "This clip cannot be played: check the practice again to draw it."; });
    document.addEventListener("posecheck-wish", () => { film.video.playbackRate = wish.rate; show(); });
    show();
    return { place, now, said,
      row: make("div", { className: "controls" },
        make("span", { className: "together" }, play, back, on, arrival),
        make("span", { className: "together", role: "group", aria: { label: "Speed" } }, ...rates),
        hold) };
  };

  // What a key does to a film; the rest of the keys belong to the page or the film room.
  const KEYS = {
    " ": (film) => film.toggle(),
    arrowleft: (film) => film.step(-1),
    arrowright: (film) => film.step(1),
    a: (film) => film.toArrival(),
    h: () => choose({ hold: !wish.hold }),
    0: (film) => film.repeat(),
    1: () => choose({ rate: 1 }),
    2: () => choose({ rate: 0.5 }),
    4: () => choose({ rate: 0.25 }),
  };
  const pressed = (event, film, more = {}) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const tag = event.target.tagName;
    const key = event.key.toLowerCase();
    // A control that has the focus keeps the keys it knows by itself.
    if (tag === "SELECT" || tag === "TEXTAREA" || (tag === "INPUT" && event.target.type !== "range")) return;
    if (["BUTTON", "A", "SUMMARY"].includes(tag) && (key === " " || key === "enter")) return;
    if (tag === "INPUT" && key.startsWith("arrow")) return;
    const act = more[key] ?? KEYS[key];
    if (!act) return;
    event.preventDefault();
    act(film);
  };

  // Plots of the rep: a line in each moves along with the film, and a press in one leads the film.
  const tie = (film, number) => {
    const plots = [...document.querySelectorAll(`.plots[data-rep="${number}"] svg.plot`)];
    const timed = plots.filter((plot) => plot.dataset.firstS);
    const placed = plots.filter((plot) => plot.querySelector(".now-place"));
    if (!film.rep.film_ms) return;
    const film_ms = film.rep.film_ms;
    // The first part of the clip shows every moment once, at full speed.
    const once = film.rep.slow_from_s == null ? film.last + 1
      : film.starts_s.findIndex((start_s) => start_s >= film.rep.slow_from_s - 0.002);
    const nearest = (t_ms) => {
      let best = 0;
      for (let each = 1; each < (once < 0 ? film_ms.length : once); each += 1) {
        if (Math.abs(film_ms[each] - t_ms) < Math.abs(film_ms[best] - t_ms)) best = each;
      }
      return best;
    };
    const move = () => {
      const t_ms = film_ms[film.index];
      timed.forEach((plot) => {
        const { firstS, lastS, left, right } = plot.dataset;
        const share = (t_ms / 1000 - firstS) / (lastS - firstS);
        const line = plot.querySelector(".now");
        line.toggleAttribute("hidden", share < 0 || share > 1);
        line.setAttribute("transform", `translate(${(Number(left) + share * (right - left)).toFixed(1)} 0)`);
      });
      placed.forEach((plot) => plot.querySelectorAll(".now-place").forEach((mark) => {
        const times = (mark.times ??= mark.dataset.ms.split(" ").map(Number));
        const places = (mark.places ??= mark.dataset.at.split(" "));
        let best = 0;
        times.forEach((each, index) => { if (Math.abs(each - t_ms) < Math.abs(times[best] - t_ms)) best = index; });
        // Further off than two frames he was not seen then.
        mark.toggleAttribute("hidden", Math.abs(times[best] - t_ms) > 80);
        mark.setAttribute("transform", `translate(${places[best].replace(",", " ")})`);
      }));
    };
    film.addEventListener("frame", move);
    move();
    timed[0]?.closest(".plots").before(make("p", { className: "hint",
      textContent: "Press or drag in the plots of knee bend and speed to go to that moment." }));
    timed.forEach((plot) => {
      const lead = (event) => {
        const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(plot.getScreenCTM().inverse());
        const { firstS, lastS, left, right } = plot.dataset;
        const share = Math.min(Math.max((at.x - left) / (right - left), 0), 1);
        film.video.pause();
        film.seek(nearest(1000 * (Number(firstS) + share * (lastS - firstS))));
      };
      plot.classList.add("leads");
      plot.addEventListener("pointerdown", (event) => {
        if (event.button) return;
        plot.setPointerCapture(event.pointerId);
        lead(event);
      });
      plot.addEventListener("pointermove", (event) => {
        if (plot.hasPointerCapture(event.pointerId)) lead(event);
      });
    });
  };

  // The viewer in place of a link's picture. `whole` is the page of one rep: it waits at arrival,
  // its keys work everywhere, and there is no picture to go back to.
  const open = (link, whole) => {
    const rep = reps.find(({ number }) => number === Number(link.dataset.rep));
    if (!rep?.clip) return;
    const place = link.closest(".shot") ?? link;
    const video = make("video", { playsInline: true, muted: true, preload: "auto", tabIndex: -1,
      aria: { label: `Rep ${rep.number}${rep.player ? `, ${rep.player}` : ""}` } });
    const film = new Film(video);
    const parts = controls(film);
    const viewer = make("div", { className: "viewer", role: "group", tabIndex: -1,
      aria: { label: `Film of rep ${rep.number}` } },
      video, parts.place, make("div", { className: "line" }, parts.now, parts.said), parts.row);
    video.addEventListener("click", () => film.toggle());
    if (whole) {
      document.addEventListener("keydown", (event) => pressed(event, film, whole));
    } else {
      const close = make("button", { type: "button", className: "do", title: "Close (Esc)",
        aria: { label: "Close", keyshortcuts: "Escape" } }, shape("close"));
      const shut = () => { film.video.pause(); viewer.replaceWith(place); link.focus(); };
      close.addEventListener("click", shut);
      parts.row.append(close);
      viewer.addEventListener("keydown", (event) => pressed(event, film, { escape: shut }));
    }
    place.replaceWith(viewer);
    film.load(rep, { atArrival: Boolean(whole) });
    if (whole) tie(film, rep.number);
    else {
      viewer.focus({ preventScroll: true });
      film.play();
      // Only now is it known how tall the film is.
      video.addEventListener("loadedmetadata", () => viewer.scrollIntoView({ block: "nearest" }), { once: true });
    }
  };

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a.play[data-rep]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (!reps.some(({ number, clip }) => clip && number === Number(link.dataset.rep))) return;
    event.preventDefault();
    open(link, null);
  });
  return { Film, api, choose, controls, kept, make, open, pressed, reps, shape, wish };
})();
