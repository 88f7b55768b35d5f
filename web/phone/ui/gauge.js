/** Comfort on one upright gauge: ten on top, a key for each number, the ends and the middle in words. One of them is chosen. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { number, say } from '../words.js';
import { justDay } from './phrases.js';

const BEFORE_DAYS = 7; // judgement: what was felt longer ago is no help to compare with

/** The last number said on an earlier day: marked, never chosen. */
function before(view, draft) {
  const last = (view.rowsOf[draft.limb_id] ?? []).find((row) => row.checkin.date < draft.date && row.state !== 'refused');
  return last && daysBetween(last.checkin.date, draft.date) <= BEFORE_DAYS ? last.checkin : null;
}

export function gauge(view, draft) {
  const last = before(view, draft);
  const chosen = draft.comfort ?? 10;
  const row = (n) => html`<button class="key gauge-row" role="radio" id="comfort-${n}" data-do="day.comfort" data-arg="${n}" aria-checked="${draft.comfort === n ? 'true' : 'false'}" tabindex="${n === chosen ? 0 : -1}">
    <span class="level"><svg viewBox="0 0 1 1" preserveAspectRatio="none" aria-hidden="true"><path fill-opacity="${0.2 + 0.07 * n}" d="M0 0h1v1h-1z"/></svg><span>${number(n)}</span></span>
    <span>${n % 5 ? '' : say(`comfort.at.${n}`)} ${last?.comfort === n ? html`<span class="small before">${justDay(last.date, view.today)}</span>` : ''}</span></button>`;
  return html`<div class="gauge" role="radiogroup" aria-label="${say('comfort.label')}">${Array.from({ length: 11 }, (_, i) => row(10 - i))}</div>`;
}
