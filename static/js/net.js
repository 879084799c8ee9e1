/* A part that could not be sent, or was not taken, is said in the message region. The words come
   with the page (data-no-net, data-failed, data-signed-off), so that they are in the reader's language. */
"use strict";
(() => {
  const say = (name) => {
    const region = document.getElementById("messages");
    if (!region || !region.dataset[name]) return;
    const line = document.createElement("p");
    line.className = "message message--error";
    line.textContent = region.dataset[name];
    region.replaceChildren(line);
  };

  // A form that would leave the page for the browser's own error stays, with all that was typed.
  // A device without net may still reach a server on itself, so it is asked first.
  const known = document.querySelector("script[src]")?.src;
  let isReached = false;
  document.addEventListener(
    "submit",
    (event) => {
      const form = event.target;
      if (navigator.onLine || isReached || !known || form.hasAttribute("hx-post")) return;
      if ((form.getAttribute("method") || "").toLowerCase() !== "post") return;
      event.preventDefault();
      event.stopImmediatePropagation();
      fetch(known, { method: "HEAD", cache: "no-store" }).then(
        () => {
          isReached = true;
          form.requestSubmit(event.submitter);
        },
        () => {
          say("noNet");
          document.getElementById("messages")?.scrollIntoView({ block: "center" });
        },
      );
    },
    true,
  );

  document.addEventListener("htmx:sendError", () => say("noNet"));
  document.addEventListener("htmx:timeout", () => say("noNet"));
  document.addEventListener("htmx:responseError", (event) => {
    say(event.detail.xhr?.status === 401 ? "signedOff" : "failed");
  });
})();
