// Charts that answer to a finger: fetches the figure and lets Plotly draw it over the SVG.
// Where anything is missing, the SVG that is already in the page stays.

const CONFIG = { displayModeBar: false, responsive: true, scrollZoom: false };
const PHONE = 560;
const LANE = 20;
const GAP = 8;

// On a phone the words beside a threshold give way to its number; the list below has the words.
function fitted(layout, width) {
  const notes = layout.annotations.filter((note) => note.name);
  if (width >= PHONE || !notes.length) return layout;
  for (const note of notes) note.text = note.name;
  return { ...layout, margin: { ...layout.margin, r: 40 } };
}

// Words of what happened stand in a row of their own where they would run into others, and further
// left where there is no room to the right of their line; the line goes up to them.
function laned(board) {
  const { annotations, shapes, margin } = board.layout;
  const { left, right } = board.getBoundingClientRect();
  const placed = [];
  for (const drawn of board.querySelectorAll(".annotation")) {
    const note = annotations[drawn.dataset.index];
    if (note.yref !== "paper") continue;
    const box = drawn.querySelector("text").getBoundingClientRect();
    const moved = Math.min(0, Math.max(right - GAP - box.right, left - box.left));
    const start = box.left + moved;
    const above = placed.filter((one) => start < one.end + GAP && one.start < box.right + moved + GAP);
    const row = Math.max(-1, ...above.map((one) => one.row)) + 1;
    placed.push({ note, moved, row, start, end: box.right + moved });
  }
  const last = Math.max(0, ...placed.map((one) => one.row));
  for (const { note, moved, row } of placed) {
    const up = (last - row) * LANE;
    const line = shapes.find((shape) => shape.xref === "x" && shape.x0 === note.x);
    shapes.push({ ...line, ysizemode: "pixel", yanchor: 1, y0: 0, y1: up });
    Object.assign(note, { yshift: up, xshift: moved });
  }
  board.style.blockSize = `${board.clientHeight + last * LANE}px`;
  return { annotations, shapes, autosize: true, margin: { ...margin, t: margin.t + last * LANE } };
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
    await Plotly.relayout(board, laned(board));
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
