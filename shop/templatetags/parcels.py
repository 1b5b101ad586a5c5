"""Parcels, in templates."""

from django import template

from shop import parcels

register = template.Library()
register.filter("parcel_weight", parcels.weight_text)
