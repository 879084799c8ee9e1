/* Day or night by hand. Loaded in the head without defer, so that no page flashes white first.
   Without script, and until somebody chooses, the device's own wish counts. */
"use strict";
(() => {
  const KEY = "theme";
  const read = () => {
    try {
      return localStorage.getItem(KEY) || "";
    } catch {
      return ""; // storage may be barred; the choice then lasts for this page only
    }
  };
  const apply = (choice) => {
    if (choice) document.documentElement.dataset.theme = choice;
    else delete document.documentElement.dataset.theme;
    for (const button of document.querySelectorAll("[data-theme-choice]")) {
      button.setAttribute("aria-pressed", String(button.dataset.themeChoice === choice));
    }
  };
  apply(read());
  document.addEventListener("DOMContentLoaded", () => {
    apply(read());
    for (const group of document.querySelectorAll("[data-theme-switch]")) group.hidden = false;
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-theme-choice]");
    if (!button) return;
    try {
      localStorage.setItem(KEY, button.dataset.themeChoice);
    } catch {
      /* see above */
    }
    apply(button.dataset.themeChoice);
  });
})();
