"use strict";
document.addEventListener("DOMContentLoaded", () => {
  // Without script every rep's details stay open, so closing them is the script's first job.
  const rows = document.querySelectorAll(".detail");
  const opener = (row) => document.querySelector(`[aria-controls="${row.id}"]`);
  const setOpen = (row, open) => {
    row.hidden = !open;
    opener(row).setAttribute("aria-expanded", String(open));
  };
  rows.forEach((row) => {
    setOpen(row, false);
    const button = opener(row);
    button.addEventListener("click", (event) => {
      event.preventDefault();
      setOpen(row, row.hidden);
    });
    button.addEventListener("keydown", (event) => {
      if (event.key === " ") { event.preventDefault(); button.click(); }
    });
  });

  // A link to a rep opens it wherever it stands.
  const reveal = () => {
    const target = location.hash && document.getElementById(location.hash.slice(1));
    if (!target) return;
    if (target.classList.contains("detail")) setOpen(target, true);
    target.scrollIntoView();
  };
  window.addEventListener("hashchange", reveal);
  reveal();
  document.querySelectorAll('a[href^="#rep-"]:not([role])').forEach((link) =>
    link.addEventListener("click", () => {
      if (link.getAttribute("href") === location.hash) reveal();
    }));

  // Sorting: figures as figures, words as words, what was not seen always last.
  document.querySelectorAll("table.all").forEach((table) => {
    const heads = [...table.querySelectorAll("thead th")];
    heads.forEach((head, column) => head.querySelector("button").addEventListener("click", () => {
      const up = head.getAttribute("aria-sort") !== "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      const keyed = [...table.tBodies].map((body) =>
        [body.rows[0].cells[column].dataset.sort, body]);
      const figures = keyed.every(([key]) => key === "" || !Number.isNaN(Number(key)));
      const order = (a, b) => figures ? Number(a) - Number(b) : a.localeCompare(b);
      keyed.sort(([a], [b]) => {
        if (a === "" || b === "") return (a === "") - (b === "");
        return up ? order(a, b) : order(b, a);
      });
      keyed.forEach(([, body]) => table.append(body));
    }));
  });

  // The field shows the runs of the chosen spot and player, and says how they came out.
  document.querySelectorAll(".field").forEach((field) => {
    const paths = [...field.querySelectorAll(".run-path")];
    const selects = [...field.querySelectorAll("select")];
    const words = { flagged: "flagged", clear: "clear", unsure: "can't tell" };
    const choose = () => {
      const shown = paths.filter((path) => {
        const fits = selects.every(({ value, dataset }) => !value || path.dataset[dataset.by] === value);
        path.toggleAttribute("hidden", !fits);
        return fits;
      });
      const counts = Object.entries(words).map(([call, word]) =>
        `${shown.filter((path) => path.dataset.call === call).length} ${word}`);
      field.querySelector("output").textContent =
        `${shown.length} run${shown.length === 1 ? "" : "s"}: ${counts.join(", ")}`;
    };
    selects.forEach((select) => select.addEventListener("change", choose));
    field.querySelector(".chooser").hidden = false;
    choose();
  });

  // The picture makes room for the film in the same place.
  document.querySelectorAll(".play").forEach((link) => link.addEventListener("click", (event) => {
    event.preventDefault();
    const film = document.createElement("video");
    Object.assign(film, { src: link.getAttribute("href"), controls: true, muted: true,
      autoplay: true, loop: true, playsInline: true });
    const shot = link.closest(".shot");
    shot.replaceChildren(film);
    film.focus();
  }));
});
