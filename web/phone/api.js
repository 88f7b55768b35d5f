/** The only room that asks the network. Every call ends: with an answer, or with an ApiError that says which. */

const PATIENCE = 20_000;

export class ApiError extends Error {
  /** status 0: no answer at all. `after`: seconds the server asks us to wait. */
  constructor(status, body = {}, after = null) {
    super(body.error?.message ?? 'no answer');
    this.status = status;
    this.code = body.error?.code ?? (status ? 'http' : 'offline');
    this.fields = body.error?.fields ?? {};
    this.after = after;
  }
}

function patience(ms) {
  if (AbortSignal.timeout) return AbortSignal.timeout(ms);
  const stop = new AbortController();
  setTimeout(() => stop.abort(), ms);
  return stop.signal;
}

async function call(method, path, { token, body, type = 'application/json', ms = PATIENCE } = {}) {
  const headers = { Accept: 'application/json' };
  if (token) headers.Authorization = `Bearer ${token}`;
  if (body !== undefined) headers['Content-Type'] = type;
  let response;
  let answer;
  try {
    response = await fetch(path, { method, headers, body, cache: 'no-store', credentials: 'omit', signal: patience(ms) });
    answer = await response.json();
  } catch {
    // An answer that is not ours (a hotel's sign-in page, say) is no answer.
    throw new ApiError(response && !response.ok ? response.status : 0);
  }
  if (!response.ok) throw new ApiError(response.status, answer, Number(response.headers.get('Retry-After')) || null);
  return answer;
}

export const enrol = (code, label) => call('POST', '/api/enrol', { body: JSON.stringify({ code, label }) });

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
