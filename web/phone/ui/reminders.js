/** A reminder at the wearer's own times, as a file for the phone's calendar. Nothing personal in it. */

import { html } from '../html.js';
import { say } from '../words.js';
import { choice, frame, primary } from './frame.js';

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
      <p class="small">${say('remind.private')}</p>`,
    foot: primary('make-file', 'remind.file', say('remind.file')),
  });
}
