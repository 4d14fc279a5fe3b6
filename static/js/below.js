// In the caseload what is touched opens in the row below. The patient's name leads away, and so does
// a touch that asks for another tab; without script every link is a page of its own.

document.addEventListener("click", (event) => {
  const link = event.target.closest(".caseload td a");
  const below = link?.closest("tr").nextElementSibling;
  if (!below?.matches(".opened") || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  htmx.ajax("GET", link.getAttribute("href"), { source: link, target: below.cells[0] });
});
