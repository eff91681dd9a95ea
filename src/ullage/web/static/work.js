// How far a piece of work is, without loading the page again. Without this file the page loads
// itself each second and says the same.

const work = document.querySelector("[data-work]");
const told = work.querySelector("[data-told]");
const bar = work.querySelector("progress");

async function look() {
  try {
    const reply = await fetch(work.dataset.work, { headers: { accept: "application/json" } });
    if (!reply.ok) throw new Error(String(reply.status));
    const piece = await reply.json();
    if (piece.state === "done") return location.replace(piece.then_url);
    if (!["waiting", "under way"].includes(piece.state)) return location.reload();
    const share = piece.of ? ` (${piece.done} of ${piece.of})` : "";
    const words = `${piece.what[0].toUpperCase()}${piece.what.slice(1)}${share}.`;
    if (told.textContent !== words) told.textContent = words;
    if (piece.of) {
      bar.max = piece.of;
      bar.value = piece.done;
    } else {
      bar.removeAttribute("value");
    }
  } catch {
    told.textContent = "The program does not answer. What was asked for is still worked on.";
  }
  setTimeout(look, 300);
}

look();
