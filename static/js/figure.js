// Charts that answer to a finger: fetches the figure and lets Plotly draw it over the SVG.
// Where anything is missing, the SVG that is already in the page stays.

const CONFIG = { displayModeBar: false, responsive: true, scrollZoom: false };
const PHONE = 560;

// On a phone the words beside a threshold give way to its number; the list below has the words.
function fitted(layout, width) {
  const notes = layout.annotations.filter((note) => note.name);
  if (width >= PHONE || !notes.length) return layout;
  for (const note of notes) note.text = note.name;
  return { ...layout, margin: { ...layout.margin, r: 40 } };
}

async function draw(place) {
  const answer = await fetch(place.dataset.figureUrl, {
    headers: { Accept: "application/json", "X-Figure": "true" },
    credentials: "same-origin",
  });
  if (!answer.ok) return;
  const figure = await answer.json();
  const svg = place.querySelector("svg");
  const board = document.createElement("div");
  board.className = "drawn-by-script";
  board.setAttribute("role", "img");
  board.setAttribute("aria-label", svg.querySelector("title").textContent);
  place.append(board);
  try {
    await Plotly.newPlot(board, figure.data, fitted(figure.layout, board.clientWidth), CONFIG);
    svg.remove();
  } catch (error) {
    board.remove();
    throw error;
  }
}

function drawAll(root) {
  if (!window.Plotly) return;
  for (const place of root.querySelectorAll("[data-figure-url]:not([data-drawn])")) {
    place.dataset.drawn = "";
    draw(place);
  }
}

drawAll(document);
document.addEventListener("htmx:afterSettle", (event) => drawAll(event.detail.elt));
