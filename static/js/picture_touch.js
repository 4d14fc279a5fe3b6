// The finger and the keyboard on a picture: touch to mark, drag, arrow keys.

import { ask, board, perPixel, photo } from "./picture_board.js";
import { putAway } from "./picture_loupe.js";
import { chosen, onward, place, remember, where } from "./picture_points.js";

const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
let dragged = null;

function at(event) {
  const box = photo.getBoundingClientRect();
  return [(event.clientX - box.left) * perPixel(), (event.clientY - box.top) * perPixel()];
}

function press(event) {
  const point = event.target.closest("[data-point]");
  const name = point ? point.dataset.point : chosen();
  if (!name || event.button > 0 || (!point && event.target !== photo)) return;
  remember();
  const [x, y] = at(event);
  const [px, py] = point ? where(name) : [x, y];
  dragged = { name, by: [px - x, py - y] };
  event.target.setPointerCapture(event.pointerId);
  place(name, [px, py]);
}

function drag(event) {
  if (!dragged) return;
  const [x, y] = at(event);
  place(dragged.name, [x + dragged.by[0], y + dragged.by[1]]);
}

function release() {
  if (!dragged) return;
  const { name } = dragged;
  dragged = null;
  putAway();
  onward(name);
  ask();
}

function nudge(event) {
  const point = event.target.closest("[data-point]");
  const step = STEPS[event.key];
  if (!point || !step) return;
  event.preventDefault();
  if (!event.repeat) remember();
  const far = event.shiftKey ? 10 : 1;
  const [x, y] = where(point.dataset.point);
  place(point.dataset.point, [x + far * step[0], y + far * step[1]]);
  ask();
}

board.addEventListener("pointerdown", press);
board.addEventListener("pointermove", drag);
board.addEventListener("pointerup", release);
board.addEventListener("pointercancel", release);
board.addEventListener("keydown", nudge);
board.addEventListener("focusout", putAway);
