/** One pass: what waits is offered, what changed is fetched, until neither is left. Then when to try again. */

const MOST_CALLS = 200; // of one pass; a pass that did not finish goes on at the next trigger
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
    const envelope = {
      schema: 1, cursor: cursor ?? null, checkins: batch.map((row) => row.checkin),
      client_now: now().toISOString(), app: build(),
    };
    const answer = await api.sync(account.token, envelope);
    if (!understood(answer)) throw new TypeError('not an answer');
    const applied = await diary.apply(id, { ...answer, at: now().toISOString() });
    if (!applied) return { fetched, restored };
    restored ||= applied.restored;
    fetched += answer.changes.length;
    cursor = answer.cursor;
    const named = new Set(answer.receipts.map((receipt) => receipt.id));
    const unanswered = batch.some((row) => !named.has(row.id));
    if (unanswered) throw new TypeError('a receipt is missing');
    if (!answer.more && !(await outbox.peek(id)).length) return { fetched, restored };
  }
  return { fetched, restored };
}

/** Photos go after the words they belong to, one at a time; what was cut off starts again at the next pass. */
export async function sendPhotos(account, { diary, api }) {
  const waiting = (await diary.photos()).filter((photo) => photo.state === 'waiting');
  if (!waiting.length) return;
  const kept = new Set((await diary.everyCheckin()).filter((row) => row.state === 'kept' && row.account === account.device_id).map((row) => row.id));
  for (const photo of waiting) {
    if (!kept.has(photo.checkin_id)) continue;
    try {
      await api.sendPhoto(account.token, photo);
      await diary.dropPhoto(photo.id);
    } catch (error) {
      if (error.status !== 422 && error.status !== 413 && error.status !== 404) throw error;
      await diary.putPhoto({ ...photo, state: 'refused' });
    }
  }
}

/** What was agreed to is told to the clinic once. */
export async function sendConsent(account, { diary, api }) {
  const { consent } = account;
  if (!consent?.at || consent.sent) return;
  for (const person of account.people) {
    await api.consent(account.token, { person_id: person.id, words: consent.words, agreed: true, said_at: consent.at });
  }
  await diary.change(account.device_id, { consent: { ...consent, sent: true } });
}

/** Runs passes: one tab at a time, one pass at a time, again after a failure. `tell(event)` hears how it went. */
export function syncer({ diary, outbox, api, tell, build, now = () => new Date() }) {
  let failures = 0;
  let timer = null;
  let running = null;
  let wanted = false; // a trigger came while a pass ran: what it brought may have missed it

  const later = (ms) => {
    clearTimeout(timer);
    timer = setTimeout(() => pass('timer'), ms);
  };

  async function everyAccount() {
    for (const account of await diary.accounts()) {
      if (account.unlinked || !account.token) continue;
      try {
        await refresh(account);
        const done = await syncAccount(account, { diary, outbox, api, now, build });
        tell({ what: 'synced', account: account.device_id, ...done });
        await sendConsent(account, { diary, api });
        await sendPhotos(account, { diary, api });
      } catch (error) {
        if (error.status !== 401 && error.status !== 403) throw error;
        // The queue stays; only a new code can open the door again.
        await diary.change(account.device_id, { unlinked: true });
        tell({ what: 'unlinked', account: account.device_id });
      }
    }
  }

  async function refresh(account) {
    const me = await api.me(account.token);
    const { clinic, people, next_visits, seen } = me;
    const skew = Math.round((now() - new Date(me.server_time)) / 1_000);
    await diary.learn(account.device_id, { clinic, people, next_visits, seen, role: me.device.role, skew });
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
    window.addEventListener('online', pass);
    document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && pass());
    window.addEventListener('pageshow', (event) => event.persisted && pass());
    pass();
  }
  return { start, pass };
}
