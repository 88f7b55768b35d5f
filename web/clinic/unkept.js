/** Whether something typed on the screen is not kept yet. Filters and dialogs don't count; a note keeps its own
 *  draft. */

const FORMS = 'form.entry, form.decide, .settings form';
let typed = null;

export function watch(screen) {
  for (const type of ['input', 'change']) {
    screen.addEventListener(type, (event) => {
      typed = event.target.closest(FORMS) ?? typed;
    });
  }
  addEventListener('beforeunload', (event) => {
    if (unkept()) event.preventDefault();
  });
}

export const unkept = () => Boolean(typed?.isConnected);

export function forget() {
  typed = null;
}
