/* A code held before the camera. Where the browser cannot, or the page is not secure, it says so in
   a sentence, and the field above does. The code goes the same way as a typed one (scan.js). */
"use strict";
(() => {
  const part = document.getElementById("camera");
  const start = document.getElementById("camera-start");
  const stop = document.getElementById("camera-stop");
  const field = document.getElementById("scan-code");
  if (!part || !start || !field) return;
  const picture = part.querySelector("video");
  const say = (name) => {
    part.querySelector("[data-camera-say]").textContent = name ? part.dataset[name] : "";
  };
  const LOOK_MS = 200;

  if (!isSecureContext) return say("insecure");
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return say("unable");
  start.hidden = false;

  let stream = null;
  const end = () => {
    for (const track of stream?.getTracks() || []) track.stop();
    stream = null;
    picture.srcObject = null;
    picture.hidden = stop.hidden = true;
    start.setAttribute("aria-expanded", "false");
  };

  const look = async (detector) => {
    while (stream) {
      const codes = picture.readyState >= 2 ? await detector.detect(picture).catch(() => []) : [];
      const code = codes.find((each) => each.rawValue)?.rawValue;
      if (code && stream) {
        end();
        field.value = code;
        navigator.vibrate?.(60);
        field.form.requestSubmit();
        return;
      }
      await new Promise((ok) => setTimeout(ok, LOOK_MS));
    }
  };

  start.addEventListener("click", async () => {
    if (stream) return;
    say("");
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      return say("denied");
    }
    picture.srcObject = stream;
    picture.hidden = stop.hidden = false;
    start.setAttribute("aria-expanded", "true");
    picture.play().catch(() => {});
    const kinds = ["qr_code", "code_128"];
    look(new BarcodeDetector({ formats: kinds }));
  });
  stop.addEventListener("click", () => {
    end();
    start.focus();
  });
  addEventListener("pagehide", end);
})();
