/** A month as one strip: a stroke for each day that was written, as strong as its comfort, and a line for each entry. */

import { html } from '../../shared/html.js';
import { middayOf } from '../when.js';
import { byDay } from '../waterline.js';
import { dateWords, directionNow, number, say } from '../words.js';
import { state } from './phrases.js';
import { stackWords } from './socks.js';

const WIDE = 10; // a day, of 31

const lengthOf = (month) => new Date(Number(month.slice(0, 4)), Number(month.slice(5)), 0).getDate();

export function monthStrip(month, rows) {
  const days = [...byDay(rows)].map(([date, list]) => ({
    n: Number(date.slice(8)), comfort: Math.min(...list.map((row) => row.checkin.comfort)), found: list.some((row) => row.checkin.skin?.length),
  }));
  const written = new Map(days.map((day) => [day.n, day]));
  const all = Array.from({ length: lengthOf(month) }, (_, i) => i + 1);
  const rtl = directionNow() === 'rtl';
  const x = (n) => (rtl ? 310 - n * WIDE : (n - 1) * WIDE);
  const stroke = (n) => {
    const day = written.get(n);
    if (!day) return html`<path class="no-day" d="M${x(n) + 2} 23h6"/>`;
    return html`<rect class="day-stroke" x="${x(n) + 1}" y="2" width="8" height="22" rx="3" fill-opacity="${(0.2 + 0.07 * (day.comfort ?? 0)).toFixed(2)}"/>${day.found ? html`<circle class="spot" cx="${x(n) + 5}" cy="8" r="2.5"/>` : ''}`;
  };
  return html`<svg class="month-strip" viewBox="0 0 310 40" role="img" aria-label="${say('days.written', { n: written.size })}">${all.map(stroke)}
    ${[1, 8, 15, 22, 29].filter((n) => n <= all.length).map((n) => html`<text x="${x(n) + 5}" y="37">${number(n)}</text>`)}</svg>`;
}

/** One line a day: the day, the socks, comfort; where it stands only while it is not with the clinic. */
export const entryLine = (row, first) => html`<button class="entry" id="entry-${row.id}" data-do="entry.open" data-arg="${row.id}">
  <span class="entry-day">${first ? html`<strong>${number(Number(row.checkin.date.slice(8)))}</strong> ${dateWords(middayOf(row.checkin.date), { weekday: 'short' })}` : row.checkin.time ?? ''}</span>
  <span class="entry-stack">${stackWords(row.checkin.stack)}${row.state === 'kept' ? '' : html`<span class="state block ${row.state}">${state(row)}</span>`}</span>
  <span class="entry-comfort"><span class="only-heard">${say('field.comfort')}</span> ${row.checkin.comfort}</span></button>`;

export const monthWords = (month) => dateWords(middayOf(`${month}-01`), { month: 'long', year: 'numeric' });
