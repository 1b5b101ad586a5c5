"""What the shelf tells whoever keeps figures beside its entries; the shelf itself knows none of them."""

from django.dispatch import Signal

#: Sent with `entry`, inside the transaction that undid it.
undone = Signal()

#: Sent with `entry` and the one it was written in place of, `amends`, inside that transaction.
amended = Signal()

#: Sent with `lost` (`services.holding.Lost`, newest hold first), inside the transaction of the entry that
#: took a lot below what was held of it.
holds_lost = Signal()
