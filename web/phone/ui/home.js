/** Today: what was logged, where it stands, and the key to log. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { cardsFor } from './cards.js';
import { frame } from './frame.js';
import { dayWords, justDay, limbWords, standingWords, state } from './phrases.js';
import { stackWords } from './socks.js';
import { tidePicture } from './tide.js';
import { nextVisit } from './visits.js';

function limbCard(view, limb) {
  const rows = view.rowsOf[limb.id] ?? [];
  const last = rows[0];
  const draft = view.drafts[limb.id];
  return html`<section class="card">
    ${view.person.limbs.length > 1 ? html`<h2>${limbWords(limb)}</h2>` : ''}
    ${tidePicture(rows, view.today)}
    ${trendOf(view, limb)}
    ${last
      ? html`<p>${say('home.last', { day: justDay(last.checkin.date, view.today) })} <strong>${stackWords(last.checkin.stack)}</strong>. ${say('home.comfort', { n: last.checkin.comfort })}</p>
        <p class="state ${last.state}">${state(last)}</p>`
      : html`<p>${say('home.none')}</p>`}
    ${draft ? html`<p class="notice">${say('home.draft')}</p>` : ''}
    ${cardsFor(limb, view.today, view.careful)}
  </section>`;
}

const trendOf = (view, limb) => {
  const code = view.seen[limb.id]?.trend?.words_code ?? 'unknown';
  return code === 'unknown' ? '' : html`<p>${say(`story.trend.${code}`)}</p>`;
};

export function homeScreen(view) {
  const { person } = view;
  const several = person.limbs.length > 1;
  const loggedToday = (limb) => (view.rowsOf[limb.id] ?? []).some((row) => row.checkin.date === view.today);
  const logKey = (limb, i) => {
    const words = view.drafts[limb.id] ? 'home.go_on' : loggedToday(limb) ? 'home.log_again' : 'home.log';
    const text = several ? say(`${words}.limb`, { limb: limbWords(limb) }) : say(words);
    return html`<button class="primary" id="log-${i}" data-do="day.open" data-arg="${limb.id}">${text}</button>`;
  };
  return frame(view, {
    title: dayWords(view.today, view.today),
    body: html`
      ${view.people.length > 1 ? people(view) : ''}
      ${person.limbs.map((limb) => limbCard(view, limb))}
      ${nextVisit(view)}
      <p class="standing" role="status">${standingWords(view)}</p>`,
    foot: html`<div class="pair">${person.limbs.map(logKey)}</div>`,
  });
}

function people(view) {
  return html`<div class="row people" role="group" aria-label="${say('home.who')}">${view.people.map((one, i) =>
    html`<button class="key" id="who-${i}" data-do="who" data-arg="${one.id}" aria-pressed="${one.id === view.person.id ? 'true' : 'false'}">${one.name}</button>`)}</div>`;
}
