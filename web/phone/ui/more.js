/** Settings, the people on this phone, and the last resort: a file of what was not sent. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { frame, secondary } from './frame.js';
import { looks } from './looks.js';
import { standingWords } from './phrases.js';

export function moreScreen(view) {
  return frame(view, {
    title: say('more.title'),
    body: html`
      ${looks(view)}
      <section><h2>${say('more.mine')}</h2>
        ${secondary('go-drawer', 'drawer.open', say('drawer.title'))}
        ${secondary('go-messages', 'message.all', say('message.all'))}
        ${secondary('go-reminders', 'remind.open', say('remind.title'))}</section>
      <section><h2>${say('more.people')}</h2>
        <ul class="plain">${view.accounts.map((account) => html`<li><strong>${account.people.map((person) => person.name).join(', ')}</strong>
          <span class="small">${account.clinic?.name ?? ''} · ${say(`role.${account.role}`)}${account.unlinked ? ` · ${say('more.unlinked')}` : ''}</span></li>`)}</ul>
        ${secondary('add-code', 'enrol.more', say('more.add'))}</section>
      <section><h2>${say('more.store')}</h2>
        <p>${standingWords(view)}</p>
        <p>${view.keeps ? (view.settings.persisted === false ? say('store.may_go') : say('store.fine')) : say('store.none')}</p>
        ${view.outbox.waiting || view.outbox.stuck || view.outbox.refused ? html`<p>${say('export.lead')}</p>${secondary('export', 'export', say('export.key'))}` : ''}
        ${secondary('send-now', 'send', say('more.send'))}</section>
      <section><h2>${say('mine.title')}</h2>
        <p>${say('mine.lead', { name: view.person.name })}</p>
        ${secondary('mine-short', 'mine.short', say('mine.short'))}
        ${secondary('mine-page', 'mine.page', say('mine.page'))}
        ${secondary('mine-file', 'mine.file', say('mine.file'))}
        <p class="small">${say('mine.safe')}</p></section>
      <section><h2>${say('more.install')}</h2><p>${say(view.ios ? 'install.ios' : 'install.other')}</p></section>
      <section><h2>${say('more.about')}</h2><p>${say('more.about_text')}</p><p class="small">${say('more.version', { version: view.build })}</p></section>`,
  });
}
