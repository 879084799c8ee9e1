/* The task sheet. A photo step sends itself once the picture was taken: in [data-send-photo] there
   is nothing else to be said; without script the button beneath does it. And a step that wants to be
   typed gives its field the focus when it becomes the present one: after focus.js, which knows only
   of steps as a whole. */
"use strict";
(() => {
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || input.type !== "file" || !input.files?.length) return;
    if (!input.closest("[data-send-photo]")) return;
    input.form?.requestSubmit();
  });

  const toTheField = () => {
    if (document.querySelector(".errors")) return;
    document.querySelector("#now [data-first-field] input")?.focus();
  };

  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.detail.elt?.id === "sheet") toTheField();
  });
  if (location.hash === "#now") toTheField();
})();
