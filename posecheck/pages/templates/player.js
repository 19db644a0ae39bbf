"use strict";
// Clips are kept as text in the page; phones play them from memory, not from an address of data.
document.addEventListener("DOMContentLoaded", () => {
  const bytes = (text) => Uint8Array.from(atob(text.trim()), (letter) => letter.charCodeAt(0));
  const STEP_S = 1 / 30;
  const SLOW = 0.25;

  document.querySelectorAll(".film").forEach((place) => {
    const still = place.querySelector("img");
    const button = (name) => place.querySelector(`[data-do="${name}"]`);
    let slow = false;
    let film = null;

    // Made when it is first asked for: a phone need not hold every clip twice.
    const made = () => {
      if (film) return film;
      const text = document.getElementById(place.dataset.film).textContent;
      film = document.createElement("video");
      Object.assign(film, { muted: true, playsInline: true, loop: true, preload: "auto",
        width: still.width, height: still.height, poster: still.src });
      film.setAttribute("playsinline", "");
      film.src = URL.createObjectURL(new Blob([bytes(text)], { type: "video/mp4" }));
      film.addEventListener("click", () => button("play").click());
      const say = () => { button("play").textContent = film.paused ? "Play" : "Pause"; };
      film.addEventListener("play", say);
      film.addEventListener("pause", say);
      still.replaceWith(film);
      film.playbackRate = film.defaultPlaybackRate = slow ? SLOW : 1;
      return film;
    };
    const goTo = (time) => {
      const shown = made();
      shown.pause();
      const move = () => { shown.currentTime = Math.max(0, Math.min(time(shown), shown.duration)); };
      if (shown.readyState > 0) move();
      else shown.addEventListener("loadedmetadata", move, { once: true });
    };
    const actions = {
      play: () => (made().paused ? film.play() : film.pause()),
      slow: () => {
        slow = !slow;
        button("slow").setAttribute("aria-pressed", String(slow));
        made().playbackRate = film.defaultPlaybackRate = slow ? SLOW : 1;
      },
      arrive: () => goTo(() => Number(place.dataset.arrival)),
      back: () => goTo((shown) => shown.currentTime - STEP_S),
      on: () => goTo((shown) => shown.currentTime + STEP_S),
    };
    Object.entries(actions).forEach(([name, act]) => button(name)?.addEventListener("click", act));
    still.addEventListener("click", actions.play);
    place.querySelector(".buttons").hidden = false;
  });
});
