'use strict';

// Thinking takes seconds: say so. Without this file the page just takes its time.
document.addEventListener('submit', (event) => {
  const status = event.target.querySelector('[data-working]');
  if (status) status.textContent = status.dataset.working;
});
window.addEventListener('pageshow', () => {
  document.querySelectorAll('[data-working]').forEach((status) => {
    status.textContent = '';
  });
});
