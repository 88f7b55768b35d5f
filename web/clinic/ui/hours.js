/** When the clinic answers its telephone: each day of the week with up to two times, and single days it is closed. */

import { html } from '../../shared/html.js';

const WEEKDAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'];
const TIMES = 2; // a day with a break at noon has two

/** The hours as kept → for each weekday its times, in order. */
function byDay(hours) {
  return WEEKDAYS.map((_, i) => hours.filter((one) => one.days.includes(i + 1))
    .sort((a, b) => a.from.localeCompare(b.from)));
}

export function hoursFields({ hours, closed_on: closed, zone }) {
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  return html`<fieldset class="hours"><legend>When the telephone is answered</legend>
      <p class="hint">Left empty, a day is closed. When it is closed the phones offer the out-of-hours number, or the emergency number.</p>
      <ul>${byDay(hours).map((times, i) => html`<li><span class="weekday">${WEEKDAYS[i]}</span>${Array.from({ length: TIMES }, (_, n) => html`<span class="time">${n ? 'and ' : ''}
        <input type="time" name="hours-${i + 1}-${n}-from" aria-label="${WEEKDAYS[i]}, ${n ? 'opens again' : 'opens'}" value="${times[n]?.from ?? ''}"> to
        <input type="time" name="hours-${i + 1}-${n}-to" aria-label="${WEEKDAYS[i]}, ${n ? 'closes again' : 'closes'}" value="${times[n]?.to ?? ''}"></span>`)}
        <span class="fault" id="fault-hours-${i + 1}"></span></li>`)}</ul><span class="fault" id="fault-hours"></span></fieldset>
    <div class="in-line"><div class="field"><label for="about-zone">Time zone of these hours</label>
      <input id="about-zone" name="zone" list="zones" value="${zone ?? ''}" placeholder="such as ${own}" autocomplete="off" aria-describedby="fault-zone">
      <datalist id="zones">${(Intl.supportedValuesOf?.('timeZone') ?? [own]).map((one) => html`<option value="${one}"></option>`)}</datalist>
      <span class="fault" id="fault-zone"></span></div></div>
    <fieldset class="closed-days"><legend>Days the clinic is closed besides</legend>
      <div class="dates">${closed.map(closedDay)}</div><button type="button" class="second" data-do="add-closed">Add a closed day</button>
      <span class="fault" id="fault-closed_on"></span></fieldset>`;
}

export const closedDay = (date = '') => html`<input type="date" name="closed_on" value="${date}" aria-label="A closed day; empty to take it out">`;

/** What the form says: `hours`, `closed_on`, `zone`, and `faults` as [field, words]. */
export function readHours(form) {
  const faults = [];
  const spans = new Map(); // "08:00 17:00" → the days it holds for
  for (let day = 1; day <= WEEKDAYS.length; day += 1) {
    let shut = '';
    for (let n = 0; n < TIMES; n += 1) {
      const [from, to] = ['from', 'to'].map((end) => form.elements[`hours-${day}-${n}-${end}`].value);
      if (!from && !to) continue;
      if (!from || !to) faults.push([`hours-${day}`, 'Both times are needed.']);
      else if (to <= from) faults.push([`hours-${day}`, 'It must close later than it opens.']);
      else if (from < shut) faults.push([`hours-${day}`, 'The two times overlap.']);
      else spans.set(`${from} ${to}`, [...(spans.get(`${from} ${to}`) ?? []), day]);
      shut = to;
    }
  }
  if (spans.size && !form.elements.zone.value.trim()) faults.push(['zone', 'With hours a time zone is needed.']);
  const hours = [...spans].map(([span, days]) => ({ days, from: span.slice(0, 5), to: span.slice(6) }));
  const closed = [...form.querySelectorAll('[name=closed_on]')].map((box) => box.value).filter(Boolean);
  return { hours, closed_on: [...new Set(closed)].sort(), zone: form.elements.zone.value.trim() || null, faults };
}

/** The same hours, whatever order they are kept in. */
export const sameHours = (a, b) => plain(a) === plain(b);
const plain = (hours) => JSON.stringify(byDay(hours).map((times) => times.map(({ from, to }) => [from, to])));
