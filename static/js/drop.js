/* A menu of the bar opens by itself (details); this closes it by Escape and by a click elsewhere. */
"use strict";
(() => {
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    const open = document.querySelector("details[data-drop][open]");
    if (!open) return;
    open.open = false;
    open.querySelector("summary").focus();
  });
  document.addEventListener("click", (event) => {
    for (const open of document.querySelectorAll("details[data-drop][open]")) {
      if (!open.contains(event.target)) open.open = false;
    }
  });
})();
