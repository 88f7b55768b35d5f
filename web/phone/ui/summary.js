/** A check-in as a list of what was said. */

import { html } from '../../shared/html.js';
import { fromKg } from '../weight.js';
import { CHILD_SIGNS, FIT_SIGNS } from '../checkin.js';
import { has, list, number, say } from '../words.js';
import { makeWords, named, sockWords } from './socks.js';

const FIT = [...FIT_SIGNS, ...CHILD_SIGNS];

const sockLine = (sock, drawer) => [sockWords(named(sock, drawer)), makeWords(sock)].filter(Boolean).join(', ');

/** "20 minutes"; what the phone does not ask about may still have been said elsewhere. */
const lasted = (minutes) => (has(`minutes.${minutes}`) ? say(`minutes.${minutes}`) : say('minutes.n', { n: minutes }));

const placeWords = (place) => (has(`place.${place}`) ? say(`place.${place}`) : place);

const foundWords = ({ place, finding, redness_minutes: minutes }) =>
  `${say(`finding.${finding}`)} (${placeWords(place)})${minutes === null || minutes === undefined ? '' : `: ${lasted(minutes)}`}`;

export const skinWords = (found) => list(found.map(foundWords));

const isSet = (value) => value !== null && value !== undefined && value !== '';

/** What was said, a line for each field that holds something: [field, name, words]. The one list from which the review
 *  before a save, the entry's own page and the file for the wearer are made, so that none leaves out what another shows.
 */
export function linesOf(said, view) {
  const { drawer = [], pictures = {} } = view;
  const signs = said.signs ?? [];
  const fitSigns = signs.filter((sign) => FIT.includes(sign));
  const otherSigns = signs.filter((sign) => !FIT.includes(sign));
  const words = (list_) => list(list_.map((sign) => say(`sign.${sign}`)));
  const ofTen = (n) => (isSet(n) ? say('said.of_ten', { n }) : null);
  const count = (n) => (typeof n === 'number' ? number(n) : n); // text that is no number is shown as it was typed
  const skin = said.skin?.length ? skinWords(said.skin) : said.skin_checked ? say('skin.fine') : say('skin.not_looked');
  const photos = said.photos ?? [];
  return [
    ['moment', say('field.moment'), [said.time, say(`moment.${said.moment ?? 'putting_on'}`)].filter(Boolean).join(' · ')],
    ['signs', say('field.danger'), otherSigns.length ? words(otherSigns) : said.signs_checked ? say('danger.none') : null],
    ['left_off', say('field.left_off'), said.left_off && say(`left_off.${said.left_off}`)],
    ['stack', say('field.stack'), said.stack.length ? said.stack.map((sock) => html`<span class="block">${sockLine(sock, drawer)}</span>`) : say('stack.none')],
    ['prefilled', '', said.prefilled ? say('said.same') : null],
    ['fit', say('field.fit'), [said.fit && say(`fit.${said.fit}`), fitSigns.length ? words(fitSigns) : ''].filter(Boolean).join('. ')],
    ['comfort', say('field.comfort'), ofTen(said.comfort)],
    ['skin', say('field.skin'), skin],
    ['healing', say('healing.title'), said.healing?.length ? list(said.healing.map(({ place, course }) => `${placeWords(place)}: ${say(`healing.${course}`)}`)) : null],
    ['photos', say('field.photos'), photos.length
      ? html`${say('photo.count', { n: photos.length })}<span class="thumbs">${photos.filter((id) => pictures[id]).map((id) => html`<img src="${pictures[id]}" alt="">`)}</span>` : null],
    ['pain', say('field.pain'), ofTen(said.pain)],
    ['hours_worn', say('field.hours_worn'), count(said.hours_worn)],
    ['activity', say('field.activity'), said.activity && say(`activity.${said.activity}`)],
    ['falls', say('field.falls'), said.falls === 3 ? say('falls.3') : count(said.falls)],
    ['weight_kg', say('field.weight_kg'), isSet(said.weight_kg) ? `${count(fromKg(said.weight_kg, view.unit))} ${view.unit}` : null],
    ['tags', say('field.tags'), said.tags?.length ? list(said.tags.map((tag) => say(`tag.${tag}`))) : null],
    ['note', say('field.note'), said.note],
  ].filter(([, , value]) => isSet(value));
}

export const entryRows = (said, view) =>
  html`<dl class="said">${linesOf(said, view).map(([, name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>`;
