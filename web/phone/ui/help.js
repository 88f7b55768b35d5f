/** Help, in the same place on every screen: when to call whom. Works without a network. */

import { EMERGENCY } from '../checkin.js';
import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { callClinic, callEmergency } from './advice.js';
import { frame } from './frame.js';

const STOP = ['finding.open_skin', 'finding.blister', 'finding.discharge', 'finding.spreading_redness', 'finding.colour_change', 'finding.numbness', 'sign.severe_pain', 'sign.sock_stuck'];

export function helpScreen(view) {
  return frame(view, {
    title: say('help.title'),
    back: 'help.close',
    body: html`
      <section class="advice emergency"><h2>${say('help.emergency')}</h2>
        <ul>${EMERGENCY.map((sign) => html`<li>${say(`sign.${sign}`)}</li>`)}</ul>${callEmergency(view.clinic)}</section>
      <section class="advice stop_wear"><h2>${say('help.stop')}</h2>
        <ul>${STOP.map((key) => html`<li>${say(key)}</li>`)}<li>${say('help.redness', { n: view.clinic?.redness_minutes ?? 20 })}</li></ul>
        <p>${say('help.stop_do')}</p>${callClinic(view.clinic)}</section>
      <section><h2>${say('help.use')}</h2><p>${say('help.use_text')}</p><p>${say('advice.unread')}</p></section>`,
  });
}
