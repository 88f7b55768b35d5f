/** The plots of a limb's story and, for each, the sentence that says what it shows and the table with the same figures. */

import { dayNumber, fullDay } from '../when.js';
import { FINDING, pct, PURPOSE, stack } from '../words.js';
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

/** Round ends and a round step for an axis that must hold all values and at least `least`. */
function axis(values, least, most = 7) {
  const low = Math.min(...values, least[0]);
  const high = Math.max(...values, least[1]);
  const step = [1, 2, 5, 10, 20].find((one) => Math.ceil(high / one) - Math.floor(low / one) <= most) ?? 50;
  return { min: Math.floor(low / step) * step, max: Math.ceil(high / step) * step, step };
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
      y: { ...axis(band.flatMap((point) => [point.low, point.high]), [-4, 1]), words: (value) => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} %` },
      layers: [{ kind: 'band', label: '90 % sure', points: band }, { kind: 'tide', label: 'most likely', points: band }],
      rim: 0, epochs: epochsOf(story.sockets), marks: marksOf(story).map((mark) => ({ day: dayNumber(mark.date) })),
    } : null,
    head: ['Day', 'Volume', 'Lowest (90 %)', 'Highest (90 %)'],
    rows: band.map((point) => [fullDay(point.date), pct(point.value), pct(point.low), pct(point.high)]).reverse(),
  };
}

export function marksOf(story) {
  return [
    ...story.measurements.map((one) => ({ date: one.on, words: `Measured${one.volume_ml ? `: about ${Math.round(one.volume_ml)} ml` : ''}` })),
    ...story.interventions.map((one) => ({ date: one.on, words: `${one.kind}${one.note ? `: ${one.note}` : ''}` })),
    ...story.pads.map((one) => ({ date: one.on, words: `Pad, ${one.thickness_mm} mm${one.place ? `, ${one.place}` : ''}` })),
  ].sort((a, b) => a.date.localeCompare(b.date));
}

export function stackPlot(story, lines) {
  const points = (moment) => lines.filter((line) => line[moment]).map((line) => ({ day: line.day, value: line[moment].stack_mm }));
  const morning = points('morning');
  const evening = points('evening');
  const highest = Math.max(2, ...morning.map((point) => point.value), ...evening.map((point) => point.value));
  const last = [...lines].reverse().find((line) => line.morning);
  return {
    name: 'stack', title: 'Sock stack',
    says: last ? `Last morning: ${stack(last.morning.stack)}, ${one(last.morning.stack_mm)} mm. More sock means a smaller limb.` : 'No sock stack is logged yet.',
    key: [['steps', 'morning'], ['evening', 'evening'], ['epoch', 'a new socket']],
    plot: lines.length ? {
      y: { ...axis([highest + 0.3], [0, 2], 5), words: (value) => `${value} mm` },
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
      y: { min: 0, max: 10, step: 5, words: (value) => `${value}` },
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
      y: { min: 0.4, max: 2.6, step: 1, words: (value) => ({ 2: 'skin', 1: 'falls' })[value] ?? '' },
      layers: [{ kind: 'dots', label: 'skin and falls', radius: 5, points }],
      epochs: epochsOf(story.sockets).map(({ label, ...epoch }) => epoch),
    } : null,
    low: true,
    head: ['Day', 'Skin', 'Falls'],
    rows: lines.filter((line) => line.skin.length || line.falls).map((line) => [fullDay(line.date), line.skin.map(skinWords).join('; '), line.falls ?? '']).reverse(),
  };
}
