"use strict";

// Stepping through a clip's film to say when the defender arrives, and who he is.

const film = {
  isOpen: false, about: null, pointing: false, asked: 0,

  async open() {
    const clip = current(), number = ++film.asked;
    film.isOpen = true;
    film.pointing = false;
    $("film").hidden = false;
    $("open-film").hidden = true;
    $("box").hidden = true;
    frameUp();
    film.tell("Step to the frame in which he arrives and press “He arrives here”. Or press “Click the defender”, then click him.");
    film.draw();
    try {
      const about = await ask(`about?${new URLSearchParams({ clip: clip.key })}`);
      if (number !== film.asked) return;
      film.about = about;
    } catch (error) {
      film.tell(error.message, true);
      return;
    }
    const arrives = clip.arrival_s ?? clip.found_s ?? film.about.t_s[Math.floor(film.about.t_s.length / 2)];
    const away = film.about.t_s.map((t) => Math.abs(t - arrives));
    $("moment").max = film.about.t_s.length - 1;
    $("moment").value = away.indexOf(Math.min(...away));
    film.frame();
  },

  close() {
    film.asked += 1;
    film.isOpen = false;
    film.about = null;
    film.pointing = false;
    $("film").hidden = true;
    $("open-film").hidden = false;
    $("stage").classList.remove("pointing", "busy");
  },

  time: () => film.about.t_s[Number($("moment").value)],

  frame() {
    $("stage").classList.add("busy");
    $("picture").src = `frame?${new URLSearchParams({ clip: current().key, time_s: film.time() })}`;
    $("picture").alt = "One frame of the clip";
    $("time").textContent = `${film.time().toFixed(2)} s`;
    film.draw();
  },

  step(by) {
    $("moment").value = Number($("moment").value) + by;
    film.frame();
  },

  tell(words, wrong = false) {
    $("film-said").textContent = words;
    $("film-said").classList.toggle("not", wrong);
  },

  draw() {
    const clip = current();
    $("point").setAttribute("aria-pressed", String(film.pointing));
    $("stage").classList.toggle("pointing", film.pointing);
    $("take-back").hidden = clip.arrival_s === null && clip.defender_at === null;
    for (const id of ["arrives", "point"]) $(id).disabled = film.about === null;
  },

  async correct(changes, words) {
    try {
      await say({ [current().key]: changes });
      film.tell(`${words} The next posecheck check measures this clip again.`);
    } catch (error) {
      film.tell(error.message, true);
    }
    film.draw();
  },

  // A click comes in whole pixels of the screen, cut off: its middle is half of one further on.
  pixel(event) {
    const box = $("picture").getBoundingClientRect(), [width, height] = film.about.size;
    return {
      x_px: ((event.clientX + 0.5 - box.left) / box.width) * width - 0.5,
      y_px: ((event.clientY + 0.5 - box.top) / box.height) * height - 0.5,
    };
  },

  wire() {
    $("open-film").onclick = () => film.open();
    $("close").onclick = () => { film.close(); showPicture(); $("defender").focus(); };
    $("back").onclick = () => film.step(-1);
    $("on").onclick = () => film.step(1);
    $("moment").oninput = () => film.frame();
    $("picture").onload = () => { $("stage").classList.remove("busy"); frameUp(); };
    $("arrives").onclick = () => film.correct({ arrival_s: film.time() }, `He arrives at ${film.time().toFixed(2)} s.`);
    $("point").onclick = () => {
      film.pointing = !film.pointing;
      film.tell(film.pointing ? "Click the defender, where he is in full view." : "");
      film.draw();
    };
    $("take-back").onclick = () => film.correct({ arrival_s: null, defender_at: null }, "Taken back.");
    $("stage").addEventListener("click", async (event) => {
      if (film.about === null) return;
      if (!film.pointing) {
        film.tell("To say who he is, press “Click the defender” first.");
        return;
      }
      film.pointing = false;
      await film.correct({ defender_at: { t_s: film.time(), ...film.pixel(event) } }, "He is the defender.");
    });
  },
};
