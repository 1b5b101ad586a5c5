from django.urls import path

from inventory.views import (
    buying,
    counts,
    drops,
    entries,
    items,
    opening,
    receiving,
    shelf,
    suppliers,
    thinning,
)

app_name = "inventory"
urlpatterns = [
    path("shelf/", shelf.shelf, name="shelf"),
    path("shelf/items/new/", items.item_new, name="item_new"),
    path("shelf/items/<int:pk>/", items.item, name="item"),
    path("shelf/items/<int:pk>/edit/", items.item_edit, name="item_edit"),
    path("shelf/items/<int:pk>/drop/", drops.drop_size, name="drop_size"),
    path("shelf/lots/<int:pk>/", shelf.lot, name="lot"),
    path("shelf/lots/<int:pk>/count/", counts.count, name="count"),
    path("shelf/count/", counts.count_places, name="count_places"),
    path("shelf/count/<slug:where>/", counts.count_round, name="count_round"),
    path("shelf/lots/<int:pk>/waste/", counts.waste, name="waste"),
    path("shelf/lots/<int:pk>/thin/", thinning.thin, name="thin"),
    path("shelf/entries/<int:pk>/", entries.entry, name="entry"),
    path("shelf/entries/<int:pk>/undo/", entries.entry_undo, name="entry_undo"),
    path("shelf/opening/", opening.opening, name="opening"),
    path("shelf/opening/template.csv", opening.template, name="opening_template"),
    path("buying/", buying.buying, name="buying"),
    path("buying/list.pdf", buying.pdf, name="buying_pdf"),
    path("buying/list.csv", buying.csv, name="buying_csv"),
    path("buying/receive/", receiving.receive, name="receive"),
    path("buying/suppliers/", suppliers.suppliers, name="suppliers"),
    path("buying/suppliers/new/", suppliers.supplier_new, name="supplier_new"),
    path("buying/suppliers/<int:pk>/", suppliers.supplier_edit, name="supplier_edit"),
    path("buying/items/<int:pk>/packs/new/", suppliers.pack_new, name="pack_new"),
    path("buying/packs/<int:pk>/delete/", suppliers.pack_delete, name="pack_delete"),
]
