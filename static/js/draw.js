/* An arrow or a circle on a photo that was just taken: placed and drawn out by finger, or moved,
   sized and turned by buttons, which do the same. What is seen is what is sent. */
"use strict";
(() => {
  const tools = document.getElementById("photo-tools");
  if (!tools) return;
  const TURN = Math.PI / 8;

  const stroke = (context, { kind, x, y, size, turn }) => {
    const width = Math.max(6, context.canvas.width / 110);
    const trace = () => {
      context.beginPath();
      if (kind === "circle") context.arc(x, y, size, 0, 2 * Math.PI);
      else {
        // the tip is where the finger was set down
        const at = (along, aside) => [x - along * Math.cos(turn) - aside * Math.sin(turn), y - along * Math.sin(turn) + aside * Math.cos(turn)];
        context.moveTo(...at(size * 2, 0));
        context.lineTo(x, y);
        context.moveTo(...at(size * 0.6, size * 0.45));
        context.lineTo(x, y);
        context.lineTo(...at(size * 0.6, -size * 0.45));
      }
      context.stroke();
    };
    context.lineCap = context.lineJoin = "round";
    // a dark line in a light one is seen on bright steel and in a dark corner alike
    for (const [color, wide] of [["#ffffff", width * 2.2], ["#84230b", width]]) {
      context.strokeStyle = color;
      context.lineWidth = wide;
      trace();
    }
  };

  const stage = (input, picture) => {
    input.closest("[data-photo]").querySelector(".drawing")?.remove();
    const box = tools.content.firstElementChild.cloneNode(true);
    const canvas = box.querySelector("canvas");
    const moves = box.querySelector("[data-draw-moves]");
    const [width, height] = [picture.width, picture.height];
    const reach = Math.min(width, height);
    let mark = null;
    canvas.width = width;
    canvas.height = height;

    const show = () => {
      const context = canvas.getContext("2d");
      context.drawImage(picture, 0, 0);
      if (mark) stroke(context, mark);
      moves.hidden = !mark;
      canvas.toggleAttribute("data-marked", Boolean(mark)); // a finger then draws and does not scroll
      for (const button of box.querySelectorAll("[data-draw]")) {
        if (button.dataset.draw) button.setAttribute("aria-pressed", String(mark?.kind === button.dataset.draw));
        else button.hidden = !mark;
      }
    };
    const keep = () => input.dispatchEvent(new CustomEvent("photo:drawn", { bubbles: true, detail: { canvas } }));
    const within = (value, most) => Math.min(most, Math.max(0, value));

    box.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      const { draw, move } = button.dataset;
      if (draw) mark = { x: width / 2, y: height / 2, size: reach / 8, turn: TURN * 2, ...mark, kind: draw };
      else if (draw === "") {
        mark = null;
        box.querySelector("[data-draw]").focus();
      } else if (mark) {
        const way = reach / 20;
        if (move === "left") mark.x = within(mark.x - way, width);
        if (move === "right") mark.x = within(mark.x + way, width);
        if (move === "up") mark.y = within(mark.y - way, height);
        if (move === "down") mark.y = within(mark.y + way, height);
        if (move === "larger") mark.size = Math.min(reach / 2, mark.size * 1.25);
        if (move === "smaller") mark.size = Math.max(reach / 40, mark.size / 1.25);
        if (move === "turn") mark.turn += TURN;
      }
      show();
      keep();
    });

    const place = (event) => {
      const frame = canvas.getBoundingClientRect();
      return [((event.clientX - frame.left) / frame.width) * width, ((event.clientY - frame.top) / frame.height) * height];
    };
    let drag = false;
    canvas.addEventListener("pointerdown", (event) => {
      if (!mark) return;
      [mark.x, mark.y] = place(event);
      drag = true;
      canvas.setPointerCapture(event.pointerId);
      show();
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!drag) return;
      const [x, y] = place(event);
      const far = Math.hypot(x - mark.x, y - mark.y);
      if (far < reach / 40) return;
      mark.size = Math.min(reach / 2, mark.kind === "circle" ? far : far / 2);
      mark.turn = Math.atan2(mark.y - y, mark.x - x);
      show();
    });
    const end = () => {
      if (drag) keep();
      drag = false;
    };
    canvas.addEventListener("pointerup", end);
    canvas.addEventListener("pointercancel", end);

    show();
    input.closest("[data-photo]").append(box);
  };

  document.addEventListener("photo:taken", (event) => stage(event.target, event.detail.canvas));
  // the sheet came anew, or the form is used again: its picture is sent
  document.addEventListener("outbox:kept", (event) => event.target.querySelectorAll?.(".drawing").forEach((each) => each.remove()));
})();
