// Everything that our charts share: ink and paper taken from the style sheet, squared paper behind the lines, lines
// told apart by dash and weight before colour, shaded spans, and numbers written as in the rest of the notebook.

import uPlot from "../vendor/uPlot.esm.js";

export { uPlot };

// How a line is told from the others; colour is the least of it.
const PENS = {
  before: { ink: "--before", width: 2, dash: [7, 4] },
  after: { ink: "--after", width: 2.5 },
  difference: { ink: "--ink", width: 2 },
  mean: { ink: "--ink", width: 2 },
  pull: { ink: "--soft", width: 1 },
  trace: { ink: "--ink", width: 1.4 },
  "pull-before": { ink: "--before", width: 1.2, dash: [5, 3] },
  "pull-after": { ink: "--after", width: 1.4 },
  edge: { ink: "--soft", width: 0.7 },
  zero: { ink: "--ink", width: 1 },
  worth: { ink: "--ink", width: 1, dash: [1, 3] },
  first: { ink: "--before", width: 2 },
  second: { ink: "--after", width: 2, dash: [8, 3] },
  third: { ink: "--ink", width: 2, dash: [2, 3] },
};

export const pen = (role) => PENS[role] ?? PENS.trace;

export function ink(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/** A number as people write it: a true minus, no exponent, as many places as the spread needs. */
export function written(value, places = 1) {
  if (value === null || value === undefined || Number.isNaN(value)) return "–";
  return value.toFixed(places).replace("-", "−");
}

/** Decimal places that tell two values of a range apart. */
export function placesFor(low, high) {
  const span = Math.abs(high - low) || Math.abs(high) || 1;
  return Math.min(4, Math.max(0, 2 - Math.floor(Math.log10(span))));
}

const FONT = '12px system-ui, "Segoe UI", "Noto Sans", sans-serif';

function multiples(min, max, step) {
  const found = [];
  for (let k = Math.ceil(min / step - 1e-9); k * step <= max + 1e-9 * step; k += 1) found.push(Number((k * step).toPrecision(12)));
  return found;
}

function axis({ side, label, size, steps, hidden }) {
  return {
    side,
    show: !hidden,
    label: label || undefined,
    labelSize: label ? 20 : 0,
    labelFont: FONT,
    font: FONT,
    size,
    gap: 4,
    space: side === 2 ? 70 : 34,
    stroke: () => ink("--soft"),
    grid: { stroke: () => ink("--grid"), width: 1 },
    ticks: { show: false },
    splits: (u, index, min, max, step) => {
      steps[index] = step;
      return multiples(min, max, step);
    },
    values: (u, values) => {
      const step = values.length > 1 ? Math.abs(values[1] - values[0]) : 1;
      const places = Math.min(4, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)));
      return values.map((value) => written(value, Number.isInteger(step * 10 ** places) ? places : places + 1));
    },
  };
}

/** Four fine lines between each two of the numbered ones: squared paper. */
function fineSquares(steps) {
  return (u) => {
    const { ctx } = u;
    const { left, top, width, height } = u.bbox;
    ctx.save();
    ctx.strokeStyle = ink("--square");
    ctx.lineWidth = devicePixelRatio;
    ctx.beginPath();
    for (const [index, scale] of [[0, "x"], [1, "y"]]) {
      const { min, max } = u.scales[scale];
      if (min == null || !steps[index]) continue;
      for (const value of multiples(min, max, steps[index] / 5)) {
        const at = Math.round(u.valToPos(value, scale, true)) + 0.5;
        if (scale === "x") { ctx.moveTo(at, top); ctx.lineTo(at, top + height); }
        else { ctx.moveTo(left, at); ctx.lineTo(left + width, at); }
      }
    }
    ctx.stroke();
    ctx.restore();
  };
}

