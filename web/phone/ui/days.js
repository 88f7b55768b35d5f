/** Own history, a day at a time, and one entry with what can be done about it. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards } from './advice.js';
import { choice, frame, primary, secondary } from './frame.js';
import { dayWords, limbWords, reasons, standingWords, state } from './phrases.js';
import { entryRows } from './summary.js';
import { stackWords } from './socks.js';

export function daysScreen(view) {
  const limb = view.limb;
  const rows = view.rowsOf[limb.id] ?? [];
  const shown = rows.slice(0, view.params.most ?? 60);
  const byDay = Map.groupBy ? Map.groupBy(shown, (row) => row.checkin.date) : grouped(shown);
  return frame(view, {
    title: say('days.title'),
    body: html`
      ${view.person.limbs.length > 1 ? html`<div class="row">${view.person.limbs.map((one) =>
        choice(`limb-${one.id}`, 'limb', one.id, limbWords(one), one.id === limb.id))}</div>` : ''}
      <p class="standing" role="status">${standingWords(view)}</p>
      ${rows.length ? '' : html`<p>${say('home.none')}</p>`}
      ${[...byDay].map(([date, list]) => html`<section class="day"><h2>${dayWords(date, view.today)}</h2>
        ${list.map((row) => html`<button class="entry" id="entry-${row.id}" data-do="entry.open" data-arg="${row.id}">
          <span class="entry-stack">${stackWords(row.checkin.stack)}</span>
          <span>${row.checkin.time ?? ''} ${say(`moment.${row.checkin.moment ?? 'putting_on'}`)} · ${say('home.comfort', { n: row.checkin.comfort })}</span>
          <span class="state ${row.state}">${state(row)}</span></button>`)}</section>`)}
      ${rows.length > shown.length ? secondary('older', 'days.older', say('days.older')) : ''}`,
  });
}

function grouped(rows) {
  const days = new Map();
  for (const row of rows) days.set(row.checkin.date, [...(days.get(row.checkin.date) ?? []), row]);
  return days;
}

export function entryScreen(view) {
  const row = view.entry;
  const writer = row.writer?.label ? say('entry.writer', { who: row.writer.label }) : '';
  return frame(view, {
    title: dayWords(row.checkin.date, view.today),
    back: 'entry.close',
    body: html`
      <p class="state ${row.state}">${state(row)}</p>
      ${row.state === 'refused' ? html`<div class="notice bad"><p>${say('refused.lead')}</p>${reasons(row.errors).map((why) => html`<p>${why}</p>`)}</div>` : ''}
      ${row.doubt ? html`<p class="notice">${say('entry.doubt')}</p>` : ''}
      ${adviceCards(view)}
      ${entryRows(row.checkin, view)}
      ${writer ? html`<p class="small">${writer}</p>` : ''}
      ${row.earlier ? html`<p class="small">${say('entry.corrected', { n: row.earlier })}</p>` : ''}
      ${view.params.asking ? html`<div class="notice" role="alert"><p>${say('entry.sure')}</p>
        ${secondary('withdraw-yes', 'entry.withdraw', say('entry.withdraw_yes'))}${secondary('withdraw-no', 'entry.keep', say('entry.withdraw_no'))}</div>` : ''}`,
    foot: html`<div class="pair">${primary('correct', 'entry.correct', row.state === 'refused' ? say('entry.mend') : say('entry.correct'))}
      ${view.params.asking ? '' : secondary('withdraw', 'entry.ask', say('entry.withdraw'))}</div>`,
  });
}
