"""The invented demo yard: its source data, its slabs' outlines, and their pictures.

Nothing here imports Django. `shape` makes outlines, `picture` draws them,
`source` reads the yard and its species' looks from `fixtures/`.
"""
