/** The rest, folded away: nobody has to open it. */

import { html } from '../../shared/html.js';
import { plusDays } from '../when.js';
import { fromKg, UNITS } from '../weight.js';
import { say } from '../words.js';
import { choice } from './frame.js';
import { justDay, shortDay } from './phrases.js';

const MOMENTS = ['putting_on', 'during', 'end_of_day'];
const TAGS = ['dialysis', 'illness', 'hot_day', 'new_medicine', 'shrinker', 'midday_rest', 'new_socks', 'travel', 'long_standing'];

const fault = (name, faults) => (faults.has(name) ? html`<p class="error" id="${name}-fault">${faults.get(name)}</p>` : '');

/** Typed as text: a comma, a point or Arabic digits are all a number, and what is none is shown again, not dropped. */
const numberInput = (name, value, faults) => html`<input id="${name}" data-field="${name}" type="text" inputmode="decimal" autocomplete="off" maxlength="12"
  ${faults.has(name) ? html`aria-invalid="true" aria-describedby="${name}-fault"` : ''} value="${value ?? ''}">`;

export function moreFields(view, draft, faults = new Map()) {
  const other = ![view.today, plusDays(view.today, -1)].includes(draft.date);
  return html`
    <details id="when"><summary>${say('review.when')} <span class="small">${shortDay(draft.date, view.today)} · ${say(`moment.${draft.moment}`)}</span></summary>
      <div class="keys one">
        ${[view.today, plusDays(view.today, -1)].map((date, i) => choice(`date-${i}`, 'day.date', date, html`<span>${justDay(date, view.today)}</span>`, draft.date === date))}
      </div>
      <label for="date">${say('review.other_day')}</label>
      <input id="date" data-field="date" type="date" max="${view.today}" value="${other ? draft.date : ''}">
      ${fault('date', faults)}
      <fieldset><legend>${say('field.moment')}</legend><div class="keys one">${MOMENTS.map((moment) =>
        choice(`moment-${moment}`, 'day.moment', moment, say(`moment.${moment}`), draft.moment === moment))}</div></fieldset>
    </details>
    <details id="rest"><summary>${say('review.more')}</summary>
      <label for="hours_worn">${say('field.hours_worn')}</label>
      ${numberInput('hours_worn', draft.hours_worn, faults)}${fault('hours_worn', faults)}
      <fieldset id="at-activity"><legend>${say('field.activity')}</legend><div class="keys three">${['less', 'usual', 'more'].map((activity) =>
        choice(`activity-${activity}`, 'day.activity', activity, say(`activity.${activity}`), draft.activity === activity))}</div></fieldset>
      <fieldset id="at-falls"><legend>${say('field.falls')}</legend><div class="keys">${[0, 1, 2, 3].map((falls) =>
        choice(`falls-${falls}`, 'day.falls', falls, falls === 3 ? say('falls.3') : String(falls), draft.falls === falls))}</div></fieldset>
      <fieldset id="at-pain"><legend>${say('pain.title')}</legend><p class="small">${say('pain.lead')}</p><div class="keys numbers">${Array.from({ length: 11 }, (_, n) =>
        choice(`pain-${n}`, 'day.pain', n, String(n), draft.pain === n, 'number'))}</div></fieldset>
      <label for="weight_kg">${say('field.weight_kg')} <span class="small block">${say('weight.when')}</span></label>
      <div class="weight">${numberInput('weight_kg', fromKg(draft.weight_kg, view.unit), faults)}
        ${UNITS.map((unit) => choice(`unit-${unit}`, 'day.unit', unit, unit, view.unit === unit))}</div>${fault('weight_kg', faults)}
      <fieldset id="at-tags"><legend>${say('field.tags')}</legend><div class="keys two">${TAGS.map((tag) =>
        choice(`tag-${tag}`, 'day.tag', tag, say(`tag.${tag}`), draft.tags.includes(tag)))}</div></fieldset>
      <label for="note">${say('field.note')}</label>
      <textarea id="note" data-field="note" rows="3" maxlength="1000">${draft.note}</textarea>${fault('note', faults)}
    </details>`;
}
