/** On the first page: the advice that still stands for a limb, and what the clinic answered lately. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCard, answerOf, wordsOf } from './advice.js';
import { choice } from './frame.js';
import { justDay, nameOf, sayOf } from './phrases.js';

export const cardId = (limb) => `advice-${limb.id}`;

export function standingCard(view, limb) {
  const found = view.standing[limb.id] ?? [];
  const days = [...new Set(found.map((one) => one.row.checkin.date))].sort().map((date) => justDay(date, view.today));
  const begun = found.some((one) => one.row.state === 'draft');
  return adviceCard(view, found, { id: cardId(limb), from: begun ? say('advice.from_draft') : say('advice.from', { day: days.join(', ') }) });
}

export const answers = (view, limb) =>
  (view.answers[limb.id] ?? []).map((one) => html`<section class="card tip">${answerOf(one, view.today)}</section>`);

/** What was advised on an earlier day, and holds: whether it was done, once a day. */
export function leftOff(view, draft) {
  const told = view.stoodBefore.find((one) => one.level === 'stop_wear');
  const before = (view.rowsOf[view.limb.id] ?? []).some(({ id, checkin }) => checkin.date === draft.date && checkin.left_off && id !== draft.replaces);
  return told && !before ? html`<fieldset class="card" id="left-off"><legend class="only-heard">${sayOf(view, 'left_off.ask')}</legend>
    <p>${justDay(told.row.checkin.date, view.today)}: ${wordsOf(told, 'title', nameOf(view))}. <strong>${sayOf(view, 'left_off.ask')}</strong></p>
    <div class="keys">${['yes', 'no', 'cannot_say'].map((said) => choice(`left-off-${said}`, 'day.left_off', said, say(`left_off.${said}`), draft.left_off === said))}</div></fieldset>` : '';
}
