/** A reminder at the wearer's own times: a file for the phone's calendar, or a message on this phone. */

import { html } from '../../shared/html.js';
import { localDate } from '../when.js';
import { dateWords, say } from '../words.js';
import { choice, frame, primary, secondary } from './frame.js';
import { dayWords } from './phrases.js';

const DAYS = Array.from({ length: 7 }, (_, n) => new Date(2026, 1, 1 + n, 12)); // from a Sunday on
const TIMES = ['07:30', '12:30', '18:00', '20:30'];

export function remindersScreen(view) {
  const { times = view.settings.times ?? [], error } = view.params;
  return frame(view, {
    title: say('remind.title'),
    lead: say('remind.lead'),
    back: 'remind.close',
    body: html`
      ${error ? html`<p class="notice bad" role="alert">${error}</p>` : ''}
      <div class="keys two">${[...new Set([...TIMES, ...times])].sort().map((time) => choice(`time-${time.replace(':', '')}`, 'remind.time', time, time, times.includes(time)))}</div>
      <label for="own-time">${say('remind.own')}</label>
      <input id="own-time" type="time" data-change="remind.own">
      <fieldset><legend>${say('week.pick')}</legend><div class="row weekdays">${DAYS.map((day, n) => choice(`week-${n}`, 'week.on', n, dateWords(day, { weekday: 'short' }), view.settings.week_on === n))}</div></fieldset>
      <p class="small">${say('remind.private')}</p>
      ${view.canPush ? push(view) : html`<p>${say('remind.push_no')}</p>`}`,
    foot: primary('make-file', 'remind.file', say('remind.file')),
  });
}

function push(view) {
  const kept = view.reminding?.reminders;
  const [from = '', to = ''] = [kept?.quiet_from ?? view.settings.quiet?.[0], kept?.quiet_to ?? view.settings.quiet?.[1]];
  const paused = kept?.paused_until && kept.paused_until > view.now.toISOString() ? kept.paused_until : null;
  return html`<details id="push" ${kept ? html`open` : ''}><summary>${say('remind.push')}</summary>
    <p role="status">${paused ? say('remind.paused', { day: dayWords(localDate(new Date(paused)), view.today) }) : kept ? say('remind.push_on') : ''}</p>
    <fieldset><legend>${say('remind.quiet')}</legend><div class="keys two">
      <div><label for="quiet-from">${say('remind.from')}</label><input id="quiet-from" type="time" value="${from}"></div>
      <div><label for="quiet-to">${say('remind.to')}</label><input id="quiet-to" type="time" value="${to}"></div></div></fieldset>
    ${secondary('push-start', 'remind.start', kept ? say('remind.again') : say('remind.push'))}
    ${kept ? html`${secondary('push-pause', 'remind.pause', paused ? say('remind.resume') : say('remind.pause'), { arg: paused ? '0' : '72' })}
      ${secondary('push-stop', 'remind.stop', say('remind.push_off'))}` : ''}</details>`;
}
