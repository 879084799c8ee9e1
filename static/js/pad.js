/* The number pad beside a field: its keys type into the field named by data-pad-for. While the pad
   is to be seen, the tablet's own keyboard stays away; on a phone it is hidden and the phone's
   number keyboard comes instead. */
"use strict";
(() => {
  const fieldOf = (pad) => document.getElementById(pad.dataset.padFor);

  const take = (root) => {
    for (const pad of root.querySelectorAll("[data-pad-for][hidden]")) {
      const field = fieldOf(pad);
      if (!field) continue;
      pad.hidden = false;
      const own = field.getAttribute("inputmode") || "decimal";
      const suit = () => {
        field.setAttribute("inputmode", pad.offsetParent === null ? own : "none");
      };
      suit();
      field.addEventListener("focus", suit);
    }
  };

  const type = (field, key) => {
    const start = field.selectionStart ?? field.value.length;
    const end = field.selectionEnd ?? field.value.length;
    if (key === "clear") field.value = "";
    else if (key === "back") {
      const from = start === end ? Math.max(0, start - 1) : start;
      field.setRangeText("", from, end, "end");
    } else if (key === "-") {
      field.value = field.value.startsWith("-") ? field.value.slice(1) : "-" + field.value;
    } else field.setRangeText(key, start, end, "end");
    field.dispatchEvent(new Event("input", { bubbles: true }));
  };

  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-pad-for] [data-key]");
    if (!key) return;
    const field = fieldOf(key.closest("[data-pad-for]"));
    if (field) type(field, key.dataset.key);
  });

  take(document);
  document.addEventListener("htmx:afterSettle", () => take(document));
})();
