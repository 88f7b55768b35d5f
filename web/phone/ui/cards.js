/** Cards that come up when there is a reason: a new socket, a limb that feels less. General advice, own plan first. */

import { html } from '../../shared/html.js';
import { mayAct, wornOf } from '../pocket.js';
import { daysBetween, localTime } from '../when.js';
import { number, say } from '../words.js';
import { sayOf } from './phrases.js';

const TIPS = [1, 2, 3, 4, 5];
const OTHER_FOOT = 5;

export const hasOtherFoot = (person) => person.limbs.length < 2;

/** Another tip each day. The other foot is no tip for who has none, nor for who is asked to look at it daily. */
export function tipOf(today, { otherFoot, careful }) {
  const told = TIPS.filter((n) => n !== OTHER_FOOT || (otherFoot && !careful));
  return `tip.${told[Number(today.slice(8)) % told.length]}`;
}

/** The tip as it is said to whoever holds the phone. */
export const tipWords = (view) => sayOf(view, tipOf(view.today, { otherFoot: hasOtherFoot(view.person), careful: view.careful }));

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
  return { day, hours: planned?.hours ?? null, steps: schedule };
}

/** Since when it is on, until when, and what was worn today. */
export function wornLine(view, limb, hours) {
  const { on, minutes, since, over, until } = wornOf(view.settings.worn?.[limb.id], view.now, hours);
  if (!on && !minutes) return '';
  const said = on ? say(until ? 'pocket.until' : 'pocket.since', { from: localTime(since), to: until && localTime(until) })
    : say('pocket.so_far', { time: `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}` });
  return html`<p role="status">${said}${over ? html` <strong>${say('pocket.over')}</strong>` : ''}</p>`;
}

/** Several looks a day, and each day at the other foot, for who feels less, has diabetes or poor circulation. Common
 *  practice of rehabilitation clinics; "Diabetic foot problems: prevention and management" (NICE NG19) is named for
 *  the subject, its full text was not read. How often: judgement. Who has two limbs here has no other foot.
 */
export function cardsFor(view, limb) {
  const fresh = newSocket(limb, view.today);
  return [
    fresh && mayAct({ ...view, advice: [] }) && html`<section class="card tip"><h2>${say('new.title', { n: fresh.day })}</h2>
      ${fresh.hours === null ? '' : html`<p><strong>${sayOf(view, 'new.hours', { n: fresh.hours, hours: number(fresh.hours) })}</strong></p>${wornLine(view, limb, fresh.hours)}`}
      <p>${sayOf(view, 'new.look')}</p><p class="small">${say('new.plan')}</p></section>`,
    view.careful && html`<p class="tip-line">${sayOf(view, 'tip.mirror')}${hasOtherFoot(view.person) ? ` ${sayOf(view, 'tip.other_foot')}` : ''}</p>`,
  ].filter(Boolean);
}
