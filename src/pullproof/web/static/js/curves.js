// Curves over one axis, one pair of axes above the other: lines with their bands, levels to judge by, shaded spans.
// With a brush, dragging over the axis fills two fields of a form and sends it.

import { axes, follow, ink, pen, placesFor, series, shadeSpans, written } from "./chart.js";

export function start(root) {
  const spec = JSON.parse(root.dataset.spec);
  const plot = root.querySelector(".plot");
  const panels = spec.panels.map((panel, index) => drawPanel(root, plot, spec, panel, index));
  follow(plot, panels.map(({ made }) => made), (width) => {
    for (const { made, height } of panels) {
      made.setSize({ width, height });
      made.redraw();
    }
  });
  root.dataset.ready = "yes";
}

const HEIGHTS = [[250], [210, 150]];

function drawPanel(root, plot, spec, panel, index) {
  const last = index === spec.panels.length - 1;
  const height = (HEIGHTS[spec.panels.length - 1]?.[index] ?? 160) + (last ? 44 : 0);
  const holder = document.createElement("div");
  plot.append(holder);
  const readout = drawKey(holder, panel);
  const data = [panel.x];
  const lines = [];
  const bands = [];
  for (const band of panel.bands) { // first, so that they lie below the lines
    data.push(band.upper, band.lower);
    lines.push(series("edge", `${band.label}, upper`), series("edge", `${band.label}, lower`));
    bands.push({ series: [lines.length - 1, lines.length], fill: () => ink(band.role ? "--shade" : "--band") });
  }
  const first = data.length;
  for (const line of panel.lines) {
    data.push(line.y);
    lines.push(series(line.role, line.label));
  }
  const places = placesFor(...panel.y_range);
  const made = axes(holder, {
    width: plot.clientWidth,
    height,
    xLabel: last ? spec.x_label : "",
    hideX: !last,
    xRange: spec.x_range,
    yRange: panel.y_range,
    series: lines,
    bands,
    data,
    sync: `${root.id}-axis`,
    cursor: spec.brush ? { drag: { x: true, y: false, setScale: false } } : {},
    hooks: {
      drawClear: [(u) => shadeSpans(u, spec.spans)],
      draw: [(u) => drawLevels(u, panel.levels)],
      setCursor: [(u) => {
        const at = u.cursor.idx;
        readout(at == null ? null : u.data[0][at], (row) => written(u.data[first + row][at], places));
      }],
      setSelect: [(u) => { if (spec.brush && u.select.width > 5) brushed(root, u); }],
    },
  });
  return { made, height };
}

/** Name of the quantity, and each line's name beside a piece of it; filled with values under the pointer. */
function drawKey(holder, panel) {
  const key = document.createElement("p");
  key.className = "key";
  const name = document.createElement("strong");
  name.textContent = panel.label.charAt(0).toUpperCase() + panel.label.slice(1);
  const where = document.createElement("output");
  key.append(name);
  const values = [];
  const named = new Set();
  panel.lines.forEach((line, row) => {
    if (!line.label || named.has(line.label)) return;
    named.add(line.label);
    const value = document.createElement("output");
    const piece = document.createElement("span");
    piece.className = "line";
    piece.append(sample(line.role), line.label, value);
    key.append(piece);
    values.push([row, value]);
  });
  key.append([...new Set(panel.bands.map((band) => band.label))].join(", "));
  key.append(where);
  holder.append(key);
  const single = named.size === panel.lines.length;
  return (x, valueOf) => {
    where.textContent = x === null ? "" : `at ${written(x, x >= 100 ? 0 : 2)}`;
    if (single) for (const [row, value] of values) value.textContent = x === null ? "" : valueOf(row);
  };
}

function sample(role) {
  const { ink: name, width, dash } = pen(role);
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 36 12");
  svg.setAttribute("aria-hidden", "true");
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("d", "M0 6H36");
  path.setAttribute("stroke", `var(${name})`);
  path.setAttribute("stroke-width", width);
  if (dash) path.setAttribute("stroke-dasharray", dash.join(" "));
  svg.append(path);
  return svg;
}

function drawLevels(u, levels) {
  const { ctx } = u;
  const { left, width, top, height } = u.bbox;
  for (const level of levels) {
    const at = u.valToPos(level.y, "y", true);
    if (at < top || at > top + height) continue;
    const { ink: name, width: weight, dash } = pen(level.kind);
    ctx.save();
    ctx.strokeStyle = ink(name);
    ctx.lineWidth = weight * devicePixelRatio;
    ctx.setLineDash((dash ?? []).map((length) => length * devicePixelRatio));
    ctx.beginPath();
    ctx.moveTo(left, at);
    ctx.lineTo(left + width, at);
    ctx.stroke();
    ctx.restore();
  }
}

function brushed(root, u) {
  const ends = [u.select.left, u.select.left + u.select.width].map((at) => Math.round(u.posToVal(at, "x") / 10) * 10);
  const fields = [root.dataset.brushLow, root.dataset.brushHigh].map((id) => document.getElementById(id));
  fields.forEach((field, index) => { field.value = ends[index]; });
  fields[0].form.requestSubmit();
}
