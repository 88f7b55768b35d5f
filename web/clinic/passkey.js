/** Passkeys of this browser: made, and used to sign in. Bytes travel as base64url. */

const bytes = (text) => Uint8Array.from(atob(text.replaceAll('-', '+').replaceAll('_', '/')), (letter) => letter.charCodeAt(0));
const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll('+', '-').replaceAll('/', '_').replace(/=+$/, '');

export const canUse = () => Boolean(window.PublicKeyCredential && isSecureContext);

/** Ask the browser for a new passkey; its answer as the server reads it. */
export async function make(options) {
  const made = await navigator.credentials.create({
    publicKey: {
      ...options, challenge: bytes(options.challenge), user: { ...options.user, id: bytes(options.user.id) },
      excludeCredentials: (options.excludeCredentials ?? []).map((one) => ({ ...one, id: bytes(one.id) })),
    },
  });
  return said(made,
    { attestationObject: text(made.response.attestationObject), transports: made.response.getTransports?.() ?? [] });
}

/** Ask the browser to answer a challenge with any passkey it holds for this clinic. */
export async function use(options) {
  const given = await navigator.credentials.get({
    publicKey: {
      ...options, challenge: bytes(options.challenge),
      allowCredentials: (options.allowCredentials ?? []).map((one) => ({ ...one, id: bytes(one.id) })),
    },
  });
  const { response } = given;
  return said(given, { authenticatorData: text(response.authenticatorData), signature: text(response.signature),
    userHandle: response.userHandle ? text(response.userHandle) : null });
}

function said(credential, response) {
  return {
    id: credential.id, rawId: text(credential.rawId), type: credential.type,
      authenticatorAttachment: credential.authenticatorAttachment,
    clientExtensionResults: credential.getClientExtensionResults(),
      response: { clientDataJSON: text(credential.response.clientDataJSON), ...response },
  };
}

/** Whether the person stopped it themselves, which is nothing to complain about. */
export const wasStopped = (error) => error.name === 'NotAllowedError' || error.name === 'AbortError';
