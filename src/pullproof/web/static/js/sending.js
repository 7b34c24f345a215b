// Sending files takes a while: say so, and keep the button from being pressed twice.

export function start(form) {
  form.addEventListener("submit", () => {
    const button = form.querySelector("button");
    setTimeout(() => { button.disabled = true; button.textContent = form.dataset.wait ?? "Sending the files …"; });
  });
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
}
