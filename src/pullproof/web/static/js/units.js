// The choice of a channel decides which units its column can have.

export function start(channel) {
  const units = document.getElementById(channel.dataset.units);
  const fill = async () => {
    const address = `/units?channel=${encodeURIComponent(channel.value)}`;
    const answer = await fetch(address, { headers: { "hx-request": "true" } }).catch(() => null);
    if (!answer?.ok) return; // the unit that is shown stays
    const chosen = units.value || units.dataset.chosen;
    units.innerHTML = await answer.text();
    const options = [...units.options];
    const same = options.find((one) => one.value === chosen) ?? options.find((one) => one.value.replace(" absolute", "") === chosen);
    units.value = same ? same.value : "";
  };
  channel.addEventListener("change", fill);
  channel.closest("details").addEventListener("toggle", fill, { once: true });
}
