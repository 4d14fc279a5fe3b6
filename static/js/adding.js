// A measure that the visit does not ask for, added without network: its row comes from the ledger of
// every measure, which the tablet keeps beside that of the visit. Neither knows a patient: why a
// limit holds the test, and on which side, stands with the button that adds it.

const rowsOf = (root) => [...root.querySelectorAll(".ledger-form > .entry-row")];

// Every row in the order of this visit: what is asked beyond its week stands behind all others.
async function everyRow() {
  const { more, behind } = document.getElementById("ledger").dataset;
  const kept = await caches.match(more);
  if (!kept) return [];
  const rows = rowsOf(new DOMParser().parseFromString(await kept.text(), "text/html"));
  const last = behind.split(" ");
  return rows.sort((one, other) => last.indexOf(one.id) - last.indexOf(other.id));
}

// That it was added is one of the row's texts: the server then shows it, even while it is empty.
function mark(row, code) {
  const was = row.querySelector("input[name=was]");
  const added = document.createElement("input");
  Object.assign(added, { type: "hidden", name: `r:${code}`, value: "1" });
  was.value = JSON.stringify({ ...JSON.parse(was.value), [added.name]: "" });
  was.after(added);
  row.dataset.added = code;
}

export async function addRows(codes) {
  const every = codes.length ? await everyRow() : [];
  const order = every.map(({ id }) => id);
  for (const code of codes) {
    const place = order.indexOf(`row-${code}`);
    if (place < 0 || document.getElementById(`row-${code}`)) continue;
    const row = document.importNode(every[place], true);
    mark(row, code);
    const next = rowsOf(document).find(({ id }) => order.indexOf(id) > place);
    if (next) next.before(row);
    else document.querySelector(".ledger-form").append(row);
    htmx.process(row);
  }
}

function saidOf(row, code, lastWhenBack) {
  const why = document.querySelector(`#addable [data-kept="why-${code}"]`);
  const there = row.querySelector(`[data-kept="why-${code}"]`);
  there.replaceChildren(...[...why.childNodes].map((node) => node.cloneNode(true)));
  for (const id of why.dataset.holds.split(" ").filter(Boolean)) {
    document.getElementById(id)?.closest(".cell")?.classList.add("held");
  }
  for (const last of row.querySelectorAll("[data-kept^='last-']")) {
    const said = document.createElement("p");
    said.className = "last";
    said.textContent = lastWhenBack;
    last.replaceChildren(said);
  }
}

async function add(button, form) {
  const code = button.dataset.add;
  const isNew = !document.getElementById(`row-${code}`);
  await addRows([code]);
  const row = document.getElementById(`row-${code}`);
  if (!row) {
    document.dispatchEvent(new CustomEvent("say", { detail: { value: form.dataset.addWhenBack } }));
    return;
  }
  if (isNew) {
    saidOf(row, code, form.dataset.lastWhenBack);
    htmx.trigger(row, "leave");
  }
  row.scrollIntoView();
  row.querySelector(".values input")?.focus({ preventScroll: true });
}

export function letAdd(form) {
  form.addEventListener("click", ({ target }) => {
    const button = target.closest("[data-add]");
    if (button) add(button, form);
  });
}
