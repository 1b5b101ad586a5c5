'use strict';

(function () {
  // A text to take along: the button shows only where it can work.
  function show() {
    if (!navigator.clipboard) return;
    document.querySelectorAll('[data-copy]').forEach((button) => {
      button.hidden = false;
    });
  }

  async function copy(button) {
    const name = button.dataset.copy;
    const said = document.querySelector(`[data-copied="${name}"]`);
    try {
      await navigator.clipboard.writeText(document.getElementById(name).value);
      said.textContent = 'Copied.';
    } catch {
      said.textContent = 'Select the text and copy it by hand.';
      document.getElementById(name).select();
    }
  }

  document.addEventListener('click', (event) => {
    const button = event.target.closest('[data-copy]');
    if (button) copy(button);
  });
  document.addEventListener('htmx:afterSettle', show);
  show();
})();
