/** Language and text size. */

import { html } from '../../shared/html.js';
import { LANGUAGES, languageNow, say } from '../words.js';
import { choice } from './frame.js';

const SIZES = ['normal', 'large', 'largest'];

export const looks = (view) => html`${languages()}${sizes(view)}`;

const languages = () => html`
    <fieldset><legend>${say('looks.language')}</legend><div class="row">
      ${Object.entries(LANGUAGES).map(([code, name]) => html`<button class="key" id="language-${code}" lang="${code}" data-do="looks.language" data-arg="${code}" aria-pressed="${languageNow() === code ? 'true' : 'false'}">${name}</button>`)}
    </div></fieldset>`;

const sizes = (view) => html`
    <fieldset><legend>${say('looks.size')}</legend><div class="row">
      ${SIZES.map((size) => choice(`size-${size}`, 'looks.size', size, say(`looks.${size}`), (view.settings.size ?? 'normal') === size, `sized ${size}`))}
    </div></fieldset>`;
