/** What lies under a figure: the check-ins themselves, who wrote them, when they arrived, what was corrected. */

import { html } from '../../shared/html.js';
import { fullDay, instant } from '../when.js';
import { ACTIVITY, ADVICE_LEVEL, COURSE, DAY_TAG, FINDING, LEFT_OFF, MOMENT, said, SIGN, stack } from '../words.js';
import { placeWords } from '../../shared/places.js';

export const skinWords = ({ place, finding, redness_minutes: minutes }) =>
  `${said(FINDING, finding)}, ${placeWords(place)}${howLong(finding, minutes)}`;

/** Redness is asked how long it lasted: no answer is said to be none, not left to be taken for short. */
function howLong(finding, minutes) {
  if (minutes === null || minutes === undefined) return finding === 'redness' ? ', minutes not said' : '';
  return `, gone after ${minutes} min`;
}

/** The advice that came up with this entry, most urgent first: what the wearer was told to do. */
const advised = (advice) =>
  advice?.length ? html`<ul class="plain-list">${advice.map(({ level, title, do: what }) => html`<li><strong>${ADVICE_LEVEL[level] ?? level}: ${title}.</strong> ${what}</li>`)}</ul>` : '';

function checkinCard(one) {
  const lines = [
    ['Socks', `${stack(one.stack)} (${one.stack_mm.toFixed(1)} mm)${one.prefilled ? ', “same as before”' : ''}`],
    ['Fit', [one.fit, ...one.signs.map((sign) => said(SIGN, sign))].filter(Boolean).join(', ')],
    ['Comfort', `${one.comfort} of 10`],
    ['Pain', one.pain === null ? '' : `${one.pain} of 10`],
    ['Danger signs', one.signs_checked ? 'asked' : 'not asked'],
    ['Left the socket off as advised', LEFT_OFF[one.left_off]],
    ['Skin', one.skin.length ? one.skin.map(skinWords).join('; ') : one.skin_checked ? 'looked at, nothing found' : 'not looked at'],
    ['Found before', one.healing.map(({ place, course }) => `${placeWords(place)}: ${said(COURSE, course)}`).join('; ')],
    ['Hours worn', one.hours_worn],
    ['Activity', ACTIVITY[one.activity]],
    ['Falls', one.falls],
    ['Weight', one.weight_kg === null ? '' : `${one.weight_kg} kg`],
    ['Of the day', one.tags.map((tag) => said(DAY_TAG, tag)).join(', ')],
    ['In their words', one.note],
    ['The phone said', advised(one.advice)],
  ].filter(([, value]) => value !== null && value !== undefined && value !== '');
  const by = one.written_by?.label ? `${one.written_by.role === 'caregiver' ? 'caregiver, ' : ''}${one.written_by.label}` : 'a phone';
  const gone = one.withdrawn ? 'taken back' : one.replaced_by ? 'corrected later' : '';
  return html`<article class="checkin ${gone ? 'gone' : ''}" id="checkin-${one.id}">
    <h4>${MOMENT[one.moment]}${one.time ? `, ${one.time}` : ''}${gone ? html` <span class="word">${gone}</span>` : ''}${one.replaces ? html` <span class="word">a correction</span>` : ''}</h4>
    <dl>${lines.map(([name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>
    ${one.photos.length ? html`<p class="photos">${one.photos.map((id, i) => html`<a href="/api/clinic/photos/${id}" target="_blank" rel="noopener"><img src="/api/clinic/photos/${id}" alt="Photo ${i + 1} of this check-in" loading="lazy" width="96" height="96"></a>`)}</p>` : ''}
    <p class="hint">written by ${by}, arrived ${instant(one.received_at)}${one.doubt ? `. ${one.doubt}` : ''}</p>
  </article>`;
}

export function dayEvidence(day) {
  return html`<h3>${fullDay(day.date)}</h3>${[...day.checkins].sort((a, b) => a.seq - b.seq).map(checkinCard)}`;
}
