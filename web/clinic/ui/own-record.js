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
  return [html`<b>${ply}${say(interval.value)}</b>`, `${unit === 'share' ? Math.round(interval.low * 100) : say(interval.low)} to ${say(interval.high)}`, of];
}

const mm = (value) => `±${Number(value.toFixed(2))} mm`;

/** A share on the line from none to all, with its range; at the promise of 90 in 100 a mark. */
function bar({ code, unit, interval }) {
  if (!interval || unit !== 'share') return '';
  const x = (share) => (2 + 116 * share).toFixed(1);
  return html`<svg class="or-bar" viewBox="0 0 120 16" width="120" height="16" aria-hidden="true"><path class="rim" d="M2 3H118"/><path class="range" d="M${x(interval.low)} 9H${x(interval.high)}"/>
    ${['level-held', 'coming-held'].includes(code) ? html`<path class="promise" d="M${x(0.9)} 1V15"/>` : ''}<circle class="end" cx="${x(interval.value)}" cy="9" r="3"/></svg>`;
}

const HEADS = ['Middle or share', '90 % sure', 'Of'];
/** What has something to count as a table; the rest, which would be empty cells, in one line of words. */
function table(label, rows) {
  const counted = rows.filter(([, , figure]) => figure.cases);
  const empty = rows.filter(([, , figure]) => !figure.cases);
  return html`${counted.length ? figures(label, counted) : ''}${empty.length ? html`<p class="hint">Nothing to count yet: ${empty.map(([words, , figure], n) => html`${n ? '; ' : ''}${words}${figure.left_out ? ` (${figure.left_out} not told by the log)` : ''}`)}.</p>` : ''}`;
}

const figures = (label, rows) => html`<div class="table whole" tabindex="0" role="region" aria-label="${label}, table"><table class="or-figures"><thead><tr>${[label, ...HEADS].map((words) => html`<th scope="col">${words}</th>`)}</tr></thead>
  <tbody>${rows.map(([words, hint, figure]) => html`<tr><th scope="row">${words}${hint ? html` <span class="hint">${hint}</span>` : ''}</th>${figureCells(figure).map((cell, n) => html`<td>${cell}${n ? '' : bar(figure)}</td>`)}</tr>`)}</tbody></table></div>`;

/** Both figures of each kind side by side; those with too few people in one line of words. */
function signals(kinds, of) {
  const rows = kinds.map((kind) => [kind, of('acted-on', kind), of('time-to-answer', kind)]);
  const told = rows.filter(([, acted]) => acted.interval);
  const few = rows.filter(([, acted]) => !acted.interval);
  const cells = (figure, cases) => [figure.interval ? html`<b>${UNIT[figure.unit](figure.interval.value)}</b>${bar(figure)}` : 'too few for a figure', figure.interval ? figureCells(figure)[1] : '', cases];
  return html`${told.length ? html`<div class="table whole" tabindex="0" role="region" aria-label="Signals, table"><table class="or-figures both"><thead><tr>${['Signal', 'Acted on', '90 % sure', 'Until somebody did', '90 % sure', 'Of'].map((words) => html`<th scope="col">${words}</th>`)}</tr></thead>
    <tbody>${told.map(([kind, acted, hours]) => html`<tr><th scope="row">${kindWord(kind)}</th>${[...cells(acted, '').slice(0, 2), ...cells(hours, figureCells(acted)[2])].map((cell) => html`<td>${cell}</td>`)}</tr>`)}</tbody></table></div>` : ''}
    ${few.length ? html`<p class="hint">Too few people for a figure: ${few.map(([kind, acted], n) => html`${n ? '; ' : ''}${kindWord(kind)}, ${many(acted.people, 'person', 'people')}`)}.</p>` : ''}`;
}

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
      Where another socket came between, or too little was logged, nothing is counted. The upright mark is the promise: 90 in 100.</p>
      ${table('Said here', rows(PROMISE))}</section>
    <section><h2>Days of good fit</h2><p class="hint">A day of good fit: the need, read from the socks and fit of the week before and after,
      lies within ${mm(found.band_mm)} of what the socket was made for (the socks worn at its fitting). Days with too little in the log are in neither number.</p>
      ${table('Good fit', rows(FIT))}</section>
    <section><h2>Sockets</h2>${table('Sockets', rows(ABOUT))}</section>
    <section><h2>Signals</h2>${kinds.length ? signals(kinds, of) : html`<p class="hint">No signal has been told yet.</p>`}</section></div>`);
  return { title: 'Our own record' };
}
