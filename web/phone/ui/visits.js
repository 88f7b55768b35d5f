/** The next visit, as the clinic planned it, what was called off, and all of them as a file for the phone's own calendar. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { say } from '../words.js';
import { dayWords } from './phrases.js';

const fill = (visit, view) => ({ day: dayWords(visit.on, view.today), time: visit.time ?? '', what: visit.what ?? '' });

export function nextVisit(view) {
  const coming = view.visits.filter((one) => one.person_id === view.person.id && daysBetween(view.today, one.on) >= 0);
  const visit = coming.find((one) => !one.cancelled && !one.outcome);
  const off = coming.filter((one) => one.cancelled);
  return html`${visit ? html`<p class="visit">${say('home.visit', fill(visit, view))}</p>` : ''}
    ${off.map((one) => html`<p class="visit off">${say('visit.off', fill(one, view))}</p>`)}
    ${visit || off.length ? html`<button class="link" id="visit-file" data-do="visit.file">${say('visit.calendar')}</button>` : ''}`;
}
