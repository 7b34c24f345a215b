// The choice of a channel decides which units its column can have.

export function start(channel) {
  const units = document.getElementById(channel.dataset.units);
  const details = channel.closest("details");
  const fill = async () => {
    const asked = channel.value;
    const address = `/units?channel=${encodeURIComponent(asked)}`;
    const answer = await fetch(address, { headers: { "hx-request": "true" } }).catch(() => null);
    const text = answer?.ok ? await answer.text() : null;
    if (text === null || asked !== channel.value) return; // nothing came, or another channel was chosen meanwhile
    const chosen = units.value || units.dataset.chosen;
    units.innerHTML = text;
    const options = [...units.options];
    const same = options.find((one) => one.value === chosen) ?? options.find((one) => one.value.replace(" absolute", "") === chosen);
    units.value = same ? same.value : "";
  };
  channel.addEventListener("change", fill);
  details.addEventListener("toggle", fill, { once: true });
  if (details.open) fill();
}
