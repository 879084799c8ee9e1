/* Number fields of the browser's own kind must not change by wheel or arrow key. Ours are text
   fields with a number keyboard; this guards any other. */
"use strict";
(() => {
  const isNumber = (element) => element?.matches?.("input[type=number]") && element === document.activeElement;
  document.addEventListener(
    "wheel",
    (event) => {
      if (!isNumber(event.target)) return;
      event.preventDefault();
      scrollBy(0, event.deltaY); // the page still scrolls
    },
    { passive: false },
  );
  document.addEventListener("keydown", (event) => {
    if ((event.key === "ArrowUp" || event.key === "ArrowDown") && isNumber(event.target)) event.preventDefault();
  });
})();
