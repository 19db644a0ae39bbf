"use strict";
document.addEventListener("DOMContentLoaded", () => {
  const button = document.getElementById("print");
  button.addEventListener("click", () => window.print());
  button.hidden = false;
});
