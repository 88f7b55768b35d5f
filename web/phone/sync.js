/** One pass: what waits is offered, what changed is fetched, until neither is left. Then when to try again. */

import { placesOf } from '../shared/healing.js';
import { offered } from './messages.js';
import { standing } from './rows.js';

const MOST_CALLS = 200; // of one pass; a pass that did not finish goes on at the next trigger
const LONGEST_HELD = 60 * 86_400_000; // of a photo the clinic has; judgement: where no backup is made, none will come
const STRANGER = 7 * 86_400_000; // judgement: no clinic's server is another one for a week
const BASE = 1_000;
const CAP = 300_000;

/** Full jitter: anywhere up to the doubled wait, so that a clinic's phones do not all come back at once. */
export function waitAfter(failures, asked, random = Math.random()) {
  if (asked) return asked * 1_000 * (1 + 0.25 * random);
  return Math.max(250, random * Math.min(CAP, BASE * 2 ** failures));
}

const STATUSES = ['kept', 'already', 'refused'];

const understood = (answer) =>
  typeof answer?.epoch === 'string' && Array.isArray(answer.changes) && Array.isArray(answer.receipts) &&
  answer.receipts.every((receipt) => STATUSES.includes(receipt.status));

export async function syncAccount(account, { diary, outbox, api, now, build }) {
  let { cursor, device_id: id } = account;
  let fetched = 0;
  let restored = false;
  for (let calls = 0; calls < MOST_CALLS; calls += 1) {
    const batch = await outbox.peek(id);
    const answers = account.talks ? await diary.waitingAnswers(id) : [];
    const envelope = {
      schema: 1, cursor: cursor ?? null, checkins: batch.map((row) => row.checkin),
      client_now: now().toISOString(), app: build(), ...(answers.length ? { answers: answers.map(offered) } : {}),
    };
    const answer = await api.sync(account.token, envelope);
    if (!understood(answer)) throw new TypeError('not an answer');
    const applied = await diary.apply(id, { ...answer, at: now().toISOString() });
    if (!applied) return { fetched, restored };
    restored ||= applied.restored;
    fetched += answer.changes.length;
    cursor = answer.cursor;
    const named = new Set(answer.receipts.map((receipt) => receipt.id));
    for (const receipt of answer.answer_receipts ?? []) named.add(receipt.id);
    const unanswered = [...batch, ...answers].some((row) => !named.has(row.id));
    if (unanswered) throw new TypeError('a receipt is missing');
    const more = answer.more || (await outbox.peek(id)).length || (account.talks && (await diary.waitingAnswers(id)).length);
    if (!more) return { fetched, restored };
  }
  return { fetched, restored };
}

/** Dangers of entries that were begun and not saved go first. Such an item is always refused as an entry, and heard. */
export async function sendBegun(account, { diary, api, now, build }) {
  const waiting = (await diary.begun()).filter((row) => !row.sent && row.account === account.device_id);
  for (const row of waiting) {
    const envelope = { schema: 1, cursor: account.cursor ?? null, checkins: [row.item], client_now: now().toISOString(), app: build() };
    const answer = await api.sync(account.token, envelope);
    if (!understood(answer)) throw new TypeError('not an answer');
    await diary.toldBegun(row);
  }
}

/** Photos go after the words they belong to, one at a time; what was cut off starts again at the next pass. One that
 *  arrived stays here until the clinic's backups have it, to be sent again after a restore.
 */
async function sendPhotos(account, { diary, api }) {
  const waiting = (await diary.photos()).filter((photo) => photo.state === 'waiting');
  if (!waiting.length) return;
  const kept = new Set((await diary.everyCheckin()).filter((row) => row.state === 'kept' && row.account === account.device_id).map((row) => row.id));
  for (const photo of waiting) {
    if (!kept.has(photo.checkin_id)) continue;
    try {
      const { kept_at } = await api.sendPhoto(account.token, photo);
      // An older server does not say when it is backed up: nothing would ever let the photo go.
      if (kept_at) await diary.putPhoto({ ...photo, state: 'sent', kept_at });
      else await diary.dropPhoto(photo.id);
    } catch (error) {
      if (error.status !== 422 && error.status !== 413 && error.status !== 404) throw error;
      await diary.putPhoto({ ...photo, state: 'refused' });
    }
  }
}

/** What was agreed to is told to the clinic once. */
async function sendConsent(account, { diary, api }) {
  const { consent } = account;
  if (!consent?.at || consent.sent) return;
  for (const person of account.people) {
    await api.consent(account.token, { person_id: person.id, words: consent.words, agreed: true, said_at: consent.at });
  }
  await diary.change(account.device_id, { consent: { ...consent, sent: true } });
}

