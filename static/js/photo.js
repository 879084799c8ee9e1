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

  const make = async (input) => {
    const bitmap = await createImageBitmap(input.files[0], { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(bitmap.width * scale));
    canvas.height = Math.max(1, Math.round(bitmap.height * scale));
    canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    bitmap.close();
    put(input, await fileOf(canvas));
    input.dispatchEvent(new CustomEvent("photo:taken", { bubbles: true, detail: { canvas } }));
  };

  // what was drawn is on the picture that is sent
  const redraw = async (input, canvas) => put(input, await fileOf(canvas));

  const during = (input, work) => {
    const running = work.catch(() => input.dispatchEvent(new CustomEvent("photo:unreadable", { bubbles: true })));
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
