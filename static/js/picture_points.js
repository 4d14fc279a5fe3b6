// The points on a picture: which is marked next, where each lies, how they are drawn, and the
// steps back. What is marked stands in the form's fields, in pixels of the picture.

import { board, field, form, photo } from "./picture_board.js";
import { magnify, putAway } from "./picture_loupe.js";

const lines = board.querySelector("svg");
const points = [...board.querySelectorAll("[data-point]")];
const choices = [...form.querySelectorAll("input[name=next]")];
const before = [];

export const where = (name) => field(name).value.split(",").map(Number);
const isMarked = (name) => field(name).value !== "";
export const chosen = () => choices.find((choice) => choice.checked)?.value;

export function choose(name) {
  for (const choice of choices) choice.checked = choice.value === name;
  if (name) board.dataset.next = name;
  else delete board.dataset.next;
}

export function remember() {
  before.push(points.map((point) => field(point.dataset.point).value));
}

function draw(point) {
  const name = point.dataset.point;
  const marked = isMarked(name);
  point.hidden = !marked;
  const words = form.querySelector(`[data-where="${name}"]`);
  words.textContent = marked ? words.dataset.marked : words.dataset.open;
  if (!marked) return;
  const [x, y] = where(name);
  point.style.left = `${(100 * x) / photo.width}%`;
  point.style.top = `${(100 * y) / photo.height}%`;
}

function drawAll() {
  points.forEach(draw);
  for (const line of lines.children) {
    const names = line.dataset.line.split(" ").filter(isMarked);
    line.setAttribute("points", names.map((name) => field(name).value).join(" "));
  }
}

export function place(name, [x, y]) {
  const inside = [Math.min(Math.max(x, 0), photo.width), Math.min(Math.max(y, 0), photo.height)];
  field(name).value = inside.map((one) => one.toFixed(1)).join(",");
  drawAll();
  magnify(inside);
}

// The next point to mark: the one that follows in the same group, as long as it is not marked.
export function onward(name) {
  const group = choices.find((choice) => choice.value === name).closest("fieldset");
  const open = choices.find((one) => group.contains(one) && !isMarked(one.value));
  choose(open?.value);
}

export function clear() {
  for (const point of points) field(point.dataset.point).value = "";
  putAway();
  drawAll();
  choose("stance");
}

export function undo() {
  const last = before.pop();
  if (!last) return;
  points.forEach((point, at) => (field(point.dataset.point).value = last[at]));
  putAway();
  drawAll();
}

// Another picture: nothing is marked, and there is nothing to go back to.
export function startAfresh() {
  lines.setAttribute("viewBox", `0 0 ${photo.width} ${photo.height}`);
  before.length = 0;
  clear();
}
