/** The plots of a limb's story and, for each, the sentence that says what it shows and the table with the same figures. */

import { dayNumber, fullDay } from '../when.js';
import { FINDING, pct, PURPOSE, stack, SUSPENSION } from '../words.js';
import { skinWords } from './evidence.js';
import { isSevere } from './log.js';

const one = (value) => (value === null || value === undefined ? '' : value.toFixed(1));

export function epochsOf(sockets) {
  return sockets.map((socket, i) => ({
    from: dayNumber(socket.fitted_on),
    to: sockets[i + 1] ? dayNumber(sockets[i + 1].fitted_on) : null,
    label: `${PURPOSE[socket.purpose]} socket`,
  }));
}

/** The plot for the days from `from` to `to`: a round axis that holds what is seen and at least `y.least`. */
export function fitted(plot, from, to) {
  if (plot.y.fixed) return { ...plot, from, to };
  const seen = plot.layers.flatMap((layer) => layer.points.filter((point) => point.day >= from && point.day <= to)
    .flatMap((point) => (layer.kind === 'band' ? [point.low, point.high] : [point.value])));
  const low = Math.min(...seen, plot.y.least[0]);
  const high = Math.max(...seen, plot.y.least[1]);
  const step = [0.5, 1, 2, 5, 10, 20].find((one) => one >= plot.y.finest && Math.ceil(high / one) - Math.floor(low / one) <= plot.y.most) ?? 50;
  return { ...plot, from, to, y: { ...plot.y, min: Math.floor(low / step) * step, max: Math.ceil(high / step) * step, step } };
}

