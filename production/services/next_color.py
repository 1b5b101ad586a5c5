"""Making the next color from what is in a cup: it is measured, and moves into a new batch."""

from datetime import datetime

from inventory.models import Entry
from inventory.services.posting import Key, posting
from production.models import Batch, Cup, Pour, RecipeVersion
from production.services import batches, evenings, leftovers


@posting
def go_on(
    key: Key,
    *,
    source: Batch,
    measured: int | None,
    pour: Pour,
    version: RecipeVersion | None,
    parts: list[batches.Part],
    cup: Cup | None = None,
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Mixes a new batch of `parts`, among them what is left of `source`: one transaction.

    `measured`: millionths of a mL of base that its cup really held, counted first; None goes by the
    books. Returns the entry of the new batch. Raises EveningClosed for `pour`: the source's own
    evening may be long over."""
    evenings.still_open(pour)
    if measured is not None:
        # Its own key, so that the same press again finds the batch and not the count.
        counting = Key(f"{key.text}#left", key.digest)
        leftovers.count_left(
            counting,
            batch=source,
            measured=measured,
            pour=pour,
            look_at=look_at,
            happened_at=happened_at,
            by=by,
        )
    return batches.pour_in(
        key,
        pour=pour,
        version=version,
        parts=parts,
        cup=cup,
        look_at=look_at,
        note=note,
        happened_at=happened_at,
        by=by,
    )
