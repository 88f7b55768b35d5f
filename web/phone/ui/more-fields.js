/** The rest, folded away: nobody has to open it. */

import { html } from '../../shared/html.js';
import { plusDays } from '../when.js';
import { fromKg, UNITS } from '../weight.js';
import { say } from '../words.js';
import { choice } from './frame.js';
import { justDay, shortDay } from './phrases.js';

const MOMENTS = ['putting_on', 'during', 'end_of_day'];
const TAGS = ['dialysis', 'illness', 'hot_day', 'new_medicine', 'shrinker', 'midday_rest', 'new_socks', 'travel', 'long_standing'];

const numberField = (name, draft, { min = 0, max, step = 1 }) => html`<label for="${name}">${say(`field.${name}`)}</label>
  <input id="${name}" data-field="${name}" type="number" inputmode="decimal" min="${min}" max="${max}" step="${step}" value="${draft[name] ?? ''}">`;

export function moreFields(view, draft) {
  const other = ![view.today, plusDays(view.today, -1)].includes(draft.date);
  return html`
    <details id="when"><summary>${say('review.when')} <span class="small">${shortDay(draft.date, view.today)} · ${say(`moment.${draft.moment}`)}</span></summary>
      <div class="keys one">
        ${[view.today, plusDays(view.today, -1)].map((date, i) => choice(`date-${i}`, 'day.date', date, html`<span>${justDay(date, view.today)}</span>`, draft.date === date))}
      </div>
      <label for="date">${say('review.other_day')}</label>
      <input id="date" data-field="date" type="date" max="${view.today}" value="${other ? draft.date : ''}">
      <fieldset><legend>${say('field.moment')}</legend><div class="keys one">${MOMENTS.map((moment) =>
        choice(`moment-${moment}`, 'day.moment', moment, say(`moment.${moment}`), draft.moment === moment))}</div></fieldset>
    </details>
    <details id="rest"><summary>${say('review.more')}</summary>
      ${numberField('hours_worn', draft, { max: 24, step: 0.5 })}
      <fieldset><legend>${say('field.activity')}</legend><div class="keys three">${['less', 'usual', 'more'].map((activity) =>
        choice(`activity-${activity}`, 'day.activity', activity, say(`activity.${activity}`), draft.activity === activity))}</div></fieldset>
      <fieldset><legend>${say('field.falls')}</legend><div class="keys">${[0, 1, 2, 3].map((falls) =>
        choice(`falls-${falls}`, 'day.falls', falls, falls === 3 ? say('falls.3') : String(falls), draft.falls === falls))}</div></fieldset>
      <fieldset><legend>${say('pain.title')}</legend><p class="small">${say('pain.lead')}</p><div class="keys numbers">${Array.from({ length: 11 }, (_, n) =>
        choice(`pain-${n}`, 'day.pain', n, String(n), draft.pain === n, 'number'))}</div></fieldset>
      <label for="weight_kg">${say('field.weight_kg')}</label>
      <div class="weight"><input id="weight_kg" data-field="weight_kg" type="number" inputmode="decimal" min="2" max="900" step="0.1" value="${fromKg(draft.weight_kg, view.unit) ?? ''}">
        ${UNITS.map((unit) => choice(`unit-${unit}`, 'day.unit', unit, unit, view.unit === unit))}</div>
      <fieldset><legend>${say('field.tags')}</legend><div class="keys two">${TAGS.map((tag) =>
        choice(`tag-${tag}`, 'day.tag', tag, say(`tag.${tag}`), draft.tags.includes(tag)))}</div></fieldset>
      <label for="note">${say('field.note')}</label>
      <textarea id="note" data-field="note" rows="3" maxlength="1000">${draft.note}</textarea>
    </details>`;
}
