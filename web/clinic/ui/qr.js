/** The server's drawing of a code to scan, redrawn from its paths only: nothing in it can run. */

const SVG = 'http://www.w3.org/2000/svg';
const KEPT = ['d', 'transform', 'fill', 'stroke', 'stroke-width'];

export function drawCode(place, markup) {
  const drawn = new DOMParser().parseFromString(markup, 'text/html').querySelector('svg');
  const own = document.createElementNS(SVG, 'svg');
  own.setAttribute('viewBox', drawn.getAttribute('viewBox'));
  for (const path of drawn.querySelectorAll('path')) {
    const line = document.createElementNS(SVG, 'path');
    for (const name of KEPT) if (path.hasAttribute(name)) line.setAttribute(name, path.getAttribute(name));
    own.append(line);
  }
  place.replaceChildren(own);
}
