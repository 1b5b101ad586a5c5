"""What the shelf tells whoever keeps figures beside its entries; the shelf itself knows none of them."""

from django.dispatch import Signal

#: Sent with `entry`, inside the transaction that undid it.
undone = Signal()
