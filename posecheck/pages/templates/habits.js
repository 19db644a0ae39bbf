"use strict";
document.addEventListener("DOMContentLoaded", () => {
  // One habit of everybody at first; by choice another, or all of one player. Plots and table
  // show the same.
  const forms = [...document.querySelectorAll(".chooser")];
  const shown = [...document.querySelectorAll("[data-habit]")];
  const folds = [...document.querySelectorAll("details[data-player]")];
  const choose = (player, habit) => {
    forms.forEach((form) => {
      form.querySelector("[data-by=player]").value = player;
      form.querySelector("[data-by=habit]").value = habit;
    });
    shown.forEach((each) => {
      each.hidden = (player && each.dataset.player !== player)
        || (habit && each.dataset.habit !== habit);
    });
    folds.forEach((fold) => { fold.hidden = Boolean(player) && fold.dataset.player !== player; });
    const players = new Set(shown.filter((each) => !each.hidden).map((each) => each.dataset.player));
    forms.forEach((form) => {
      form.querySelector("output").textContent =
        `${players.size} player${players.size === 1 ? "" : "s"}`;
    });
  };
  forms.forEach((form) => {
    const [player, habit] = form.querySelectorAll("select");
    // Choosing a player is asking for all of him, choosing everybody for one habit.
    player.addEventListener("change", () =>
      choose(player.value, player.value ? "" : habit.value || first));
    habit.addEventListener("change", () => choose(player.value, habit.value));
    form.addEventListener("submit", (event) => event.preventDefault());
    form.hidden = false;
  });
  const first = "knee_bend_deg";
  choose("", first);

  // A link to a plot chooses what it shows.
  const reveal = () => {
    const target = location.hash && document.getElementById(location.hash.slice(1));
    if (!target || !target.dataset.habit) return;
    choose(target.dataset.player, "");
    target.scrollIntoView({ block: "center" });
    target.focus({ preventScroll: true });
  };
  window.addEventListener("hashchange", reveal);
  document.querySelectorAll('a[href^="#p"]').forEach((link) => link.addEventListener("click", () => {
    if (link.getAttribute("href") === location.hash) reveal();
  }));
  reveal();

  // Sorting: figures as figures, words as words, what was not seen always last.
  document.querySelectorAll("table.sortable").forEach((table) => {
    const heads = [...table.querySelectorAll("thead th")];
    const body = table.tBodies[0];
    heads.forEach((head, column) => head.querySelector("button").addEventListener("click", () => {
      const up = head.getAttribute("aria-sort") !== "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      const keyed = [...body.rows].map((row) => [row.cells[column].dataset.sort, row]);
      const numbers = keyed.every(([key]) => key === "" || !Number.isNaN(Number(key)));
      const order = (a, b) => numbers ? Number(a) - Number(b) : a.localeCompare(b);
      keyed.sort(([a], [b]) => {
        if (a === "" || b === "") return (a === "") - (b === "");
        return up ? order(a, b) : order(b, a);
      });
      keyed.forEach(([, row]) => body.append(row));
    }));
  });
});
