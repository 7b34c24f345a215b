// Files may be dropped on the place where they can be chosen.

export function start(place) {
  const input = place.querySelector('input[type="file"]');
  const over = (event, on) => {
    event.preventDefault();
    place.classList.toggle("over", on);
  };
  place.addEventListener("dragover", (event) => over(event, true));
  place.addEventListener("dragleave", (event) => over(event, false));
  place.addEventListener("drop", (event) => {
    over(event, false);
    const kept = new DataTransfer();
    for (const file of [...input.files, ...event.dataTransfer.files]) kept.items.add(file);
    input.files = kept.files;
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
}
