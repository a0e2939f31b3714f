// Playing the job up to a decision, or one line of it, each line marked while it is heard; and printing.
document.getElementById("print")?.addEventListener("click", () => window.print());

const audio = document.getElementById("audio");
const stretch = document.getElementById("stretch");
const lines = [...document.querySelectorAll("[data-line]")];
let from = 0, only = null;

function mark(line) {
  for (const one of lines) one.classList.toggle("playing", one === line);
  document.getElementById("now-words").textContent = line?.querySelector(".text").textContent ?? "";
}

function play(link) {
  only = link.closest("[data-line]");
  from = only ? Math.max(0, Number(only.dataset.s) - 0.5) : Number(link.dataset.from);
  audio.src = link.href;
  audio.playbackRate = Number(document.getElementById("pace").value);
  audio.play().catch(() => { document.getElementById("said-aloud").textContent = "The sound cannot be played."; });
}

function follow() {
  const at = from + audio.currentTime;
  document.getElementById("clock").textContent = `${Math.floor(at / 60)}:${String(Math.floor(at % 60)).padStart(2, "0")}`;
  mark(only ?? lines.find((one) => at >= Number(one.dataset.s) && at < Number(one.dataset.e)));
  if (!audio.paused && !audio.ended) requestAnimationFrame(follow); else mark(null);
}

if (audio) {
  document.body.classList.add("has-sound");
  audio.addEventListener("play", () => { document.getElementById("player").classList.add("on"); requestAnimationFrame(follow); });
  for (const name of ["pause", "ended"]) audio.addEventListener(name, () => document.getElementById("player").classList.remove("on"));
  document.getElementById("pace").addEventListener("change", (event) => { audio.playbackRate = Number(event.target.value); });
  document.getElementById("play").addEventListener("click", () => {
    if (!audio.paused && !audio.ended) { audio.pause(); return; }
    const here = document.activeElement.closest?.("[data-line]")?.querySelector("[data-hear]") ?? stretch;
    if (here) play(here);
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-hear]");
    if (link && !event.ctrlKey && !event.metaKey) { event.preventDefault(); play(link); }
  });
}
