// Single keys: whatever carries data-key is done by that key, and listed by "?". Rows are walked with J and K.
const store = {
  get(name) { try { return localStorage.getItem(name); } catch { return null; } },
  set(name, value) { try { localStorage.setItem(name, value); } catch { /* closed storage */ } },
};
const list = document.getElementById("keylist");
const single = document.getElementById("single-keys");
single.checked = store.get("single-keys") !== "off";
single.addEventListener("change", () => store.set("single-keys", single.checked ? "on" : "off"));

function shade() {
  const root = document.documentElement;
  const dark = root.dataset.shade ? root.dataset.shade === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  root.dataset.shade = dark ? "light" : "dark";
  store.set("shade", root.dataset.shade);
}
document.getElementById("shade").addEventListener("click", shade);

function fill() {
  const rows = [["J", "One line down"]];
  if (!document.querySelector("[data-key='k']")) rows.push(["K", "One line up"]);
  if (document.body.classList.contains("at-job")) rows.push(["E", "Correct the line you are at"]);
  for (const one of document.querySelectorAll("[data-key]")) rows.push([one.dataset.key.toUpperCase(), one.dataset.does]);
  list.querySelector("dl").replaceChildren(...rows.map(([key, does]) => {
    const row = document.createElement("div"), dt = document.createElement("dt"), dd = document.createElement("dd");
    const kbd = document.createElement("kbd");
    kbd.textContent = key; dt.append(kbd); dd.textContent = does; row.append(dt, dd);
    return row;
  }));
}
document.getElementById("help").addEventListener("click", (event) => {
  event.preventDefault(); fill(); list.showModal();
});

function walk(step) {
  const rows = [...document.querySelectorAll("[data-row]")].filter((row) => row.offsetParent);
  const here = document.activeElement.closest?.("[data-row]") ?? document.activeElement.closest?.("[data-u]")?.querySelector("[data-row]");
  const next = rows[here ? Math.min(rows.length - 1, Math.max(0, rows.indexOf(here) + step)) : 0];
  next?.focus();
}

function act(target) {
  if (target instanceof HTMLDetailsElement) {
    target.open = true;
    target.querySelector("textarea")?.focus();
  } else if (target.matches("input, textarea, select")) target.focus();
  else target.click();
}

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input:not([type=checkbox]), textarea, select");
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && typing?.form) {
    event.preventDefault();
    typing.form.requestSubmit();
  }
  if (typing || event.ctrlKey || event.metaKey || event.altKey || list.open || !single.checked) return;
  const key = event.key.toLowerCase();
  const target = document.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (target && !target.closest("[hidden]")) { event.preventDefault(); act(target); }
  else if (key === "j" || key === "k") { event.preventDefault(); walk(key === "j" ? 1 : -1); }
});

// A deed that asked for a name first is what Enter does in the name's field, not the first deed of the form.
const meant = new WeakMap();
document.addEventListener("click", (event) => {
  const deed = event.target.closest?.("button[name]");
  if (deed?.form) meant.set(deed.form, deed);
}, true);
document.addEventListener("keydown", (event) => {
  const deed = event.target.matches?.("input[name=who]") && meant.get(event.target.form);
  if (event.key !== "Enter" || event.ctrlKey || event.metaKey || !deed) return;
  event.preventDefault();
  event.target.form.requestSubmit(deed);
});

// Unsaved words survive a closed page: kept under the line's name until a save has gone through.
export const drafts = {
  name: (form) => `draft.${form.dataset.draft}`,
  watch(form) {
    const area = form.elements.text, first = area.value, kept = store.get(this.name(form));
    if (kept !== null && kept !== first && !document.querySelector(".clash")) {
      area.value = kept;
      const told = form.querySelector(".kept");
      if (told) told.hidden = false;
    }
    area.addEventListener("input", () => store.set(this.name(form), area.value));
    form.addEventListener("submit", () => store.set(`sent.${form.dataset.draft}`, area.value));
  },
  drop(name) { try { localStorage.removeItem(`draft.${name}`); localStorage.removeItem(`sent.${name}`); } catch { /* closed */ } },
};
for (const form of document.querySelectorAll("form[data-draft]")) drafts.watch(form);
if (document.querySelector("#told-h, .outcome")) { // a change went through: its draft has done its duty
  try {
    for (const name of Object.keys(localStorage).filter((one) => one.startsWith("sent."))) drafts.drop(name.slice(5));
  } catch { /* closed storage */ }
}
for (const form of document.querySelectorAll("form[method=post]")) { // the name of one form serves all of the page
  const field = form.elements.who;
  if (field && field.type !== "hidden" && !field.value && store.get("who")) field.value = store.get("who");
  form.addEventListener("submit", () => { if (field?.value) store.set("who", field.value); });
}
