/* The Wall refreshes itself: [data-wall] with data-seconds holds what is replaced, [data-wall-state]
   says when the net is lost, in the words of its data-lost. Without script the page carries a plain
   refresh header from the server. */
"use strict";
(() => {
  const wall = document.querySelector("[data-wall]");
  if (!wall) return;
  const state = document.querySelector("[data-wall-state]");
  const seconds = Math.max(10, Number(wall.dataset.seconds) || 60);

  const refresh = async () => {
    try {
      const answer = await fetch(location.href, {
        redirect: "manual", // a sign-in page must not be taken for the Wall
        signal: AbortSignal.timeout(seconds * 500),
      });
      if (answer.type === "opaqueredirect") {
        location.reload();
        return;
      }
      if (!answer.ok) throw new Error(String(answer.status));
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.querySelector("[data-wall]");
      if (!fresh) throw new Error("no wall");
      wall.replaceChildren(...fresh.childNodes);
      if (state) state.textContent = "";
    } catch {
      if (state) state.textContent = state.dataset.lost || "";
    }
  };
  setInterval(refresh, seconds * 1000);
})();
