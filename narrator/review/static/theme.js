// Before anything is drawn: the shade that this browser chose, and a sign that scripts run.
document.documentElement.classList.add("scripts");
try {
  const chosen = localStorage.getItem("shade");
  if (chosen) document.documentElement.dataset.shade = chosen;
} catch { /* storage may be closed; the system's own shade is used */ }
