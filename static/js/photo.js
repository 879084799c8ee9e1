/* A photo is made smaller before it is sent: at most 1600 px, upright, and without the place, the
   time and the camera that its file names; the server looks again. draw.js gets the picture by
   "photo:taken". A form that is sent while its picture is still being made waits for it. */
"use strict";
(() => {
  const LONGEST = 1600;
  const QUALITY = 0.86;
  const making = new Map();

  const fileOf = (canvas) =>
    new Promise((done, failed) => {
      canvas.toBlob((blob) => (blob ? done(new File([blob], "photo.jpg", { type: "image/jpeg" })) : failed(new Error("no picture"))), "image/jpeg", QUALITY);
    });

  const put = (input, file) => {
    const files = new DataTransfer();
    files.items.add(file);
    input.files = files.files;
  };

  // what draws on photos comes with the first one; without it the photo is sent as it is
  let loaded = null;
  const drawing = () => {
    loaded ??= new Promise((done) => {
      const script = document.createElement("script");
      script.src = document.getElementById("photo-tools").dataset.src;
      script.onload = script.onerror = done;
      document.head.append(script);
    });
    return loaded;
  };

  const make = async (input) => {
    const bitmap = await createImageBitmap(input.files[0], { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(bitmap.width * scale));
    canvas.height = Math.max(1, Math.round(bitmap.height * scale));
    canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    bitmap.close();
    put(input, await fileOf(canvas));
    await drawing();
    input.dispatchEvent(new CustomEvent("photo:taken", { bubbles: true, detail: { canvas } }));
  };

  // what was drawn is on the picture that is sent
  const redraw = async (input, canvas) => put(input, await fileOf(canvas));

  const refuse = (input) => {
    const box = input.closest("[data-photo]");
    box.querySelector(".drawing")?.remove();
    const said = document.createElement("p");
    said.className = "drawing field__error";
    said.setAttribute("role", "alert");
    said.textContent = document.getElementById("photo-tools").dataset.unreadable;
    input.value = "";
    box.append(said);
  };

  const during = (input, work) => {
    const running = work.catch(() => refuse(input));
    making.set(input, running);
    running.finally(() => making.get(input) === running && making.delete(input));
  };

  document.addEventListener("change", (event) => {
    const input = event.target;
    if (input.matches?.("[data-photo] input[type=file]") && input.files.length) during(input, make(input));
  });
  document.addEventListener("photo:drawn", (event) => during(event.target, redraw(event.target, event.detail.canvas)));

  // at the button, before the outbox or htmx reads the form; Enter in a field presses it, too
  addEventListener(
    "click",
    (event) => {
      const button = event.target.closest?.("button");
      if (button?.type !== "submit" || !button.form) return;
      const running = [...button.form.elements].map((field) => making.get(field)).filter(Boolean);
      if (!running.length) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      Promise.all(running).then(() => button.form.requestSubmit(button));
    },
    true,
  );
})();
