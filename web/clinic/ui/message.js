/** What the clinic writes to a person's phones, and what they answer. */

import * as api from '../api.js';
import { html, on } from '../../shared/html.js';
import { instant } from '../when.js';
import { ask } from './ask.js';

const PHOTO = { photo: 'photo sent', cannot: 'no photo now' };
const STANDS = { waiting: 'waits for their phone', seen: 'shown on their phone', answered: '', withdrawn: 'taken back', nobody: 'can’t be delivered: the phone was shut out' };
const WHOSE = { wearer: 'the wearer', caregiver: 'the caregiver', all: 'every phone of theirs' };
/** Begun and not sent, by person: the page may be drawn anew. */
const begun = new Map();

/** Ask what to write and send it. True when it was sent. */
export async function writeMessage({ person, limbId = null, context }) {
  let problem = '';
  for (;;) {
    const before = begun.get(person.id) ?? {};
    const given = await ask({ title: `Write to ${person.name}’s phone`, words: 'Send', body: fields(person, before, problem) });
    if (!given) return false;
    begun.set(person.id, given);
    try {
      await api.sendMessage(person.id, sent(given, limbId));
      begun.delete(person.id);
      context.say('Sent. It is on their phone once that joins the network; then it says so here.');
      return true;
    } catch (fault) {
      if (!fault.fields) throw fault;
      problem = Object.values(fault.fields)[0]?.[0] ?? fault.message;
    }
  }
}

function sent({ kind, text, choices, to }, limbId) {
  const answers = choices.split(',').map((one) => one.trim()).filter(Boolean);
  return { kind, text: kind === 'read' ? null : text.trim() || null, limb_id: limbId,
    ...(kind === 'question' ? { choices: answers } : {}), ...(to ? { to } : {}) };
}

const KINDS = [['read', '“Read by you, today”'], ['photo', 'Please send a photo'], ['question', 'A question'], ['words', 'A few words']];

function fields(person, before, problem) {
  const kind = before.kind ?? 'read';
  return html`${problem ? html`<p class="problem" role="alert">${problem}</p>` : ''}
    <fieldset class="kinds"><legend class="hidden">What to send</legend>${KINDS.map(([code, words]) => html`<label class="check"><input type="radio" name="kind" value="${code}"${code === kind ? html` checked` : ''}> ${words}</label>`)}
    <label class="message-text">Words<textarea name="text" rows="2" maxlength="300" placeholder="such as: of the front, in daylight">${before.text ?? ''}</textarea></label>
    <label class="message-choices">Two or three answers, with a comma between<input name="choices" maxlength="130" autocomplete="off" value="${before.choices ?? 'Yes, No, Not sure'}"></label></fieldset>
    <label>To<select name="to"><option value="">${person.own_log ? 'the wearer alone (own log)' : WHOSE.all}</option>${Object.entries(WHOSE).map(([code, words]) => html`<option value="${code}"${code === before.to ? html` selected` : ''}>${words}</option>`)}</select></label>
    ${person.own_log ? html`<p class="hint">This person writes alone: what you write to a caregiver must not tell what they wrote.</p>` : ''}
    <p class="hint">Not for what can’t wait: nobody knows when it is read. In danger, call.</p>`;
}

/** The messages of a person, newest first. */
export function messages(list, { acts = true } = {}) {
  return list.length ? html`<ol class="notes messages">${list.map((one) => html`<li data-message="${one.id}" class="${one.unread ? 'unread' : ''}"><p><strong>${one.by || 'The clinic'}:</strong> ${wordsOf(one)}</p>
    ${one.answers.map((each) => html`<p class="their-answer"><strong>${whose(each.by)}:</strong> ${[PHOTO[each.choice] ?? each.choice, each.text].filter(Boolean).join('. ')}${each.late ? html` <span class="word">after it was taken back</span>` : ''}
      <span class="hint">${instant(each.said_at)}${each.read_at ? `, read by ${each.read_by}` : ', not read yet'}</span></p>`)}
    <p class="hint">${instant(one.at)} to ${WHOSE[one.to] ?? 'their phone'}${STANDS[one.stands] ? `, ${STANDS[one.stands]}` : ''}${one.withdrawn_at && one.stands === 'answered' ? ', taken back' : ''}${one.brought ? '. Lost here when a copy was put back; as their phone has it' : ''}</p>
    ${acts ? html`<p class="buttons">${one.unread ? html`<button type="button" class="second" data-message-read>Read: tell them so</button>` : ''}${
      one.withdrawn_at || one.brought || one.answers.length ? '' : html`<button type="button" class="plain" data-message-back>take back</button>`}</p>` : ''}</li>`)}</ol>`
    : html`<p class="hint">Nothing has been written.</p>`;
}

function wordsOf({ kind, text, choices }) {
  if (kind === 'read') return 'told that it was read';
  const head = kind === 'photo' ? `asked for a photo${text ? `: ${text}` : ''}` : text;
  return choices.length ? html`${head} <span class="hint">${choices.join(' · ')}</span>` : head;
}

const whose = ({ role, label }) => `${role === 'caregiver' ? 'Caregiver' : 'Wearer'}${label ? ` (${label})` : ''}`;

export function listenToMessages(root, context) {
  const idOf = (button) => button.closest('[data-message]').dataset.message;
  on(root, 'click', '[data-message-read]', async (button) => {
    await api.readMessage(idOf(button));
    context.say('Their phone will say who read it, and when.');
    context.again();
  });
  on(root, 'click', '[data-message-back]', async (button) => {
    await api.withdrawMessage(idOf(button));
    context.say('It is taken back. A phone that has it says so.');
    context.again();
  });
}
