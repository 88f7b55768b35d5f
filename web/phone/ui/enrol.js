/** Join with a code; then what is kept and who sees it, in plain words. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { frame, primary, secondary } from './frame.js';
import { looks } from './looks.js';

export function enrolScreen(view) {
  const { code = '', error, busy } = view.params;
  return frame(view, {
    title: say('enrol.title'),
    lead: say('enrol.lead'),
    back: view.people.length ? 'enrol.leave' : null,
    body: html`
      ${view.iosTab ? html`<p class="notice">${say('install.ios')}</p>` : ''}
      ${view.people.length ? '' : looks(view)}
      <form id="enrol" data-do-submit="enrol.join">
        <label for="code">${say('enrol.code')}</label>
        <input id="code" name="code" class="code" value="${code}" autocomplete="one-time-code" autocapitalize="characters"
          autocorrect="off" spellcheck="false" maxlength="40" required aria-describedby="code-error" ${error ? html`aria-invalid="true"` : ''}>
        <p id="code-error" class="error" role="alert">${error ?? ''}</p>
        <label for="label">${say('enrol.whose')}</label>
        <input id="label" name="label" value="${view.params.label ?? ''}" autocomplete="given-name" maxlength="40">
      </form>`,
    foot: html`<button class="primary" id="join" type="submit" form="enrol" ${busy ? html`disabled` : ''}>${busy ? say('enrol.busy') : say('enrol.join')}</button>`,
  });
}

export function consentScreen(view) {
  const names = view.joining.people.map((person) => person.name);
  return frame({ ...view, person: null }, {
    title: say('consent.title'),
    lead: say('consent.lead', { clinic: view.joining.clinic.name }),
    body: html`
      <p class="whom">${say('consent.for')} <strong>${names.join(', ')}</strong></p>
      <ul class="plain">
        ${['what', 'where', 'who', 'not_watched', 'stop'].map((key) => html`<li>${say(`consent.${key}`, { clinic: view.joining.clinic.name })}</li>`)}
      </ul>
      ${view.keeps ? '' : html`<p class="notice">${say('store.none')}</p>`}`,
    foot: html`<div class="pair">${primary('agree', 'enrol.agree', say('consent.agree'))}${secondary('decline', 'enrol.decline', say('consent.decline'))}</div>`,
  });
}
