/** The only room that touches Chart.js. Draws one plot over days; plots share their days, their left margin and a
 *  cursor.
 *
 *  A plot is { y: {min, max, step?, words}, layers, bands?: [{from, to, colour?}], epochs?, marks?: [{day, label?}],
 *  rim?, from, to, dayWords? } where a layer is one of
 *    { kind: 'band',  label, points: [{day, low, high}] }
 *    { kind: 'tide',  label, stepped?, points: [{day, value}] }   a line with water under it
 *    { kind: 'steps' | 'line' | 'dots', label, shape, colour, points: [{day, value, shape?, colour?}] }
 *  `y.down`: what is more stands lower, so that a smaller limb goes down whatever is counted. `y.marks`: what the axis
 *  says instead of round figures. `breaks`: days a new socket begins on, over which no line that heeds them goes.
 *  `day` is a day number. A missing day is a gap in the line. Colours are names of the palette.
 */

import { day, fromNumber } from './when.js';

let library = null;

function load() {
  library ??= new Promise((resolve, reject) => {
    const script = document.createElement('script');
    script.src = '/vendor/chart.umd.js';
    script.onload = () => resolve(window.Chart);
    script.onerror = () => {
      library = null;
      reject(new Error('The chart could not be fetched. The table has the same figures.'));
    };
    document.head.append(script);
  });
  return library;
}

const LEFT = 68;
const RIGHT = 12;
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const faded = (name, share) => {
  const [r, g, b] = colour(name).match(/\w\w/g).map((two) => parseInt(two, 16));
  return `rgba(${r}, ${g}, ${b}, ${share})`;
};

/** Points with a null wherever a day is missing for longer than `most` days, or a day of `breaks` begins, so that the
 *  line
 *  breaks there. */
export function withGaps(points, most, breaks = []) {
  const out = [];
  points.forEach((point, i) => {
    if (i && (point.day - points[i - 1].day > most ||
      breaks.some((at) => points[i - 1].day < at && at <= point.day))) out.push({ x: point.day - 0.5, y: null });
    out.push({ x: point.day, y: point.value });
  });
  return out;
}

const SHAPES = { round: 'circle', square: 'rect', diamond: 'rectRot', up: 'triangle', cross: 'crossRot' };

function datasets(plot) {
  return plot.layers.flatMap((layer) => {
    if (layer.kind === 'band') {
      const base = { label: '', pointRadius: 0, pointHitRadius: 0, borderWidth: 1, borderColor: faded('teal', 0.35) };
      return [
        { ...base, data: layer.points.map((point) => ({ x: point.day, y: point.high })), fill: '+1',
          backgroundColor: faded('teal', 0.24) },
        { ...base, data: layer.points.map((point) => ({ x: point.day, y: point.low })), fill: false },
      ];
    }
    const ink = layer.colour ?? 'ink';
    const common = { label: layer.label, borderColor: colour(ink), pointBackgroundColor: colour(ink), borderWidth: 2,
      pointHitRadius: 0 };
    if (layer.kind === 'tide') {
      return [{ ...common, data: withGaps(layer.points, layer.gap ?? 60, layer.breaks), stepped: layer.stepped
        ? 'before' : false, pointRadius: layer.radius ?? 0, spanGaps: false, borderWidth: 2.5, fill: 'start',
          backgroundColor: faded('teal', 0.12), borderColor: colour('teal') }];
    }
    if (layer.kind === 'dots') {
      const shapes = layer.points.map((point) => SHAPES[point.shape ?? layer.shape ?? 'round']);
      const colours = layer.points.map((point) => colour(point.colour ?? ink));
      return [{ ...common, data: layer.points.map((point) => ({ x: point.day, y: point.value })), showLine: false,
        pointStyle: shapes, pointRadius: layer.radius ?? 3.5, pointBackgroundColor: layer.hollow ? colour('paper')
        : colours, pointBorderColor: colours, pointBorderWidth: 1.5 }];
    }
    return [{ ...common, data: withGaps(layer.points, layer.gap ?? 3, layer.breaks), stepped: layer.kind === 'steps'
      ? 'before' : false, pointStyle: SHAPES[layer.shape ?? 'round'], pointRadius: layer.radius ?? 2, spanGaps: false,
        borderDash: layer.dashed ? [5, 4] : [] }];
  });
}

const rims = (plot) => [plot.rim ?? []].flat();

