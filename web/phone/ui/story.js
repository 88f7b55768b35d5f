/** The wearer's own story: how the limb is doing in words, a simple picture, and the same as a table. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { say } from '../words.js';
import { choice, frame } from './frame.js';
import { dayWords, justDay, limbWords } from './phrases.js';
import { stackWords } from './socks.js';
import { nextVisit } from './visits.js';
import { tidePicture } from './tide.js';

export function storyScreen(view) {
  const { limb } = view;
  const rows = view.rowsOf[limb.id] ?? [];
  const trend = view.seen[limb.id]?.trend?.words_code ?? 'unknown';
  const recent = rows.filter((row) => daysBetween(row.checkin.date, view.today) < 28);
  const days = new Set(recent.map((row) => row.checkin.date)).size;
  const mean = recent.length ? recent.reduce((sum, row) => sum + row.checkin.comfort, 0) / recent.length : null;
  return frame(view, {
    title: say('story.title'),
    body: html`
      ${view.person.limbs.length > 1 ? html`<div class="row">${view.person.limbs.map((one) => choice(`limb-${one.id}`, 'limb', one.id, limbWords(one), one.id === limb.id))}</div>` : ''}
      <p class="takeaway">${say(`story.trend.${trend}`)}</p>
      <figure>${tidePicture(rows, view.today)}<figcaption>${say('story.picture')}</figcaption></figure>
      ${days ? html`<p>${say('story.days', { n: days })} ${mean === null ? '' : say('story.comfort', { n: Math.round(mean) })}</p>` : html`<p>${say('home.none')}</p>`}
      ${days ? html`<details id="table"><summary>${say('story.table')}</summary><div class="scroll" tabindex="0" role="region" aria-label="${say('story.table')}"><table>
        <thead><tr><th scope="col">${say('story.day')}</th><th scope="col">${say('field.stack')}</th><th scope="col">${say('field.comfort')}</th></tr></thead>
        <tbody>${recent.map((row) => html`<tr><th scope="row">${justDay(row.checkin.date, view.today)}</th><td>${stackWords(row.checkin.stack)}</td><td>${row.checkin.comfort}</td></tr>`)}</tbody></table></div></details>` : ''}
      ${seenWords(view, rows)}
      ${nextVisit(view)}
      <section><h2>${say('story.ask')}</h2><ul>${['1', '2', '3'].map((n) => html`<li>${say(`story.ask.${n}`)}</li>`)}</ul></section>`,
  });
}

function seenWords(view, rows) {
  const last = rows.filter((row) => row.state === 'kept').map((row) => row.checkin.date).sort().at(-1);
  return last ? html`<p>${say('story.clinic_has', { day: dayWords(last, view.today) })}</p>` : '';
}

