"use strict";
// The coach's rulings on calls: by button beside a call, by key on a rep's page and in the film
// room. posecheck serve keeps them; a page opened as a file shows those of when it was written.
const posecheckRulings = (() => {
  const { api, make, reps } = posecheck;
  const RULINGS = [["right", "Right", "R"], ["wrong", "Wrong", "W"], ["undecided", "Undecided", "U"]];
  const calls = JSON.parse(document.getElementById("calls")?.textContent ?? "[]");
  const places = [...document.querySelectorAll(".ruling[data-key]")];
  const count = document.querySelector("p.ruled");
  const repOf = (key) => reps.find((rep) => rep.key === key);
  const written = places.filter(({ hidden }) => !hidden)
    .map((place) => [place.dataset.key, { words: place.querySelector("b").textContent }]);
  let rulings = Object.fromEntries(written);

  const of = (key) => rulings[key] ?? { ruling: null, instead: null, words: "" };
  const show = () => {
    places.forEach((place) => {
      const { words } = of(place.dataset.key);
      place.querySelector("b").textContent = words;
      place.hidden = !words;
    });
    document.dispatchEvent(new Event("posecheck-ruled"));
  };

  const take = async (answer) => {
    const got = await answer.json();
    if (!answer.ok) throw new Error(got.error);
    rulings = got.rulings;
    if (count) {
      count.textContent = got.count;
      count.hidden = !Object.keys(rulings).length;
    }
    show();
  };
  const complain = ({ message }) =>
    document.dispatchEvent(new CustomEvent("posecheck-unsaved", { detail: `Not kept: ${message}` }));
  const set = (key, ruling, instead = null) => fetch(`${api}rulings`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ key, ruling, instead }),
  }).then(take).catch(complain);
  // The same ruling once more takes it away.
  const rule = (key, ruling) => set(key, of(key).ruling === ruling ? null : ruling);

  const buttons = (key) => RULINGS.map(([ruling, words, letter]) => {
    const made = make("button", { type: "button", className: "do", textContent: words, title: `${words} (${letter})`, aria: { keyshortcuts: letter } });
    const pressed = () => made.setAttribute("aria-pressed", String(of(key()).ruling === ruling));
    made.addEventListener("click", () => rule(key(), ruling));
    document.addEventListener("posecheck-ruled", pressed);
    pressed();
    return made;
  });

  // A wrong call may be said to be another, any but the one that was made.
  const otherCall = (key) => {
    const rep = repOf(key);
    const select = make("select", {}, make("option", { value: "", textContent: "not said" }),
      ...calls.filter(([call, words]) => words !== rep.fault && !(call === "clean" && rep.call === "clear"))
        .map(([value, textContent]) => make("option", { value, textContent })));
    const label = make("label", { className: "instead" }, "Your call (the worst fault) ", select);
    select.addEventListener("change", () => set(key, "wrong", select.value || null));
    const follow = () => {
      label.hidden = of(key).ruling !== "wrong";
      select.value = of(key).instead ?? "";
    };
    document.addEventListener("posecheck-ruled", follow);
    follow();
    return label;
  };

  if (api) {
    document.querySelectorAll(".to-save, .to-name").forEach((line) => { line.hidden = true; });
    places.filter(({ dataset }) => "buttons" in dataset).forEach((place) => {
      const { key } = place.dataset;
      const problem = make("p", { className: "problem", role: "status" });
      place.after(make("div", { className: "rule", role: "group", aria: { label: "Is the call right?" } },
        make("span", { className: "quiet", textContent: "Is the call right?" }),
        make("span", { className: "together" }, ...buttons(() => key)), otherCall(key), problem));
      document.addEventListener("posecheck-unsaved", ({ detail }) => { problem.textContent = detail; });
      document.addEventListener("posecheck-ruled", () => { problem.textContent = ""; });
    });
    document.addEventListener("posecheck-rule", ({ detail }) => rule(detail.key, detail.ruling));
    fetch(`${api}rulings`).then(take).catch(complain);
  }

  return { of, rule };
})();