/** Socket epochs, bands over days, marks, the rim and the cursor, drawn under and over the layers. */
const furniture = {
  id: 'furniture',
  beforeDatasetsDraw(chart, _, { plot }) {
    const { ctx, chartArea: area, scales: { x, y } } = chart;
    ctx.save();
    ctx.beginPath();
    ctx.rect(area.left, area.top, area.width, area.height);
    ctx.clip();
    (plot.epochs ?? []).forEach((epoch, i) => {
      const left = Math.max(area.left, x.getPixelForValue(epoch.from));
      const right = Math.min(area.right, x.getPixelForValue(epoch.to ?? plot.to + 1));
      if (right <= left) return;
      if (i % 2) {
        ctx.fillStyle = faded('sand', 0.09);
        ctx.fillRect(left, area.top, right - left, area.height);
      }
      ctx.strokeStyle = colour('sand');
      ctx.lineWidth = 1.5;
      ctx.setLineDash([]);
      ctx.beginPath();
      ctx.moveTo(left, area.top);
      ctx.lineTo(left, area.bottom);
      if (x.getPixelForValue(epoch.from) >= area.left) ctx.stroke();
    });
    for (const band of plot.bands ?? []) {
      ctx.fillStyle = faded(band.colour ?? 'ink', band.colour ? 0.16 : 0.09);
      const left = x.getPixelForValue(band.from);
      ctx.fillRect(left, area.top, Math.max(1, x.getPixelForValue(band.to) - left), area.height);
    }
    for (const rim of rims(plot)) {
      const at = y.getPixelForValue(rim);
      ctx.strokeStyle = colour('sand');
      ctx.lineWidth = 3;
      ctx.beginPath();
      ctx.moveTo(area.left, at);
      ctx.lineTo(area.right, at);
      ctx.stroke();
    }
    ctx.restore();
  },
  afterDatasetsDraw(chart, _, { plot, cursor }) {
    const { ctx, chartArea: area, scales: { x } } = chart;
    ctx.save();
    ctx.font = `12px ${getComputedStyle(document.body).fontFamily}`;
    ctx.textBaseline = 'top';
    let free = area.left;
    for (const epoch of plot.epochs ?? []) {
      if (!epoch.label) continue;
      const left = Math.max(area.left, x.getPixelForValue(epoch.from)) + 5;
      const right = Math.min(area.right, x.getPixelForValue(epoch.to ?? plot.to + 1));
      const wide = ctx.measureText(epoch.label).width;
      if (left < free || left + Math.min(wide, 40) > right || left + wide > area.right + 2) continue;
      ctx.fillStyle = colour('sand');
      ctx.fillText(epoch.label, left, area.top + 3);
      free = left + wide + 6;
    }
    // three lines of labels; one that would lie on another is left out
    const written = [area.left, area.left, area.left];
    for (const mark of plot.marks ?? []) {
      const at = x.getPixelForValue(mark.day);
      if (at < area.left || at > area.right) continue;
      ctx.fillStyle = colour('ink-2');
      ctx.beginPath();
      ctx.moveTo(at - 5, area.bottom);
      ctx.lineTo(at + 5, area.bottom);
      ctx.lineTo(at, area.bottom - 8);
      ctx.fill();
      if (!mark.label) continue;
      const wide = ctx.measureText(mark.label).width;
      const left = Math.min(at - 4, area.right - wide);
      const row = written.findIndex((end) => left >= end);
      if (row < 0) continue;
      ctx.fillStyle = colour('ink');
      ctx.fillText(mark.label, left, area.bottom - 24 - 14 * row); // above the marks
      written[row] = left + wide + 8;
    }
    if (cursor !== null && cursor !== undefined) {
      const at = x.getPixelForValue(cursor);
      if (at >= area.left - 1 && at <= area.right + 1) {
        ctx.strokeStyle = colour('ink');
        ctx.lineWidth = 1;
        ctx.setLineDash([3, 3]);
        ctx.beginPath();
        ctx.moveTo(at, area.top);
        ctx.lineTo(at, area.bottom);
        ctx.stroke();
      }
    }
    ctx.restore();
  },
};

function ticks(scale) {
  const span = scale.max - scale.min;
  const step = [1, 2, 7, 14, 28, 56, 91, 182, 364].find((days) => span / days <= Math.max(3, scale.width / 90)) ?? 728;
  scale.ticks = [];
  for (let value = Math.ceil(scale.min); value <= scale.max; value += 1) {
    if ((Math.floor(scale.max - 0.5) - value) % step === 0) scale.ticks.push({ value });
  }
}

function options(plot) {
  const font = { size: 12, family: getComputedStyle(document.body).fontFamily };
  return {
    animation: false, responsive: true, maintainAspectRatio: false, normalized: true, parsing: false,
    layout: { padding: { top: 4, right: RIGHT } },
    interaction: { mode: 'x', intersect: false },
    events: [],
    scales: {
      x: {
        type: 'linear', min: plot.from - 0.5, max: plot.to + 0.5, afterBuildTicks: ticks,
        grid: { display: false }, border: { color: colour('edge') },
        ticks: { display: plot.dates !== false, font, color: colour('ink-2'), maxRotation: 0, autoSkip: false,
          callback: plot.dayWords ?? ((value) => day(fromNumber(value))) },
      },
      y: {
        min: plot.y.min, max: plot.y.max, reverse: Boolean(plot.y.down), afterFit: (scale) => { scale.width = LEFT; },
        grid: { color: colour('line') }, border: { display: false },
        ticks: { font, color: colour('ink-2'), stepSize: plot.y.step, autoSkip: false, callback: plot.y.marks
          ? (value) => plot.y.marks.find((mark) => mark.value === value)?.words : plot.y.words },
        ...(plot.y.marks ? { afterBuildTicks: (scale) =>
          { scale.ticks = plot.y.marks.filter(({ value }) => value >= plot.y.min && value <= plot.y.max); } } : {}),
      },
    },
    plugins: { legend: { display: false }, tooltip: { enabled: false }, decimation: { enabled: false },
      furniture: { plot, cursor: plot.cursor ?? null } },
  };
}

/** Draw a plot. Resolves to its handle: `set(plot)`, `cursor(day)`, `dayAt(event)`, `close()`. */
export async function open(canvas, plot) {
  const Chart = await load();
  const chart = new Chart(canvas,
    { type: 'line', data: { datasets: datasets(plot) }, options: options(plot), plugins: [furniture] });
  return {
    set(next) {
      chart.data.datasets = datasets(next);
      chart.options = options(next);
      chart.update('none');
    },
    cursor(at) {
      chart.options.plugins.furniture.cursor = at;
      chart.draw();
    },
    /** The day number under a mouse or touch event. */
    dayAt(event) {
      return Math.round(chart.scales.x.getValueForPixel(event.clientX - canvas.getBoundingClientRect().left));
    },
    close: () => chart.destroy(),
  };
}