/** Shade spans of the x axis; `used: false` hatches, so that grey tells them apart too. */
export function shadeSpans(u, spans, labels = true) {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.font = `600 ${12 * devicePixelRatio}px system-ui`;
  for (const span of spans) {
    const from = u.valToPos(span.start, "x", true);
    const to = u.valToPos(span.end, "x", true);
    if (to < left || from > left + width) continue;
    ctx.fillStyle = span.used === false ? ink("--shade-off") : ink("--shade");
    ctx.fillRect(from, top, to - from, height);
    ctx.strokeStyle = ink("--soft");
    ctx.lineWidth = devicePixelRatio * 0.7;
    if (span.used === false) {
      ctx.save();
      ctx.beginPath();
      ctx.rect(from, top, to - from, height);
      ctx.clip();
      ctx.beginPath();
      for (let x = from - height; x < to; x += 9 * devicePixelRatio) { ctx.moveTo(x, top + height); ctx.lineTo(x + height, top); }
      ctx.stroke();
      ctx.restore();
    }
    ctx.strokeRect(from, top - 2, to - from, height + 4);
    if (labels && span.label) {
      ctx.fillStyle = ink("--ink");
      ctx.fillText(span.label, Math.max(from, left) + 4 * devicePixelRatio, top + 13 * devicePixelRatio);
    }
  }
  ctx.restore();
}

export function series(role, label) {
  const { ink: name, width, dash } = pen(role);
  return { label, stroke: () => ink(name), width, dash, points: { show: false }, spanGaps: false };
}

/**
 * A pair of axes.
 * @param {HTMLElement} target where it goes
 * @param {{width: number, height: number, xLabel?: string, hideX?: boolean, xRange?: number[], yRange?: Function|number[],
 *   series: object[], bands?: object[], data: any[], hooks?: object, cursor?: object, sync?: string, left?: number}} wanted
 */
export function axes(target, wanted) {
  const steps = {};
  const hooks = wanted.hooks ?? {};
  const options = {
    width: wanted.width,
    height: wanted.height,
    pxAlign: 0,
    padding: [6, 10, 0, 0],
    legend: { show: false },
    scales: {
      x: { time: false, ...(wanted.xRange ? { range: () => wanted.xRange } : {}), ...(wanted.xScale ?? {}) },
      y: wanted.yRange ? { range: typeof wanted.yRange === "function" ? wanted.yRange : () => wanted.yRange } : {},
    },
    axes: [
      axis({ side: 2, label: wanted.xLabel, size: wanted.hideX ? 6 : 26, steps, hidden: false }),
      axis({ side: 3, size: wanted.left ?? 52, steps }),
    ],
    series: [{ label: "x" }, ...wanted.series],
    bands: wanted.bands ?? [],
    cursor: {
      points: { size: 7 },
      y: false,
      drag: { x: false, y: false, setScale: false },
      ...(wanted.sync ? { sync: { key: wanted.sync, setSeries: false } } : {}),
      ...(wanted.cursor ?? {}),
    },
    hooks: {
      ...hooks,
      drawClear: [fineSquares(steps), ...(hooks.drawClear ?? [])],
    },
  };
  if (wanted.hideX) options.axes[0].values = (u, values) => values.map(() => "");
  const made = new uPlot(options, wanted.data, target);
  made.root.setAttribute("aria-hidden", "true");
  return made;
}

const followed = new Map();

/** Draw again when the window or the colours change; let go of the drawing when its place is taken off the page. */
export function follow(element, plots, redraw) {
  let width = element.clientWidth;
  const observer = new ResizeObserver(() => {
    if (element.clientWidth && element.clientWidth !== width) {
      width = element.clientWidth;
      redraw(width);
    }
  });
  observer.observe(element);
  followed.set(element, { plots, redraw, observer });
}

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
  for (const [element, { redraw }] of followed) redraw(element.clientWidth);
});

document.body.addEventListener("htmx:afterSwap", () => {
  for (const [element, { plots, observer }] of followed) {
    if (element.isConnected) continue;
    followed.delete(element);
    observer.disconnect();
    for (const plot of plots) plot.destroy();
  }
});
