"use strict";
// Reps that the coach has starred: kept by this browser for each practice, and by posecheck itself
// when the page is served by it.
const posecheckStars = (() => {
  const { api, kept, reps } = posecheck;
  const practice = document.getElementById("reps")?.dataset.practice ?? document.title;
  const name = `posecheck-stars ${practice}`;
  const keys = new Set(kept.read(name, []));
  const changed = () => document.dispatchEvent(new Event("posecheck-stars"));

  const complain = (detail) => document.dispatchEvent(new CustomEvent("posecheck-unsaved", { detail }));

  const save = async (key, starred) => {
    if (!api) return;
    const answer = await fetch(`${api}stars`, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ key, starred }),
    });
    if (!answer.ok) throw new Error((await answer.json()).error);
  };

  // What posecheck keeps counts where it serves the page.
  if (api) {
    fetch(`${api}stars`).then(async (answer) => {
      if (!answer.ok) throw new Error((await answer.json()).error);
      keys.clear();
      (await answer.json()).stars.forEach((key) => keys.add(key));
      changed();
    }).catch(({ message }) => complain(message));
  }

  // A star may be set on another page, and come to this one only after it has opened.
  addEventListener("storage", (event) => {
    if (api || event.key !== name) return;
    keys.clear();
    kept.read(name, []).forEach((key) => keys.add(key));
    changed();
  });

  const HERE_ONLY = "Kept in this browser only; for posecheck stars, open the page with posecheck serve.";

  const has = ({ key }) => keys.has(key);
  const set = (rep, starred) => {
    if (starred) keys.add(rep.key); else keys.delete(rep.key);
    const written = kept.write(name, [...keys]);
    changed();
    if (!api && !written) complain("This browser keeps no stars of a page opened as a file: open it with posecheck serve.");
    else if (!api && starred) complain(HERE_ONLY);
    save(rep.key, starred).catch(({ message }) => complain(`The star is kept by this browser only: ${message}`));
  };
  const starred = () => reps.filter(has);

  // Cells that a spreadsheet would take for a formula are put in as text.
  const cell = (value) => {
    const text = String(value ?? "");
    const plain = /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
    return /[",\n\r]/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
  };
  const COLUMNS = { rep: "number", player: "player", spot: "spot", call: "call", fault: "fault", note: "sentence", clip: "clip" };
  const asList = () => [Object.keys(COLUMNS), ...starred().map((rep) => Object.values(COLUMNS).map((name) => rep[name]))]
    .map((row) => row.map(cell).join(",")).join("\r\n") + "\r\n";

  const download = () => {
    // The mark at the start tells a spreadsheet that names are in UTF-8.
    const file = URL.createObjectURL(new Blob(["\ufeff", asList()], { type: "text/csv" }));
    const link = posecheck.make("a", { href: file, download: "starred reps.csv" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(file), 10_000);
  };

  const button = (rep) => {
    const made = posecheck.make("button", { type: "button", className: "do do-star", title: api ? "Star (S)" : `Star (S). ${HERE_ONLY}` },
      posecheck.shape("star"), posecheck.make("span"));
    made.setAttribute("aria-keyshortcuts", "S");
    made.rep = rep;
    const show = () => {
      const on = Boolean(made.rep) && has(made.rep);
      made.setAttribute("aria-pressed", String(on));
      made.lastChild.textContent = on ? "Starred" : "Star";
    };
    made.addEventListener("click", () => set(made.rep, !has(made.rep)));
    document.addEventListener("posecheck-stars", show);
    made.show = show;
    show();
    return made;
  };

  return { HERE_ONLY, asList, button, download, has, set, starred };
})();
