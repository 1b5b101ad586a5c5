"""Selling without an order: a stall's day, and consignment."""

from django.urls import path

from shop.views import consignment, stall

urlpatterns = [
    path("stall/", stall.stalls, name="stalls"),
    path("stall/<int:pk>/", stall.stall_day, name="stall_day"),
    path("stall/<int:pk>/load/", stall.stall_load, name="stall_load"),
    path("stall/<int:pk>/load-list.pdf", stall.stall_list, name="stall_list"),
    path("stall/<int:pk>/several/", stall.stall_several, name="stall_several"),
    path("stall/<int:pk>/count/", stall.stall_count, name="stall_count"),
    path("stall/<int:pk>/home/", stall.stall_home, name="stall_home"),
    path("stall/<int:pk>/end/", stall.stall_end, name="stall_end"),
    path("stall/<int:pk>/summary.pdf", stall.stall_summary, name="stall_summary"),
    path("stall/<int:pk>/open/", stall.stall_reopen, name="stall_reopen"),
    path("consignment/", consignment.consignment, name="consignment"),
    path("consignment/new/", consignment.consignee_new, name="consignee_new"),
    path("consignment/<int:pk>/", consignment.consignee, name="consignee"),
    path("consignment/<int:pk>/edit/", consignment.consignee_edit, name="consignee_edit"),
    path("consignment/<int:pk>/bring/", consignment.consignee_bring, name="consignee_bring"),
    path("consignment/<int:pk>/home/", consignment.consignee_back, name="consignee_back"),
    path("consignment/<int:pk>/settle/", consignment.consignee_settle, name="consignee_settle"),
    path("settlements/<int:pk>/", consignment.settlement, name="settlement"),
    path("settlements/<int:pk>/paper.pdf", consignment.settlement_pdf, name="settlement_pdf"),
]
