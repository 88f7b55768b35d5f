/** What the clinic's own record shows: figures with their intervals, words where there are too few people. */

import * as api from '../api.js';
import { html, render } from '../../shared/html.js';
import { fullDay } from '../when.js';
import { inPly, kindWord, LEVEL, many, said } from '../words.js';

const PROMISE = {
  'level-held': ['Where the limb stands: its range held', 'One range a week. Read from socks and fit of the week before and after.'],
  'coming-held': ['The coming four weeks: their range held', 'One range a week. Read the same way, four weeks on.'],
  'steady-28': ['“Steady” held for 28 days', 'Each time it was said anew. Held: the need had moved no more than your margin.'],
  'steady-90': ['“Steady” held for 90 days', 'The same, 90 days on.'],
};

const FIT = {
  'good-days': ['Days of good fit a socket gave', 'Sockets that are worn no more.'],
  'good-share': ['Days of good fit, of those that are known', 'All sockets, those worn now too.'],
};

const ABOUT = {
  'first-to-definitive': ['From the first socket to the definitive one', 'A limb whose first socket was the definitive one is not counted.'],
  remade: ['People with another socket after their first', ''],
  remakes: ['Sockets after the first, of a person', 'Everybody with a socket is counted, those with none after it as 0.'],
  'sock-at-recast': ['Sock worn when another socket was fitted', 'The usual stack of the week before.'],
  'comfort-change': ['Comfort after another socket', 'Weeks three and four in it, less the two weeks before it. 10 is the most comfortable.'],
};

const UNIT = {
  share: (value) => `${Math.round(value * 100)} in 100`,
  days: (value) => many(Math.round(value), 'day'),
  sockets: (value) => many(Number(value.toFixed(1)), 'socket'),
  mm: (value) => `${value.toFixed(1)} mm`,
  points: (value) => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(1)}`,
  hours: (value) => (value < 48 ? many(Math.round(value), 'hour') : many(Math.round(value / 24), 'day')),
};

/** A figure's cells: its middle, where it lies 9 times in 10, and of how many it is made; words where there are too few. */
export function figureCells({ code, unit, interval, people, cases, left_out: left }) {
  const count = `${many(people, 'person', 'people')}, ${many(cases, code === 'good-share' ? 'day' : 'case')}`;
  const of = `${cases ? count : 'nothing to count yet'}${left ? `; ${left} more not told by the log` : ''}`;
  if (!interval) return [cases ? 'too few for a figure' : '', '', of];
  const say = UNIT[unit];
  const ply = unit === 'mm' ? `${inPly(interval.value).replace(/ (more|less)$/, '')}, ` : '';
  return [html`<b>${ply}${say(interval.value)}</b>`, `${say(interval.low)} to ${say(interval.high)}`, of];
}

const mm = (value) => `±${Number(value.toFixed(2))} mm`;

const table = (label, rows) => html`<div class="table whole" tabindex="0" role="region" aria-label="${label}, table"><table><thead><tr><th scope="col">${label}</th><th scope="col">Middle or share</th><th scope="col">90 % sure</th><th scope="col">Of</th></tr></thead>
  <tbody>${rows.map(([words, hint, figure]) => html`<tr><th scope="row">${words}${hint ? html` <span class="hint">${hint}</span>` : ''}</th>${figureCells(figure).map((cell) => html`<td>${cell}</td>`)}</tr>`)}</tbody></table></div>`;

export async function show(root) {
  const found = await api.ownRecord();
  const kinds = [...new Set(found.figures.map(({ kind }) => kind).filter(Boolean))];
  const of = (code, kind) => found.figures.find((one) => one.code === code && one.kind === kind);
  const levels = Object.entries(found.case_mix.levels).map(([level, count]) => `${count} ${said(LEVEL, level)}`).join(', ');
  const rows = (about) => Object.entries(about).map(([code, [words, hint]]) => [words, hint, of(code, null)]);
  render(root, html`<div class="page"><header class="page-head"><h1>Our own record</h1><span class="buttons"><a class="second" href="${api.ownRecordFile}" download>As CSV</a></span></header>
    <p class="intro">Counted from this clinic’s own sockets, logs and signals up to ${fullDay(found.as_of)}: ${many(found.case_mix.people, 'person', 'people')}, ${many(found.case_mix.limbs, 'limb')}${levels ? ` (${levels})` : ''}.
      Under ${many(found.least_people, 'person', 'people')} no figure is shown. A middle takes one value of each person, and a range holds the true middle or share 9 times in 10. Another clinic’s case mix is another: these figures compare nobody.</p>
    <section><h2>What was said here, and what held</h2><p class="hint">A range is given as “90 % sure”, so about 90 in 100 should hold.
      Counted is what was said on the day; a late entry can change what the log shows, never what was said.
      The log is itself not exact: a level is read to about ${mm(0.2)}, a change to ${mm(0.23)}; that much is allowed for, and the ranges below are wider by it.
      Where another socket came between, or too little was logged, nothing is counted.</p>
      ${table('Said here', rows(PROMISE))}</section>
    <section><h2>Days of good fit</h2><p class="hint">A day of good fit: the need, read from the socks and fit of the week before and after,
      lies within ${mm(found.band_mm)} of what the socket was made for (the socks worn at its fitting). Days with too little in the log are in neither number.</p>
      ${table('Good fit', rows(FIT))}</section>
    <section><h2>Sockets</h2>${table('Sockets', rows(ABOUT))}</section>
    <section><h2>Signals</h2>${kinds.length ? html`${table('Acted on', kinds.map((kind) => [kindWord(kind), '', of('acted-on', kind)]))}${table('Until somebody did', kinds.map((kind) => [kindWord(kind), '', of('time-to-answer', kind)]))}` : html`<p class="hint">No signal has been told yet.</p>`}</section></div>`);
  return { title: 'Our own record' };
}
