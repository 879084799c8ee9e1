/* The number pad beside a field: its keys type into the field named by data-pad-for. While the pad
   is to be seen, the tablet's own keyboard stays away; on a phone it is hidden and the phone's
   number keyboard comes instead. With data-pad-form it serves all fields with data-pad-field in the
   form of that id, and types into the one that had the focus last. */
"use strict";
(() => {
  const fieldsOf = (pad) => {
    const form = pad.dataset.padForm && document.getElementById(pad.dataset.padForm);
    if (form) return [...form.querySelectorAll("[data-pad-field]")];
    const field = document.getElementById(pad.dataset.padFor);
    return field ? [field] : [];
  };
  const fieldOf = (pad) => {
    const fields = fieldsOf(pad);
    return fields.find((field) => field.dataset.padHere !== undefined) || fields[0];
  };

  const here = (pad, field) => {
    for (const other of fieldsOf(pad)) delete other.dataset.padHere;
    if (pad.dataset.padForm) field.dataset.padHere = "";
  };

  const take = (root) => {
    for (const pad of root.querySelectorAll("[data-pad-for][hidden]")) {
      const fields = fieldsOf(pad);
      if (!fields.length) continue;
      pad.hidden = false;
      for (const field of fields) {
        const own = field.getAttribute("inputmode") || "decimal";
        const suit = () => {
          field.setAttribute("inputmode", pad.offsetParent === null ? own : "none");
        };
        suit();
        field.addEventListener("focus", () => {
          suit();
          here(pad, field);
        });
      }
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
    const pad = key.closest("[data-pad-for]");
    const field = fieldOf(pad);
    if (!field) return;
    here(pad, field);
    type(field, key.dataset.key);
  });

  /* big minus and plus: data-nudge in [data-nudge-for] adds to a field that holds a plain number */
  const nudge = (key) => {
    const field = document.getElementById(key.closest("[data-nudge-for]").dataset.nudgeFor);
    const text = field?.value.trim().replace(",", ".") || "0";
    if (!/^\d+(\.\d+)?$/.test(text)) return; // what cannot be read is the person's to put right
    const places = (text.split(".")[1] || "").length;
    const sum = Math.max(0, Number(text) + Number(key.dataset.nudge)).toFixed(places);
    field.value = field.value.includes(",") ? sum.replace(".", ",") : sum;
    field.dataset.typed = "";
    field.dispatchEvent(new Event("input", { bubbles: true }));
  };
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-nudge-for] [data-nudge]");
    if (key) nudge(key);
  });
  const showNudges = () => document.querySelectorAll("[data-nudge-for][hidden]").forEach((each) => (each.hidden = false));
  document.addEventListener("htmx:afterSettle", showNudges);
  showNudges();

  // the field keeps the focus: leaving it for a key could move the key from under the finger
  document.addEventListener("mousedown", (event) => {
    if (event.target.closest("[data-pad-for] [data-key], [data-nudge-for] [data-nudge]")) event.preventDefault();
  });

  take(document);
  document.addEventListener("htmx:afterSettle", () => take(document));
})();
