'use strict';

// Counts up from the moment that an element names in data-since. Without it the page shows the start.
(function () {
  function show(element) {
    const seconds = Math.max(0, Math.floor((Date.now() - Date.parse(element.dataset.since)) / 1000));
    const two = (number) => String(number).padStart(2, '0');
    element.textContent = `${Math.floor(seconds / 60)}:${two(seconds % 60)}`;
  }

  function tick() {
    document.querySelectorAll('[data-since]').forEach(show);
  }

  tick();
  setInterval(tick, 1000);
})();
