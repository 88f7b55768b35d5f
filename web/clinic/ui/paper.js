/** What the printed pages share: buttons, evidence, and the volume as a drawing that prints sharp. */

import { pdfAddress } from '../api.js';
import { html } from '../../shared/html.js';
import { day, daysBetween, later } from '../when.js';
import { pct, plies } from '../words.js';
import { plyTicks } from './ply.js';

export function paperButtons(limbId, page) {
  return html`<p class="buttons"><button type="button" class="main" data-do="print">Print</button>
    <a class="second" href="${pdfAddress(limbId, page, 'a4')}" target="_blank" rel="noopener">PDF, A4</a>
    <a class="second" href="${pdfAddress(limbId, page, 'letter')}" target="_blank" rel="noopener">PDF, Letter</a></p>`;
}

/** The days of the check-ins a line was made from, each opening the limb's story on that day. */
export function evidenceLinks(ids, story) {
  const dates = story.days.filter((one) => one.checkins.some((checkin) => ids.includes(checkin.id)))
    .map((one) => one.date).sort();
  return dates.length ? html`<span class="links">${dates.slice(-3).map((date) => html`<a href="#/limbs/${story.limb.id}?day=${date}">${day(date)}</a> `)}${dates.length > 3 ? html`<span class="hint">and ${dates.length - 3} before</span>` : ''}</span>` : html`<span class="links"><a href="#/limbs/${story.limb.id}">the log</a></span>`;
}

const [WIDE, HIGH, LEFT, LOW] = [700, 96, 56, 16];
const STACK_HIGH = 66;
const DAYS = 91;

/** The socks of the last weeks hung from the socket's rim, in ply: the same drawing as on the worklist and the limb
 *  page. */
export function stackPicture(lines, asOf, sockets, pads = []) {
  const first = later(asOf, 1 - DAYS);
  const seen = lines.filter((line) => line.morning && line.date >= first && line.date <= asOf);
  if (seen.length < 2) return '';
  const deepest = Math.max(2.4, ...seen.map((line) => line.morning.stack_mm)) * 1.12;
  const step = (WIDE - LEFT - 4) / DAYS;
  const x = (date) => LEFT + daysBetween(first, date) * step;
  const y = (mm) => 6 + ((STACK_HIGH - 8) * mm) / deepest;
  const f = (value) => value.toFixed(1);
  const fitted = sockets.filter((one) => one.fitted_on > first && one.fitted_on <= asOf);
  const runs = [];
  for (const line of seen) {
    const last = runs.at(-1)?.at(-1);
    const apart = !last || daysBetween(last.date, line.date) > 3 ||
      fitted.some((one) => last.date < one.fitted_on && one.fitted_on <= line.date);
    if (apart) runs.push([line]);
    else runs.at(-1).push(line);
  }
  const path = (run) => `M${f(x(run[0].date))} ${f(y(run[0].morning.stack_mm))}${run.map((line, i) => `V${f(y(line.morning.stack_mm))}H${f(x(run[i + 1]?.date ?? line.date) + (i + 1 < run.length ? 0 : step))}`).join('')}`;
  // Of another socket, or without a pad, the same limb needs other socks.
  const since = [...fitted.map((one) => one.fitted_on), ...pads.map((pad) => pad.on)].filter((on) => on <= asOf).sort()
    .at(-1) ?? first;
  const own = seen.filter((line) => line.date >= since);
  const [start, last] = [own[0] ?? seen.at(-1), seen.at(-1)];
  const words = start === last ? `Socks on the morning of ${day(last.date)}: ${plies(last.morning.stack)}`
    : `Socks in the morning from ${day(start.date)} to ${day(last.date)}: ${plies(start.morning.stack)} to ${plies(last.morning.stack)}`;
  return html`<svg class="tide-picture" viewBox="0 0 ${WIDE} ${STACK_HIGH}" role="img" aria-label="${words}">
    ${plyTicks(seen, deepest / 5).map(({ value, words: label }) => html`<path class="grid" d="M${LEFT} ${f(y(value))}H${WIDE - 4}"/><text x="${LEFT - 6}" y="${f(y(value) + 4)}" text-anchor="end">${label}</text>`)}
    ${runs.map((run) => html`<path class="band" d="${path(run)}V${STACK_HIGH}H${f(x(run[0].date))}Z"/>`)}
    ${fitted.map((one) => html`<path class="epoch" d="M${f(x(one.fitted_on))} 0V${STACK_HIGH}"/>`)}
    <path class="rim" d="M${LEFT} ${f(y(0))}H${WIDE - 4}"/>${runs.map((run) => html`<path class="tide" d="${path(run)}"/>`)}</svg>
    <p class="says">${words}. Lower is more sock: a smaller limb.</p>`;
}

/** The volume against the socket worn; a new socket breaks the line, since its percent begin anew. */
export function tidePicture(band, sockets = []) {
  if (band.length < 2) return html`<p class="hint">Too little is logged for a drawing.</p>`;
  const seen = band.slice(-91);
  const top = Math.max(1, ...seen.map((point) => point.high)) + 0.5;
  const bottom = Math.min(-3, ...seen.map((point) => point.low)) - 0.5;
  const x = (point) => (LEFT + ((WIDE - LEFT - 4) * daysBetween(seen[0].date, point.date)) / daysBetween(seen[0].date,
    seen.at(-1).date)).toFixed(1);
  const y = (value) => (4 + ((HIGH - LOW - 4) * (top - value)) / (top - bottom)).toFixed(1);
  const worn = sockets.map((one) => one.fitted_on).filter((on) => on > seen[0].date && on <= seen.at(-1).date);
  const runs = [seen.filter((point) => !worn.length || point.date < worn[0]),
    ...worn.map((on, i) => seen.filter((point) => point.date >= on &&
    (i + 1 === worn.length || point.date < worn[i + 1])))].filter((run) => run.length);
  const line = (run, name) => run.map((point) => `${x(point)} ${y(point[name])}`).join('L');
  const step = top - bottom > 12 ? 5 : 2;
  const marks = [];
  for (let value = Math.ceil(bottom / step) * step; value <= top; value += step) marks.push(value);
  const last = seen.at(-1);
  const own = runs.at(-1);
  const words = `Volume from ${day(own[0].date)} to ${day(last.date)}, against the fitting day: ${pct(own[0].pct)} to ${pct(last.pct)}`;
  return html`<svg class="tide-picture" viewBox="0 0 ${WIDE} ${HIGH}" role="img" aria-label="${words}">
    ${marks.map((value) => html`<path class="grid" d="M${LEFT} ${y(value)}H${WIDE - 4}"/><text x="${LEFT - 6}" y="${Number(y(value)) + 4}" text-anchor="end">${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} %</text>`)}
    ${runs.map((run) => html`<path class="band" d="M${line(run, 'high')}L${line([...run].reverse(), 'low')}Z"/>`)}
    ${worn.map((on) => html`<path class="epoch" d="M${x({ date: on })} 0V${HIGH - LOW}"/>`)}
    <path class="rim" d="M${LEFT} ${y(0)}H${WIDE - 4}"/>${runs.map((run) => html`<path class="tide" d="M${line(run, 'pct')}"/>`)}
    <text x="${LEFT}" y="${HIGH - 3}">${day(seen[0].date)}</text><text x="${WIDE - 4}" y="${HIGH - 3}" text-anchor="end">${day(last.date)}</text></svg>
    <p class="says">${words}. Thick line at 0: the socket’s rim.</p>`;
}
