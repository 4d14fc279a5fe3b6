// Points on a picture: the still that is chosen and the buttons. It is drawn on a canvas of this
// page and goes nowhere; only the points are sent, and the server says what they mean.

import { ask, board, form, photo } from "./picture_board.js";
import "./picture_keep.js";
import { choose, chosen, clear, onward, place, remember, startAfresh, undo } from "./picture_points.js";
import "./picture_touch.js";

const LONGEST = 2400;
const trouble = form.querySelector("[data-trouble]");

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
  for (const part of form.querySelectorAll("[data-marking]")) part.hidden = false;
  startAfresh();
  ask();
  form.querySelector("[data-marking]").scrollIntoView();
}

const ACTS = {
  undo,
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
