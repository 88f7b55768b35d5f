/** The clinic's calls to the server. Nothing else here uses fetch. */

let csrf = '';
let onSignedOut = () => {};

/** What went wrong, in the server's words: `code`, `message`, and `fields` with the words for each field. */
export class Fault extends Error {
  constructor(status, { code = 'fault', message = 'Something went wrong.', fields = {} } = {}, against = [], now = {}) {
    super(message);
    this.status = status;
    this.code = code;
    this.fields = fields;
    this.against = against; // what stands against a socket, to be asked about
    this.now = now; // what a colleague made of the same fields meanwhile
  }
}

export function whenSignedOut(act) {
  onSignedOut = act;
}

async function call(method, path, body, { signal } = {}) {
  const headers = { Accept: 'application/json' };
  if (body !== undefined) headers['Content-Type'] = 'application/json';
  if (method !== 'GET') headers['X-CSRF-Token'] = csrf;
  let response;
  try {
    response = await fetch(path, {
      method, headers, signal, credentials: 'same-origin', cache: 'no-store',
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch (error) {
    if (error.name === 'AbortError') throw error;
    throw new Fault(0, { code: 'offline', message: 'The clinic’s server can’t be reached. Nothing was changed.' });
  }
  const said = await response.json().catch(() => ({}));
  if (response.ok) return said;
  const fault = new Fault(response.status, said.error, said.against, said.now);
  if (response.status === 401 && !/\/session(\/|$)/.test(path)) onSignedOut();
  throw fault;
}

function query(values) {
  const asked = Object.entries(values).filter(([, value]) => value !== null && value !== undefined && value !== '');
  return asked.length ? `?${new URLSearchParams(asked)}` : '';
}

const given = (values) => Object.fromEntries(Object.entries(values)
  .filter(([, value]) => value !== null && value !== undefined && value !== ''));

const at = '/api/clinic';
const id = encodeURIComponent;

/** A change, with what the form showed of each field: when a colleague was quicker, it is told, and `before` is what
 *  stands there now, so that keeping once more is meant.
 */
async function change(path, given, before, asked = Object.keys(given)) {
  if (!before) return call('PATCH', path, given);
  const was = Object.fromEntries(asked.filter((name) => name in before).map((name) => [name, before[name]]));
  try {
    return await call('PATCH', path, { ...given, was });
  } catch (fault) {
    if (fault.code === 'changed-meanwhile') Object.assign(before, fault.now);
    throw fault;
  }
}

function keepToken(said) {
  csrf = said.csrf;
  return said;
}

export const session = () => call('GET', `${at}/session`).then(keepToken);
export const signIn = (given) => call('POST', `${at}/session`, given).then(keepToken);
export const signOut = () => call('DELETE', `${at}/session`);
export const passkeyOptions = () => call('POST', `${at}/session/passkey-options`, {});
export const signInByPasskey = (given) => call('POST', `${at}/session/passkey`, given).then(keepToken);
export const staff = () => call('GET', `${at}/staff`).then((said) => said.staff ?? said);

/** Searches go in the body: a name that is looked for stands in no address, and so in no log. */
export const worklist = (asked, options) => call('POST', `${at}/worklist/search`, given(asked), options);
export const actOnSignal = (signalId, action, given = {}) => call('POST', `${at}/signals/${id(signalId)}/${action}`, given);
/** Take back one's own last deed; refused when a colleague has acted since. */
export const undoOnSignal = (signalId, event) => call('POST', `${at}/signals/${id(signalId)}/undo${query({ event })}`, {});

export const limb = (limbId, asOf) => call('GET', `${at}/limbs/${id(limbId)}${query({ as_of: asOf })}`);
export const addToLimb = (limbId, what, given) => call('POST', `${at}/limbs/${id(limbId)}/${what}`, given);
export const changeLimb = (limbId, given, before) => change(`${at}/limbs/${id(limbId)}`, given, before);

const PLURAL = { measurement: 'measurements', intervention: 'interventions', pad: 'pads' };
export const correct = (kind, recordId, given) => call('POST', `${at}/${PLURAL[kind]}/${id(recordId)}/correction`, given);
export const voidRecord = (recordId, reason) => call('POST', `${at}/records/${id(recordId)}/void`, { reason });
export const restoreRecord = (recordId) => call('POST', `${at}/records/${id(recordId)}/restore`, {});

export const people = (asked) => call('POST', `${at}/people/search`, given(asked));
export const person = (personId) => call('GET', `${at}/people/${id(personId)}`);
export const addPerson = (given) => call('POST', `${at}/people`, given);
export const changePerson = (personId, given, before) => change(`${at}/people/${id(personId)}`, given, before);
export const addToPerson = (personId, what, given) => call('POST', `${at}/people/${id(personId)}/${what}`, given);
export const recordContact = (personId, given) => call('POST', `${at}/people/${id(personId)}/contacts`, given);
/** Everybody's visits on some days, with the clinic's chairs and hours. */
export const visits = (from, to) => call('GET', `${at}/visits${query({ from, to })}`);
export const calendarFeeds = () => call('GET', `${at}/calendar-feeds`).then((said) => said.feeds);
export const addCalendarFeed = (given) => call('POST', `${at}/calendar-feeds`, given);
export const revokeCalendarFeed = (feedId) => call('DELETE', `${at}/calendar-feeds/${id(feedId)}`);
export const sendMessage = (personId, given) => call('POST', `${at}/people/${id(personId)}/messages`, given);
export const readMessage = (messageId) => call('POST', `${at}/messages/${id(messageId)}/read`, {});
export const withdrawMessage = (messageId) => call('DELETE', `${at}/messages/${id(messageId)}`);
/** A socket being made; each answer gives the whole as it stands then. */
export const makingLists = () => call('GET', `${at}/making-lists`).then((said) => said.lists);
export const changeMakingList = (made, given, was) => call('PUT', `${at}/making-lists/${id(made)}`, { ...given, was });
export const making = (makingId) => call('GET', `${at}/makings/${id(makingId)}`);
export const makingDeed = (makingId, what, given) => call('POST', `${at}/makings/${id(makingId)}/${what}`, given);
export const giveBack = (useId) => call('POST', `${at}/stock-uses/${id(useId)}/give-back`, {});
export const retireComponent = (componentId, given) => call('POST', `${at}/components/${id(componentId)}/retire`, given);

/** What the clinic has in stock. */
export const stockItems = () => call('GET', `${at}/stock/items`).then((said) => said.items);
export const addStockItem = (given) => call('POST', `${at}/stock/items`, given);
export const changeStockItem = (itemId, given) => call('PATCH', `${at}/stock/items/${id(itemId)}`, given);
export const stockMovements = (itemId) => call('GET', `${at}/stock/items/${id(itemId)}/movements`);
export const moveStock = (itemId, given) => call('POST', `${at}/stock/items/${id(itemId)}/movements`, given);
export const stockNeed = () => call('GET', `${at}/stock/need`);
export const stockImports = () => call('GET', `${at}/stock/imports`).then((said) => said.imports);
export const bringStock = (given) => call('POST', `${at}/stock/imports`, given);
export const undoStock = (importId) => call('POST', `${at}/stock/imports/${id(importId)}/undo`, {});
export const stockFile = (name) => `${at}/stock/${name}.csv`;

export const takePartOut = (partId) => call('DELETE', `${at}/parts/${id(partId)}`);
export const changeVisit = (visitId, given) => call('PATCH', `${at}/visits/${id(visitId)}`, given);

/** A file of people the clinic brings: sent in parts, looked at, brought and taken back a portion at a time. */
const caseload = (method, caseloadId, what, given) => call(method, `${at}/caseloads/${id(caseloadId)}${what}`, given);
export const caseloads = () => call('GET', `${at}/caseloads`).then((said) => said.caseloads);
export const beginCaseload = (given) => call('POST', `${at}/caseloads`, given);
export const sendPart = (caseloadId, n, content) => caseload('PUT', caseloadId, `/parts/${n}`, { content });
export const caseloadFile = (caseloadId) => caseload('GET', caseloadId, '');
export const chooseForCaseload = (caseloadId, given) => caseload('PUT', caseloadId, '/choices', given);
export const dryRun = (caseloadId, next) => caseload('GET', caseloadId, `/rows${query({ next })}`);
export const bringPortion = (caseloadId, done) => caseload('POST', caseloadId, '/bring', { done_to: done });
export const undoPortion = (caseloadId, after) => caseload('POST', caseloadId, '/undo', { after });
export const caseloadLetters = (caseloadId, after) => caseload('POST', caseloadId, '/letters', { after });

export const changeSocket = (socketId, given, before) => change(`${at}/sockets/${id(socketId)}`, given, before);
export const addToSocket = (socketId, what, given) => call('POST', `${at}/sockets/${id(socketId)}/${what}`, given);

/** A plan is one thing: a form that was opened before any part of it changed is told. */
export const changePocket = (limbId, given, before) => change(`${at}/limbs/${id(limbId)}/pocket`, given, before, Object.keys(before));
export const takeOutcomeMeasureOut = (measureId) => call('DELETE', `${at}/outcome-measures/${id(measureId)}`);
export const takeHealingOut = (healingId) => call('DELETE', `${at}/healing/${id(healingId)}`);
export const takePocketBack = (limbId, was) => call('DELETE', `${at}/limbs/${id(limbId)}/pocket${query({ was })}`);

export const revokePhone = (deviceId) => call('DELETE', `${at}/devices/${id(deviceId)}`);

export const plan = (limbId, asked = {}) => call('GET', `${at}/limbs/${id(limbId)}/plan${query(asked)}`);
export const decide = (limbId, given) => call('POST', `${at}/limbs/${id(limbId)}/decisions`, given);
export const takeBack = (decisionId) => call('DELETE', `${at}/decisions/${id(decisionId)}`);
export const stock = () => call('GET', `${at}/stock`);
export const growth = (limbId, asOf) => call('GET', `${at}/limbs/${id(limbId)}/growth${query({ as_of: asOf })}`);
/** What the clinic's own record shows, and as a file. */
export const ownRecord = () => call('GET', `${at}/own-record`);
export const ownRecordFile = `${at}/own-record.csv`;
export const chairTime = () => call('GET', `${at}/chair-time`);
export const visitPage = (limbId) => call('GET', `${at}/limbs/${id(limbId)}/visit-page`);
export const payerPage = (limbId) => call('GET', `${at}/limbs/${id(limbId)}/payer-page`);
export const pdfAddress = (limbId, page, paper) => `${at}/limbs/${id(limbId)}/${page}.pdf${query({ paper })}`;
export const letterDraft = (limbId, kind) => call('GET', `${at}/limbs/${id(limbId)}/letter-draft${query({ kind })}`);
export const letters = (limbId) => call('GET', `${at}/limbs/${id(limbId)}/letters`).then((said) => said.letters);
export const keepLetter = (limbId, given) => call('POST', `${at}/limbs/${id(limbId)}/letters`, given);
export const letter = (letterId) => call('GET', `${at}/letters/${id(letterId)}`);
export const letterAddress = (letterId, paper) => `${at}/letters/${id(letterId)}/letter.pdf${query({ paper })}`;
export const letterTemplates = () => call('GET', `${at}/letter-templates`);
export const changeLetterTemplate = (kind, text, was) => call('PUT', `${at}/letter-templates/${id(kind)}`, { text, was });
export const settings = () => call('GET', `${at}/settings`);
export const changeSettings = (given, before) => change(`${at}/settings`, given, before);

/** The fixed rules of advice, how it stands with them, and the record of who agreed. */
export const safetyRules = () => call('GET', `${at}/safety-rules`);
export const agreeToRules = (given) => call('POST', `${at}/safety-rules/agreements`, given);

export const secondFactor = () => call('GET', `${at}/second-factor`);
export const beginApp = (password) => call('POST', `${at}/second-factor/app`, { password });
export const confirmApp = (code) => call('POST', `${at}/second-factor/app/confirm`, { code });
export const removeApp = (password) => call('POST', `${at}/second-factor/app/remove`, { password });
export const renewRecovery = (password) => call('POST', `${at}/second-factor/recovery`, { password });
export const beginPasskey = (password) => call('POST', `${at}/passkeys/options`, { password });
export const addPasskey = (given) => call('POST', `${at}/passkeys`, given);
export const removePasskey = (passkeyId, password) => call('POST', `${at}/passkeys/${id(passkeyId)}/remove`, { password });
export const sessions = () => call('GET', `${at}/sessions`);
export const endSession = (sessionId) => call('DELETE', `${at}/sessions/${id(sessionId)}`);
export const endOtherSessions = () => call('POST', `${at}/sessions/end-others`, {});
export const changePassword = (given) => call('PUT', `${at}/password`, given);
export const ownMail = () => call('GET', `${at}/mail`);
export const changeMail = (given) => call('PUT', `${at}/mail`, given);
export const passwordMail = (login) => call('POST', `${at}/password-mail`, { login });
export const addStaff = (given) => call('POST', `${at}/staff`, given);
export const staffLeft = (staffId) => call('DELETE', `${at}/staff/${id(staffId)}`);
export const handOver = (staffId, to) => call('POST', `${at}/staff/${id(staffId)}/hand-over`, { to });
export const passwordCode = (staffId) => call('POST', `${at}/staff/${id(staffId)}/password-code`, {});
export const passwordByCode = (code, password) => call('POST', `${at}/password-by-code`, { code, new_password: password });
export const resetSecondFactor = (staffId) => call('DELETE', `${at}/staff/${id(staffId)}/second-factor`);

export const exportAddress = (personId, kind) => `${at}/people/${id(personId)}/export.${kind}`;
export const erasure = (personId) => call('GET', `${at}/people/${id(personId)}/erasure`).then((said) => said.asked);
export const askErasure = (personId, given) => call('POST', `${at}/people/${id(personId)}/erasure`, given);
export const takeErasureBack = (personId) => call('DELETE', `${at}/people/${id(personId)}/erasure`);
export const confirmErasure = (personId, name) => call('POST', `${at}/people/${id(personId)}/erasure/confirm`, { name });
export const bringPhoneFile = (personId, given) => call('POST', `${at}/people/${id(personId)}/phone-file`, given);
export const consents = (personId) => call('GET', `${at}/people/${id(personId)}/consents`);
export const audit = (asked) => call('GET', `${at}/audit${query(asked)}`);
export const limbFiles = (limbId) => [
  ['FHIR bundle', `${at}/limbs/${id(limbId)}/bundle.fhir.json`],
  ['CSV for a spreadsheet', `${at}/limbs/${id(limbId)}/checkins.csv?for=spreadsheet`],
  ['CSV for analysis', `${at}/limbs/${id(limbId)}/checkins.csv?for=analysis`],
];
