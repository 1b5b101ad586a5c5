'use strict';

// A text field that offers what fits while one types (the combobox of the ARIA Authoring Practices).
// The server finds; this file lets the keyboard walk the list. Without it a datalist does what it can.
(function () {
  const FIELD = '.pick input[list], .pick input[role="combobox"]';
  let count = 0;

  function place(input) {
    return input.closest('.pick').querySelector('.picks-place');
  }

  function options(input) {
    return [...place(input).querySelectorAll('[role="option"]')];
  }

  function close(input) {
    place(input).replaceChildren();
    input.setAttribute('aria-expanded', 'false');
    input.removeAttribute('aria-activedescendant');
  }

  function mark(input, chosen) {
    for (const option of options(input)) {
      option.setAttribute('aria-selected', option === chosen ? 'true' : 'false');
    }
    if (!chosen) return;
    input.setAttribute('aria-activedescendant', chosen.id);
    chosen.scrollIntoView({ block: 'nearest' });
  }

  function take(input, option) {
    const row = input.closest('.order-row');
    input.value = option.dataset.name;
    const cost = row && row.querySelector('input[name$="-price"]');
    if (cost && option.dataset.price) cost.placeholder = option.dataset.price;
    close(input);
    const next = row && row.querySelector('input[name$="-bags"]');
    if (next) next.focus();
  }

  function step(input, way) {
    const all = options(input);
    if (!all.length) return;
    const at = all.findIndex((option) => option.getAttribute('aria-selected') === 'true');
    mark(input, all[(at + way + all.length + (at < 0 && way < 0 ? 1 : 0)) % all.length]);
  }

  function pressed(event) {
    const input = event.target;
    if (!(input instanceof Element) || !input.matches(FIELD)) return;
    const chosen = options(input).find((o) => o.getAttribute('aria-selected') === 'true');
    if (event.key === 'ArrowDown' || event.key === 'ArrowUp') {
      event.preventDefault();
      step(input, event.key === 'ArrowDown' ? 1 : -1);
    } else if (event.key === 'Escape') {
      close(input);
    } else if (event.key === 'Enter' && chosen) {
      event.preventDefault();
      take(input, chosen);
    } else if (event.key === 'Enter' && options(input).length) {
      event.preventDefault();
      if (options(input).length === 1) take(input, options(input)[0]);
      else step(input, 1);
    }
  }

  // The browser's own list would lie over ours.
  function prepare(root) {
    for (const input of root.querySelectorAll('.pick input[list]')) {
      input.removeAttribute('list');
      input.setAttribute('role', 'combobox');
      input.setAttribute('aria-autocomplete', 'list');
      input.setAttribute('aria-expanded', 'false');
    }
  }

  function listed(event) {
    const spot = event.target;
    if (!spot.matches || !spot.matches('.picks-place')) return;
    const input = spot.closest('.pick').querySelector('input');
    const list = spot.querySelector('[role="listbox"]');
    if (document.activeElement !== input) { close(input); return; }
    input.setAttribute('aria-expanded', list ? 'true' : 'false');
    if (!list) return;
    list.id = `picks-${count += 1}`;
    input.setAttribute('aria-controls', list.id);
    options(input).forEach((option, number) => { option.id = `${list.id}-${number}`; });
  }

  // What was typed while the lines were on their way is newer than they are: they are asked for again.
  let typedAt = 0;
  let askedAt = 0;

  function bringsLines(event) {
    return event.detail.target && event.detail.target.id === 'order-lines'
      && event.detail.elt && event.detail.elt.matches('select');
  }

  document.addEventListener('input', (event) => {
    if (event.target.closest && event.target.closest('#order-lines')) typedAt = performance.now();
  });
  document.addEventListener('htmx:beforeRequest', (event) => {
    if (bringsLines(event)) askedAt = performance.now();
  });
  document.addEventListener('htmx:beforeSwap', (event) => {
    const select = event.detail.requestConfig && event.detail.requestConfig.elt;
    if (!bringsLines({ detail: { target: event.detail.target, elt: select } })) return;
    if (typedAt <= askedAt) return;
    event.detail.shouldSwap = false;
    window.setTimeout(() => select.dispatchEvent(new Event('change', { bubbles: true })), 400);
  });

  document.addEventListener('keydown', pressed);
  // Before the field loses the focus, and its list with it.
  document.addEventListener('mousedown', (event) => {
    const option = event.target.closest('.picks-place [role="option"]');
    if (!option) return;
    event.preventDefault();
    take(option.closest('.pick').querySelector('input'), option);
  });
  document.addEventListener('focusout', (event) => {
    if (event.target.matches && event.target.matches(FIELD)) close(event.target);
  });
  document.addEventListener('htmx:afterSwap', listed);
  document.addEventListener('htmx:afterSettle', (event) => prepare(event.target));
  prepare(document);
})();
