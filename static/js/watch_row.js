// The row of a hold, for its stopwatch: its trials, why it ended, the marks that were passed, and
// the bar at the foot that says that it runs.

export const watchOf = (id) => document.querySelector(`[data-watch="${id}"]`);
export const longest = (watch) => Number(watch.dataset.longest) * 1000;
export const isCapped = (watch) => watch.hasAttribute("data-capped");
export const written = (tenths) => `${Math.floor(tenths / 10)}.${tenths % 10}`;
export const sided = (watch, said) =>
  watch.dataset.about ? `${said}, ${watch.dataset.about}` : said;
export const say = (value) => document.dispatchEvent(new CustomEvent("say", { detail: { value } }));

const calm = matchMedia("(prefers-reduced-motion: reduce)");
const trials = (watch) => [...watch.closest(".values").querySelectorAll("input[inputmode]")];

// Empty, or the only one: then the new time takes the place of the one before.
export function free(watch) {
  const all = trials(watch);
  return all.find((field) => !field.value.trim()) ?? (all.length === 1 ? all[0] : undefined);
}

export function changed(field) {
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

// Why it ended: the cap says so itself; else it is offered, and that of an earlier try is taken back.
export function why(watch, capped) {
  const field = watch.dataset.reason && document.querySelector(`[name="${watch.dataset.reason}"]`);
  if (!field) return;
  const before = field.value;
  const cap = watch.hasAttribute("data-cap-is-reason") ? "cap" : "";
  if (capped && cap) field.value = cap;
  else if (trials(watch).length === 1 || before === cap) field.value = "";
  if (field.value !== before) changed(field);
  if (!capped) field.focus();
}

// Says each mark once: `reached` are the seconds that were said, and come back.
export function marks(watch, passed, reached) {
  let last = reached;
  for (const tick of watch.querySelectorAll("[data-at]")) {
    const at = Number(tick.dataset.at);
    tick.toggleAttribute("data-reached", passed >= at * 1000);
    if (!tick.hasAttribute("data-reached") || last >= at) continue;
    last = at;
    say(sided(watch, `${at} seconds`));
  }
  return last;
}

// Every other watch waits while one runs; one that does not run has no mark passed.
export function draw(running) {
  for (const button of document.querySelectorAll("[data-watch] button")) {
    const other = running !== undefined && button.parentElement.dataset.watch !== running;
    if (other) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
  for (const tick of document.querySelectorAll("[data-watch]:not([data-running]) [data-reached]")) {
    tick.removeAttribute("data-reached");
  }
}

export function openTo(watch) {
  for (let part = watch.closest("details"); part; part = part.parentElement.closest("details")) {
    part.open = true;
  }
}

// While the watch is out of sight, the bar at the foot says that it runs and leads back to it.
export function remind(watch, time) {
  const link = document.querySelector("[data-timing]");
  const { top, bottom } = watch?.getBoundingClientRect() ?? { top: 0, bottom: 1 };
  link.hidden = bottom > 0 && top < innerHeight - link.closest(".act-bar").offsetHeight;
  if (link.hidden) return;
  link.href = `#${watch.id}`;
  link.textContent = sided(watch, `${time} s`);
}

export function show(watch, passed) {
  const tenths = Math.floor(passed / 100);
  watch.dataset.running = "";
  const time = calm.matches ? `${Math.floor(tenths / 10)}` : written(tenths);
  watch.querySelector(".time").textContent = time;
  remind(watch, time);
}
