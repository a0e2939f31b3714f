// The job board says when it has changed; it never moves under a finger by itself.
const news = new EventSource(`/news?version=${encodeURIComponent(document.body.dataset.version)}`);
news.addEventListener("list", () => {
  const bar = document.getElementById("fresh");
  bar.hidden = false;
  bar.querySelector("a").href = location.href;
});
addEventListener("pagehide", () => news.close());
