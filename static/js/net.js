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
  document.addEventListener("htmx:sendError", () => say("noNet"));
  document.addEventListener("htmx:timeout", () => say("noNet"));
  document.addEventListener("htmx:responseError", (event) => {
    say(event.detail.xhr?.status === 401 ? "signedOff" : "failed");
  });
})();
