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

/** Put markup into an element. The focus stays on the element with the same id, and what was unfolded
 * stays so, if it is still there. */
export function render(element, markup) {
  const focused = element.contains(document.activeElement) ? document.activeElement.id : '';
  const unfolded = [...element.querySelectorAll('details[open][id]')].map((one) => one.id);
  element.innerHTML = shown(markup);
  for (const id of unfolded) document.getElementById(id)?.setAttribute('open', '');
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

/** Listen on `root` for events of what matches `selector` inside it, now or later. */
export function on(root, type, selector, act) {
  root.addEventListener(type, (event) => {
    const target = event.target.closest?.(selector);
    if (target && root.contains(target)) act(target, event);
  });
}
