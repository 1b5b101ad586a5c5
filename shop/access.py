"""Who may open which page: the one table of it. A page that isn't here opens for the owner only."""

from shop.models import User

ANY = frozenset({"GET", "HEAD", "POST"})
READ = frozenset({"GET", "HEAD"})

#: Open without signing in.
PUBLIC = {"welcome", "sign_in", "burn"}

#: Pages a helper may open, and how. A helper pours, counts, bags and packs.
HELPER = {
    "sign_out": ANY,
    "tonight": READ,
    "inventory:shelf": READ,
    "inventory:item": READ,
    "inventory:file": READ,
    "inventory:lot": READ,
    "inventory:entry": READ,
    "inventory:family": READ,
    "inventory:hold": ANY,
    "inventory:on_hold": READ,
    "inventory:entry_undo": ANY,
    "inventory:count": ANY,
    "inventory:count_places": READ,
    "inventory:count_round": ANY,
    "inventory:empty": ANY,
    "inventory:emptied": READ,
    "inventory:waste": ANY,
    "inventory:move_lot": ANY,
    "inventory:move": ANY,
    "inventory:give_lot": ANY,
    "inventory:give_item": ANY,
    "production:colors": READ,
    "production:recipe": READ,
    "production:pattern": READ,
    "production:molds": READ,
    "production:mold": READ,
    "production:pours": READ,
    "production:pour_start": ANY,
    "production:plan": READ,
    "production:plan_sheet": READ,
    "production:planned_mix": READ,
    "production:planned_off": ANY,
    "production:pour": READ,
    "production:pour_close": ANY,
    "production:pour_live": READ,
    "production:pour_sheet": READ,
    "production:pour_blank": READ,
    "production:pour_paper": ANY,
    "production:batch_record": READ,
    "production:batch_new": READ,
    "production:batch_mix": ANY,
    "production:batch": READ,
    "production:batch_add": ANY,
    "production:batch_done": ANY,
    "production:batch_verdict": ANY,
    "production:batch_degas": ANY,
    "production:batch_amend": ANY,
    "production:batch_next": READ,
    "production:leftovers": READ,
    "production:leftover_next": READ,
    "production:heat_new": ANY,
    "production:heat_start": ANY,
    "production:heat_stop": ANY,
    "production:heat": ANY,
    "production:plastic_new": ANY,
    "production:shots_new": ANY,
    "production:shots_amend": ANY,
    "production:shots_undo": ANY,
    "production:tally": ANY,
    "production:leftover": ANY,
    "production:bags": READ,
    "production:bag": ANY,
    "production:bagging": READ,
    "production:labels": ANY,
    "production:label_preview": READ,
    "production:label_jobs": READ,
    "production:label_job": READ,
    "production:label_job_pdf": READ,
    "production:label_job_again": ANY,
    "production:products": READ,
    "production:product": READ,
    "orders": READ,
    "order": READ,
    "order_ship": ANY,
    "packing": READ,
    "pick_list": READ,
    "order_pick_list": READ,
    "shipment": ANY,
    "packing_slip": READ,
    # Whoever stands at the stall handles its cash.
    "stalls": ANY,
    "stall_day": ANY,
    "stall_load": ANY,
    "stall_list": READ,
    "stall_several": ANY,
    "stall_count": ANY,
    "stall_home": ANY,
    "stall_end": ANY,
    "stall_summary": READ,
    "stall_reopen": ANY,
    "order_promise": READ,
    "order_hold": ANY,
    "order_hold_all": ANY,
    "order_release": ANY,
    "order_seen": ANY,
    "promise_new": READ,
    "product_most": READ,
}


def is_public(view_name: str) -> bool:
    return view_name in PUBLIC


def may(user: User, view_name: str, method: str) -> bool:
    """Whether a signed-in person may send this method to the page of that name."""
    return user.is_owner or method in HELPER.get(view_name, frozenset())
