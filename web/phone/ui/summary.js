/** A check-in as a list of what was said. */

import { html } from '../../shared/html.js';
import { fromKg } from '../weight.js';
import { list, number, say } from '../words.js';
import { makeWords, named, sockWords } from './socks.js';

const line = (name, value) => (value === null || value === undefined || value === '' ? '' : html`<div><dt>${name}</dt><dd>${value}</dd></div>`);

const sockLine = (sock, drawer) => [sockWords(named(sock, drawer)), makeWords(sock)].filter(Boolean).join(', ');

export const skinWords = (found) => list(found.map((one) => `${say(`finding.${one.finding}`)} (${say(`place.${one.place}`)})`));

export function entryRows(said, view) {
  const skin = said.skin?.length ? skinWords(said.skin) : said.skin_checked ? say('skin.fine') : say('skin.not_looked');
  return html`<dl class="said">
    ${line(say('field.stack'), said.stack.length ? said.stack.map((sock) => html`<span class="block">${sockLine(sock, view.drawer ?? [])}</span>`) : say('stack.none'))}
    ${said.prefilled ? line('', say('said.same')) : ''}
    ${line(say('field.moment'), [said.time, say(`moment.${said.moment ?? 'putting_on'}`)].filter(Boolean).join(' · '))}
    ${line(say('field.fit'), said.fit && say(`fit.${said.fit}`))}
    ${line(say('field.signs'), said.signs?.length ? list(said.signs.map((sign) => say(`sign.${sign}`))) : null)}
    ${line(say('field.comfort'), say('said.of_ten', { n: said.comfort }))}
    ${line(say('field.skin'), skin)}
    ${line(say('field.pain'), said.pain === null || said.pain === undefined ? null : say('said.of_ten', { n: said.pain }))}
    ${line(say('field.hours_worn'), said.hours_worn === null || said.hours_worn === undefined ? null : number(said.hours_worn))}
    ${line(say('field.activity'), said.activity && say(`activity.${said.activity}`))}
    ${line(say('field.falls'), said.falls === null || said.falls === undefined ? null : number(said.falls))}
    ${line(say('field.weight_kg'), said.weight_kg === null || said.weight_kg === undefined ? null : `${number(fromKg(said.weight_kg, view.unit))} ${view.unit}`)}
    ${line(say('field.tags'), said.tags?.length ? list(said.tags.map((tag) => say(`tag.${tag}`))) : null)}
    ${line(say('field.note'), said.note)}
    ${line(say('field.photos'), said.photos?.length ? say('photo.count', { n: said.photos.length }) : null)}
  </dl>`;
}
