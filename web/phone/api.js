/** The only room that asks the network. Every call ends: with an answer, or with an ApiError that says which. */

const PATIENCE = 20_000;

class ApiError extends Error {
  /** status 0: no answer of our server's. `after`: seconds the server asks us to wait.
   *  `revoked`: the phone whose link the clinic ended, where the server says so.
   */
  constructor(status, body = {}, after = null) {
    super(body.error?.message ?? 'no answer');
    this.status = status;
    this.code = body.error?.code ?? (status ? 'http' : 'offline');
    this.fields = body.error?.fields ?? {};
    this.revoked = body.revoked?.device_id ?? null;
    this.after = after;
  }
}

/** Whether a refusal is our server's own: an error with a code for programs and words for people. */
const isOurs = (answer) => typeof answer?.error?.code === 'string' && typeof answer.error.message === 'string';

function patience(ms) {
  if (AbortSignal.timeout) return AbortSignal.timeout(ms);
  const stop = new AbortController();
  setTimeout(() => stop.abort(), ms);
  return stop.signal;
}

async function call(method, path, { token, attempt, body, type = 'application/json', ms = PATIENCE } = {}) {
  const headers = { Accept: 'application/json' };
  if (token) headers.Authorization = `Bearer ${token}`;
  if (attempt) headers['Idempotency-Key'] = attempt;
  if (body !== undefined) headers['Content-Type'] = type;
  let response;
  let answer;
  try {
    response = await fetch(path, { method, headers, body, cache: 'no-store', credentials: 'omit', signal: patience(ms) });
    answer = await response.json();
  } catch {
    answer = null;
  }
  if (response?.ok && answer !== null && typeof answer === 'object') return answer;
  // What is not in our shape (a proxy's page, a hotel's sign-in) is no answer, whatever its status says.
  const after = Number(response?.headers.get('Retry-After')) || null;
  if (!isOurs(answer)) throw new ApiError(0, {}, after);
  throw new ApiError(response.status, answer, after);
}

/** The same `attempt` gets the same link again, when the answer was lost. */
export const enrol = (code, label, attempt) => call('POST', '/api/enrol', { attempt, body: JSON.stringify({ code, label }) });

export const me = (token) => call('GET', '/api/me', { token });

export const sync = (token, envelope) => call('POST', '/api/sync', { token, body: JSON.stringify(envelope) });

export const sendPhoto = (token, photo) =>
  call('PUT', `/api/photos/${photo.id}?${new URLSearchParams({ limb_id: photo.limb_id, checkin_id: photo.checkin_id })}`, {
    token, body: photo.bytes, type: 'image/jpeg', ms: 60_000,
  });

export const consent = (token, said) => call('POST', '/api/consents', { token, body: JSON.stringify(said) });

export const reminders = (token) => call('GET', '/api/push', { token });

export const remind = (token, wish) => call('PUT', '/api/push', { token, body: JSON.stringify(wish) });

export const pauseReminders = (token, hours) => call('POST', '/api/push/pause', { token, body: JSON.stringify({ hours }) });

export const endReminders = (token) => call('DELETE', '/api/push', { token });

/** The fixed safety rules: a file of the shell, so it is there without a network. */
export const rules = () => call('GET', '/shared/safety-rules.json');
