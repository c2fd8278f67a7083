// Plots a trace while it grows: one plot for each quantity, limits as dashed lines, moments as numbered dotted lines.
// Takes: `trace` events with the rows since the last event.  Gives: plots; the card shows the same as text beside them.

import { morph } from "/static/stream.js";
import uPlot from "/static/vendor/uPlot.esm.js";

const MIN_SPAN_S = 30;
const card = document.getElementById("trace");
let columns = [];
let marks = [];
let data = [[]];
let plots = new Map();   // element -> its plot

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

// The card's update may remove plot elements and add others; those that stay keep their plot (data-keep), so that a
// growing trace is extended and not drawn again from the start.
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
    const series = [data[0], data[number + 1]];
    if (plots.has(element)) plots.get(element).setData(series);
    else plots.set(element, new uPlot(options(element, column), series, element));
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
      x: { time: false, range: (_, __, most) => [0, Math.max(MIN_SPAN_S, most ?? 0)] },
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

// Returns true if the trace is farther from a limit in the first quarter than in the last: the label goes there.
//
//   limit  - 585 degC - - - - - - -       left: free
//                         ____/           right: the trace is close to the limit
//          ______________/
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
  let free = -Infinity;   // a number that would overlap the one before is left out; the list has all of them
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
