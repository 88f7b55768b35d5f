/** The fixed rules by which a phone gives advice, and who at the clinic agreed to them. */

import { html } from '../../shared/html.js';
import { instant } from '../when.js';
import { many } from '../words.js';

const LEVEL = { emergency: 'Emergency', stop_wear: 'Stop wearing', heart_team: 'Call the heart team', call_clinic: 'Call the clinic' };

/** How it stands with the rules, for a line: '' when they are agreed to as they are. */
export const RULES_STAND = {
  never: 'The safety rules on the phones are not agreed to by this clinic’s physician yet.',
  changed: 'The safety rules have changed since this clinic’s physician agreed to them.',
  agreed: '',
};

export function safetyRules(found, mayRecord) {
  const last = found.agreements[0];
  return html`<section class="safety-rules" id="safety-rules" tabindex="-1"><h2>Safety rules</h2>
    <p>By these rules a phone says when to stop wearing and whom to call, also without a network. The clinic’s physician must read them and agree before they are used with patients.
      They work whether or not anybody has agreed.</p>
    <p class="stand ${found.state}"><strong>${found.state === 'agreed' ? 'Agreed' : found.state === 'changed' ? 'Changed since agreed' : 'Not agreed yet'}</strong>${
      last ? html`: ${last.physician}, recorded by ${last.by} on ${instant(last.agreed_at)}, version ${last.version} <span class="hint">(${last.sha256.slice(0, 12)})</span>` : ''}</p>
    ${found.changed.length ? html`<p class="hint">Changed since: ${found.changed.join(', ')}. Now version ${found.version} (${found.sha256.slice(0, 12)}).</p>`
      : found.state === 'changed' ? html`<p class="hint">What changed is the list of danger signs that are always asked. Now version ${found.version} (${found.sha256.slice(0, 12)}).</p>` : ''}
    <details id="rules-list"${found.state === 'agreed' ? '' : html` open`}><summary>${many(found.rules.length, 'rule')}, version ${found.version}</summary>
      <ul class="rules">${found.rules.map((rule) => html`<li class="${found.changed.includes(rule.id) ? 'changed' : ''}"><h3>${LEVEL[rule.level] ?? rule.level} <span class="hint">${rule.id}</span></h3>
        <p><span class="hint">When</span> ${rule.when}</p>
        <blockquote><strong>${rule.title}</strong> ${rule.do}</blockquote>${rule.do_of ? html`
        <p><span class="hint">To a caregiver</span> ${rule.do_of.replaceAll('{name}', '(name)')}</p>` : ''}
        <p class="hint">Source: ${[...new Set([rule.status ?? 'no status', rule.source ?? 'none named'])].join('; ')}</p></li>`)}</ul>
      ${found.danger_signs.length ? html`<p class="hint">Always asked first: ${found.danger_signs.map((sign) => sign.replaceAll('_', ' ')).join(', ')}.</p>` : ''}</details>
    ${mayRecord ? html`<form class="agree" novalidate><p class="problem" role="alert" hidden></p>
      <div class="field"><label for="physician">Name of the physician who read them and agrees</label><input id="physician" name="physician" maxlength="120" autocomplete="off" aria-describedby="agree-hint fault-physician">
      <span class="hint" id="agree-hint">Your own name is kept beside it, with the time and the rules as they stand here. A record can’t be changed.</span><span class="fault" id="fault-physician"></span></div>
      <p class="buttons"><button class="second">Record that they agree</button></p></form>` : ''}
    ${found.agreements.length > 1 ? html`<details><summary>Agreed before: ${found.agreements.length - 1}</summary><ol class="notes">${found.agreements.slice(1).map((one) => html`<li>${one.physician}, recorded by ${one.by} on ${instant(one.agreed_at)}, version ${one.version} <span class="hint">(${one.sha256.slice(0, 12)})</span></li>`)}</ol></details>` : ''}
  </section>`;
}
