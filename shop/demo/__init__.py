"""The demo shop: an invented workshop and two months of its evenings, told through the services.

`shelf`, `catalog`, `evenings` and `orders` are what happened, as plain data; `furnishing` writes down
its things, `bench` tells an evening and `build` is the way in. Every name here is invented.
"""
