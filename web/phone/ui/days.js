/** Own history, a day at a time, and one entry with what can be done about it. */

import { fixOf } from '../drafts.js';
import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards } from './advice.js';
import { choice, frame, primary, secondary } from './frame.js';
import { dayWords, fixKey, limbWords, reasonLine, reasons, refusedLead, standingWords, state } from './phrases.js';
import { draftCard } from './draft-card.js';
import { entryLine, monthStrip, monthWords } from './month.js';
import { entryRows } from './summary.js';

export function daysScreen(view) {
  const limb = view.limb;
  const rows = view.rowsOf[limb.id] ?? [];
  const shown = rows.slice(0, view.params.most ?? 60);
  const months = new Map();
  for (const row of shown) months.set(row.checkin.date.slice(0, 7), [...(months.get(row.checkin.date.slice(0, 7)) ?? []), row]);
  // The strip is of the whole month, also where its first days are not listed yet.
  const whole = (month) => rows.filter((row) => row.checkin.date.startsWith(month));
  return frame(view, {
    title: say('days.title'),
    body: html`
      ${view.person.limbs.length > 1 ? html`<div class="row">${view.person.limbs.map((one) =>
        choice(`limb-${one.id}`, 'limb', one.id, limbWords(one), one.id === limb.id))}</div>` : ''}
      <p class="standing" role="status">${standingWords(view)}</p>
      ${rows.length ? '' : html`<p>${say('home.none')}</p>`}
      ${[...months].map(([month, list]) => html`<section class="month"><h2>${monthWords(month)}</h2>${monthStrip(month, whole(month))}
        ${list.map((row, i) => entryLine(row, list[i - 1]?.checkin.date !== row.checkin.date))}</section>`)}
      ${rows.length > shown.length ? secondary('older', 'days.older', say('days.older')) : ''}`,
  });
}

export function entryScreen(view) {
  const row = view.entry;
  const begun = fixOf(view.drafts, row.id);
  const writer = row.writer?.label ? say('entry.writer', { who: row.writer.label }) : '';
  return frame(view, {
    title: dayWords(row.checkin.date, view.today),
    back: 'entry.close',
    body: html`
      <p class="state ${row.state}">${state(row)}</p>
      ${view.refusedPhotos.some((photo) => row.line.includes(photo.checkin_id)) ? html`<p class="notice bad">${say('photo.refused', { day: dayWords(row.checkin.date, view.today) })}</p>` : ''}
      ${row.state === 'refused' ? html`<div class="notice bad">${refusedLead(row)}${reasons(row, view).map(reasonLine)}</div>` : ''}
      ${begun ? draftCard(view, begun) : ''}
      ${row.doubt ? html`<p class="notice">${say('entry.doubt')}</p>` : ''}
      ${adviceCards(view)}
      ${entryRows(row.checkin, view)}
      ${writer ? html`<p class="small">${writer}</p>` : ''}
      ${row.earlier ? html`<p class="small">${say('entry.corrected', { n: row.earlier })}</p>` : ''}
      ${view.params.asking ? html`<div class="notice" role="alert"><p>${say('entry.sure')}</p>
        ${secondary('withdraw-yes', 'entry.withdraw', say('entry.withdraw_yes'))}${secondary('withdraw-no', 'entry.keep', say('entry.withdraw_no'))}</div>` : ''}`,
    foot: html`<div class="pair">${row.state === 'refused' && !begun ? fixKey(row, view, { id: 'correct' }) : primary('correct', 'entry.correct', begun ? say('entry.go_on') : say('entry.correct'))}
      ${view.params.asking ? '' : secondary('withdraw', 'entry.ask', say('entry.withdraw'))}</div>`,
  });
}
