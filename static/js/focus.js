/* Where the keyboard goes. After a part was replaced: to the first error, else to the next step
   (data-focus), else back to the control that was used, found again by its id. */
"use strict";
(() => {
  let last = "";
  document.addEventListener("focusin", (event) => {
    if (event.target.id) last = event.target.id;
  });

  const goal = (root) =>
    root.querySelector(".errors") ||
    root.querySelector('[aria-invalid="true"]') ||
    root.querySelector("[data-focus]");

  const lost = () => !document.activeElement || document.activeElement === document.body;

  document.addEventListener("htmx:afterSettle", (event) => {
    const part = event.detail.elt;
    if (!(part instanceof Element) || part.id === "messages") return;
    const next = part.matches(".errors, [data-focus]") ? part : goal(part);
    if (next) next.focus();
    else if (lost() && last) document.getElementById(last)?.focus();
  });

  const errors = document.querySelector(".errors");
  if (errors) errors.focus();

  // a link of the error summary goes to the field itself, also where it names a group of choices
  document.addEventListener("click", (event) => {
    const link = event.target.closest(".errors a[href^='#']");
    if (!link) return;
    const target = document.getElementById(link.hash.slice(1));
    if (!target) return;
    event.preventDefault();
    const field = target.matches("fieldset") ? target.querySelector("input, select, textarea") : target;
    target.scrollIntoView({ block: "center" });
    (field || target).focus({ preventScroll: true });
  });
})();
