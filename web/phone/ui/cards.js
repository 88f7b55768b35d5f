/** Cards that come up when there is a reason: a new socket, a limb that feels less. General advice, own plan first. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { number, say } from '../words.js';

const NEW_DAYS = 14; // judgement: how long a socket counts as new where the clinic set no schedule

/** The day of wearing a new socket, counted from 1, with the hours the clinic planned; null when it is not new. */
export function newSocket(limb, today) {
  const socket = (limb.sockets ?? []).filter((one) => !one.retired_on && one.fitted_on <= today).at(-1);
  if (!socket) return null;
  const day = daysBetween(socket.fitted_on, today) + 1;
  const schedule = socket.wear_schedule ?? [];
  const last = Math.max(NEW_DAYS, ...schedule.map((step) => step.day));
  if (day > last) return null;
  const planned = schedule.filter((step) => step.day <= day).sort((a, b) => a.day - b.day).at(-1);
  return { day, hours: planned?.hours ?? null };
}

export function cardsFor(limb, today, careful) {
  const fresh = newSocket(limb, today);
  return [
    fresh && html`<section class="card tip"><h2>${say('new.title', { n: fresh.day })}</h2>
      ${fresh.hours === null ? '' : html`<p><strong>${say('new.hours', { n: fresh.hours, hours: number(fresh.hours) })}</strong></p>`}
      <p>${say('new.look')}</p><p class="small">${say('new.plan')}</p></section>`,
    careful && html`<p class="tip-line">${say('tip.mirror')}</p>`,
  ].filter(Boolean);
}
