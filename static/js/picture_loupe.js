// The loupe: the picture under the finger, larger, in the corner that the finger leaves free.

import { board, perPixel, photo } from "./picture_board.js";

const ZOOM = 4;
const loupe = board.querySelector("[data-loupe]");

export function putAway() {
  loupe.hidden = true;
}

export function magnify([x, y]) {
  const side = loupe.width;
  const seen = (loupe.clientWidth || side / 2) * (perPixel() / ZOOM);
  const ink = loupe.getContext("2d");
  loupe.hidden = false;
  loupe.classList.toggle("left", x > photo.width / 2);
  loupe.classList.toggle("low", y < photo.height / 2);
  ink.clearRect(0, 0, side, side);
  ink.drawImage(photo, x - seen / 2, y - seen / 2, seen, seen, 0, 0, side, side);
  for (const [style, width] of [["white", 5], ["black", 2]]) {
    ink.strokeStyle = style;
    ink.lineWidth = width;
    ink.beginPath();
    ink.moveTo(side / 2, side * 0.3);
    ink.lineTo(side / 2, side * 0.7);
    ink.moveTo(side * 0.3, side / 2);
    ink.lineTo(side * 0.7, side / 2);
    ink.stroke();
  }
}
