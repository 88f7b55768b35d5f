/** Text to markup: everything put into a template is escaped unless it is markup of ours. */

const REPLACED = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

class Markup {
  constructor(text) {
    this.text = text;
  }
  toString() {
    return this.text;
  }
}

function shown(value) {
  if (value === null || value === undefined || value === false || value === true) return '';
  if (value instanceof Markup) return value.text;
  if (Array.isArray(value)) return value.map(shown).join('');
  return String(value).replace(/[&<>"']/g, (letter) => REPLACED[letter]);
}

export function html(strings, ...values) {
  return new Markup(strings.reduce((text, piece, i) => text + shown(values[i - 1]) + piece));
}

/** Put markup into an element. The focus stays on the element with the same id, if there still is one. */
export function render(element, markup) {
  const focused = document.activeElement?.id;
  const unfolded = [...element.querySelectorAll('details[open][id]')].map((one) => one.id);
  element.innerHTML = shown(markup);
  for (const id of unfolded) document.getElementById(id)?.setAttribute('open', '');
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}