/** Whether the clinic's own server says that this very phone's link was ended. Nothing else ends it: a refusal may
 *  come from anything between, and a server that does not know us may be the wrong one.
 */
const endsLink = (error, account) =>
  error?.status === 401 && error.code === 'revoked' && error.revoked === account.device_id;

/** A server that says in our shape, for a week, that it does not know this phone: its link was ended before the clinic
 *  kept a note of that, or the note is lost. A new code helps then; until it is known again, it asks when it is opened.
 */
async function stranger(error, account, diary, now) {
  if (error?.status !== 401 || error.code !== 'not-enrolled') return false;
  const since = account.strange_since && account.strange_since <= now().toISOString() ? account.strange_since : now().toISOString();
  if (since !== account.strange_since) await diary.change(account.device_id, { strange_since: since });
  return now() - new Date(since) >= STRANGER;
}

/** Runs passes: one tab at a time, one pass at a time, again after a failure. `tell(event)` hears how it went. */
export function syncer({ diary, outbox, api, tell, build, now = () => new Date() }) {
  let failures = 0;
  let timer = null;
  let running = null;
  let askAgain = true; // the app was just opened: accounts that are unlinked ask once more
  let wanted = false; // a trigger came while a pass ran: what it brought may have missed it

  const later = (ms) => {
    clearTimeout(timer);
    timer = setTimeout(() => pass('timer'), ms);
  };

  async function everyAccount() {
    const asking = askAgain;
    askAgain = false;
    let failed = null;
    for (const account of await diary.accounts()) {
      if (!account.token || (account.unlinked && !asking)) continue;
      try {
        await refresh(account);
        if (account.unlinked || account.strange_since) await diary.change(account.device_id, { unlinked: false, strange_since: null });
        await sendBegun(account, { diary, api, now, build });
        const done = await syncAccount(account, { diary, outbox, api, now, build });
        tell({ what: 'synced', account: account.device_id, ...done });
        await sendConsent(account, { diary, api });
        await sendPhotos(account, { diary, api });
      } catch (error) {
        if (endsLink(error, account) || (await stranger(error, account, diary, now))) {
          // The queue stays; only a new code can open the door again.
          if (!account.unlinked) await diary.change(account.device_id, { unlinked: true });
          tell({ what: 'unlinked', account: account.device_id });
        } else if (!account.unlinked) {
          failed ??= error; // one clinic's trouble holds up no other's
        }
      }
    }
    if (failed) throw failed;
  }

  async function refresh(account) {
    const me = await api.me(account.token);
    const { clinic, people, next_visits, visits, messages, seen } = me;
    const skew = Math.round((now() - new Date(me.server_time)) / 1_000);
    // A server from before messages takes no answers.
    const talk = messages ? { messages, talks: true } : { talks: false };
    account.talks = talk.talks;
    await diary.learn(account.device_id, { clinic, people, next_visits, ...(visits ? { visits } : {}), ...talk, seen, role: me.device.role, skew });
    // Those of a place that is asked after lie side by side on this phone.
    const rows = await diary.everyCheckin();
    const followed = [...new Set(rows.map((row) => row.limb_id))].flatMap((limb) => placesOf(standing(rows.filter((row) => row.limb_id === limb)).map((row) => row.checkin)).filter((one) => !one.over));
    const held = new Set(followed.flatMap((one) => one.looks.flatMap((look) => look.photos)));
    const old = new Date(me.server_time) - LONGEST_HELD;
    await diary.letGo(account.device_id, ({ id, kept_at }) => (!held.has(id) && kept_at < (me.backed_up_at ?? '')) || new Date(kept_at) < old);
  }

  async function once() {
    const locks = navigator.locks;
    if (!locks) return everyAccount();
    return locks.request('plytide-sync', { ifAvailable: true }, (lock) => (lock ? everyAccount() : later(2_000)));
  }

  async function pass() {
    wanted = true;
    if (running) return running;
    running = (async () => {
      while (wanted) {
        wanted = false;
        try {
          await once();
          failures = 0;
          later(CAP);
          tell({ what: 'reached' });
        } catch (error) {
          failures += 1;
          later(waitAfter(failures, error.after));
          tell({ what: 'failed', error });
          wanted = false;
        }
      }
    })();
    try {
      await running;
    } finally {
      running = null;
    }
    return undefined;
  }

  function start() {
    const opened = () => {
      askAgain = true;
      pass();
    };
    window.addEventListener('online', pass);
    document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && opened());
    window.addEventListener('pageshow', (event) => event.persisted && opened());
    pass();
  }
  return { start, pass, stop: () => clearTimeout(timer) };
}
