"""Loading the invented workshop of `fixtures/` into the record, as if three years had passed.

`loading.load` is the way in. What the yard is made of is read by `inventory.demo.source`, its
pictures are drawn by `inventory.demo.picture`; here is what happened to it: weather, drying,
checks, promises. The same seed on the same day gives the same yard.
"""
