// Traces of a log over time, one strip a channel. The application sends what a picture of this width needs, for three
// windows side by side, so that moving goes on while the next part is on its way. The window stands in the address.

import { axes, follow, ink, placesFor, series, shadeSpans, written } from "./chart.js";

const SHORTEST_S = 0.2;
const STRIP = 132;

export function start(root) {
  new Traces(root);
}

class Traces {
  constructor(root) {
    this.root = root;
    const data = root.dataset;
    this.address = data.address;
    this.duration = Math.max(Number(data.duration), SHORTEST_S);
    this.channels = JSON.parse(data.channels);
    this.pulls = JSON.parse(data.pulls);
    this.restarts = JSON.parse(data.restarts);
    this.strips = root.querySelector("[data-strips]");
    this.span = root.querySelector("[data-span]");
    this.loaded = null;
    this.plots = [];
    [this.from, this.to] = this.limited(Number(data.from), Number(data.to));
    this.build();
    this.listen();
    this.load();
    this.loadOverview(root.querySelector("[data-overview]")).catch((error) => { this.span.textContent = error.message; });
  }

  limited(from, to) {
    const length = Math.min(Math.max(to - from, SHORTEST_S), this.duration);
    const start = Math.min(Math.max(from, 0), this.duration - length);
    return [start, start + length];
  }

  build() {
    const width = this.strips.clientWidth;
    for (const [index, channel] of this.channels.entries()) {
      const last = index === this.channels.length - 1;
      const holder = document.createElement("div");
      holder.className = "strip";
      const key = document.createElement("p");
      key.className = "key";
      const name = channel.unit ? `${channel.label}, ${channel.unit}` : channel.label;
      key.append(name.charAt(0).toUpperCase() + name.slice(1), " ");
      const value = document.createElement("output");
      key.append(value);
      holder.append(key);
      this.strips.append(holder);
      const state = { low: 0, high: 1, few: false };
      const plot = axes(holder, {
        width,
        height: STRIP + (last ? 44 : 0),
        xLabel: last ? "time, s" : "",
        hideX: !last,
        xScale: { range: () => [this.from, this.to] },
        yRange: () => [state.low, state.high],
        series: [{ ...series("trace", channel.label), points: { show: () => state.few, size: 5 } }],
        data: [[], []],
        sync: `traces-${this.address}`,
        cursor: { drag: { x: true, y: false, setScale: false } },
        hooks: {
          drawClear: [(u) => { shadeSpans(u, this.pulls, index === 0); this.drawRestarts(u); }],
          draw: [(u) => this.drawEvents(u, channel.name)],
          setCursor: [(u) => {
            const at = u.cursor.idx;
            value.textContent = at == null ? "" : `${written(u.data[1][at], placesFor(state.low, state.high))} at ${written(u.data[0][at], 2)} s`;
          }],
          setSelect: [(u) => this.selected(u)],
        },
      });
      this.plots.push({ plot, state });
    }
    follow(this.strips, this.plots.map(({ plot }) => plot), (width) => {
      for (const [index, { plot }] of this.plots.entries()) {
        plot.setSize({ width, height: STRIP + (index === this.plots.length - 1 ? 44 : 0) });
        plot.redraw();
      }
      this.load();
    });
  }

