/** On the first page: the advice that still stands for a limb, and what the clinic answered lately. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCard, answerOf } from './advice.js';
import { justDay } from './phrases.js';

export const cardId = (limb) => `advice-${limb.id}`;

export function standingCard(view, limb) {
  const found = view.standing[limb.id] ?? [];
  const days = [...new Set(found.map((one) => one.row.checkin.date))].sort().map((date) => justDay(date, view.today));
  const begun = found.some((one) => one.row.state === 'draft');
  return adviceCard(view, found, { id: cardId(limb), from: begun ? say('advice.from_draft') : say('advice.from', { day: days.join(', ') }) });
}

export const answers = (view, limb) =>
  (view.answers[limb.id] ?? []).map((one) => html`<section class="card tip">${answerOf(one, view.today)}</section>`);
