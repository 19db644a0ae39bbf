"use strict";
// Choosing among the reps, sorting their figures, and choosing among the runs seen from above.
// Without script everything is shown.
document.addEventListener("DOMContentLoaded", () => {
  const served = document.querySelector('meta[name="posecheck-api"]') !== null;
  document.querySelectorAll(".served").forEach((link) => { link.hidden = !served; });
  // What lies outside the folder that is served.
  document.querySelectorAll(".as-file").forEach((link) => { link.hidden = served; });

  const FIRST_SHOWN = 12; // of each fault; the rest on demand
  const form = document.querySelector(".filters");
  const groups = [...document.querySelectorAll(".group")].map((section) => ({
    section,
    tiles: [...section.querySelectorAll(".tile")],
    count: section.querySelector(".count"),
    more: section.querySelector(".show-more"),
    whole: false,
  }));
  const rows = [...document.querySelectorAll("table.all tbody tr")];

  // The choice stands in the address, so that it can be kept and sent to oneself.
  const choice = () => Object.fromEntries([...new FormData(form)].filter(([, value]) => value));
  const fits = (chosen, { dataset }, but) =>
    Object.entries(chosen).every(([by, value]) => by === but || dataset[by] === value);

  const show = () => {
    const chosen = choice();
    let shown = 0;
    groups.forEach((group) => {
      const fitting = group.tiles.filter((tile) => fits(chosen, tile));
      const most = group.whole ? fitting.length : FIRST_SHOWN;
      const visible = new Set(fitting.slice(0, most));
      group.tiles.forEach((tile) => { tile.hidden = !visible.has(tile); });
      group.count.textContent = fitting.length;
      group.section.hidden = !fitting.length;
      group.more.hidden = fitting.length <= most;
      group.more.textContent = `Show all ${fitting.length}`;
      shown += fitting.length;
    });
    rows.forEach((row) => { row.hidden = !fits(chosen, row); });
    document.querySelector(".nothing").hidden = shown > 0;
    form.querySelector("output").textContent = `${shown} of ${rows.length} rep${rows.length === 1 ? "" : "s"}`;
    form.querySelector("[type=reset]").disabled = !Object.keys(chosen).length;
    // Beside each choice stands how many reps it would show beside the others.
    form.querySelectorAll("select").forEach((select) => {
      const counts = new Map();
      rows.filter((row) => fits(chosen, row, select.name)).forEach(({ dataset }) => {
        counts.set(dataset[select.name], (counts.get(dataset[select.name]) ?? 0) + 1);
      });
      [...select.options].slice(1).forEach((option) => {
        option.textContent = `${option.dataset.words}: ${counts.get(option.value) ?? 0}`;
      });
    });
  };

  const keep = () => {
    const chosen = new URLSearchParams(choice()).toString();
    history.replaceState(null, "", chosen ? `#${chosen}` : location.pathname + location.search);
    groups.forEach((group) => { group.whole = false; });
    show();
  };

  // An address may name a choice, or a rep that is not shown.
  const follow = () => {
    const hash = location.hash.slice(1);
    if (hash.includes("=")) {
      const wanted = new URLSearchParams(hash);
      form.querySelectorAll("select").forEach((select) => {
        const value = wanted.get(select.name) ?? "";
        select.value = [...select.options].some((option) => option.value === value) ? value : "";
      });
      show();
      document.getElementById("all").scrollIntoView();
      return;
    }
    const tile = hash ? document.getElementById(hash) : null;
    if (!tile?.classList.contains("tile")) return;
    if (!fits(choice(), tile)) form.querySelectorAll("select").forEach((select) => { select.value = ""; });
    groups.find(({ tiles }) => tiles.includes(tile)).whole = true;
    show();
    tile.scrollIntoView({ block: "center" });
    tile.querySelector(".open").focus({ preventScroll: true });
  };

  if (form) {
    form.hidden = false;
    form.addEventListener("change", keep);
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", () => setTimeout(keep)); // once the form is empty
    groups.forEach((group) => group.more.addEventListener("click", () => {
      const next = group.tiles.filter((tile) => tile.hidden && fits(choice(), tile))[0];
      group.whole = true;
      show();
      next.querySelector(".open").focus();
    }));
    window.addEventListener("hashchange", follow);
    document.querySelectorAll('a[href^="#rep-"]').forEach((link) =>
      link.addEventListener("click", () => {
        if (link.getAttribute("href") === location.hash) follow();
      }));
    show();
    follow();
  }

  // Sorting: figures as figures, words as words with the numbers in them as numbers, and what was
  // not seen always last.
  document.querySelectorAll("table.all").forEach((table) => {
    const heads = [...table.querySelectorAll("thead th")];
    const words = new Intl.Collator("en", { numeric: true });
    heads.forEach((head, column) => head.querySelector("button").addEventListener("click", () => {
      const up = head.getAttribute("aria-sort") !== "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      const keyed = [...table.tBodies[0].rows].map((row) => [row.cells[column].dataset.sort, row]);
      const figures = keyed.every(([key]) => key === "" || !Number.isNaN(Number(key)));
      const order = figures ? (a, b) => a - b : words.compare;
      keyed.sort(([a], [b]) => {
        if (a === "" || b === "") return (a === "") - (b === "");
        return up ? order(a, b) : order(b, a);
      });
      table.tBodies[0].append(...keyed.map(([, row]) => row));
    }));
  });

  // The field shows the runs of the chosen spot and player, and says how they came out.
  document.querySelectorAll("figure.field").forEach((field) => {
    const paths = [...field.querySelectorAll(".run-path")];
    const selects = [...field.querySelectorAll("select")];
    const kinds = [...field.querySelectorAll("figcaption [data-call]")];
    const choose = () => {
      const shown = paths.filter((path) => {
        const within = selects.every(({ value, dataset }) => !value || path.dataset[dataset.by] === value);
        path.toggleAttribute("hidden", !within);
        return within;
      });
      const counts = kinds.map((kind) =>
        `${shown.filter((path) => path.dataset.call === kind.dataset.call).length} ${kind.textContent.trim()}`);
      field.querySelector("output").textContent =
        `${shown.length} run${shown.length === 1 ? "" : "s"}: ${counts.join(", ")}`;
    };
    selects.forEach((select) => select.addEventListener("change", choose));
    field.querySelector(".chooser").hidden = false;
    choose();
  });
});
