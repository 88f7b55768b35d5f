/** What the clinic wrote, and what this phone answers: kept here first, offered until the clinic has it. Pure. */

import { uuid7 } from './ids.js';
import { daysBetween } from './when.js';

export const BATCH = 50; // answers in one call
const KEPT = 200; // answers remembered after the clinic has them: a restored clinic may ask for them again
const OPEN_DAYS = 30; // how long a question stands on the first page; judgement
const NEWS_DAYS = 3; // and what asks for nothing, or was answered

/** An answer, or that it was seen. It brings a copy of what it answers: after a restore the clinic may have lost its own. */
export function answerTo(message, said, now) {
  const { kind, text, choices, at, by } = message;
  return {
    id: uuid7(), message_id: message.id, person_id: message.person_id, event: 'answer', ...said, said_at: now.toISOString(),
    message: { kind, text, choices, at, by }, state: 'waiting',
  };
}

export const seen = (message, now) => ({ ...answerTo(message, {}, now), event: 'seen', message: null });

export const waitingOf = (answers = []) => answers.filter((one) => one.state === 'waiting').slice(0, BATCH);

/** As it goes over the wire. */
export const offered = ({ state: _, errors: __, ...answer }) => answer;

/** What the answers become on the clinic's receipts, and on a new epoch. */
export function settledAnswers(answers = [], receipts = [], restored = false) {
  const byId = new Map(receipts.map((one) => [one.id, one]));
  const next = answers.map((one) => {
    const receipt = byId.get(one.id);
    if (receipt) return { ...one, state: receipt.status === 'refused' ? 'refused' : 'kept', errors: receipt.errors };
    return restored && one.state === 'kept' ? { ...one, state: 'waiting' } : one;
  });
  const done = next.filter((one) => one.state === 'kept').slice(0, -KEPT);
  return next.filter((one) => !done.includes(one));
}

/** The messages of a person, newest first, each with all that was answered: here, and by other phones. */
export function talkOf(account, person) {
  const own = account?.answers ?? [];
  return (account?.messages ?? []).filter((one) => one.person_id === person.id).map((one) => {
    const here = own.filter((each) => each.message_id === one.id);
    const mine = here.filter((each) => each.event === 'answer').map((each) => ({ ...(one.answers.find((known) => known.id === each.id) ?? {}), ...each, mine: true }));
    const others = one.answers.filter((known) => !mine.some((each) => each.id === known.id)).map((known) => ({ ...known, state: 'kept' }));
    return { ...one, answers: [...others, ...mine].sort((a, b) => (a.said_at < b.said_at ? -1 : 1)), seenHere: here.length > 0 };
  }).reverse();
}

export const asks = (message) => !message.withdrawn && (message.kind === 'question' || message.kind === 'photo') && !message.answers.some((one) => one.state !== 'refused');

/** What stands on the first page: what asks for an answer, and what is new. */
export const onFirstPage = (talk, today) =>
  talk.filter((one) => {
    const last = [one.at, ...one.answers.flatMap((each) => [each.said_at, each.read_at ?? ''])].reduce((a, b) => (a > b ? a : b));
    return daysBetween(last.slice(0, 10), today) <= (asks(one) ? OPEN_DAYS : NEWS_DAYS);
  });

/** The messages that ask for a photo of this limb and have none yet. */
export const photosAsked = (talk, limb) =>
  talk.filter((one) => one.kind === 'photo' && !one.withdrawn && (!one.limb_id || one.limb_id === limb) && !one.answers.some((each) => each.choice === 'photo' && each.state !== 'refused'));
