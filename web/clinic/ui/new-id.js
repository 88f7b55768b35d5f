/** An id made here, so that a second press of a key keeps nothing twice. Also where a page is not served by https. */
export const newId = () =>
  [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
