// Without network nobody works out how urgent a red flag is: a yes counts as urgent until then.

export function sayUrgent() {
  const says = document.getElementById("flags-say");
  if (says.querySelector(".tier") || !document.querySelector("#flags [value=yes]:checked")) return;
  const [box, head, text] = ["div", "h2", "p"].map((tag) => document.createElement(tag));
  box.className = "alarm tier";
  head.textContent = says.dataset.title;
  text.textContent = says.dataset.text;
  box.append(head, text);
  says.replaceChildren(box);
}
