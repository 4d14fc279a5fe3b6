// The picture leaves the page by one button alone, drawn afresh and without what the camera wrote
// into its file.

import { form, photo } from "./picture_board.js";

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
