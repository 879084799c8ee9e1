/* A watch for one's own minutes, kept on the tablet over reloads. What it shows is put into the
   minutes of the signature as a proposal, until somebody types there. */
"use strict";
(() => {
  const watch = document.querySelector("[data-watch]");
  if (!watch) return;
  const key = `watch-${document.getElementById("sheet")?.dataset.person || ""}-${watch.dataset.watch}`;
  const button = watch.querySelector("[data-watch-go]");
  const shows = watch.querySelector("[data-watch-shows]");
  let state = { sum: 0, since: 0 };
  try {
    state = { ...state, ...JSON.parse(localStorage.getItem(key)) };
  } catch {
    /* storage is barred: it runs for this page only */
  }

  const minutes = () => Math.ceil((state.sum + (state.since ? Math.max(0, Date.now() - state.since) : 0)) / 60000);
  const show = () => {
    button.textContent = state.since ? button.dataset.stop : button.dataset.start;
    button.setAttribute("aria-pressed", String(Boolean(state.since)));
    if (!state.sum && !state.since) return;
    shows.textContent = shows.dataset.minutes.replace("{n}", String(minutes()));
    const field = document.getElementById(watch.dataset.watchInto);
    if (field && field.dataset.typed === undefined) field.value = String(Math.max(1, minutes()));
  };

  button.addEventListener("click", () => {
    state = state.since ? { sum: state.sum + Math.max(0, Date.now() - state.since), since: 0 } : { ...state, since: Date.now() };
    try {
      localStorage.setItem(key, JSON.stringify(state));
    } catch {
      /* see above */
    }
    show();
  });
  document.addEventListener("input", (event) => {
    if (event.isTrusted && event.target.id === watch.dataset.watchInto) event.target.dataset.typed = "";
  });
  document.addEventListener("htmx:afterSettle", show);
  watch.hidden = false;
  show();
  setInterval(show, 10000);
})();
