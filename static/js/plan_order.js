'use strict';

// The order of a plan, changed by dragging a batch by its grip or with the arrow keys on it. The cards
// are put in another order on the page; then the form is sent as the button "Plan in this order" would.
// Without this file the buttons Up and Down do it.
// So many px are a hand that trembles, not a drag.
const SLACK = 4;

document.querySelectorAll('[data-plan-order]').forEach((list) => {
  const send = list.closest('form').querySelector('[data-plan-reorder]');
  const help = list.closest('form').querySelector('[data-plan-grip-help]');
  const keys = () => [...list.querySelectorAll('input[name=order]')].map((field) => field.value).join();
  const asPlanned = keys();
  const changed = () => keys() !== asPlanned;

  const shown = () => { send.hidden = !changed(); };
  const plan = () => { if (changed()) send.form.requestSubmit(send); };

  // The others make way for a card: taken out and put in again, it would lose the pointer and the focus.
  const up = (card) => card.previousElementSibling && card.after(card.previousElementSibling);
  const down = (card) => card.nextElementSibling && card.before(card.nextElementSibling);

  const middle = (card) => {
    const box = card.getBoundingClientRect();
    return box.top + box.height / 2;
  };
  const drag = (card, y) => {
    while (card.previousElementSibling && y < middle(card.previousElementSibling)) up(card);
    while (card.nextElementSibling && y > middle(card.nextElementSibling)) down(card);
  };

  // Near the edge of the window the page goes on by itself.
  const scroll = (y) => {
    const edge = 60;
    if (y < edge) window.scrollBy(0, -12);
    if (y > window.innerHeight - edge) window.scrollBy(0, 12);
  };

  list.querySelectorAll('.plan-grip').forEach((grip) => {
    const card = grip.closest('li');
    let held = null;

    // The batches fold away, so the card may slip from under the pointer: the page scrolls after it,
    // and what scrolling cannot mend is reckoned in.
    const take = () => {
      const before = grip.getBoundingClientRect().top;
      list.style.minHeight = `${list.offsetHeight}px`;
      card.classList.add('plan-held');
      list.classList.add('plan-moving');
      window.scrollBy(0, grip.getBoundingClientRect().top - before);
      held.taken = true;
      held.off = grip.getBoundingClientRect().top - before;
    };

    const drop = () => {
      held = null;
      list.style.minHeight = '';
      card.classList.remove('plan-held');
      list.classList.remove('plan-moving');
      shown();
    };

    grip.hidden = false;
    grip.addEventListener('pointerdown', (event) => {
      if (event.button !== 0) return;
      held = { y: event.clientY, place: [...list.children].indexOf(card), taken: false, off: 0 };
      grip.setPointerCapture(event.pointerId);
    });
    grip.addEventListener('pointermove', (event) => {
      if (!held) return;
      if (!held.taken && Math.abs(event.clientY - held.y) < SLACK) return;
      if (!held.taken) take();
      scroll(event.clientY);
      drag(card, event.clientY + held.off);
    });
    grip.addEventListener('pointerup', () => {
      if (!held) return;
      drop();
      plan();
    });
    grip.addEventListener('pointercancel', () => {
      if (!held) return;
      const place = () => [...list.children].indexOf(card);
      while (place() > held.place) up(card);
      while (place() < held.place) down(card);
      drop();
    });
    grip.addEventListener('keydown', (event) => {
      if (event.key === 'ArrowUp') up(card);
      else if (event.key === 'ArrowDown') down(card);
      else if (event.key === 'Enter') plan();
      else return;
      event.preventDefault();
      card.scrollIntoView({ block: 'nearest' });
      shown();
    });
  });
  if (list.children.length > 1) help.hidden = false;
});
