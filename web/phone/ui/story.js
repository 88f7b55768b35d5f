/** The wearer's own story: how the limb is doing in words, a simple picture, and the same as a table. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { say } from '../words.js';
import { followed } from './healing.js';
import { choice, frame } from './frame.js';
import { aboutLimb, dayWords, limbWords, trendCode } from './phrases.js';
import { nextVisit } from './visits.js';
import { limbPicture } from './tide.js';
import { lineTable } from './line-table.js';

export function storyScreen(view) {
  const { limb } = view;
  const rows = view.rowsOf[limb.id] ?? [];
  const recent = rows.filter((row) => row.checkin.date <= view.today && daysBetween(row.checkin.date, view.today) < 28);
  const days = new Set(recent.map((row) => row.checkin.date)).size;
  const felt = recent.map((row) => row.checkin.comfort);
  const [low, high] = [Math.min(...felt), Math.max(...felt)];
  return frame(view, {
    title: aboutLimb(view, 'story.title', 'story.title.of'),
    body: html`
      ${view.person.limbs.length > 1 ? html`<div class="row">${view.person.limbs.map((one) => choice(`limb-${one.id}`, 'limb', one.id, limbWords(one), one.id === limb.id))}</div>` : ''}
      <p class="takeaway">${aboutLimb(view, `story.trend.${trendCode(view, limb)}`, `story.trend.of.${trendCode(view, limb)}`)}</p>
      <figure>${limbPicture(view, limb)}<figcaption>${say('story.picture')}</figcaption></figure>
      ${days ? html`<p>${say('story.days', { n: days })} ${low === high ? say('home.comfort', { n: low }) : say('week.comfort', { low, high })}</p>` : html`<p>${say('home.none')}</p>`}
      ${days ? html`<details id="table"><summary>${say('story.table')}</summary>${lineTable(view, limb)}</details>` : ''}
      ${followed(view)}
      ${seenWords(view, rows)}
      ${nextVisit(view)}
      <section><h2>${say('story.ask')}</h2><ul>${['1', '2', '3'].map((n) => html`<li>${aboutLimb(view, `story.ask.${n}`, `story.ask.of.${n}`)}</li>`)}</ul></section>`,
  });
}

function seenWords(view, rows) {
  const last = rows.filter((row) => row.state === 'kept').map((row) => row.checkin.date).sort().at(-1);
  return last ? html`<p>${say('story.clinic_has', { day: dayWords(last, view.today) })}</p>` : '';
}

