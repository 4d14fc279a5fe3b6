// The parts of the page that marking a picture shares, and the question to the server.

export const form = document.querySelector("form[data-picture]");
export const board = form.querySelector("[data-board]");
export const photo = board.querySelector("[data-photo]");

export const field = (name) => form.elements.namedItem(name);
export const perPixel = () => photo.width / photo.clientWidth;

export function ask() {
  field("width").value = photo.width;
  field("height").value = photo.height;
  field("per_pixel").value = perPixel().toFixed(4);
  htmx.trigger(form, "angle");
}
