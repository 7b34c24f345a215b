// How far an import is, told by the application as it goes on; at its end the page shows what was found.

export function start(root) {
  const bar = root.querySelector("progress");
  const said = root.querySelector("[data-said]");
  const events = new EventSource(root.dataset.events);
  events.onmessage = (event) => {
    const now = JSON.parse(event.data);
    bar.max = now.total;
    bar.value = now.done;
    said.textContent = `${now.done} of ${now.total} ${now.total === 1 ? "file" : "files"}${now.file ? `: ${now.file}` : ""}`;
    if (now.state !== "running") {
      events.close();
      location.reload();
    }
  };
}