  drawRestarts(u) {
    if (!this.restarts.length) return;
    const { ctx } = u;
    ctx.save();
    ctx.strokeStyle = ink("--rule");
    ctx.setLineDash([3, 3]);
    ctx.lineWidth = devicePixelRatio * 1.5;
    for (const at of this.restarts) {
      const x = u.valToPos(at, "x", true);
      if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) continue;
      ctx.beginPath();
      ctx.moveTo(x, u.bbox.top);
      ctx.lineTo(x, u.bbox.top + u.bbox.height);
      ctx.stroke();
    }
    ctx.restore();
  }

  /** A triangle at the foot of a strip where a limit of its channel was passed. */
  drawEvents(u, channel) {
    const { ctx } = u;
    const size = 7 * devicePixelRatio;
    ctx.save();
    ctx.fillStyle = ink("--fail");
    for (const row of document.querySelectorAll(`[data-event-channel="${CSS.escape(channel)}"]`)) {
      const x = u.valToPos(Number(row.dataset.eventAt), "x", true);
      const foot = u.bbox.top + u.bbox.height;
      if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) continue;
      ctx.beginPath();
      ctx.moveTo(x, foot - 1.6 * size);
      ctx.lineTo(x + size, foot);
      ctx.lineTo(x - size, foot);
      ctx.fill();
    }
    ctx.restore();
  }

  selected(u) {
    if (this.moving || u.select.width < 4) return;
    const from = u.posToVal(u.select.left, "x");
    const to = u.posToVal(u.select.left + u.select.width, "x");
    for (const { plot } of this.plots) plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.show(from, to);
  }

  /** Show a span of time; what is there is drawn at once, what is missing is asked for. */
  show(from, to) {
    [this.from, this.to] = this.limited(from, to);
    for (const { plot } of this.plots) plot.setScale("x", { min: this.from, max: this.to });
    this.tell();
    clearTimeout(this.waiting);
    if (this.missing()) this.waiting = setTimeout(() => this.load(), this.asking ? 120 : 15);
    clearTimeout(this.noting);
    this.noting = setTimeout(() => this.note(), 250);
    this.drawWindow?.();
  }

  missing() {
    if (!this.loaded) return true;
    const length = this.to - this.from;
    const coarse = this.loaded.length > 5 * length && !this.loaded.whole;
    // Half a window ahead of the edge, so that the next part is there before it is seen.
    const early = this.loaded.from > 0 && this.from - length / 2 < this.loaded.from;
    const late = this.loaded.to < this.duration && this.to + length / 2 > this.loaded.to;
    return early || late || coarse;
  }

  tell() {
    this.span.textContent = `${written(this.from, 1)} to ${written(this.to, 1)} s of ${written(this.duration, 1)} s`;
  }

  /** Keep the window in the address, so that reload, a bookmark and a second tab show the same. */
  note() {
    const address = new URL(location.href);
    address.searchParams.set("from", this.from.toFixed(2));
    address.searchParams.set("to", this.to.toFixed(2));
    history.replaceState(history.state, "", address);
    for (const name of ["from", "to"]) {
      for (const field of document.querySelectorAll(`form[data-keeps-span] input[name="${name}"]`)) field.value = this[name].toFixed(2);
    }
  }

  async fetchBlocks(channels, from, to, columns) {
    const address = new URL(this.address, location.href);
    for (const name of channels) address.searchParams.append("channel", name);
    address.searchParams.set("from", from);
    address.searchParams.set("to", to);
    address.searchParams.set("columns", Math.round(columns));
    this.asking?.abort();
    this.asking = new AbortController();
    const answer = await fetch(address, { signal: this.asking.signal });
    if (!answer.ok) throw new Error(`the samples did not come (${answer.status})`);
    return blocks(await answer.arrayBuffer(), from);
  }

  async load() {
    const length = this.to - this.from;
    const from = Math.max(0, this.from - length);
    const to = Math.min(this.duration, this.to + length);
    const width = this.strips.clientWidth;
    let found;
    try {
      found = await this.fetchBlocks(this.channels.map((one) => one.name), from, to, (width * (to - from)) / length);
    } catch (error) {
      if (error.name !== "AbortError") this.span.textContent = error.message;
      return;
    }
    this.asking = null;
    this.loaded = { from, to, length: to - from, whole: found.every((one) => !one.thinned) };
    for (const [index, { plot, state }] of this.plots.entries()) {
      const { x, y } = found[index] ?? { x: [], y: [] };
      [state.low, state.high] = spread(y);
      state.few = x.length * (length / (to - from)) < width / 8;
      plot.setData([x, y], false);
      plot.setScale("x", { min: this.from, max: this.to });
    }
    this.tell();
    this.root.dataset.ready = "yes";
    if (this.missing()) this.load();
  }

  /** The whole log in one narrow strip, with the window to drag. */
  async loadOverview(holder) {
    if (!this.channels.length) return;
    const width = holder.clientWidth;
    const address = new URL(this.address, location.href);
    address.searchParams.set("channel", this.channels[0].name);
    address.searchParams.set("from", 0);
    address.searchParams.set("to", this.duration);
    address.searchParams.set("columns", width);
    const [{ x, y }] = blocks(await (await fetch(address)).arrayBuffer(), 0);
    const range = spread(y);
    const plot = axes(holder, {
      width,
      height: 62,
      hideX: true,
      xRange: [0, this.duration],
      yRange: range,
      series: [series("pull", "")],
      data: [x, y],
      cursor: { show: false },
      hooks: { drawClear: [(u) => shadeSpans(u, this.pulls, false)], draw: [() => this.drawWindow?.()] },
    });
    const frame = document.createElement("div");
    frame.className = "frame";
    plot.over.append(frame);
    this.drawWindow = () => {
      const left = plot.valToPos(this.from, "x");
      const right = plot.valToPos(this.to, "x");
      frame.style.left = `${left}px`;
      frame.style.width = `${Math.max(3, right - left)}px`;
    };
    this.drawWindow();
    follow(holder, [plot], (size) => { plot.setSize({ width: size, height: 62 }); plot.redraw(); this.drawWindow(); });
    const at = (event) => plot.posToVal(event.clientX - plot.over.getBoundingClientRect().left, "x");
    plot.over.addEventListener("pointerdown", (event) => {
      plot.over.setPointerCapture(event.pointerId);
      const begun = at(event);
      const inside = begun >= this.from && begun <= this.to;
      const [from, to] = [this.from, this.to];
      if (!inside) this.show(begun - (to - from) / 2, begun + (to - from) / 2);
      const [first, last] = [this.from, this.to];
      const move = (next) => { const by = at(next) - begun; this.show(first + by, last + by); };
      plot.over.addEventListener("pointermove", move);
      plot.over.addEventListener("pointerup", () => plot.over.removeEventListener("pointermove", move), { once: true });
    });
  }

  zoom(factor, around = (this.from + this.to) / 2) {
    this.show(around - (around - this.from) * factor, around + (this.to - around) * factor);
  }

  pan(share) {
    const by = (this.to - this.from) * share;
    this.show(this.from + by, this.to + by);
  }

  listen() {
    const doing = {
      in: () => this.zoom(0.5),
      out: () => this.zoom(2),
      earlier: () => this.pan(-0.4),
      later: () => this.pan(0.4),
      whole: () => this.show(0, this.duration),
    };
    this.root.addEventListener("click", (event) => doing[event.target.closest("[data-do]")?.dataset.do]?.());
    document.body.addEventListener("htmx:afterSettle", () => { for (const { plot } of this.plots) plot.redraw(false); });
    document.addEventListener("click", (event) => {
      const button = event.target.closest("[data-show-from]");
      if (!button) return;
      const [from, to] = [Number(button.dataset.showFrom), Number(button.dataset.showTo)];
      const air = Math.max(1, 0.4 * (to - from));
      this.show(from - air, to + air);
      this.root.scrollIntoView({ block: "start" });
    });
    const keys = { ArrowLeft: () => this.pan(-0.15), ArrowRight: () => this.pan(0.15), "+": doing.in, "=": doing.in, "-": doing.out, 0: doing.whole, Home: () => this.pan(-1e9), End: () => this.pan(1e9) };
    this.strips.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });
    this.strips.addEventListener("dblclick", doing.whole);
    this.strips.addEventListener("wheel", (event) => {
      const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
      if (!sideways && !event.ctrlKey) return; // up and down belongs to the page
      event.preventDefault();
      if (sideways) this.pan(event.deltaX / this.strips.clientWidth);
      else this.zoom(Math.exp(event.deltaY / 200), this.timeAt(event.clientX));
    }, { passive: false });
    this.listenToPointers();
  }

  timeAt(clientX) {
    const { plot } = this.plots[0];
    return plot.posToVal(clientX - plot.over.getBoundingClientRect().left, "x");
  }

  /** Shift and drag moves; so does a finger, and two fingers zoom. */
  listenToPointers() {
    const down = new Map();
    let begun = null;
    const begin = () => {
      const [first, second] = [...down.values()];
      begun = { from: this.from, to: this.to, first, apart: second === undefined ? 0 : Math.abs(first - second), width: this.plots[0].plot.over.clientWidth };
    };
    this.strips.addEventListener("pointerdown", (event) => {
      if (!(event.shiftKey || event.pointerType === "touch") || !this.plots.length) return;
      this.moving = true;
      down.set(event.pointerId, event.clientX);
      begin();
    }, true);
    const move = (event) => {
      if (!down.has(event.pointerId)) return;
      down.set(event.pointerId, event.clientX);
      const [first, second] = [...down.values()];
      const length = begun.to - begun.from;
      if (second !== undefined && begun.apart > 10) {
        const middle = (begun.from + begun.to) / 2;
        const half = (length / 2) * (begun.apart / Math.max(10, Math.abs(first - second)));
        this.show(middle - half, middle + half);
      } else {
        const by = ((begun.first - first) / begun.width) * length;
        this.show(begun.from + by, begun.to + by);
      }
    };
    const end = (event) => {
      if (!down.delete(event.pointerId)) return;
      if (down.size) begin();
      else setTimeout(() => { this.moving = false; for (const { plot } of this.plots) plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false); });
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", end);
    window.addEventListener("pointercancel", end);
  }
}

/** Times and values of each channel; what is no number becomes a gap. */
export function blocks(buffer, from) {
  const view = new DataView(buffer);
  const found = [];
  let at = 0;
  while (at < buffer.byteLength) {
    const count = view.getUint32(at, true);
    const thinned = view.getUint32(at + 4, true) === 1;
    at += 8;
    const x = new Array(count);
    const y = new Array(count);
    for (let i = 0; i < count; i += 1) {
      x[i] = from + view.getFloat32(at + 4 * i, true);
      const value = view.getFloat32(at + 4 * (count + i), true);
      y[i] = Number.isNaN(value) ? null : value;
    }
    at += 8 * count;
    found.push({ x, y, thinned });
  }
  return found;
}

function spread(values) {
  let [low, high] = [Infinity, -Infinity];
  for (const value of values) {
    if (value === null) continue;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  if (low > high) return [0, 1];
  const air = 0.07 * (high - low) || 0.05 * Math.abs(high) || 1;
  return [low - air, high + air];
}
