/* Code readers that act as a keyboard. A field with data-scan takes what one types: the marks around
   a code are taken away, and Enter, a line feed, or a short pause after a burst of keys ends it.
   data-scan="next" then goes on to the next field of the form, so that a reader's Enter never sends
   a form half filled; data-scan="send" looks the code up (scan_lookup.js). Nothing listens outside such a field: a PIN takes
   every key. Without script the field is an ordinary one, and the server takes the marks away. */
"use strict";
(() => {
  // a reader's keys come closer together than a person's [ms], and then none for a while
  const BURST_MS = 35;
  const PAUSE_MS = 150;
  const LEAST_KEYS = 4;

  const clean = (text) =>
    text
      .replace(/[\u0000-\u001f\u007f]/g, " ")
      .trim()
      .replace(/^\][A-Za-z][0-9A-Za-z]/, "")
      .replace(/^\*+|\*+$/g, "")
      .trim();

  const after = (field) => {
    const fields = [...field.form.elements].filter(
      (each) => each.matches("input:not([type=hidden]), select, textarea") && each.offsetParent !== null,
    );
    return fields[fields.indexOf(field) + 1];
  };

  const ended = (field) => {
    field.value = clean(field.value);
    if (!field.value) return;
    if (field.dataset.scan === "next") after(field)?.focus();
    else field.form.requestSubmit();
  };

  /* looking up: scan_lookup.js comes when somebody goes to such a field; the page of the scan has it */
  let isComing = null;
  const lookUp = (form) => {
    isComing ??= window.scanLookup
      ? Promise.resolve()
      : new Promise((ok, no) => {
          const script = document.createElement("script");
          Object.assign(script, { src: form.dataset.lookup, onload: ok, onerror: no });
          document.head.append(script);
        });
    return isComing;
  };
  document.addEventListener("focusin", (event) => {
    if (event.target.matches?.('[data-scan="send"]')) lookUp(event.target.form).catch(() => {});
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    const field = form.querySelector?.('[data-scan="send"]');
    if (!field) return;
    event.preventDefault();
    const code = clean(field.value);
    field.value = "";
    field.focus();
    if (!code) return;
    lookUp(form).then(
      () => window.scanLookup(form, code),
      () => location.assign(`${form.action}?${new URLSearchParams({ code })}`),
    );
  });

  const bursts = new WeakMap();
  const burstOf = (field) => {
    if (!bursts.has(field)) bursts.set(field, { keys: 0, at: -Infinity, pause: 0 });
    return bursts.get(field);
  };

  document.addEventListener("keydown", (event) => {
    const field = event.target;
    if (!field.matches?.("[data-scan]")) {
      // the line feed after a reader's Enter must not send a form whose next field is still empty
      if (event.key === "Enter" && field.matches?.("[data-not-empty]") && !field.value) event.preventDefault();
      return;
    }
    const burst = burstOf(field);
    clearTimeout(burst.pause);
    if (event.key === "Enter" || (event.ctrlKey && event.key.toLowerCase() === "j")) {
      event.preventDefault();
      burst.keys = 0;
      ended(field);
      return;
    }
    if (event.key === "Tab") {
      field.value = clean(field.value);
      return;
    }
    if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey) return;
    burst.keys = event.timeStamp - burst.at < BURST_MS ? burst.keys + 1 : 1;
    burst.at = event.timeStamp;
    if (burst.keys < LEAST_KEYS) return;
    burst.pause = setTimeout(() => {
      burst.keys = 0;
      if (document.activeElement === field) ended(field);
    }, PAUSE_MS);
  });

  document.addEventListener("change", (event) => {
    if (event.target.matches?.("[data-scan]")) event.target.value = clean(event.target.value);
  });

  // the pad's own key goes on from the field that was touched last
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-pad-next]");
    if (!key) return;
    const form = document.getElementById(key.closest("[data-pad-form]")?.dataset.padForm);
    const fields = form ? [...form.querySelectorAll("[data-pad-field]")] : [];
    const here = fields.findIndex((field) => field.dataset.padHere !== undefined);
    const next = fields[here + 1];
    if (next) next.focus();
    else form?.querySelector("button[type=submit]:not([tabindex='-1'])")?.focus();
  });
})();
