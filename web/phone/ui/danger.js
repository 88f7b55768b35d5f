/** The first question of every entry: the signs of danger. One tap says that there are none. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards } from './advice.js';
import { toldLine } from './draft-card.js';
import { choice, primary, secondary } from './frame.js';
import { justDay } from './phrases.js';
import { named, stackWords } from './socks.js';

export function dangerStep(view, draft) {
  const { danger } = view;
  const here = danger.some((sign) => draft.signs.includes(sign));
  return {
    title: view.words('danger.title'),
    body: html`
      ${adviceCards(view)}
      ${here ? toldLine(view, draft) || html`<p class="small">${say('begun.will')}</p>` : ''}
      <div class="keys danger">${danger.map((sign) => choice(`sign-${sign}`, 'day.sign', sign, say(`sign.${sign}`), draft.signs.includes(sign)))}</div>`,
    foot: here ? primary('next', 'day.danger', say('next')) : none(view, draft),
  };
}

/** Who wears the same socks as before says both with one tap: each key says in full what it answers. */
function none(view, draft) {
  const { last } = view;
  const same = last && !draft.stack.length && !draft.bare && !draft.replaces && !draft.mends;
  if (!same) return primary('none', 'day.danger', say('danger.none'));
  const socks = stackWords(last.checkin.stack.map((sock) => named(sock, view.drawer)));
  return html`<div class="pair beside">
    ${secondary('none', 'day.danger', say('danger.none_other'))}
    ${primary('none-same', 'day.danger', html`${say('danger.none_same')} <span class="small">${justDay(last.checkin.date, view.today)}: ${socks}</span>`, { arg: 'same' })}</div>`;
}
