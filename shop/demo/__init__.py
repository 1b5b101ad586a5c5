"""The demo shop: an invented workshop and two months of its evenings, told through the services.

`shelf`, `catalog`, `evenings` and `orders` are what happened, as plain data; `telling` posts it,
`clock` gives each posting its own hour and `build` is the way in. Every name here is invented.
"""
