/** An entry that was begun and not saved: which day it is for, since when, on with it or away with it. */

import { isFix, keyOf } from '../drafts.js';
import { html } from '../../shared/html.js';
import { localDate, localTime } from '../when.js';
import { say } from '../words.js';
import { dayWords, shortDay } from './phrases.js';

/** "Begun: yesterday, 21:10". Early versions did not write down when. */
function since(draft, today) {
  if (!draft.opened_at || draft.opened_at.length <= 10) return '';
  const at = new Date(draft.opened_at);
  return html`<p class="small">${say('draft.since', { day: shortDay(localDate(at), today), time: localTime(at) })}</p>`;
}

/** What the clinic was told of it already, or will be: nothing leaves the phone unsaid. */
export function toldLine(view, draft) {
  const row = draft.id && view.told[draft.id];
  return row ? html`<p><strong>${say(row.sent ? 'begun.sent' : 'begun.waiting')}</strong></p>` : '';
}

/** `on`: whether a key of its own leads on with it; the one of today has "Go on" below the thumb. */
export function draftCard(view, draft, { on = true } = {}) {
  const key = keyOf(draft);
  const id = key.replace(/[^\w-]/g, '-');
  const day = dayWords(draft.date, view.today);
  const what = isFix(draft) ? say('draft.fix', { day }) : draft.date === view.today && !on ? say('home.draft') : say('draft.of', { day });
  if (view.params.throwing === key) {
    return html`<div class="notice" role="alert"><p>${say('draft.sure', { day })}</p><div class="pair">
      <button class="secondary" id="throw-yes" data-do="draft.throw" data-arg="${key}">${say('draft.yes')}</button>
      <button class="secondary" id="throw-no" data-do="draft.keep">${say('draft.no')}</button></div></div>`;
  }
  return html`<div class="notice begun"><p>${what}</p>${since(draft, view.today)}${toldLine(view, draft)}
    <div class="pair">${on ? html`<button class="secondary" id="on-${id}" data-do="draft.open" data-arg="${key}">${say('draft.on', { day: shortDay(draft.date, view.today) })}</button>` : ''}
    <button class="link" id="away-${id}" data-do="draft.ask" data-arg="${key}" aria-label="${say('draft.away_what', { day })}">${say('draft.away')}</button></div></div>`;
}
