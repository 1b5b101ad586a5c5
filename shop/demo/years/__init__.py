"""Years of an invented shop, told from one fixed seed.

`seasons` says how much is wanted and how often the bench is lit, `assortment` which colors and bags come and
go, `buying`, `bench`, `selling` and `counting` what is done about it, and `story` goes from day to day. All
of it is written through a `House`: `house_bench`, `house_sales` and `house_shelf` do what the services do,
on the books of `inventory.services.bulk`, because so long a history would take the services hours. Tests
tell a short one both ways and compare every row.
"""
