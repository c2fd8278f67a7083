// Draws a strip as it grows: one drawing for each quantity, with limits as dashed lines and moments as numbered ones.
// Takes: `trace` events (rows since the last one).  Gives: drawings; all that they show stands beside them as text.

import uPlot from "./vendor/uPlot.esm.js";
import { morph } from "./stream.js";

const LEAST_S = 30;
const card = document.getElementById("trace");
let columns = [];
let marks = [];
let data = [[]];
let plots = new Map();   // element -> its drawing

document.addEventListener("trace", ({ detail }) => {
  if (detail.text) morph(card, detail.text);
  if (detail.fresh) begin(detail);
  marks = detail.marks ?? [];
  for (const row of detail.rows) row.forEach((value, at) => data[at].push(value));
  draw();
});
matchMedia("(prefers-color-scheme: light)").addEventListener("change", () => { clear(); draw(); });
new ResizeObserver(() => {
  for (const [element, plot] of plots) if (plot.width !== element.clientWidth) plot.setSize(sizeOf(element));
}).observe(card);

function begin(detail) {
  clear();
  columns = detail.columns ?? [];
  data = [[], ...columns.map(() => [])];
}

function clear() {
  for (const plot of plots.values()) plot.destroy();
  plots = new Map();
}

function draw() {
  for (const [element, plot] of plots) {
    if (element.isConnected) continue;
    plot.destroy();
    plots.delete(element);
  }
  for (const element of card.querySelectorAll(".plot")) {
    const number = Number(element.dataset.plot);
    const column = columns[number];
    if (!column) continue;
    const now = [data[0], data[number + 1]];
    if (plots.has(element)) plots.get(element).setData(now);
    else plots.set(element, new uPlot(options(element, column), now, element));
  }
}

function sizeOf(element) {
  return { width: Math.max(120, element.clientWidth), height: Math.max(80, element.clientHeight) };
}

function options(element, column) {
  const style = getComputedStyle(element);
  const [text, dim, line, trace, ground] = ["--text", "--dim", "--line", "--trace", "--raised"].map((name) => style.getPropertyValue(name).trim());
  const font = `12px ${style.fontFamily}`;
  const axis = { stroke: dim, font, grid: { stroke: line, width: 1 }, ticks: { show: false } };
  return {
    ...sizeOf(element),
    legend: { show: false },
    cursor: { show: false },
    padding: [14, 18, 0, 0],
    scales: {
      x: { time: false, range: (_, __, most) => [0, Math.max(LEAST_S, most ?? 0)] },
      y: { range: (_, least, most) => rangeOf(column, least, most) },
    },
    axes: [
      { ...axis, size: 20, gap: 2, space: 60, values: (_, at) => at.map((s) => `${s} s`) },
      { ...axis, size: 46, gap: 4, space: 28 },
    ],
    series: [{}, { stroke: trace, width: 2, points: { show: false }, spanGaps: false }],
    hooks: { drawAxes: [(plot) => { drawLimits(plot, column, text, ground, font); drawMarks(plot, dim, font); }] },
  };
}

function rangeOf(column, least, most) {
  const limits = column.limits.map(([value]) => value);
  const top = Math.max(most ?? 1, ...limits);
  const bottom = Math.min(0, least ?? 0);
  return [bottom, top + Math.max((top - bottom) * 0.12, 1e-6)];
}

function drawLimits(plot, column, colour, ground, font) {
  const { ctx, bbox } = plot;
  ctx.save();
  ctx.strokeStyle = ctx.fillStyle = colour;
  ctx.font = scaled(font);
  ctx.setLineDash([8 * devicePixelRatio, 5 * devicePixelRatio]);
  ctx.lineWidth = devicePixelRatio;
  ctx.textAlign = "left";
  ctx.textBaseline = "bottom";
  for (const [value, label] of column.limits) {
    const y = plot.valToPos(value, "y", true);
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
    const wide = ctx.measureText(label).width + 6 * devicePixelRatio;
    const left = clearerAtLeft(plot, value) ? bbox.left + devicePixelRatio : bbox.left + bbox.width - wide;
    ctx.fillStyle = ground;
    ctx.fillRect(left, y - 16 * devicePixelRatio, wide, 14 * devicePixelRatio);
    ctx.fillStyle = colour;
    ctx.fillText(label, left + 3 * devicePixelRatio, y - 2 * devicePixelRatio);
  }
  ctx.restore();
}

// Whether the trace keeps farther from a limit at the left than at the right, so that its label is read there.
function clearerAtLeft(plot, limit) {
  const [times, values] = plot.data;
  const { max } = plot.scales.x;
  const near = (from, to) => Math.min(...values.filter((value, at) => value !== null && times[at] >= from * max && times[at] <= to * max)
    .map((value) => Math.abs(value - limit)));
  return near(0, 0.25) > near(0.75, 1);
}

function drawMarks(plot, colour, font) {
  const { ctx, bbox } = plot;
  ctx.save();
  ctx.strokeStyle = ctx.fillStyle = colour;
  ctx.font = scaled(font);
  ctx.setLineDash([devicePixelRatio, 4 * devicePixelRatio]);
  ctx.lineWidth = devicePixelRatio;
  ctx.textAlign = "center";
  let free = -Infinity;   // numbers that would overlap are left out; the list has them all
  marks.forEach(([at], number) => {
    const x = plot.valToPos(at, "x", true);
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    if (x < free) return;
    ctx.fillText(`${number + 1}`, x, bbox.top - 3 * devicePixelRatio);
    free = x + 12 * devicePixelRatio;
  });
  ctx.restore();
}

function scaled(font) {
  return font.replace(/^(\d+)px/, (_, size) => `${size * devicePixelRatio}px`);
}
