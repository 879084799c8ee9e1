/* A form is sent once. The server makes double taps harmless by the hand-in's number; this only
   keeps a person from wondering. A field named hand_in that is empty gets a fresh number; it stays
   the same when the same form is sent again after the net was lost. */
"use strict";
(() => {
  // crypto.randomUUID is missing on plain http; getRandomValues is not
  const fresh = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40; // version 4 of RFC 9562
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };

  const release = (form) => {
    delete form.dataset.sent;
    for (const control of form.elements) control.removeAttribute("aria-busy");
  };

  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      if ((form.getAttribute("method") || "").toLowerCase() !== "post") return;
      if (form.dataset.sent) {
        event.preventDefault();
        event.stopPropagation();
        return;
      }
      const number = form.elements.namedItem("hand_in");
      if (number && !number.value) number.value = fresh();
      // a form answered by a download or a new tab stays on the page and may be sent again
      if (form.hasAttribute("target") || form.dataset.again !== undefined) return;
      form.dataset.sent = "1";
      // not disabled: a disabled button would not be sent along, and would lose the focus
      if (event.submitter) event.submitter.setAttribute("aria-busy", "true");
      setTimeout(() => release(form), 15000); // no answer, and the person pressed stop
    },
    true,
  );

  // back from the browser's memory, or htmx has its answer (or none): may be sent again
  addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach(release));
  document.addEventListener("htmx:afterRequest", (event) => {
    const form = event.target.closest?.("form[data-sent]");
    if (form) release(form);
  });
})();
