'use strict';

// Thinking takes seconds: say so, and how long it has gone on. Without this file the page just takes its time.
const TICK = 250;
let ticking;

document.addEventListener('submit', (event) => {
  const status = event.target.querySelector('[data-working]');
  if (!status) return;
  status.textContent = status.dataset.working;
  const bar = event.target.querySelector('[data-working-bar]');
  bar.hidden = false;
  clearInterval(ticking);
  ticking = setInterval(() => { bar.value += TICK / 1000; }, TICK);
});

// Coming back with the browser's own button finds the page as it was left.
window.addEventListener('pageshow', () => {
  clearInterval(ticking);
  document.querySelectorAll('[data-working]').forEach((status) => { status.textContent = ''; });
  document.querySelectorAll('[data-working-bar]').forEach((bar) => { bar.hidden = true; bar.value = 0; });
});
