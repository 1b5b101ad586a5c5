'use strict';

(function () {
  // A keyboard or screen reader user should land on what went wrong, not on the top of the page.
  function focusErrors(root) {
    const summary = root.querySelector('.error-summary');
    if (summary) summary.focus();
  }

  // A long menu scrolls sideways on a phone: show where one is.
  function showCurrentTab() {
    const current = document.querySelector('.menu [aria-current]');
    const menu = document.querySelector('.menu');
    if (!current || !menu) return;
    menu.scrollLeft = current.offsetLeft - (menu.clientWidth - current.offsetWidth) / 2;
  }

  function submitters(form) {
    return [...form.elements].filter((element) => element.type === 'submit' && !element.disabled);
  }

  function release(button) {
    button.disabled = false;
    delete button.dataset.sent;
  }

  // The server answers a repeated posting once; this only saves the second wait. A form that
  // gives a file, or opens elsewhere, leaves this page standing: let its button go again.
  function guard(event) {
    const form = event.target;
    if (event.defaultPrevented || form.method !== 'post' || form.target) return;
    const buttons = submitters(form);
    // After the browser has read the form: a disabled button would not send its name and value.
    setTimeout(() => {
      for (const button of buttons) {
        button.disabled = true;
        button.dataset.sent = '';
      }
    }, 0);
    setTimeout(() => buttons.forEach(release), 8000);
  }

  document.addEventListener('submit', guard);
  // Back from the browser's cache: the page comes as it was left, with its buttons disabled.
  window.addEventListener('pageshow', () => {
    document.querySelectorAll('[data-sent]').forEach(release);
  });
  document.addEventListener('htmx:afterSettle', (event) => focusErrors(event.target));

  showCurrentTab();
  focusErrors(document);
})();
