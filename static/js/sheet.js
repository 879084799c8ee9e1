/* A photo step sends itself once the picture was taken: in [data-send-photo] there is nothing else
   to be said. Without script the button beneath does it. */
"use strict";
(() => {
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || input.type !== "file" || !input.files?.length) return;
    if (!input.closest("[data-send-photo]")) return;
    input.form?.requestSubmit();
  });
})();
