/** The plots of a limb's story and, for each, the sentence that says what it shows and the table with the same figures. */

import { dayNumber, fullDay } from '../when.js';
import { FINDING, INTERVENTION, lacking, many, padName, pct, plies, PURPOSE, said, stack, SUSPENSION } from '../words.js';
import { placeWords } from '../../shared/places.js';
import { thickness } from '../../shared/thickness.js';
import { skinWords } from './evidence.js';
import { isSevere } from './log.js';
import { bandsOf, plyTicks } from './ply.js';

/** "the last 3 days", "the last day". */
const lastOf = (count, noun) => `the last ${count === 1 ? noun : many(count, noun)}`;

const one = (value) => (value === null || value === undefined ? '' : value.toFixed(1));

function epochsOf(sockets) {
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

/** Dialysis sessions and days of illness as bands over the day, named in the key and, for who does not see them, in the table. */
const sessionsOf = (lines) => bandsOf(lines, 'dialysis');
const sessionKey = (sessions) => (sessions.length ? [['session', 'dialysis day']] : []);
const illnessOf = (lines) => bandsOf(lines, 'illness', { colour: 'alert' });

/** The limb on its one scale, unbroken; and, where more than one socket was worn, each socket's own line from its fitting. */
export function volumePlot(story, log = []) {
  const sessions = sessionsOf(log);
  const illness = illnessOf(log);
  const onDialysis = new Set(log.filter((line) => line.tags.includes('dialysis')).map((line) => line.date));
  const band = story.band.map((point) => ({ day: dayNumber(point.date), value: point.limb_pct, low: point.limb_low, high: point.limb_high, own: point.pct, date: point.date }));
  const { change_pct: last, limb_change_pct: limb, reference_on: start } = story.assessment.volume;
  const epochs = epochsOf(story.sockets);
  const several = band.length && epochs.some((epoch) => epoch.from > band[0].day);
  const worn = (epoch) => band.filter((point) => point.day >= epoch.from && (epoch.to === null || point.day < epoch.to));
  const lines = several ? epochs.map(worn).filter((points) => points.length).map((points) => ({ kind: 'line', label: 'against the socket', colour: 'sand', dashed: true, radius: 0, points: points.map(({ day, own }) => ({ day, value: own })) })) : [];
  const against = several ? `${fullDay(start)}, the first day known` : 'the day the socket was fitted';
  const sure = last && `90 % sure it lies from ${pct(limb.low)} to ${pct(limb.high)}`;
  return {
    name: 'volume', title: several ? 'Limb volume' : 'Limb volume against the socket', tall: true,
    says: !last ? (band.length ? 'What the limb does now is not known. The line ends with the log.' : 'Nothing can be drawn yet.') : (several
      ? `The limb: ${pct(limb.value)} against ${against}; ${sure}. In this socket: ${pct(last.value)} since it was fitted, ${pct(last.low)} to ${pct(last.high)}. A new socket does not change the limb; how it sits beside the last one is not known and widens the range.`
      : `${pct(last.value)} against ${against}; ${sure}. Zero is the socket’s rim; below it the limb is smaller.`) + lacking(story.assessment.lacks),
    key: [['tide', several ? 'the limb, most likely' : 'most likely'], ['band', '90 % sure'], ...(several ? [['steps', 'each socket, from its fitting (dashed)']] : []),
      ['rim', several ? 'the limb on the first day known' : 'socket rim: the limb on fitting day'], ['epoch', 'a new socket'], ['mark', 'measured or changed at the clinic'], ...sessionKey(sessions), ...(illness.length ? [['illness', 'illness']] : [])],
    plot: band.length ? {
      y: { least: [-4, 1], most: 7, finest: 1, words: (value) => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} %` },
      layers: [{ kind: 'band', label: '90 % sure', points: band }, { kind: 'tide', label: 'most likely', points: band }, ...lines],
      rim: 0, bands: [...sessions, ...illness], epochs, marks: marksOf(story).map((mark) => ({ day: dayNumber(mark.date) })),
    } : null,
    head: ['Day', several ? 'Limb' : 'Volume', 'Lowest (90 %)', 'Highest (90 %)', ...(several ? ['In the socket worn'] : []), ...(sessions.length ? ['Dialysis'] : [])],
    rows: band.map((point) => [fullDay(point.date), pct(point.value), pct(point.low), pct(point.high), ...(several ? [pct(point.own)] : []),
      ...(sessions.length ? [onDialysis.has(point.date) ? 'session' : ''] : [])]).reverse(),
  };
}

export function marksOf(story) {
  return [
    ...story.measurements.map((one) => mark('measurement', one)),
    ...story.interventions.map((one) => mark('intervention', one)),
    ...story.sockets.flatMap((socket) => (socket.suspensions ?? []).map((one) => ({ date: one.on, words: `Suspension switched to ${said(SUSPENSION, one.suspension)}` }))),
    ...story.pads.map((one) => mark('pad', one)),
  ].sort((a, b) => a.date.localeCompare(b.date));
}

/** A pad, a measurement or an intervention in words. */
export function workWords(kind, one) {
  if (kind === 'measurement') return `Measured${girths(one.levels)}${one.volume_ml ? `: about ${Math.round(one.volume_ml)} ml` : ''}${one.weight_kg ? `, ${one.weight_kg} kg` : ''}`;
  if (kind === 'pad') return `${padName(one)}, ${one.thickness_mm} mm${one.place ? `, ${placeWords(one.place)}` : ''}`;
  return `${said(INTERVENTION, one.kind)}${one.note ? `: ${one.note}` : ''}`;
}

/** The circumferences, from the end upwards: ": 240, 280, 310 mm". */
const girths = (levels = []) => (levels.length ? ` ${[...levels].sort((a, b) => a.from_end_mm - b.from_end_mm).map((level) => level.circumference_mm).join(', ')} mm from the end up` : '');

/** What a measurement says beside the one before, what it may be off by, and what it did to the estimate. */
function tapeWords({ tape }) {
  if (!tape) return '';
  const who = tape.same_hand ? 'one person' : 'two people';
  const beside = tape.change_pct === null ? 'The first at these levels: nothing to compare with yet.'
    : `${pct(tape.change_pct)} of volume since ${fullDay(tape.since)}; ${who} can differ by ${tape.limit_pct.toFixed(1)} %: ${tape.beyond ? 'this is more' : 'by itself no sign of a change'}.`;
  const moved = tape.moved_pct === null ? 'Not used in the estimate.' : `It moved the estimate by ${pct(tape.moved_pct)}.`;
  const all = tape.total_since ? ` In all ${pct(tape.total_pct)} since ${fullDay(tape.total_since)}; so long apart they can differ by ${tape.total_limit_pct.toFixed(1)} %${tape.total_beyond ? ': this is more' : ''}.` : '';
  return tape.change_pct === null ? beside : `${beside}${all} ${moved}`;
}

const mark = (kind, one) => ({ date: one.on, words: workWords(kind, one), kind, id: one.id, more: kind === 'measurement' ? tapeWords(one) : '' });

/** Socks hung from the socket's rim: the more sock, the lower the tide, the smaller the limb. In ply, millimetres behind. */
export function stackPlot(story, lines) {
  const points = (moment) => lines.filter((line) => line[moment]).map((line) => ({ day: line.day, value: line[moment].stack_mm }));
  const morning = points('morning');
  const evening = points('evening');
  const last = [...lines].reverse().find((line) => line.morning);
  const sessions = sessionsOf(lines);
  const illness = illnessOf(lines);
  const deepest = Math.max(2.4, ...[...morning, ...evening].map(({ value }) => value));
  const epochs = epochsOf(story.sockets);
  const breaks = epochs.map(({ from }) => from);
  const end = dayNumber(story.as_of);
  const fittings = story.sockets.flatMap((socket, i) => (socket.stack_at_fitting ? [{ kind: 'line', label: 'at fitting', colour: 'sand', dashed: true, radius: 0, gap: 1e6,
    points: [epochs[i].from, (epochs[i].to ?? end + 1) - 0.01].map((at) => ({ day: at, value: thickness(socket.stack_at_fitting) })) }] : []));
  const pads = story.pads.map((pad) => ({ day: dayNumber(pad.on), label: `${padName(pad).toLowerCase()} ${pad.thickness_mm} mm${pad.place ? `, ${placeWords(pad.place)}` : ''}` }));
  return {
    name: 'stack', title: 'Sock stack', tall: true,
    says: last ? `Last morning known, ${fullDay(last.date)}: ${plies(last.morning.stack)}, ${one(last.morning.stack_mm)} mm. Lower is more sock: a smaller limb.` : 'No sock stack is logged yet.',
    key: [['tide', 'morning'], ['evening', 'evening'], ['rim', 'socket rim: no sock'], ...(fittings.length ? [['fitting', 'at fitting']] : []), ['epoch', 'a new socket'], ...(pads.length ? [['mark', 'a pad']] : []),
      ...sessionKey(sessions), ...(illness.length ? [['illness', 'illness']] : [])],
    plot: lines.length ? {
      y: { least: [-0.2, pads.length ? deepest * 1.35 : 2.4], most: 20, finest: 0.5, down: true, marks: plyTicks(lines, deepest / 9) },
      layers: [{ kind: 'tide', label: 'morning', stepped: true, gap: 3, radius: 1.5, breaks, points: morning }, ...fittings,
        { kind: 'dots', label: 'evening', shape: 'up', colour: 'sand', hollow: true, radius: 3.5, points: evening }],
      rim: 0, bands: [...sessions, ...illness], epochs, marks: pads,
    } : null,
    head: ['Day', 'Morning', 'mm', 'Evening', 'mm', ...(sessions.length ? ['Dialysis'] : []), ...(illness.length ? ['Illness'] : [])],
    rows: lines.map((line) => [fullDay(line.date), line.morning ? stack(line.morning.stack) : '', one(line.morning?.stack_mm), line.evening ? stack(line.evening.stack) : '', one(line.evening?.stack_mm),
      ...(sessions.length ? [line.tags.includes('dialysis') ? 'session' : ''] : []), ...(illness.length ? [line.tags.includes('illness') ? 'ill' : ''] : [])]).reverse(),
  };
}

export function comfortPlot(story, lines) {
  const points = lines.filter((line) => line.comfort !== null).map((line) => ({ day: line.day, value: line.comfort }));
  const week = points.slice(-7);
  const mean = week.length ? week.reduce((sum, point) => sum + point.value, 0) / week.length : null;
  return {
    name: 'comfort', title: 'Comfort in the socket',
    says: mean === null ? 'No comfort is logged yet.' : `${one(mean)} on average over ${lastOf(week.length, 'logged day')}. 10 is the most comfortable.`,
    key: [['line', 'lowest answer of the day']],
    plot: points.length ? {
      y: { least: [0, 10], most: 2, finest: 5, words: (value) => `${value}` },
      layers: [{ kind: 'line', label: 'comfort', colour: 'ink', radius: 1.8, points }],
      epochs: epochsOf(story.sockets).map(({ label: _label, ...epoch }) => epoch),
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
    says: `${skin.length ? `Skin findings on ${skin.length} of ${many(looked, 'day')} looked at: ${kinds.join(', ')}` : looked ? `Nothing found on ${many(looked, 'day')} looked at` : 'Skin was not looked at'}. ${
      falls.length ? `Falls on ${many(falls.length, 'day')}.` : 'No falls reported.'}`,
    key: [['severe', 'skin: stop-wear finding'], ['mild', 'skin: other finding'], ['fall', 'fall']],
    plot: lines.length ? {
      y: { fixed: true, min: 0.4, max: 2.6, step: 1, words: (value) => ({ 2: 'skin', 1: 'falls' })[value] ?? '' },
      layers: [{ kind: 'dots', label: 'skin and falls', radius: 5, points }],
      epochs: epochsOf(story.sockets).map(({ label: _label, ...epoch }) => epoch),
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
    says: `${one(mean(points.slice(-7)))} hours a day over ${lastOf(Math.min(7, points.length), 'day')} that ${points.length === 1 ? 'says' : 'say'} so.`,
    key: [['line', 'hours']],
    plot: {
      y: { least: [0, 12], most: 3, finest: 5, words: (value) => `${value} h` },
      layers: [{ kind: 'line', label: 'hours', colour: 'ink', radius: 1.8, gap: 4, points }],
      epochs: epochsOf(story.sockets).map(({ label: _label, ...epoch }) => epoch),
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
  const sessions = sessionsOf(lines);
  return {
    name: 'weight', title: 'Body weight', low: true,
    says: `${all.at(-1).value} kg, ${all.at(-1).by}, ${fullDay(all.at(-1).date)}.${limit === null ? '' : ` The socket’s limit as entered: ${limit} kg.`}`,
    key: [['line', 'at home'], ['evening', 'at the clinic'], ...(near ? [['rim', 'limit of this socket']] : []), ...sessionKey(sessions)],
    plot: {
      y: { least: [Math.min(...values) - 1, Math.max(...values, near ? limit : 0) + 1], most: 3, finest: 1, words: (value) => `${value} kg` },
      layers: [{ kind: 'line', label: 'at home', colour: 'ink', radius: 2, gap: 40, points: home }, { kind: 'dots', label: 'at the clinic', shape: 'up', colour: 'sand', hollow: true, radius: 4, points: clinic }],
      rim: near ? limit : undefined, bands: sessions,
    },
    head: ['Day', 'kg', 'Where'],
    rows: all.map((point) => [fullDay(point.date), point.value, point.by]).reverse(),
  };
}
