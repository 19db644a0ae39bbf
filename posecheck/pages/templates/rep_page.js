"use strict";
// The page of one rep: its film waits at arrival, and keys lead to the reps before and after.
document.addEventListener("DOMContentLoaded", () => {
  const follow = (rel) => document.querySelector(`a[rel="${rel}"]`)?.click();
  const link = document.querySelector("a.play[data-rep]");
  const [rep] = posecheck.reps;
  const star = posecheckStars.button(rep);
  document.querySelector(".one > header .day").before(star);
  // Where calls can be ruled on, what could not be kept is said beside them.
  if (!posecheck.api) {
    const problem = posecheck.make("p", { className: "problem", role: "status" });
    star.after(problem);
    document.addEventListener("posecheck-unsaved", ({ detail }) => {
      problem.textContent = detail;
      problem.className = detail === posecheckStars.HERE_ONLY ? "quiet" : "problem";
    });
  }
  const keys = {
    n: () => follow("next"), pagedown: () => follow("next"),
    p: () => follow("prev"), pageup: () => follow("prev"),
    s: () => star.click(),
  };
  if (posecheck.api) {
    const rulings = { r: ["right", "call is right"], w: ["wrong", "wrong"], u: ["undecided", "undecided"] };
    Object.entries(rulings).forEach(([key, [ruling, words]]) => {
      keys[key] = () => posecheckRulings.rule(rep.key, ruling);
      document.querySelector("p.keys").append(posecheck.make("span", {}, posecheck.make("kbd", { textContent: key.toUpperCase() }), ` ${words}`));
    });
  }
  if (link) posecheck.open(link, keys);
  else document.addEventListener("keydown", (event) => posecheck.pressed(event, null, keys));
});
