/* A form whose content the outbox took (data-outbox): it says that it is kept (data-kept-say), and
   what the server answered. What was taken empties the form for the next one; what was refused
   leaves it as it was, to be put right and sent as a new one. A page that shows what was written
   (data-kept-anew) is loaded anew with the server's words. Without the outbox nothing of this runs. */
"use strict";
(() => {
  const SAID = "kept-said";
  const region = document.getElementById("messages");
  const say = (words, kind) => {
    if (!region || !words) return;
    const line = document.createElement("p");
    line.className = kind ? `message message--${kind}` : "message";
    line.textContent = words;
    region.replaceChildren(line);
    region.scrollIntoView({ block: "nearest" });
  };

  // reports of one mold go in in their order; a refused one holds up none of another mold
  document.addEventListener("change", (event) => {
    const { form, name, value } = event.target;
    if (form?.dataset.subjectOf?.split(" ").includes(name) && value) form.dataset.subject = `${form.dataset.outbox}-${value}`;
  });

  const storage = (act) => {
    try {
      return act(sessionStorage);
    } catch {
      return null; // barred: the words are then said by the bar alone
    }
  };
  const said = storage((kept) => kept.getItem(SAID));
  if (said) {
    storage((kept) => kept.removeItem(SAID));
    say(said, "success");
  }

  // a form whose content is not answered by then has no server: it is emptied for the next one
  const ANSWER_MS = 6000;
  const sent = new Map();

  const emptied = (form, fields) => {
    for (const [field, value] of fields) {
      if (field.matches("[type=hidden]")) continue;
      if (field.matches("[type=checkbox], [type=radio]")) field.checked = field.defaultChecked;
      // what was typed meanwhile is the next one
      else if (field.value === value) field.value = field.defaultValue;
    }
    anew(form);
    form.dispatchEvent(new CustomEvent("kept:emptied", { bubbles: true }));
  };

  const anew = (form) => {
    const number = form.elements.namedItem("hand_in");
    if (number) number.value = "";
    form.dataset.kept = "";
  };

  const take = (handIn) => {
    const found = sent.get(handIn);
    sent.delete(handIn);
    clearTimeout(found?.timer);
    return found;
  };

  document.addEventListener("outbox:kept", (event) => {
    const form = event.target;
    const { handIn } = event.detail;
    if (form.dataset.keptSay === undefined) return;
    const fields = [...form.elements].filter((each) => each.name).map((each) => [each, each.value]);
    const timer = setTimeout(() => {
      if (!take(handIn)) return;
      emptied(form, fields);
      later.set(handIn, form);
    }, ANSWER_MS);
    sent.set(handIn, { form, fields, timer });
    say(form.dataset.keptSay, "");
  });

  const later = new Map();
  document.addEventListener("outbox:answered", (event) => {
    const { handIn, state, said: words } = event.detail;
    const found = take(handIn);
    const form = found?.form || later.get(handIn);
    if (!form) return;
    if (state === "taken") {
      later.delete(handIn);
      if (found) emptied(form, found.fields);
      const isTyping = [...form.elements].some((each) => each.type === "text" && each.value !== each.defaultValue);
      if (form.dataset.keptAnew === undefined || isTyping || document.documentElement.dataset.copy !== undefined) {
        say(words, "success");
        return;
      }
      storage((kept) => kept.setItem(SAID, words || ""));
      location.reload();
      return;
    }
    // refused, or it wants something of its author: what was typed stays, to be put right
    if (found) anew(form);
    say(words, "error");
    if (state === "waits") later.set(handIn, form);
  });
})();
