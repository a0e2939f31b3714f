// The sheet as editor, lines as they are spoken, and word of what other reviewers do.
import { drafts } from "./keys.js";

const job = document.body.dataset.job;
const template = document.getElementById("editor");
const aloud = document.getElementById("said-aloud");
let open = null;

function leave() {
  const back = open?.closest("[data-u]")?.querySelector("[data-row]");
  open?.remove();
  open = null;
  back?.focus();
}

function edit(link) {
  const holder = link.closest("[data-u]");
  const line = document.getElementById(`u${holder.dataset.u}`);
  if (!template || !line) return false;
  leave();
  const form = template.content.firstElementChild.cloneNode(true);
  const text = line.querySelector(".text").textContent.trim();
  const heard = line.querySelector(".heard")?.textContent.replace(/^heard: /, "").trim() ?? text;
  form.action = `/jobs/${job}/lines/${holder.dataset.u}`;
  form.dataset.draft = `${job}.${holder.dataset.u}`;
  form.elements.seen.value = line.dataset.seen;
  form.querySelector(".was q").textContent = heard;
  form.elements.text.value = line.querySelector("small.heard:not([hidden])") ? text : heard;
  form.querySelector(".whole").href = link.href;
  form.querySelector(".leave").addEventListener("click", leave);
  try { form.elements.who.value ||= localStorage.getItem("who") ?? ""; } catch { /* closed storage */ }
  form.addEventListener("submit", () => { try { localStorage.setItem("who", form.elements.who.value); } catch { /* closed */ } });
  holder.append(form);
  drafts.watch(form);
  open = form;
  form.elements.text.focus();
  return true;
}

let standing = null;
document.addEventListener("focusin", (event) => { standing = event.target.closest("[data-row]") ?? standing; });
document.addEventListener("click", (event) => {
  const row = event.target.closest("a[data-row]");
  if (row && !event.ctrlKey && !event.metaKey && row.closest("[data-u]")?.dataset.u && edit(row)) event.preventDefault();
  if (event.target.closest("#add-line")) {
    const at = standing?.closest("[data-u]")?.dataset.u;
    if (at) event.target.closest("#add-line").href = `/jobs/${job}/added?after=${at}`;
  }
  const go = event.target.closest("[data-go]");
  if (go) setTimeout(() => document.querySelector(`#u${go.dataset.go} [data-row]`)?.focus(), 0);
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && open) { event.preventDefault(); leave(); }
  const row = document.activeElement?.closest?.("[data-row]");
  if (event.key === "e" && row && !event.ctrlKey && !event.metaKey && !event.target.closest("input, textarea, select")
      && document.getElementById("single-keys").checked) { event.preventDefault(); edit(row); }
});

function tell(text) {
  const bar = document.getElementById("fresh");
  bar.hidden = false;
  bar.querySelector("span").textContent = text;
  bar.querySelector("a").href = location.pathname;
  aloud.textContent = text;
}

const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
function add(line) {
  if (document.getElementById(`u${line.id}`)) return;
  const item = document.getElementById("line-template").content.firstElementChild.cloneNode(true);
  item.id = `u${line.id}`;
  item.classList.add("fresh-line");
  item.querySelector(".at").textContent = clock(line.start);
  item.querySelector(".text").textContent = line.text;
  item.dataset.s = line.start;
  const after = [...document.querySelectorAll("#tape > li")].find((one) => Number(one.dataset.s) > line.start);
  document.getElementById("tape").insertBefore(item, after ?? null);
  if (!open) item.scrollIntoView({ block: "nearest" });
}

if (document.body.classList.contains("at-job")) {
  const { after, since } = document.body.dataset;
  const news = new EventSource(`/jobs/${job}/news?after=${after}&since=${since}`);
  const did = { corrections: "corrected", strikes: "struck or brought back", additions: "added", decisions: "decided about" };
  news.addEventListener("line", (event) => { add(JSON.parse(event.data)); if (!document.body.dataset.live) tell("A line was added."); });
  news.addEventListener("change", (event) => {
    const change = JSON.parse(event.data);
    const what = did[change.kind];
    tell(what ? `${change.who} ${what} line ${change.utterance ?? ""}.` : `${change.who} ${change.kind === "approvals" ? "approved the sheet" : "opened the sheet again"}.`);
  });
  const became = { broken: "The narration broke off: nobody is listening to it any more.", live: "The job is being narrated again." };
  news.addEventListener("state", (event) => tell(became[JSON.parse(event.data).state] ?? "The narration has ended: the sheet is complete."));
  addEventListener("pagehide", () => news.close());
}
