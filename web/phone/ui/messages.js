/** What the clinic wrote, with keys to answer. Never for what can't wait, and it says so. */

import { html } from '../../shared/html.js';
import { asks, onFirstPage, talkOf } from '../messages.js';
import { localDate } from '../when.js';
import { say } from '../words.js';
import { frame, primary, secondary } from './frame.js';
import { justDay } from './phrases.js';

const dayOf = (at, view) => justDay(localDate(new Date(at)), view.today);

function wordsOf({ kind, text }) {
  if (kind === 'read') return say('message.read');
  return kind === 'photo' ? html`${say('message.photo')} ${text ?? ''}` : text;
}

const PHOTO = { photo: 'message.sent_photo', cannot: 'message.no_photo' };

function answerLine(answer, view) {
  const said = [PHOTO[answer.choice] ? say(PHOTO[answer.choice]) : answer.choice, answer.text].filter(Boolean).join('. ');
  const stands = answer.read_at ? say('message.answer_read', { who: answer.read_by, day: dayOf(answer.read_at, view) })
    : say({ waiting: 'state.waiting', refused: 'message.refused' }[answer.state] ?? 'state.kept');
  return html`<p class="said-back">${say(answer.mine ? 'message.you' : 'message.other', { answer: said })} <span class="state ${answer.state}">${stands}</span></p>`;
}

function keys(message) {
  if (message.withdrawn) return html`<p class="small">${say('message.back')}</p>`;
  const arg = (choice) => `${message.id} ${choice}`;
  const open = asks(message);
  return html`${open && message.kind === 'question' ? html`<div class="row">${message.choices.map((choice, i) => html`<button class="key" id="answer-${message.id}-${i}" data-do="message.choose" data-arg="${arg(i)}">${choice}</button>`)}</div>` : ''}
    ${open && message.kind === 'photo' ? html`<div class="pair">${primary(`photo-${message.id}`, 'message.take', say('message.take_photo'), { arg: message.id })}${secondary(`no-photo-${message.id}`, 'message.cannot', say('message.cannot'), { arg: message.id })}</div>` : ''}
    ${message.kind === 'read' ? '' : html`<button class="link" id="write-${message.id}" data-do="message.open" data-arg="${message.id}">${say('message.write')}</button>`}`;
}

const card = (view, message) => html`<section class="card message" id="message-${message.id}"><h2>${say('message.title', { clinic: view.clinic?.name ?? '' })}</h2>
  <p class="clinic-words" dir="auto">${wordsOf(message)}</p><p class="small">${message.by ? say('message.by', { who: message.by, day: dayOf(message.at, view) }) : dayOf(message.at, view)}</p>
  ${message.answers.map((answer) => answerLine(answer, view))}${keys(message)}
  ${message.withdrawn || message.kind === 'read' ? '' : html`<p class="small">${say('message.not_for_danger')}</p>`}</section>`;

/** On the first page: what asks, and what is new. */
export const messageCards = (view) => onFirstPage(talkOf(view.person.account, view.person), view.today).map((message) => card(view, message));

export function messagesScreen(view) {
  const talk = talkOf(view.person.account, view.person);
  return frame(view, { title: say('message.all'), back: 'message.close', body: talk.length ? talk.map((message) => card(view, message)) : html`<p>${say('message.none')}</p>` });
}

/** Writing back: a screen of its own, so that nothing takes away what is being typed. */
export function replyScreen(view) {
  const message = talkOf(view.person.account, view.person).find((one) => one.id === view.params.message);
  return frame(view, {
    title: say('message.write'), back: 'message.close',
    body: html`${message ? html`<p class="clinic-words" dir="auto">${wordsOf(message)}</p>` : ''}
      ${view.params.error ? html`<p class="error" role="alert">${view.params.error}</p>` : ''}
      <label for="reply">${say('message.reply')}</label><textarea id="reply" rows="4" maxlength="300" dir="auto">${view.params.text ?? ''}</textarea>
      <p class="small">${say('message.not_for_danger')}</p>`,
    foot: primary('reply-send', 'message.send', say('message.send'), { arg: view.params.message }),
  });
}