export function volumePlot(story) {
  const band = story.band.map((point) => ({ day: dayNumber(point.date), value: point.pct, low: point.low, high: point.high, date: point.date }));
  const last = story.assessment.volume.change_pct;
  return {
    name: 'volume', title: 'Limb volume against the socket', tall: true,
    says: last ? `${pct(last.value)} against the day the socket was fitted; 90 % sure it lies from ${pct(last.low)} to ${pct(last.high)}. Zero is the socket’s rim; below it the limb is smaller.`
      : 'Nothing can be drawn yet.',
    key: [['tide', 'most likely'], ['band', '90 % sure'], ['rim', 'socket rim: the limb on fitting day'], ['epoch', 'a new socket'], ['mark', 'measured or changed at the clinic']],
    plot: band.length ? {
      y: { least: [-4, 1], most: 7, finest: 1, words: (value) => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} %` },
      layers: [{ kind: 'band', label: '90 % sure', points: band }, { kind: 'tide', label: 'most likely', points: band }],
      rim: 0, epochs: epochsOf(story.sockets), marks: marksOf(story).map((mark) => ({ day: dayNumber(mark.date) })),
    } : null,
    head: ['Day', 'Volume', 'Lowest (90 %)', 'Highest (90 %)'],
    rows: band.map((point) => [fullDay(point.date), pct(point.value), pct(point.low), pct(point.high)]).reverse(),
  };
}

export function marksOf(story) {
  return [
    ...story.measurements.map((one) => mark('measurement', one)),
    ...story.interventions.map((one) => mark('intervention', one)),
    ...story.sockets.flatMap((socket) => (socket.suspensions ?? []).map((one) => ({ date: one.on, words: `Suspension switched to ${SUSPENSION[one.suspension] ?? one.suspension}` }))),
    ...story.pads.map((one) => mark('pad', one)),
  ].sort((a, b) => a.date.localeCompare(b.date));
}

/** A pad, a measurement or an intervention in words. */
export function workWords(kind, one) {
  if (kind === 'measurement') return `Measured${one.volume_ml ? `: about ${Math.round(one.volume_ml)} ml` : ''}${one.weight_kg ? `, ${one.weight_kg} kg` : ''}`;
  if (kind === 'pad') return `Pad, ${one.thickness_mm} mm${one.place ? `, ${one.place}` : ''}`;
  return `${one.kind}${one.note ? `: ${one.note}` : ''}`;
}

const mark = (kind, one) => ({ date: one.on, words: workWords(kind, one), kind, id: one.id });

export function stackPlot(story, lines) {
  const points = (moment) => lines.filter((line) => line[moment]).map((line) => ({ day: line.day, value: line[moment].stack_mm }));
  const morning = points('morning');
  const evening = points('evening');
  const last = [...lines].reverse().find((line) => line.morning);
  return {
    name: 'stack', title: 'Sock stack',
    says: last ? `Last morning: ${stack(last.morning.stack)}, ${one(last.morning.stack_mm)} mm. More sock means a smaller limb.` : 'No sock stack is logged yet.',
    key: [['steps', 'morning'], ['evening', 'evening'], ['epoch', 'a new socket']],
    plot: lines.length ? {
      y: { least: [0, 2.2], most: 5, finest: 1, words: (value) => `${value} mm` },
      layers: [{ kind: 'steps', label: 'morning', colour: 'ink', radius: 1.5, points: morning }, { kind: 'dots', label: 'evening', shape: 'up', colour: 'sand', hollow: true, radius: 3.5, points: evening }],
      epochs: epochsOf(story.sockets).map(({ label, ...epoch }) => epoch),
    } : null,
    head: ['Day', 'Morning', 'mm', 'Evening', 'mm'],
    rows: lines.map((line) => [fullDay(line.date), line.morning ? stack(line.morning.stack) : '', one(line.morning?.stack_mm), line.evening ? stack(line.evening.stack) : '', one(line.evening?.stack_mm)]).reverse(),
  };
}

export function comfortPlot(story, lines) {
  const points = lines.filter((line) => line.comfort !== null).map((line) => ({ day: line.day, value: line.comfort }));
  const week = points.slice(-7);
  const mean = week.length ? week.reduce((sum, point) => sum + point.value, 0) / week.length : null;
  return {
    name: 'comfort', title: 'Comfort in the socket',
    says: mean === null ? 'No comfort is logged yet.' : `${one(mean)} on average over the last ${week.length} logged days. 10 is the most comfortable.`,
    key: [['line', 'lowest answer of the day']],
    plot: points.length ? {
      y: { least: [0, 10], most: 2, finest: 5, words: (value) => `${value}` },
      layers: [{ kind: 'line', label: 'comfort', colour: 'ink', radius: 1.8, points }],
      epochs: epochsOf(story.sockets).map(({ label, ...epoch }) => epoch),
    } : null,
    head: ['Day', 'Comfort', 'Pain'],
    rows: lines.map((line) => [fullDay(line.date), line.comfort, line.pain ?? '']).reverse(),
  };
}

/** Skin and falls: one row each, a shape per kind. */
export function eventsPlot(story, lines) {
  const skin = lines.filter((line) => line.skin.length);
  const falls = lines.filter((line) => line.falls);
  const points = [
    ...skin.map((line) => {
      const severe = line.skin.some(({ finding }) => isSevere(finding));
      return { day: line.day, value: 2, shape: severe ? 'diamond' : 'round', colour: severe ? 'alert' : 'sand' };
    }),
    ...falls.map((line) => ({ day: line.day, value: 1, shape: 'cross', colour: 'ink' })),
  ];
  const looked = lines.filter((line) => line.looked).length;
  const kinds = [...new Set(skin.flatMap((line) => line.skin.map(({ finding }) => FINDING[finding])))];
  return {
    name: 'skin', title: 'Skin and falls',
    says: `${skin.length ? `Skin findings on ${skin.length} of ${looked} days looked at: ${kinds.join(', ')}` : looked ? `Nothing found on ${looked} days looked at` : 'Skin was not looked at'}. ${
      falls.length ? `Falls on ${falls.length} ${falls.length === 1 ? 'day' : 'days'}.` : 'No falls reported.'}`,
    key: [['severe', 'skin: stop-wear finding'], ['mild', 'skin: other finding'], ['fall', 'fall']],
    plot: lines.length ? {
      y: { fixed: true, min: 0.4, max: 2.6, step: 1, words: (value) => ({ 2: 'skin', 1: 'falls' })[value] ?? '' },
      layers: [{ kind: 'dots', label: 'skin and falls', radius: 5, points }],
      epochs: epochsOf(story.sockets).map(({ label, ...epoch }) => epoch),
    } : null,
    low: true,
    head: ['Day', 'Skin', 'Falls'],
    rows: lines.filter((line) => line.skin.length || line.falls).map((line) => [fullDay(line.date), line.skin.map(skinWords).join('; '), line.falls ?? '']).reverse(),
  };
}

/** Hours worn, or null where nobody says. */
export function hoursPlot(story, lines) {
  const points = lines.filter((line) => line.hours !== null).map((line) => ({ day: line.day, value: line.hours }));
  if (!points.length) return null;
  const mean = (some) => some.reduce((sum, point) => sum + point.value, 0) / some.length;
  return {
    name: 'hours', title: 'Hours worn', low: true,
    says: `${one(mean(points.slice(-7)))} hours a day over the last ${Math.min(7, points.length)} days that say so.`,
    key: [['line', 'hours']],
    plot: {
      y: { least: [0, 12], most: 3, finest: 5, words: (value) => `${value} h` },
      layers: [{ kind: 'line', label: 'hours', colour: 'ink', radius: 1.8, gap: 4, points }],
      epochs: epochsOf(story.sockets).map(({ label, ...epoch }) => epoch),
    },
    head: ['Day', 'Hours'],
    rows: lines.filter((line) => line.hours !== null).map((line) => [fullDay(line.date), line.hours]).reverse(),
  };
}

/** Body weight from the log and the clinic's scales against the socket's limit, or null without any. */
export function weightPlot(story, lines) {
  const home = lines.filter((line) => line.weight).map((line) => ({ day: line.day, value: line.weight, date: line.date, by: 'at home' }));
  const clinic = story.measurements.filter((one) => one.weight_kg).map((one) => ({ day: dayNumber(one.on), value: one.weight_kg, date: one.on, by: 'at the clinic' }));
  const all = [...home, ...clinic].sort((a, b) => a.day - b.day);
  if (!all.length) return null;
  const limit = story.sockets.filter((socket) => !socket.retired_on).at(-1)?.weight_limit_kg ?? null;
  const near = limit !== null && all.at(-1).value > limit * 0.85;
  const values = all.map((point) => point.value);
  return {
    name: 'weight', title: 'Body weight', low: true,
    says: `${all.at(-1).value} kg, ${all.at(-1).by}, ${fullDay(all.at(-1).date)}.${limit === null ? '' : ` The socket’s limit as entered: ${limit} kg.`}`,
    key: [['line', 'at home'], ['evening', 'at the clinic'], ...(near ? [['rim', 'limit of this socket']] : [])],
    plot: {
      y: { least: [Math.min(...values) - 1, Math.max(...values, near ? limit : 0) + 1], most: 3, finest: 1, words: (value) => `${value} kg` },
      layers: [{ kind: 'line', label: 'at home', colour: 'ink', radius: 2, gap: 40, points: home }, { kind: 'dots', label: 'at the clinic', shape: 'up', colour: 'sand', hollow: true, radius: 4, points: clinic }],
      rim: near ? limit : undefined,
    },
    head: ['Day', 'kg', 'Where'],
    rows: all.map((point) => [fullDay(point.date), point.value, point.by]).reverse(),
  };
}
