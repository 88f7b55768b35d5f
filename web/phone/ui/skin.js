/** The skin question: fine, not looked, or what was found and where; urgent advice at once. */

import { EMERGENCY, SKIN_SIGNS } from '../checkin.js';
import { PLACES } from '../../shared/places.js';
import { html } from '../../shared/html.js';
import { MOST_PHOTOS } from '../photo.js';
import { say } from '../words.js';
import { adviceCards } from './advice.js';
import { bodyMap } from './body-map.js';
import { choice, primary, secondary } from './frame.js';

const FINDINGS = ['redness', 'blister', 'open_skin', 'discharge', 'spreading_redness', 'colour_change', 'numbness', 'rash', 'swelling', 'callus', 'other'];
const MINUTES = [5, 10, 20, 30, 60];

export function skinStep(view, draft) {
  const careful = view.limb.careful;
  return {
    title: view.words('skin.title'),
    lead: careful ? say('skin.lead.careful') : say('skin.lead'),
    body: html`
      ${adviceCards(view)}
      <div class="keys one">
        ${choice('skin-fine', 'day.skin', 'fine', say('skin.fine'), draft.skin === 'fine', 'wide good')}
        ${choice('skin-found', 'day.skin', 'found', say('skin.found'), draft.skin === 'found', 'wide')}
        ${choice('skin-not', 'day.skin', 'not_looked', say('skin.not_looked'), draft.skin === 'not_looked', 'wide')}
      </div>
      ${draft.skin === 'found' ? found(view, draft) : ''}`,
    foot: draft.skin ? primary('next', 'day.next', say('next')) : secondary('next', 'day.next', say('skip')),
  };
}

function found(view, draft) {
  const places = PLACES[view.limb.level] ?? PLACES.transtibial;
  const place = view.params.place;
  const at = (name) => draft.findings.filter((one) => one.place === name);
  return html`
    <fieldset><legend>${say('skin.where')}</legend>
      ${bodyMap(view, draft)}
      <div class="keys two">${places.map((name) => choice(`place-${name}`, 'day.place', name,
        html`<span>${say(`place.${name}`)}</span>${at(name).length ? html`<span class="small">${at(name).map((one) => say(`finding.${one.finding}`)).join(', ')}</span>` : ''}`, place === name || at(name).length > 0))}</div></fieldset>
    ${place ? html`<fieldset id="what"><legend>${say('skin.what', { place: say(`place.${place}`) })}</legend>
      <div class="keys two">${FINDINGS.map((finding) => choice(`finding-${finding}`, 'day.finding', finding, say(`finding.${finding}`), at(place).some((one) => one.finding === finding)))}</div></fieldset>` : ''}
    ${place && at(place).some((one) => one.finding === 'redness') ? html`<fieldset><legend>${say('skin.minutes')}</legend>
      <div class="keys">${MINUTES.map((minutes) => choice(`minutes-${minutes}`, 'day.minutes', minutes, say(`minutes.${minutes}`), at(place).some((one) => one.redness_minutes === minutes)))}</div></fieldset>` : ''}
    <fieldset><legend>${say('photo.add')}</legend><p class="small">${say('photo.lead')}</p>
      ${draft.photos.length ? html`<ul class="photos">${draft.photos.map((id, i) => html`<li>${view.pictures[id] ? html`<img src="${view.pictures[id]}" alt="${say('photo.count', { n: 1 })}">` : ''}
        <button class="link" id="unphoto-${i}" data-do="day.unphoto" data-arg="${id}">${say('photo.remove', { n: i + 1 })}</button></li>`)}</ul>` : ''}
      ${draft.photos.length < MOST_PHOTOS
        ? html`<label class="key wide file" for="photo">${say('photo.add')}<input class="unseen" id="photo" type="file" accept="image/*" capture="environment" data-change="day.photo"></label>` : html`<p class="small">${say('photo.many')}</p>`}
    </fieldset>
    <fieldset class="signs"><legend>${say('skin.also')}</legend>
      ${[...SKIN_SIGNS, ...EMERGENCY].map((sign) => choice(`sign-${sign}`, 'day.sign', sign, say(`sign.${sign}`), draft.signs.includes(sign), 'plainkey'))}</fieldset>`;
}
