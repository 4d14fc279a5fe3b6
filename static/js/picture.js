// Points on a picture: touch to mark, drag with a loupe, arrow keys, undo, clear. The picture is
// drawn on a canvas of this page and goes nowhere; only the points are sent, and the server says
// what they mean.

const LONGEST = 2400;
const ZOOM = 4;
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const form = document.querySelector("form[data-picture]");
const board = form.querySelector("[data-board]");
const photo = board.querySelector("[data-photo]");
const loupe = board.querySelector("[data-loupe]");
const lines = board.querySelector("svg");
const trouble = form.querySelector("[data-trouble]");
const points = [...board.querySelectorAll("[data-point]")];
const choices = [...form.querySelectorAll("input[name=next]")];
const before = [];
let dragged = null;

const field = (name) => form.elements.namedItem(name);
const where = (name) => field(name).value.split(",").map(Number);
const isMarked = (name) => field(name).value !== "";
const chosen = () => choices.find((choice) => choice.checked)?.value;
const perPixel = () => photo.width / photo.clientWidth;

function choose(name) {
  for (const choice of choices) choice.checked = choice.value === name;
  if (name) board.dataset.next = name;
  else delete board.dataset.next;
}

function remember() {
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

function place(name, [x, y]) {
  const inside = [Math.min(Math.max(x, 0), photo.width), Math.min(Math.max(y, 0), photo.height)];
  field(name).value = inside.map((one) => one.toFixed(1)).join(",");
  drawAll();
  magnify(inside);
}

function magnify([x, y]) {
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

function ask() {
  field("width").value = photo.width;
  field("height").value = photo.height;
  field("per_pixel").value = perPixel().toFixed(4);
  htmx.trigger(form, "angle");
}

// The next point to mark: the one that follows in the same group, as long as it is not marked.
function onward(name) {
  const group = choices.find((choice) => choice.value === name).closest("fieldset");
  const open = choices.find((one) => group.contains(one) && !isMarked(one.value));
  choose(open?.value);
}

function clear() {
  for (const point of points) field(point.dataset.point).value = "";
  loupe.hidden = true;
  drawAll();
  choose("stance");
}

async function open(file) {
  trouble.textContent = "";
  let image;
  try {
    image = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    trouble.textContent = form.dataset.unreadable;
    return;
  }
  const shrink = Math.min(1, LONGEST / Math.max(image.width, image.height));
  photo.width = Math.round(image.width * shrink);
  photo.height = Math.round(image.height * shrink);
  photo.getContext("2d").drawImage(image, 0, 0, photo.width, photo.height);
  image.close();
  lines.setAttribute("viewBox", `0 0 ${photo.width} ${photo.height}`);
  for (const part of form.querySelectorAll("[data-marking]")) part.hidden = false;
  before.length = 0;
  clear();
  ask();
  form.querySelector("[data-marking]").scrollIntoView();
}

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
  loupe.hidden = true;
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

const ACTS = {
  undo() {
    const last = before.pop();
    if (!last) return;
    points.forEach((point, at) => (field(point.dataset.point).value = last[at]));
    loupe.hidden = true;
    drawAll();
  },
  clear() {
    remember();
    clear();
  },
  middle() {
    const name = chosen();
    if (!name) return;
    remember();
    place(name, [photo.width / 2, photo.height / 2]);
    board.querySelector(`[data-point="${name}"]`).focus();
    onward(name);
  },
};

// The picture leaves the page by one button alone, drawn afresh and without what the camera wrote
// into its file.
function keep(event) {
  const sent = event.target;
  const file = sent.matches("[data-keep]") && sent.elements.namedItem("picture");
  if (!file || file.files.length || form.querySelector("[data-marking]").hidden) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  sent.elements.namedItem("view").value = form.querySelector("[name=view]:checked").value;
  photo.toBlob((blob) => {
    const carried = new DataTransfer();
    carried.items.add(new File([blob], "picture.jpg", { type: "image/jpeg" }));
    file.files = carried.files;
    sent.requestSubmit();
  }, "image/jpeg", 0.92);
}

document.addEventListener("submit", keep, true);
board.addEventListener("pointerdown", press);
board.addEventListener("pointermove", drag);
board.addEventListener("pointerup", release);
board.addEventListener("pointercancel", release);
board.addEventListener("keydown", nudge);
board.addEventListener("focusout", () => (loupe.hidden = true));
form.addEventListener("click", (event) => {
  if (event.target.matches("[data-still]")) event.target.value = ""; // the same name may come again
  const act = ACTS[event.target.closest("[data-act]")?.dataset.act];
  if (!act) return;
  act();
  ask();
});
form.addEventListener("change", (event) => {
  const { target } = event;
  if (target.name === "next") {
    choose(target.value);
    board.scrollIntoView({ block: "nearest" });
  } else if (!target.matches("[data-still]")) {
    ask();
  } else if (target.files.length) {
    for (const other of form.querySelectorAll("[data-still]")) if (other !== target) other.value = "";
    open(target.files[0]);
  }
});
