// The drawing answers the table: after each edit the form is sent to be judged, never to be kept.
// Without this file every button of the page does the same by loading the page again.

const WAIT_MS = 250;

const table = document.getElementById("table");
const answer = document.getElementById("answer");
const faults = document.getElementById("faults");
const state = document.getElementById("state");

let timer = 0;
let asking = null;

table.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(ask, WAIT_MS);
});

// The parts that stand open now stand open on the page that comes back.
table.addEventListener("submit", () => {
  clearTimeout(timer);
  table.elements.open.value = [...table.querySelectorAll(".part-row[open]")]
    .map((row) => row.dataset.place)
    .join(" ");
});

// A way to a field leads into folded parts.
document.addEventListener("click", (event) => {
  const link = event.target.closest('#faults a[href^="#"]');
  const field = link && document.getElementById(link.getAttribute("href").slice(1));
  if (!field) return;
  event.preventDefault();
  for (let fold = field.closest("details"); fold; fold = fold.parentElement.closest("details")) {
    fold.open = true;
  }
  field.focus();
});

async function ask() {
  asking?.abort();
  const mine = (asking = new AbortController());
  const sent = new URLSearchParams();
  for (const [name, text] of new FormData(table)) {
    if (text !== "" || name.endsWith(".id")) sent.append(name, text);
  }
  try {
    const reply = await fetch(table.dataset.preview, { method: "POST", body: sent, signal: mine.signal });
    if (!reply.ok) throw new Error(String(reply.status));
    const found = await reply.json();
    showFaults(found.faults);
    showRows(found.rows);
    if (found.answer) await showAnswer(found, mine.signal);
    if (!mine.signal.aborted) state.textContent = found.state;
  } catch (error) {
    if (mine.signal.aborted) return;
    state.textContent = "The drawing could not follow: the program does not answer. What is typed stays here.";
  }
}

// The new picture is loaded first, so that the old one stays until it can be replaced.
async function showAnswer(found, signal) {
  const holder = document.createElement("div");
  holder.innerHTML = found.answer;
  const open = [...answer.querySelectorAll("details")].map((fold) => fold.open);
  const picture = holder.querySelector("img");
  if (picture) await picture.decode().catch(() => {});
  if (signal.aborted) return;
  holder.querySelectorAll("details").forEach((fold, at) => { fold.open = open[at] ?? false; });
  answer.replaceChildren(...holder.childNodes);
  table.elements.drawn.value = found.drawn;
}

function showFaults(list) {
  for (const old of table.querySelectorAll("p.fault")) old.remove();
  for (const field of table.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    describe(field, (ids) => ids.filter((id) => !id.startsWith("fault-")));
  }
  for (const { field: name, sentence } of list) {
    const field = name && document.getElementById(name);
    if (!field) continue;
    const before = document.getElementById(`fault-${name}`);
    if (before) {
      before.textContent += ` ${sentence}`;
      continue;
    }
    field.setAttribute("aria-invalid", "true");
    describe(field, (ids) => [...ids, `fault-${name}`]);
    const told = document.createElement("p");
    told.className = "fault";
    told.id = `fault-${name}`;
    told.textContent = sentence;
    field.closest(".key").append(told);
  }
  faults.replaceChildren();
  if (!list.length) return;
  const box = document.createElement("div");
  box.className = "faults";
  const head = document.createElement("p");
  head.textContent = "What can't be right:";
  const lines = document.createElement("ul");
  for (const { field: name, place, sentence } of list) {
    const line = document.createElement("li");
    const way = document.createElement(name ? "a" : "b");
    if (name) way.href = `#${name}`;
    way.textContent = place;
    const what = document.createElement("span");
    what.className = "what";
    what.textContent = sentence;
    line.append(way, " ", what);
    lines.append(line);
  }
  box.append(head, lines);
  faults.append(box);
}

function describe(field, change) {
  const ids = change((field.getAttribute("aria-describedby") ?? "").split(" ").filter(Boolean));
  if (ids.length) field.setAttribute("aria-describedby", ids.join(" "));
  else field.removeAttribute("aria-describedby");
}

function showRows(rows) {
  for (const row of table.querySelectorAll(".part-row")) {
    const found = rows[row.dataset.place];
    if (!found) continue;
    const [title, gist] = row.querySelector("summary").children;
    title.textContent = found.title;
    gist.textContent = found.told;
  }
}
