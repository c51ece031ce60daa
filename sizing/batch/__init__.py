"""Many photos: measured side by side, here or on other computers, each only once.

Jobs, each a photo with what its maker says about it, come in; measured records come out as they are ready.
Who measures is a `Crew`: this process, processes of this computer, or a cluster. All open an executor of
`concurrent.futures`, and give identical results.

May import: sizing.base, sizing.lot, vision, vision.common, vision.image, vision.sheet.
"""
