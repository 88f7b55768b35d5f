/** The next visit, as the clinic has planned it. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { say } from '../words.js';
import { dayWords } from './phrases.js';

export function nextVisit(view) {
  const visit = view.visits.find((one) => one.person_id === view.person.id && daysBetween(view.today, one.on) >= 0);
  return visit ? html`<p class="visit">${say('home.visit', { day: dayWords(visit.on, view.today), time: visit.time ?? '', what: visit.what ?? '' })}</p>` : '';
}
