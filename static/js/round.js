/* The round of readings. Enter, and the pad's own key, go on to the next field; after the last one to
   the button that sends. A value that cannot be, or will be held, is said at once beside its field,
   by the last value, how far the counter counts and the shortest cycle that is believed of the mold;
   Enter then stays once, so that somebody looks again. The server's verdict stays the truth. */
"use strict";
(() => {
  const form = document.getElementById("round");
  if (!form || form.dataset.backwards === undefined) return;
  const SLACK_CYCLES = 2; // as the server allows beyond the time between two readings
  const language = document.documentElement.lang || undefined;
  const counted = (number) => new Intl.NumberFormat(language, { useGrouping: true }).format(number);
  const fields = () => [...form.querySelectorAll("[data-round-row] [data-pad-field]")];
  const rowOf = (field) => field.closest("[data-round-row]");

  // the same as core/counting/entry.py read_count
  const ABOUT = /^(?:ca\.?|approx\.?|about|~|\u2248|\u00b1)\s*/i;
  const read = (text) => {
    const written = text.replace(/[\u00a0\u2009\u202f]/g, " ").trim();
    if (!written) return null;
    const rest = written.replace(ABOUT, "");
    const whole = /^(\d+)[.,]0{1,2}$/.exec(rest);
    const isGrouped = /^\d{1,3}(?:([.,' ])\d{3})(?:\1\d{3})*$/.test(rest);
    if (!/^\d+$/.test(rest) && !isGrouped && !whole) return { value: NaN };
    const digits = whole ? whole[1] : rest.replace(/\D/g, "");
    return { value: digits.length > 15 ? NaN : Number(digits), isAbout: rest !== written };
  };

  /* what is to be said of a value: its kind, and the words to fill in */
  const doubtOf = (row, found) => {
    if (!found) return null;
    const { value, isAbout } = found;
    if (Number.isNaN(value)) return { kind: "unread" };
    const { last: lastText, lastMs, shortestMs, wrap: wrapText } = row.dataset;
    const wrap = wrapText ? Number(wrapText) : 0;
    if (wrap && value >= wrap) return { kind: "beyond", value };
    if (lastText) {
      const last = Number(lastText);
      const most = Math.floor(Math.max(0, Date.now() - Number(lastMs)) / Number(shortestMs)) + SLACK_CYCLES;
      const isRoundAgain = wrap && value < last && value + wrap - last <= most;
      if (value < last && !isRoundAgain) return { kind: "backwards", value, last };
      if (value - last > most) return { kind: "fast", value, cycles: value - last, most };
    }
    return isAbout ? { kind: "about", value } : null;
  };

  const say = (field, doubt) => {
    const region = rowOf(field).querySelector("[data-round-doubt]");
    let words = doubt ? form.dataset[doubt.kind] : "";
    for (const [name, value] of Object.entries(doubt || {})) {
      if (name !== "kind") words = words.replace(`{${name}}`, counted(value));
    }
    if (region.textContent !== words) region.textContent = words;
    region.classList.toggle("entry__doubt--beyond", doubt?.kind === "unread" || doubt?.kind === "beyond");
  };

  /* an estimate is meant as one: the server need not ask again */
  const confirm = (field, isMeant) => {
    const name = field.name;
    const there = form.querySelector(`input[name="about"][value="${name}"]`);
    if (!isMeant) return there?.remove();
    if (there) return;
    const about = document.createElement("input");
    Object.assign(about, { type: "hidden", name: "about", value: name });
    form.append(about);
  };

  const look = (field) => {
    const found = read(field.value);
    const doubt = doubtOf(rowOf(field), found);
    say(field, doubt);
    confirm(field, Boolean(found?.isAbout && !Number.isNaN(found.value)));
    return doubt;
  };

  const goOn = (field) => {
    const doubt = look(field);
    const wantsALook = doubt && doubt.kind !== "about";
    if (wantsALook && field.dataset.looked !== field.value) {
      field.dataset.looked = field.value;
      field.select();
      return;
    }
    const all = fields().filter((each) => each.offsetParent !== null);
    const next = all[all.indexOf(field) + 1];
    if (next) {
      next.focus();
      next.scrollIntoView({ block: "center" });
    } else form.querySelector("button[type=submit]:not([tabindex='-1']):not([name])")?.focus();
  };

  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("[data-pad-field]")) return;
    event.preventDefault();
    goOn(event.target);
  });
  // before scan.js, which serves the pads of other forms
  form.addEventListener("click", (event) => {
    // deciding about a held reading is no hand-in of the round: it goes to the server as it is
    if (event.target.closest("button[name]")) form.dataset.plain = "1";
    if (!event.target.closest("[data-pad-next]")) return;
    event.stopPropagation();
    const here = fields().find((each) => each.dataset.padHere !== undefined) || fields()[0];
    if (here) goOn(here);
  });
  form.addEventListener("focusout", (event) => {
    if (event.target.matches("[data-pad-field]")) look(event.target);
  });
  form.addEventListener("input", (event) => {
    if (event.target.matches("[data-pad-field]")) say(event.target, null);
  });

  form.addEventListener("kept:emptied", () => form.querySelectorAll('input[name="about"]').forEach((each) => each.remove()));

  // a round of its own: one that is refused holds up none of the later ones
  const anew = () => {
    form.dataset.subject = `readings-${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 8)}`;
  };
  anew();

  // what is kept on the tablet is the last value now, whether the server knows it yet or not
  form.addEventListener("outbox:kept", () => {
    anew();
    for (const field of fields()) {
      const found = read(field.value);
      if (!found || Number.isNaN(found.value)) continue;
      Object.assign(rowOf(field).dataset, { last: String(found.value), lastMs: String(Date.now()) });
      say(field, { kind: "keptOne", value: found.value });
    }
  });
})();
