/* How much is ticked: a form with data-ticked counts its ticked boxes that carry data-minutes and
   data-mold, and says it in [data-ticked-say], in the words of that element: data-none, data-one
   and data-many with {tasks}, {molds}, {minutes}. */
"use strict";
(() => {
  const clock = (minutes) => {
    const hours = Math.floor(minutes / 60);
    const rest = minutes % 60;
    return [hours ? `${hours} h` : "", rest || !hours ? `${rest} min` : ""].filter(Boolean).join(" ");
  };

  const count = (form) => {
    const say = form.querySelector("[data-ticked-say]");
    if (!say) return;
    const boxes = Array.from(form.querySelectorAll("input[type=checkbox][data-minutes]:checked"));
    const molds = new Set(boxes.map((box) => box.dataset.mold));
    const minutes = boxes.reduce((sum, box) => sum + (Number(box.dataset.minutes) || 0), 0);
    const words = boxes.length === 0 ? say.dataset.none : boxes.length === 1 ? say.dataset.one : say.dataset.many;
    say.textContent = (words || "")
      .replace("{tasks}", String(boxes.length))
      .replace("{molds}", String(molds.size))
      .replace("{minutes}", clock(minutes));
  };

  const all = () => document.querySelectorAll("form[data-ticked]").forEach(count);
  document.addEventListener("change", (event) => {
    const form = event.target.closest?.("form[data-ticked]");
    if (form) count(form);
  });
  document.addEventListener("htmx:afterSettle", all);
  addEventListener("pageshow", all); // the browser may have kept the ticks
  all();
})();
