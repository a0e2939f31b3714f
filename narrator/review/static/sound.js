// Playing the moment a line came from: from half a second before it to its end, each word marked as it is heard.
const audio = document.getElementById("audio");
const player = document.getElementById("player");
const starts = JSON.parse(audio.dataset.sounds || "[]");
const job = document.body.dataset.job;
const BEFORE = 0.5, AFTER = 0.3;
let line = null, words = [], spans = [], until = Infinity, loaded = -1, asked = 0;

if (starts.length) { player.hidden = false; document.body.classList.add("has-sound"); }

const row = (id) => document.querySelector(`#tape [data-u="${id}"]`);
const label = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

function pick(at) {
  let found = 0;
  starts.forEach((start, n) => { if (start <= at + 0.001) found = n; });
  return found;
}

export async function play(id) {
  const from = row(id);
  if (!from || from.dataset.added || !starts.length) return;
  const mine = ++asked;
  mark(null);
  line = from;
  const start = Math.max(0, Number(from.dataset.s) - BEFORE);
  until = Number(from.dataset.e) + AFTER;
  const file = pick(Number(from.dataset.s));
  if (file !== loaded) { audio.src = `/jobs/${job}/sound/${file}`; loaded = file; }
  audio.currentTime = Math.max(0, start - starts[file]);
  audio.playbackRate = Number(document.getElementById("pace").value);
  for (const other of document.querySelectorAll("[data-u].playing")) other.classList.remove("playing");
  for (const other of document.querySelectorAll(`[data-u="${id}"]`)) other.classList.add("playing");
  show([[from.querySelector(".text").textContent.trim(), Infinity, Infinity]]);
  audio.play().catch(() => { document.getElementById("said-aloud").textContent = "The sound cannot be played."; });
  try {
    const answer = await fetch(`/jobs/${job}/lines/${id}/words`);
    const found = answer.ok ? await answer.json() : [];
    if (mine === asked && found.length) show(found);
  } catch { /* the words then stay without marks */ }
}

function show(found) {
  words = found;
  spans = words.map(([word]) => { const span = document.createElement("span"); span.textContent = `${word} `; return span; });
  document.getElementById("now-words").replaceChildren(...spans);
}

function mark(n) { spans.forEach((span, i) => span.classList.toggle("now-word", i === n)); }

function follow() {
  const at = audio.currentTime + (starts[loaded] ?? 0);
  document.getElementById("clock").textContent = label(at);
  mark(words.findIndex(([, start, end], n) => at >= start && at < Math.max(end, words[n + 1]?.[1] ?? end)));
  if (at >= until) { audio.pause(); return; }
  if (!audio.paused) requestAnimationFrame(follow);
}

audio.addEventListener("play", () => { player.classList.add("on"); requestAnimationFrame(follow); });
audio.addEventListener("pause", () => { player.classList.remove("on"); });
document.getElementById("pace").addEventListener("change", (event) => { audio.playbackRate = Number(event.target.value); });

document.getElementById("play").addEventListener("click", () => {
  if (!audio.paused) { audio.pause(); return; }
  const here = document.activeElement.closest?.("[data-u]")?.dataset.u || document.querySelector("#tape .this")?.dataset.u
    || line?.dataset.u || document.querySelector("#tape [data-u]")?.dataset.u;
  if (here) play(here);
});
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-play]");
  if (link && !event.ctrlKey && !event.metaKey) { event.preventDefault(); play(link.dataset.play); }
});
